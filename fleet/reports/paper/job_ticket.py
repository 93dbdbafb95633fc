"""The job ticket: one job on one sheet, which goes with the horn; the order that goes to a repairer outside; and tags
that hang on the handles of what is on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.people.models import School
from fleet.register.models.kinds import build_of
from fleet.reports.paper.condition_report import AFTER, CAPTION, photograph_drawn
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from fleet.workshop.models import CheckPhotograph, Finding, PartUsed, RepairJob, WorkOrdered
from fleet.workshop.models.works import mind
from fleet.workshop.queries.bench import STOPS, Turn
from identify.core.drawing.whole import BACK, FRONT, whole

LINE = 9.0
DRAWN = 62.0
PICTURE = 62.0
# Six tags to a page; each hangs by its hole, mm.
TAG, HIGH, HOLE = 58.0, (BODY_END - BODY_TOP) / 2 - 4, 5.0
ON_A_PAGE, IN_A_ROW = 6, 3
WORK_DONE = _s_lazy("Work done")
BY_HAND_OUTSIDE = (_s_lazy("Quote"), _s_lazy("Ready by"), WORK_DONE, "", _s_lazy("Name, date, signature"))
BY_HAND = (
    *(WORK_DONE, "", "", _s_lazy("Parts"), _s_lazy("Minutes and cost")),
    *(_s_lazy("Mended by, date"), _s_lazy("Checked by, date")),
)
TO_WRITE = 40.0  # mm from the left, where a line to write on begins


def job_ticket_drawn(
    job: RepairJob,
    findings: Sequence[Finding],
    used: Sequence[PartUsed],
    *,
    school: School,
    address: str,
    today: date,
    paper: str,
    order: bool = False,
    works: Sequence[WorkOrdered] = (),
    photographs: Sequence[CheckPhotograph] = (),
) -> bytes:
    """The ticket as PDF, for a job with its horn, place and technician, or the `order` to a repairer outside, which
    says nothing of what the school keeps to itself, with its `photographs`. `findings` come from
    `queries.agreed.findings_of`, of an order from `queries.order.order_of`. No query."""
    out = BytesIO()
    horn = job.horn
    contact = _s("Questions: %(contact)s") % {"contact": school.contact} if school.contact else ""
    title = _s("Repair order, %(number)s, %(day)s") if order else _s("Job ticket, %(number)s, %(day)s")
    title = title % {"number": horn.number, "day": day(today)}
    page = Sheet(out, school=school.name, title=title, paper=paper, foot=contact)
    page.words(0, BODY_TOP + 9, horn.number, size=22, bold=True, width=120)
    kind = horn.what_it_is
    page.words(0, BODY_TOP + 16, kind, size=11, width=150)
    if not order:
        page.code(WIDTH - 27, BODY_TOP, 27, address)
        page.words_right(WIDTH - 3, BODY_TOP + 29, _s("this job, after signing in"), size=7.5, grey=True)
    y = BODY_TOP + 22
    for label, words in _particulars(job, school) if order else _facts(job, school):
        page.words(0, y, label, size=9, grey=True, width=38)
        page.words(40, y, words, size=10, width=110)
        y += 5.6
    y += 3
    if works or job.work_ordered:
        page.words(0, y, _s("Work ordered"), size=11, bold=True)
        said = [f"• {one}: {_s(one.entry.do)}" for one in works]
        y = _paragraphs(page, y + 1, "\n".join(filter(None, (*said, job.work_ordered)))) + 6
    if findings or not (works or job.work_ordered):
        page.words(0, y, _s("What is wrong"), size=11, bold=True)
        y += 3
    for finding in findings:
        lines = broken(_in_words(finding), WIDTH - 8, 10.0)
        y = _room(page, y, 3 + len(lines) * leading(10.0))
        page.tick_box(0, y + 4.4, ticked=finding.mended_at is not None)
        for line in lines:
            y += leading(10.0)
            page.words(7, y, line, size=10)
        y += 2
    if not findings and not works and not job.work_ordered:
        page.words(0, y + 4.5, _s("No fault is named: check it first."), size=10)
        y += 7
    if used and not order:
        parts = _s("Parts used: %(parts)s") % {"parts": ", ".join(str(one) for one in used)}
        y = page.paragraph(0, y + 2, parts, WIDTH, size=10)
    to_mind = mind((one.work for one in works), (finding.fault for finding in findings))
    y = page.paragraph(0, y + 2, to_mind, WIDTH, size=8.5, grey=True) + 4
    by_hand = BY_HAND_OUTSIDE if order else BY_HAND
    y = _room(page, y, len(by_hand) * LINE)
    for label in by_hand:
        y += LINE
        page.words(0, y - 1, str(label), size=8.5, grey=True, width=TO_WRITE - 2)
        page.rule(TO_WRITE, y, WIDTH - TO_WRITE, weight=0.3)
    y = _to_mark(page, y + 4, job)
    _pictures(page, y + 4, photographs)
    page.close()
    return out.getvalue()


def tags_drawn(turns: Sequence[tuple[Turn, str]], *, school: School, today: date, paper: str) -> bytes:
    """A tag for each turn that has its job, with the address its code leads to. No names of pupils. No query."""
    out = BytesIO()
    title = _s("Tags for the bench, %(day)s") % {"day": day(today)}
    page = Sheet(out, school=school.name, title=title, paper=paper)
    if not turns:
        page.paragraph(0, BODY_TOP, _s("Nothing is on the bench list."), WIDTH, size=11)
    for place, (turn, address) in enumerate(turns):
        if place and place % ON_A_PAGE == 0:
            page.turn()
        row, column = divmod(place % ON_A_PAGE, IN_A_ROW)
        _tag(page, column * (TAG + 4), BODY_TOP + row * (HIGH + 4), turn, address, school)
    page.close()
    return out.getvalue()


def _tag(page: Sheet, x: float, y: float, turn: Turn, address: str, school: School) -> None:
    job = turn.job
    assert job is not None, "tags_drawn() wants turns with their jobs"
    left, room = x + 3, TAG - 6
    page.frame(x, y, TAG, HIGH, weight=0.3)
    page.frame(x + (TAG - HOLE) / 2, y + 3, HOLE, HOLE, weight=0.3)
    page.words(left, y + 17, job.horn.number, size=20, bold=True, width=room)
    kind = job.horn.what_it_is
    below = page.block(left, y + 19, kind, room, 9.0)
    page.code(x + (TAG - 32) / 2, below, 32, address)
    page.block(left, below + 33, turn.to_do, room, y + HIGH - 8 - below - 33)
    since = _s("since %(day)s") % {"day": date_format(timezone.localtime(job.opened_at), "SHORT_DATE_FORMAT")}
    page.words(left, y + HIGH - 3, f"{school.name} · {since}", size=8.5, grey=True, width=room)


def _to_mark(page: Sheet, y: float, job: RepairJob) -> float:
    """The horn from both sides, to mark by hand where something is; nothing where nobody said what it is. Gives the y
    below."""
    build = build_of(job.horn.build)
    if build is None:
        return y
    y = _room(page, y, 6 + DRAWN)
    front, back = _s("Mark where it is, from the front:"), _s("from the back:")
    for side, words, x in ((FRONT, front, 0.0), (BACK, back, WIDTH / 2)):
        horn = whole(build, side)
        page.words(x, y + 3.5, words, size=8.5, grey=True, width=WIDTH / 2 - 2)
        draw(page, horn, x + 15, y + 5, min(DRAWN / horn.height, (WIDTH / 2 - 20) / horn.width))
    return y + 6 + DRAWN


def _pictures(page: Sheet, y: float, photographs: Sequence[CheckPhotograph]) -> None:
    """Photographs two by two, each with what it shows."""
    for place, photograph in enumerate(photographs):
        if place % 2 == 0:
            y = _room(page, y, PICTURE + CAPTION)
        photograph_drawn(page, 0.0 if place % 2 == 0 else AFTER, y, photograph, PICTURE)
        y += (place % 2) * (PICTURE + CAPTION)


def _room(page: Sheet, y: float, height: float) -> float:
    if y + height <= BODY_END:
        return y
    page.turn()
    return BODY_TOP


def _paragraphs(page: Sheet, y: float, words: str) -> float:
    for said in words.splitlines():
        for line in broken(said, WIDTH, 10.0):
            y = _room(page, y, leading(10.0)) + leading(10.0)
            page.words(0, y, line, size=10)
    return y


def _left(finding: Finding) -> str:
    """Why it is left as it is, where it is."""
    return str(getattr(finding, "not_done_why", ""))


def _particulars(job: RepairJob, school: School) -> list[tuple[str, str]]:
    """What a repairer has to know: which horn, from whom, to whom."""
    horn = job.horn
    facts = [(_s("From"), school.name), (_s("To"), job.repairer or "…")]
    made = f"{horn.maker} {horn.model}".strip()
    for label, words in ((_s("Maker, model"), made), (_s("Serial number"), horn.serial_number)):
        if words:
            facts.append((label, words))
    if job.expected_on is not None:
        facts.append((_s("Wanted back"), day(job.expected_on)))
    return facts


def _facts(job: RepairJob, school: School) -> list[tuple[str, str]]:
    opened = f"{day(timezone.localtime(job.opened_at))}, {job.get_state_display()}"
    facts = [(_s("Job opened"), opened), (_s("Kept in"), str(job.horn.place or _s("no place")))]
    if job.horn.serial_number:
        facts.append((_s("Serial number"), job.horn.serial_number))
    facts.append((_s("Technician"), str(job.technician or _s("nobody yet"))))
    if job.repairer:
        facts.append((_s("Repairer"), job.repairer))
    if job.quote is not None:
        facts.append((_s("Quote"), money(job.quote, school.currency)))
    for label, on in (
        (_s("Sent"), job.sent_on),
        (_s("Expected back"), job.expected_on),
        (_s("Back on"), job.back_on),
    ):
        if on is not None:
            facts.append((label, day(on)))
    return facts


def _in_words(finding: Finding) -> str:
    said = f"{finding} ({finding.note})" if finding.note else str(finding)
    if finding.mended_at is not None:
        return _s("%(finding)s: mended.") % {"finding": said}
    if why := _left(finding):
        return _s("%(finding)s: not done. %(why)s") % {"finding": said, "why": why}
    return f"{said}: {STOPS[finding.severity]}. {_s(finding.entry.do)}"
