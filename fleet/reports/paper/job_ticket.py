"""The job ticket: one job on one sheet, which goes with the horn; the order that goes to a repairer outside; and tags
that hang on the handles of what is on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from django.utils import timezone
from django.utils.dateformat import format as dated

from fleet.people.models import School
from fleet.register.models.kinds import build_of, kind_and_stand
from fleet.reports.paper.condition_report import AFTER, CAPTION, photograph_drawn
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from fleet.workshop.models import CheckPhotograph, Finding, PartUsed, RepairJob, WorkOrdered
from fleet.workshop.models.works import minded
from fleet.workshop.queries.bench import STOPS, Turn
from identify.core.drawing.whole import BACK, FRONT, whole

LINE = 9.0
DRAWN = 62.0
PICTURE = 62.0
# Six tags to a page; each hangs by its hole, mm.
TAG, HIGH, HOLE = 58.0, (BODY_END - BODY_TOP) / 2 - 4, 5.0
ON_A_PAGE, IN_A_ROW = 6, 3
BY_HAND_OUTSIDE = ("Quote", "Ready by", "Work done", "", "Name, date, signature")
BY_HAND = ("Work done", "", "", "Parts", "Minutes and cost", "Mended by, date", "Checked by, date")


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
    contact = f"Questions: {school.contact}" if school.contact else ""
    title = f"{'Repair order' if order else 'Job ticket'}, {horn.number}, {dated(today, 'j F Y')}"
    page = Sheet(out, school=school.name, title=title, paper=paper, foot=contact)
    page.words(0, BODY_TOP + 9, horn.number, size=22, bold=True, width=120)
    page.words(0, BODY_TOP + 16, kind_and_stand(horn.build, horn.stands_in) or "not identified", size=11, width=150)
    if not order:
        page.code(WIDTH - 27, BODY_TOP, 27, address)
        page.words_right(WIDTH - 3, BODY_TOP + 29, "this job, after signing in", size=7.5, grey=True)
    y = BODY_TOP + 22
    for label, words in _particulars(job, school) if order else _facts(job, school):
        page.words(0, y, label, size=9, grey=True, width=38)
        page.words(40, y, words, size=10, width=110)
        y += 5.6
    y += 3
    if works or job.work_ordered:
        page.words(0, y, "Work ordered", size=11, bold=True)
        said = [f"• {one}: {one.entry.do}" for one in works]
        y = _paragraphs(page, y + 1, "\n".join(filter(None, (*said, job.work_ordered)))) + 6
    if findings or not (works or job.work_ordered):
        page.words(0, y, "What is wrong", size=11, bold=True)
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
        page.words(0, y + 4.5, "No fault is named: check it first.", size=10)
        y += 7
    if used and not order:
        y = page.paragraph(0, y + 2, "Parts used: " + ", ".join(str(one) for one in used), WIDTH, size=10)
    cautions = minded((one.work for one in works), (finding.fault for finding in findings))
    y = page.paragraph(0, y + 2, "Mind: " + " ".join(cautions), WIDTH, size=8.5, grey=True) + 4
    by_hand = BY_HAND_OUTSIDE if order else BY_HAND
    y = _room(page, y, len(by_hand) * LINE)
    for label in by_hand:
        y += LINE
        page.words(0, y - 1, label, size=8.5, grey=True)
        page.rule(32, y, WIDTH - 32, weight=0.3)
    y = _to_mark(page, y + 4, job)
    _pictures(page, y + 4, photographs)
    page.close()
    return out.getvalue()


def tags_drawn(turns: Sequence[tuple[Turn, str]], *, school: School, today: date, paper: str) -> bytes:
    """A tag for each turn that has its job, with the address its code leads to. No names of pupils. No query."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Tags for the bench, {dated(today, 'j F Y')}", paper=paper)
    if not turns:
        page.paragraph(0, BODY_TOP, "Nothing is on the bench list.", WIDTH, size=11)
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
    kind = kind_and_stand(job.horn.build, job.horn.stands_in) or "not identified"
    below = page.block(left, y + 19, kind, room, 9.0)
    page.code(x + (TAG - 32) / 2, below, 32, address)
    page.block(left, below + 33, turn.to_do, room, y + HIGH - 8 - below - 33)
    on = dated(timezone.localtime(job.opened_at), "j M Y")
    page.words(left, y + HIGH - 3, f"{school.name} · since {on}", size=8.5, grey=True, width=room)


def _to_mark(page: Sheet, y: float, job: RepairJob) -> float:
    """The horn from both sides, to mark by hand where something is; nothing where nobody said what it is. Gives the y
    below."""
    build = build_of(job.horn.build)
    if build is None:
        return y
    y = _room(page, y, 6 + DRAWN)
    page.words(0, y + 3.5, "Mark where it is:", size=8.5, grey=True)
    for side, x in ((FRONT, 15.0), (BACK, 15.0 + WIDTH / 2)):
        horn = whole(build, side)
        page.words(x + 15, y + 3.5, f"from the {side}", size=8.5, grey=True)
        draw(page, horn, x, y + 5, min(DRAWN / horn.height, (WIDTH / 2 - 20) / horn.width))
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
    facts = [("From", school.name), ("To", job.repairer or "…")]
    for label, words in (("Maker, model", f"{horn.maker} {horn.model}".strip()), ("Serial number", horn.serial_number)):
        if words:
            facts.append((label, words))
    if job.expected_on is not None:
        facts.append(("Wanted back", dated(job.expected_on, "j F Y")))
    return facts


def _facts(job: RepairJob, school: School) -> list[tuple[str, str]]:
    opened = dated(timezone.localtime(job.opened_at), "j F Y")
    facts = [("Job opened", f"{opened}, {job.get_state_display()}"), ("Kept in", str(job.horn.place or "no place"))]
    if job.horn.serial_number:
        facts.append(("Serial number", job.horn.serial_number))
    facts.append(("Technician", str(job.technician or "nobody yet")))
    if job.repairer:
        facts.append(("Repairer", job.repairer))
    if job.quote is not None:
        facts.append(("Quote", f"{job.quote:,.2f} {school.currency}"))
    for label, day in (("Sent", job.sent_on), ("Expected back", job.expected_on), ("Back", job.back_on)):
        if day is not None:
            facts.append((label, dated(day, "j F Y")))
    return facts


def _in_words(finding: Finding) -> str:
    said = f"{finding} ({finding.note})" if finding.note else str(finding)
    if finding.mended_at is not None:
        return f"{said}: mended."
    if why := _left(finding):
        return f"{said}: not done. {why}"
    return f"{said}: {STOPS[finding.severity]}. {finding.entry.do}"
