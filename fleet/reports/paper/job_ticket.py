"""The job ticket: one job on one sheet, which goes with the horn, also to a repairer outside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO

from django.utils import timezone
from django.utils.dateformat import format as dated

from fleet.people.models import School
from fleet.register.models.kinds import kind_and_stand
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.workshop.models import Finding, PartUsed, RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.bench import STOPS

LINE = 9.0
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
) -> bytes:
    """The ticket as PDF, for a job with its horn, place and technician. No query."""
    out = BytesIO()
    horn = job.horn
    contact = f"Questions: {school.contact}" if school.contact else ""
    title = f"Job ticket, {horn.number}, {dated(today, 'j F Y')}"
    page = Sheet(out, school=school.name, title=title, paper=paper, foot=contact)
    page.words(0, BODY_TOP + 9, horn.number, size=22, bold=True, width=120)
    page.words(0, BODY_TOP + 16, kind_and_stand(horn.build, horn.stands_in) or "not identified", size=11, width=150)
    page.code(WIDTH - 27, BODY_TOP, 27, address)
    page.words_right(WIDTH - 3, BODY_TOP + 29, "this job, after signing in", size=7.5, grey=True)
    y = BODY_TOP + 22
    for label, words in _facts(job, school):
        page.words(0, y, label, size=9, grey=True, width=38)
        page.words(40, y, words, size=10, width=110)
        y += 5.6
    y += 3
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
    if not findings:
        page.words(0, y + 4.5, "No fault is named: check it first.", size=10)
        y += 7
    if used:
        y = page.paragraph(0, y + 2, "Parts used: " + ", ".join(str(one) for one in used), WIDTH, size=10)
    cautions = catalogue().cautions_for(finding.fault for finding in findings)
    y = page.paragraph(0, y + 2, "Mind: " + " ".join(cautions), WIDTH, size=8.5, grey=True) + 4
    y = _room(page, y, len(BY_HAND) * LINE)
    for label in BY_HAND:
        y += LINE
        page.words(0, y - 1, label, size=8.5, grey=True)
        page.rule(32, y, WIDTH - 32, weight=0.3)
    page.close()
    return out.getvalue()


def _room(page: Sheet, y: float, height: float) -> float:
    if y + height <= BODY_END:
        return y
    page.turn()
    return BODY_TOP


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
    told = "mended" if finding.mended_at is not None else STOPS[finding.severity]
    return f"{said}: {told}. {finding.entry.do}"
