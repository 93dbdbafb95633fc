"""What the workshop has to tell of horns: what is kept on them, what is owed, and the time line of one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import WayOut
from fleet.ground.wording import day, shortened
from fleet.people.models import School
from fleet.people.models.zones import DayAt
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.indexes import LastChecked
from fleet.register.queries.owing import Owed, Owing
from fleet.register.queries.story import StoryLine, StoryPart
from fleet.register.queries.told import sounded_since
from fleet.workshop.models import Care, ConditionCheck, FaultReport, Finding, JobStep, RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.jobs import RepairJobQuerySet
from fleet.workshop.models.reports import FaultReportQuerySet
from fleet.workshop.models.steps import told_again
from fleet.workshop.queries.care import kept_of_care


def _of_check(check: ConditionCheck) -> Iterator[StoryLine]:
    found = [str(finding) for finding in check.findings.all()]
    if check.occasion == check.Occasion.OTHER:
        said = _s("Checked: %(grade)s (%(faults)s).") if found else _s("Checked: %(grade)s, nothing found.")
    elif found:
        said = _s("Checked, %(occasion)s: %(grade)s (%(faults)s).")
    else:
        said = _s("Checked, %(occasion)s: %(grade)s, nothing found.")
    told = {"occasion": check.get_occasion_display(), "grade": check.get_grade_display(), "faults": ", ".join(found)}
    sentence = said % told
    yield StoryLine(check.at, "check", sentence, str(check.by), ("workshop:check", check.pk))


def _of_step(step: JobStep) -> Iterator[StoryLine]:
    yield StoryLine(
        step.at,
        "repair",
        _s("Repair job: %(step)s.") % {"step": told_again(step.words)},
        str(step.by),
        ("workshop:job", step.job_id),
    )


def _of_report(report: FaultReport) -> Iterator[StoryLine]:
    sentence = _s("The family reports: %(report)s") % {"report": report.words}
    yield StoryLine(report.at, "report", sentence, str(report.by), ("workshop:report", report.pk))


def _of_care(care: Care) -> Iterator[StoryLine]:
    at = datetime.combine(care.on, time(12), tzinfo=timezone.get_current_timezone())
    yield StoryLine(at, "care", _s("%(kind)s done.") % {"kind": capfirst(care.get_kind_display())}, str(care.by))


STORY = (
    StoryPart(lambda: ConditionCheck.objects.select_related("by"), _of_check, along=lambda: ("findings",)),
    StoryPart(lambda: JobStep.objects.select_related("by").order_by("-pk"), _of_step, horn="job__horn"),
    StoryPart(lambda: FaultReport.objects.select_related("by"), _of_report),
    StoryPart(lambda: Care.objects.select_related("by"), _of_care),
)


def kept() -> dict[str, Any]:
    """The workshop's share of what is kept on a horn (see `register.queries.kept`)."""
    newest = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk")
    working = Q(closed_at=None, state__in=RepairJob.IN_THE_WORKSHOP)
    brought = Q(brought_at__isnull=False, fetched_at=None)
    here = RepairJob.objects.filter(working | brought, horn=OuterRef("pk"))
    away = RepairJob.objects.open().filter(horn=OuterRef("pk"), state=RepairJob.State.AWAY)
    looked_at = ConditionCheck.objects.filter(horn=OuterRef("horn_id"), at__gte=OuterRef("closed_at"))
    again = RepairJob.objects.open().filter(horn=OuterRef("horn_id"))
    done = RepairJob.objects.filter(~Exists(looked_at), ~Exists(again), horn=OuterRef("pk"), state=RepairJob.State.DONE)
    asks = [fault.code for fault in catalogue().by_code.values() if fault.test_note]
    sounded = sounded_since(OuterRef("mended_at"), horn=OuterRef("check_made__horn_id"))
    mended = Finding.objects.filter(~Exists(sounded), check_made__horn=OuterRef("pk"), mended_at__isnull=False)
    return {
        "on_bench": Exists(here),
        "repairer": Coalesce(Subquery(away.values("repairer")[:1]), Value("")),
        "grade": Subquery(newest.values("grade")[:1]),
        "checked_on": Subquery(newest.annotate(day=DayAt("at", "horn__school")).values("day")[:1]),
        "mended_on": Subquery(
            done.order_by("-closed_at", "-pk").annotate(day=DayAt("closed_at", "horn__school")).values("day")[:1]
        ),
        "test_note_owed": Exists(mended.filter(fault__in=asks)),
        **kept_of_care(),
    }


def _reported(school: School, today: date) -> FaultReportQuerySet:
    found = FaultReport.objects.at(school).unanswered()
    return found.select_related("horn", "by").most_pressing_first()


def _mended(school: School, today: date) -> HornQuerySet:
    return Horn.objects.at(school).mended_unchecked().order_by("mended_on", "pk")


def _late(school: School, today: date) -> RepairJobQuerySet:
    late = RepairJob.objects.at(school).late(today)
    return late.select_related("horn").order_by("expected_on", "pk")


def _to_fetch(school: School, today: date) -> RepairJobQuerySet:
    """Mended and looked over since, and still here though its loan goes on."""
    found = RepairJob.objects.at(school).brought().filter(horn__mended_on=None, state="done")
    return found.filter(~Exists(RepairJob.objects.open().filter(horn=OuterRef("horn")))).select_related("horn")


def _unchecked(school: School, today: date) -> HornQuerySet:
    """In their places, and looked over longer ago than the school allows; what is mended waits for a look anyway."""
    longest = today - timedelta(days=school.check_days)
    found = Horn.objects.at(school).not_checked_since(longest).filter(where=Horn.Where.IN_PLACE, mended_on=None)
    order = (LastChecked("checked_on"), "number_stem", "number_tail", "pk")
    return found.select_related("place").order_by(*order)


def _jobs(school: School, today: date) -> RepairJobQuerySet:
    """Open jobs of horns that are neither withdrawn nor missing, in the turn they keep (`in_turn`)."""
    found = RepairJob.objects.at(school).open().filter(horn__withdrawn_on=None, horn__not_found_on=None)
    return found.select_related("horn", "technician").order_by("turn", "pk")


OWING = (
    Owing(
        "report",
        _s_lazy("Families report"),
        _reported,
        lambda report, today: Owed(
            _s("%(horn)s: “%(words)s”") % {"horn": report.horn, "words": shortened(report.words)},
            f"{report.by.name} · {_s('still plays') if report.still_plays else _s('does not play')}",
            WayOut("workshop:report", _s("Answer the family"), (report.pk,)),
            since=timezone.localdate(report.at),
            late=not report.still_plays,
        ),
        everything=("workshop:bench", ""),
        among_others=True,
    ),
    Owing(
        "away-late",
        _s_lazy("Late at the repairer’s"),
        _late,
        lambda job, today: Owed(
            _s("%(horn)s: ask %(repairer)s") % {"horn": job.horn, "repairer": job.repairer},
            job.due(today).words,
            WayOut("workshop:job", _s("Go to its repair job"), (job.pk,)),
            since=job.expected_on,
            late=True,
        ),
        everything=("workshop:bench", "state=away"),
        among_others=True,
    ),
    Owing(
        "mended",
        _s_lazy("Mended, to be checked"),
        _mended,
        lambda horn, today: Owed(
            _s("%(horn)s: check it after the repair") % {"horn": horn},
            _s("mended on %(mended_on)s") % {"mended_on": day(horn.mended_on)},
            WayOut("workshop:check-new", _s("Check it after the repair"), (horn.pk,)),
        ),
        horn="pk",
    ),
    Owing(
        "fetch",
        _s_lazy("Waits to be fetched"),
        lambda school, today: _to_fetch(school, today).order_by("closed_at", "pk"),
        lambda job, today: Owed(
            _s("%(horn)s: its family may fetch it") % {"horn": job.horn},
            _s("from %(fetch_on)s") % {"fetch_on": day(job.fetch_on)}
            if job.fetch_on
            else _s("mended and looked over; no day said yet"),
            WayOut("workshop:job", _s("Say when, or that it was fetched"), (job.pk,)),
            since=None if job.fetch_on else timezone.localdate(job.closed_at),
        ),
        among_others=True,
    ),
    Owing(
        "check",
        _s_lazy("Due for a check"),
        _unchecked,
        lambda horn, today: Owed(
            _s("%(horn)s: check its condition") % {"horn": horn},
            _s("last looked over on %(checked_on)s") % {"checked_on": day(horn.checked_on)}
            if horn.checked_on
            else _s("never looked over"),
            WayOut("workshop:check-new", _s("Check its condition"), (horn.pk,)),
        ),
        horn="pk",
        everything=("register:horns", "owed=check&sort=checked"),
    ),
    Owing(
        "job",
        _s_lazy("On the bench list"),
        _jobs,
        lambda job, today: Owed(
            f"{job.horn}, {job.horn.what_it_is}",
            _s("A repair job is open: %(state)s.") % {"state": job.get_state_display()},
            WayOut("workshop:job", _s("Go to the repair job"), (job.pk,)),
            since=timezone.localdate(job.opened_at),
        ),
        everything=("workshop:bench", ""),
        among_others=True,
    ),
)
