"""The condition before and after a repair, side by side, with the photographs of both checks. No names of pupils."""

from __future__ import annotations

from datetime import datetime
from io import BytesIO

from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.wording import day
from fleet.people.models import School
from fleet.reports.queries.before_and_after import Look
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.workshop.models import CheckPhotograph, RepairJob

COLUMN = 92.0
HEIGHTS = (62.0, 54.0, 48.0, 42.0)
CAPTION = 11.0
HEADS = 11.0
AFTER = WIDTH - COLUMN


def condition_report_drawn(
    job: RepairJob, before: Look | None, after: Look | None, *, school: School, paper: str, now: datetime
) -> bytes:
    """The report as PDF. Reads the photographs' files; a file that is gone is said in its place."""
    out = BytesIO()
    horn = job.horn
    title = _s("Condition of %(number)s before and after repair") % {"number": horn.number}
    page = Sheet(out, school=school.name, title=title, paper=paper)
    page.words(0, BODY_TOP + 8, horn.number, size=18, bold=True, width=WIDTH)
    what = horn.what_it_is
    page.words(0, BODY_TOP + 15, what, size=11, width=WIDTH)
    stage = _s("Repair job: %(state)s. Printed %(day)s.")
    stage %= {"state": job.get_state_display(), "day": day(timezone.localdate(now))}
    page.words(0, BODY_TOP + 20.5, stage, size=9, grey=True)
    top = BODY_TOP + 25
    ends = [
        _column(page, 0, top, _s("Before"), before, _s("No check before the job.")),
        _column(page, AFTER, top, _s("After"), after, _s("Not checked since the repair.")),
    ]
    _pictures(page, max(ends) + 4, before, after)
    page.close()
    return out.getvalue()


def _column(page: Sheet, x: float, y: float, heading: str, look: Look | None, nothing: str) -> float:
    """Heading, grade, finish and findings of one check; gives the y below."""
    page.words(x, y + 5, heading, size=13, bold=True)
    page.rule(x, y + 7, COLUMN, weight=0.4)
    y += 9
    if look is None:
        return page.paragraph(x, y, nothing, COLUMN, size=10)
    check = look.check
    checked = _s("%(day)s, by %(who)s") % {"day": day(timezone.localdate(check.at)), "who": check.by}
    y = page.paragraph(x, y, checked, COLUMN, size=9, grey=True)
    grade = _s("Playing grade %(grade)s: %(words)s") % {"grade": check.grade, "words": check.get_grade_display()}
    y = page.paragraph(x, y, grade, COLUMN, size=10, bold=True)
    finish = _s("Finish: %(words)s") % {"words": check.get_finish_grade_display()}
    y = page.paragraph(x, y, finish, COLUMN, size=10) + 1
    for finding in look.findings:
        said = f"{finding} ({finding.note})" if finding.note else str(finding)
        y = page.paragraph(x, y, f"• {said}: {finding.get_severity_display()}", COLUMN, size=9.5, lines=6)
    return y if look.findings else page.paragraph(x, y, _s("Nothing found."), COLUMN, size=9.5)


def _pictures(page: Sheet, y: float, before: Look | None, after: Look | None) -> None:
    """Photographs in pairs, those before on the left, as large as the pages they need leave room for."""
    columns = [
        (_s("Before"), 0.0, before.photographs if before else ()),
        (_s("After"), AFTER, after.photographs if after else ()),
    ]
    rows = max(len(pictures) for _, _, pictures in columns)
    # As large as may be without a page more.
    high = min(HEIGHTS, key=lambda high: (_pages_more(rows, high, BODY_END - y), -high))
    for row in range(rows):
        if y + high + CAPTION > BODY_END:
            page.turn()
            for heading, x, _ in columns:
                page.words(x, BODY_TOP + 5, heading, size=13, bold=True)
                page.rule(x, BODY_TOP + 7, COLUMN, weight=0.4)
            y = BODY_TOP + HEADS
        for _, x, pictures in columns:
            if row < len(pictures):
                photograph_drawn(page, x, y, pictures[row], high)
        y += high + CAPTION


def _pages_more(rows: int, high: float, here: float) -> int:
    """How many pages that many rows of pictures take, beyond the room left on this one."""
    over = max(0, rows - int(here // (high + CAPTION)))
    return -(-over // int((BODY_END - BODY_TOP - HEADS) // (high + CAPTION)))


def photograph_drawn(page: Sheet, x: float, y: float, photograph: CheckPhotograph, high: float) -> None:
    """A photograph in its column with what it shows below; one whose file is gone is said in its place."""
    try:
        with photograph.image.open("rb") as file:
            page.picture(x, y, COLUMN, high, BytesIO(file.read()))
    except OSError:
        page.frame(x, y, COLUMN, high)
        page.words(x + 4, y + 10, _s("This photograph’s file is gone or damaged."), size=9, grey=True)
    page.paragraph(x, y + high + 1.5, photograph.shows, COLUMN, size=8.5, lines=2)
