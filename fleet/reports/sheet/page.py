"""The one page that every print is drawn on: its size, its header and foot, and the words that fit on it.

Places are in millimetres from the top left corner of an area of 190 × 259 mm, which lies inside both A4
(ISO 216) and US Letter, so that one layout prints on both. `BODY_TOP` to `BODY_END` is free for the document.
The same input gives the same bytes. In a language that is read from right to left all places are mirrored, and pictures
and codes stand as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, BinaryIO

from django.http import HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.utils.translation import get_language, get_language_bidi

from fleet.ground.languages.known import ENGLISH, spoken_tag
from fleet.people.models import School
from fleet.register.models.labels import PAPERS
from fleet.reports.sheet import faces
from fleet.reports.sheet.lines import MM, balanced, block_height, broken, fitted, leading
from fleet.reports.sheet.photographs import for_paper

WIDTH, HEIGHT = 190.0, 259.0
BODY_TOP, BODY_END = 13.0, 252.0
GREY = 0.35
SMALLEST = 7.0
FOOT = 8.0


def paper_asked(request: HttpRequest, school: School) -> str:
    """The `paper` named in the address when it is one we know, else the school's."""
    wanted = request.GET.get("paper")
    return wanted if wanted in PAPERS else school.paper


class Sheet:
    """A document being drawn. Make it, draw, `turn()` for the next sheet of paper, and `close()` at the end.

    `out` is any binary file; `title` names the document and stands with the school at the head of each page, or
    what `head` says instead; `foot` stands below it.
    A `bare` page has neither head nor foot, and its places are measured from the paper's own corner.
    """

    def __init__(
        self,
        out: BinaryIO,
        *,
        school: str,
        title: str,
        paper: str = "a4",
        head: str = "",
        foot: str = "",
        bare: bool = False,
    ) -> None:
        from reportlab import rl_config
        from reportlab.pdfgen.canvas import Canvas

        # Bytes as they are: written as letters, as old mail wanted them, a file is a fifth larger and slower to make.
        rl_config.useA85 = 0
        self.school, self.head, self.foot = school, head or title, foot
        self.paper = PAPERS[paper]
        self.bare = bare
        self.left = 0.0 if bare else (self.paper[0] - WIDTH) / 2
        self.top = 0.0 if bare else (self.paper[1] - HEIGHT) / 2
        self.number, self.part = 0, 0
        self.canvas: Any = Canvas(
            out,
            pagesize=(self.paper[0] * MM, self.paper[1] * MM),
            invariant=1,
            pageCompression=1,
            lang=spoken_tag(),
        )
        self.canvas.setTitle(f"{title} · {school}")
        self.canvas.setAuthor(school)
        self.canvas.setSubject(title)
        self.canvas.setCreator("Horn Cupboard")
        # Readers are told the title instead of the file's name; labels are printed as large as they are.
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        if bare:
            self.canvas.setViewerPreference("PrintScaling", "None")
        self._forms: dict[Hashable, str] = {}
        self._begin()

    def _begin(self) -> None:
        self.number += 1
        # Of the language it began in: the next page may be in another before this one ends.
        self.mirrored = get_language_bidi() and not self.bare
        self.of = " of " if get_language() == ENGLISH else " / "
        self.canvas.setLineWidth(0.5)
        if self.bare:
            return
        self.once(("head", self.head, self.foot, self.mirrored), self._head)

    def _head(self) -> None:
        self.words(0, 5.5, self.school, size=10, bold=True, width=110)
        self.words_right(WIDTH, 5.5, self.head, size=10, width=78)
        self.rule(0, 8, WIDTH, weight=0.8)
        self.rule(0, 8.8, WIDTH, weight=0.3)
        self.rule(0, HEIGHT - 5, WIDTH, weight=0.3)
        if self.foot:
            self.words_right(WIDTH, HEIGHT - 1, self.foot, size=FOOT, width=WIDTH - 25, grey=True)

    def turn(self, *, own: bool = False, head: str = "", foot: str = "") -> None:
        """Begin the next sheet of paper; with `own` it begins a letter or sheet of its own, numbered from 1 again, with
        another head and foot where they are given."""
        self._end(last=own)
        if own:
            self.number, self.part = 0, self.part + 1
        self.head, self.foot = head or self.head, foot or self.foot
        self._begin()

    def close(self) -> None:
        """Fill in the number of pages and write the document."""
        self._end(last=True)
        self.canvas.save()

    def _end(self, *, last: bool) -> None:
        if not self.bare:
            self._numbered(last=last)
        self.canvas.showPage()

    def _numbered(self, *, last: bool) -> None:
        y, of = HEIGHT - 1, self.of
        if last and self.number == 1:
            self.words(0, y, f"1{of}1", size=FOOT, grey=True)
            return
        # How many pages there are is known at the end: a place that is filled in then.
        number, total = f"{self.number}{of}", f"page-total-{self.part}"
        x1, y1 = self._point(self.from_left(0, 12), y)
        self.canvas.setFillGray(GREY)
        faces.draw(self.canvas, x1, y1, number, FOOT)
        self.canvas.setFillGray(0)
        self.canvas.saveState()
        self.canvas.translate(x1 + faces.width(number, FOOT), y1)
        self.canvas.doForm(total)
        self.canvas.restoreState()
        if last:
            self.canvas.beginForm(total)
            self.canvas.setFillGray(GREY)
            faces.draw(self.canvas, 0, 0, str(self.number), FOOT)
            self.canvas.endForm()

    def entry(self, words: str) -> None:
        """A line in the document's contents that leads to this page."""
        key = f"entry-{self.part}-{self.number}"
        self.canvas.bookmarkPage(key, fit="XYZ", left=0, top=self.paper[1] * MM, zoom=0)
        self.canvas.addOutlineEntry(faces.printable(words), key)

    def once(self, what: Hashable, drawing: Callable[[], object], x: float = 0.0, y: float = 0.0) -> None:
        """Draw what a document has often, always the same for that `what`: kept once, placed by x and y further on."""
        if (name := self._forms.get(what)) is None:
            name = self._forms[what] = f"drawn-{len(self._forms)}"
            self.canvas.beginForm(name)
            drawing()
            self.canvas.endForm()
        self.canvas.saveState()
        self.canvas.translate(x * MM, -y * MM)
        self.canvas.doForm(name)
        self.canvas.restoreState()

    def from_left(self, x: float, across: float) -> float:
        """Where something begins, from the left, that is `across` mm wide."""
        return WIDTH - x - across if self.mirrored else x

    def _point(self, x: float, y: float) -> tuple[float, float]:
        return (self.left + x) * MM, (self.paper[1] - self.top - y) * MM

    # Words

    def words(
        self,
        x: float,
        y: float,
        said: str,
        *,
        size: float = 9.5,
        bold: bool = False,
        width: float | None = None,
        grey: bool = False,
    ) -> None:
        """One line with its foot at y; with a width (mm) it is shrunk by a quarter at most, then cut."""
        if not said:
            return
        if width is not None:
            said, size = fitted(said, width, size, bold)
        if grey:
            self.canvas.setFillGray(GREY)
        if self.mirrored:
            x = WIDTH - x - faces.width(said, size, bold) / MM
        faces.draw(self.canvas, *self._point(x, y), said, size, bold)
        if grey:
            self.canvas.setFillGray(0)

    def words_right(
        self,
        x: float,
        y: float,
        said: str,
        *,
        size: float = 9.5,
        bold: bool = False,
        width: float | None = None,
        grey: bool = False,
    ) -> None:
        """The same with its other end at x."""
        if width is not None:
            said, size = fitted(said, width, size, bold)
        self.words(x - faces.width(said, size, bold) / MM, y, said, size=size, bold=bold, grey=grey)

    def paragraph(
        self,
        x: float,
        y: float,
        said: str,
        width: float,
        *,
        size: float = 9.0,
        bold: bool = False,
        lines: int | None = None,
        grey: bool = False,
    ) -> float:
        """Words broken into lines from y (the top) downwards; what is over `lines` is cut with an ellipsis.

        Gives the y below the last line.
        """
        step = leading(size)
        told = balanced(said, width, size, bold) if lines is None else broken(said, width, size, bold, lines)
        for line in told:
            y += step
            self.words(x, y - step * 0.25, line, size=size, bold=bold, grey=grey)
        return y

    def block(self, x: float, y: float, said: str, width: float, height: float, *, size: float = 9.0) -> float:
        """A paragraph made to fit a height: letters down to `SMALLEST` points, then cut. Gives the y below."""
        while size > SMALLEST and block_height(said, width, size) > height:
            size = max(SMALLEST, size - 0.25)
        return self.paragraph(x, y, said, width, size=size, lines=max(1, int(height / leading(size) + 1e-6)))

    # Lines and marks

    def rule(self, x: float, y: float, width: float, *, weight: float = 0.5) -> None:
        self.canvas.setLineWidth(weight)
        x1, y1 = self._point(self.from_left(x, width), y)
        self.canvas.line(x1, y1, x1 + width * MM, y1)

    def frame(self, x: float, y: float, width: float, height: float, *, weight: float = 0.5) -> None:
        self.canvas.setLineWidth(weight)
        x1, y1 = self._point(self.from_left(x, width), y + height)
        self.canvas.rect(x1, y1, width * MM, height * MM)

    def tick_box(self, x: float, y: float, *, side: float = 3.4, ticked: bool = False) -> None:
        """A box to tick by hand with its foot at y, or one that is ticked already."""
        self.frame(x, y - side, side, side, weight=0.7)
        if ticked:
            self.canvas.setLineWidth(1.2)
            x = self.from_left(x, side)
            points = [self._point(x + side * a, y - side * b) for a, b in ((0.2, 0.5), (0.42, 0.25), (0.82, 0.8))]
            self.canvas.lines([(*points[0], *points[1]), (*points[1], *points[2])])

    def picture(self, x: float, y: float, width: float, height: float, file: BinaryIO) -> None:
        """A photograph as large as fits the frame of that size (mm), its top left corner at x, y. Raises OSError for a
        file that is no picture or only half of one."""
        from reportlab.lib.utils import ImageReader

        image = ImageReader(for_paper(file, width, height))
        across, down = image.getSize()
        scale = min(width / across, height / down)
        x1, y1 = self._point(self.from_left(x, across * scale), y + down * scale)
        self.canvas.drawImage(image, x1, y1, across * scale * MM, down * scale * MM)

    def folds(self) -> None:
        """Two short marks at the left edge of the paper where a letter is folded into thirds."""
        for third in (1, 2):
            y = self.paper[1] * third / 3 - self.top
            self.rule(self.from_left(5 - self.left, 4), y, 4, weight=0.3)

    def code(self, x: float, y: float, side: float, address: str) -> None:
        """A QR code (ISO/IEC 18004), top left corner at x, y; `side` holds the quiet zone of four modules."""
        from fleet.reports.sheet import square_code

        symbol = square_code.modules(address)
        module = side * MM / (len(symbol) + 2 * square_code.QUIET)
        x1, y1 = self._point(self.from_left(x, side), y)
        self.canvas.saveState()
        # One module is one unit and y runs downwards, so that the numbers in the file stay small and whole.
        self.canvas.transform(module, 0, 0, -module, x1 + square_code.QUIET * module, y1 - square_code.QUIET * module)
        self.canvas.drawPath(_Runs(square_code.runs(symbol)), stroke=0, fill=1)
        self.canvas.restoreState()


class _Runs:
    """Rectangles one module high as a path; the library's own takes most of a code's time to write numbers."""

    def __init__(self, runs: list[tuple[int, int, int]]) -> None:
        self.runs = runs

    def getCode(self) -> str:
        return " ".join(f"{x} {y} {length} 1 re" for x, y, length in self.runs)


def as_pdf(content: bytes, name: str) -> HttpResponse:
    """A print as an answer that opens in the browser and is saved under a plain name."""
    answer = HttpResponse(content, content_type="application/pdf")
    answer.headers["Content-Disposition"] = content_disposition_header(False, f"{name}.pdf") or "inline"
    return answer
