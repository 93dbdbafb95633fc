"""Times sheets and labels against the same drawn with flowables, in the same run, and watches the memory.

The peer is what the PDF library's guide teaches: paragraphs and tables that lay themselves out, a page template
with head and foot, the same words in the same faces and sizes, the same square codes. It gets everything it would
get from an experienced hand: styles made once, and its own kind of rectangles for the code. Both are given the
same facts, which are made beforehand; only drawing is timed, in turns, in processor time, and only the ratios mean
anything.
"""

from __future__ import annotations

import gc
import io
import random
import sys
import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import segno
from django.core.management.base import BaseCommand, CommandParser

from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.people.models import School
from fleet.register.models import LabelSheet
from fleet.register.models.labels import PAPERS
from fleet.reports.paper import labels, loan_sheet
from fleet.reports.queries.loan_facts import SheetFacts
from fleet.reports.sheet import faces as letters
from fleet.reports.sheet.lines import MM
from fleet.workshop.queries.looking_after import care_of
from identify.core.horns.catalogue import catalogue

ORIGIN = "https://horns.example.org"
CARE = care_of(catalogue()["double-full"])
TARGETS = {"sheets": 4.1, "labels": 3.7}
# What drawing a thousand may hold at once, in MB.
MEMORY = 100


class Command(BaseCommand):
    help = "Compares 1,000 sheets and 1,000 labels with the same drawn with flowables. Exits 1 when a target is missed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--count", type=int, default=1000)
        parser.add_argument("--rounds", type=int, default=3)
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args: Any, **options: Any) -> None:
        count, rounds = options["count"], options["rounds"]
        school = School(name="Hill Road School", contact="the music office", local_rules="Horns are insured here.")
        facts = made_up(school, count, random.Random(options["seed"]))
        rows = [(one.number, one.label_code, "double-full") for one in facts]
        sheet = LabelSheet(school=school)
        pairs: dict[str, tuple[Callable[[], bytes], Callable[[], bytes]]] = {
            "sheets": (
                lambda: loan_sheet.loan_sheets_drawn(facts, school=school, paper="a4", origin=ORIGIN),
                lambda: sheets_with_flowables(facts, school),
            ),
            "labels": (
                lambda: labels.labels_drawn(rows, sheet=sheet, school=school, origin=ORIGIN, skip=0, cut=False),
                lambda: labels_with_flowables(rows, sheet, school),
            ),
        }
        missed = False
        for name, (ours, theirs) in pairs.items():
            held = _most_held(ours)
            took: dict[str, list[float]] = {"ours": [], "theirs": []}
            theirs()
            for _ in range(rounds):
                took["theirs"].append(_seconds(theirs))
                took["ours"].append(_seconds(ours))
            mine, peer = min(took["ours"]), min(took["theirs"])
            ratio = peer / mine
            good = ratio >= TARGETS[name] and held <= MEMORY
            missed |= not good
            said = f"{count} {name}: {mine:.2f} s, with flowables {peer:.2f} s, {ratio:.2f} times as fast"
            said += f" (target {TARGETS[name]}); at most {held:.0f} MB held (target {MEMORY})"
            self.stdout.write(said if good else f"{said}: MISSED")
        if missed:
            sys.exit(1)


def _seconds(draw: Callable[[], bytes]) -> float:
    gc.collect()
    begun = time.process_time()
    draw()
    return time.process_time() - begun


def _most_held(draw: Callable[[], bytes]) -> float:
    """The most memory that drawing holds at once, in MB, the finished file included."""
    gc.collect()
    tracemalloc.start()
    draw()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most / 1e6


def made_up(school: School, count: int, dice: random.Random) -> list[SheetFacts]:
    """Facts of sheets that differ as sheets of a school differ: names, findings, accessories, numbers."""
    letters_ = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
    things = ("mouthpiece", "case", "rotor oil", "slide grease", "cleaning cloth", "pull-through", "strap")
    faults = ("bell dented (note)", "lacquer worn (note)", "third slide stiff (watch)")
    return [
        SheetFacts(
            school=school,
            language=school.language,
            number=f"HN-{n:04d}",
            label_code="".join(dice.choice(letters_) for _ in range(8)),
            kind="full double horn in F and B♭",
            about="Two horns in one: the thumb lever changes from the F side to the B♭ side.",
            care=CARE,
            particulars=(("Made by", f"Maker {n % 7}"), ("Serial number", str(dice.randrange(10**6)))),
            pupil=f"Pupil Number {n}",
            group=f"year {5 + n % 5}, 7B",
            guardian=f"Guardian Number {n}",
            due_on="30 June 2027",
            condition="Grade 1: plays well. Finish: good. Checked 14 September 2026.",
            findings=tuple(dice.sample(faults, dice.randrange(4))),
            accessories=tuple((thing, None) for thing in dice.sample(things, dice.randrange(2, 7))),
            test_note="Written F in the first space sounds B♭3.",
            fingerings=(("thumb at rest", "1st valve"), ("thumb lever pressed", "open, no valve")),
            agreement_version=1,
            agreement=FIRST_WORDS,
            agreement_beside="",
            signed_on="",
            issued="",
            returned=None,
            was_checked=True,
        )
        for n in range(count)
    ]


def _styles() -> dict[str, Any]:
    from reportlab.lib.styles import ParagraphStyle

    # Drawing any word first registers the faces.
    plain, bold = letters.shown("a", False)[0][0], letters.shown("a", True)[0][0]
    return {
        "plain": ParagraphStyle("plain", fontName=plain, fontSize=9, leading=11.5),
        "small": ParagraphStyle("small", fontName=plain, fontSize=7.5, leading=9.6),
        "bold": ParagraphStyle("bold", fontName=bold, fontSize=10.5, leading=13.4),
        "number": ParagraphStyle("number", fontName=bold, fontSize=24, leading=30),
    }


def _code_flowable(address: str, side: float) -> Any:
    """The same code as ours in a flowable: one rectangle a run of dark modules."""
    from reportlab.platypus import Flowable

    class Code(Flowable):
        def __init__(self) -> None:
            super().__init__()
            self.width = self.height = side

        def draw(self) -> None:
            rows = segno.make(address, error="m", micro=False).matrix
            module = side / (len(rows) + 8)
            path = self.canv.beginPath()
            for down, row in enumerate(rows):
                start = None
                for across, dark in enumerate((*row, 0)):
                    if dark and start is None:
                        start = across
                    elif not dark and start is not None:
                        y = side - (down + 5) * module
                        path.rect((start + 4) * module, y, (across - start) * module, module)
                        start = None
            self.canv.drawPath(path, stroke=0, fill=1)

    return Code()


def sheets_with_flowables(facts: list[SheetFacts], school: School) -> bytes:
    from reportlab.lib.units import mm
    from reportlab.platypus import BaseDocTemplate, Frame, PageBreak, PageTemplate, Paragraph, Spacer, Table

    style = _styles()
    out = io.BytesIO()
    wide, high = PAPERS["a4"]

    def head(canvas: Any, document: Any) -> None:
        canvas.setFont(style["bold"].fontName, 10)
        canvas.drawString(10 * mm, (high - 24) * mm, school.name)
        canvas.setFont(style["plain"].fontName, 10)
        canvas.drawRightString((wide - 10) * mm, (high - 24) * mm, "Loan sheet")
        canvas.line(10 * mm, (high - 27) * mm, (wide - 10) * mm, (high - 27) * mm)
        canvas.setFont(style["plain"].fontName, 7.5)
        canvas.drawString(10 * mm, 20 * mm, f"Questions: {school.contact}")
        canvas.drawRightString((wide - 10) * mm, 20 * mm, str(document.page))

    document = BaseDocTemplate(out, pagesize=(wide * mm, high * mm), invariant=1, pageCompression=1)
    frame = Frame(10 * mm, 24 * mm, 190 * mm, (high - 52) * mm, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("sheet", [frame], onPage=head)])
    care = [*CARE.lines, CARE.first]

    def said(words: str, kind: str = "plain") -> Any:
        return Paragraph(words, style[kind])

    def columns(left: list[Any], right: list[Any]) -> Any:
        return Table([[left, right]], colWidths=[95 * mm, 95 * mm], style=[("VALIGN", (0, 0), (-1, -1), "TOP")])

    story: list[Any] = []
    for one in facts:
        rows = [("Pupil", one.pupil), ("Class", one.group), ("Guardian", one.guardian), ("Due back", one.due_on)]
        particulars = [said(f"{label} {words}") for label, words in (*rows, *one.particulars)]
        code = _code_flowable(f"{ORIGIN}/h/{one.label_code}/", 32 * mm)
        story += [
            columns([said(one.number, "number"), said(one.kind), said(one.about)], [code]),
            columns(particulars[:4], particulars[4:]),
            columns(
                [said("How it is when it goes out", "bold"), said(one.condition), *map(said, one.findings)],
                [said("Goes along with it", "bold")]
                + [Table([["☐", "☐", said(name)]], colWidths=[6 * mm, 6 * mm, 80 * mm]) for name, _ in one.accessories],
            ),
            said("The test note on this horn", "bold"),
            said(one.test_note),
            *(said(f"{words}: {way}") for words, way in one.fingerings),
            columns(
                [said("Looking after it", "bold"), *map(said, care)],
                [said("The school’s own rules", "bold"), said(school.local_rules)],
            ),
            said(f"Agreement, version {one.agreement_version}", "bold"),
            *map(said, one.agreement.splitlines()),
            Spacer(1, 3 * mm),
            Table(
                [
                    [said("Before it goes out", "bold"), said("Goes out", "bold"), said("Comes back", "bold")],
                    *(
                        [said(words, "small") for words in line]
                        for line in (("Signature",) * 3, ("Name",) * 3, ("Date",) * 3)
                    ),
                ],
                colWidths=[63 * mm] * 3,
                style=[("LINEABOVE", (0, 1), (-1, -1), 0.4, "black")],
            ),
            PageBreak(),
        ]
    document.build(story)
    return out.getvalue()


def labels_with_flowables(rows: list[tuple[str, str, str]], sheet: LabelSheet, school: School) -> bytes:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate, Paragraph, Table

    style = _styles()
    style["number"].fontSize, style["number"].leading = 15, 19
    out = io.BytesIO()
    wide, high = PAPERS[sheet.paper]
    document = BaseDocTemplate(out, pagesize=(wide * MM, high * MM), invariant=1, pageCompression=1)
    frame = Frame(sheet.left * MM, 0, wide * MM, (high - sheet.top) * MM, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("labels", [frame])])
    side = min(sheet.height - 4, sheet.width * 0.5) * MM
    cells = [
        Table(
            [
                [
                    _code_flowable(f"{ORIGIN}/h/{code}/", side),
                    [Paragraph(number, style["number"]), Paragraph(school.name, style["plain"])],
                ]
            ],
            colWidths=[side, sheet.width * MM - side],
            style=[("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (-1, -1), 3)],
        )
        for number, code, _ in rows
    ]
    cells += [""] * (-len(cells) % sheet.across)
    lines = [cells[start : start + sheet.across] for start in range(0, len(cells), sheet.across)]
    story = [
        Table(
            lines[start : start + sheet.down],
            colWidths=[sheet.width * MM] * sheet.across,
            rowHeights=[sheet.height * MM] * len(lines[start : start + sheet.down]),
        )
        for start in range(0, len(lines), sheet.down)
    ]
    document.build(story)
    return out.getvalue()
