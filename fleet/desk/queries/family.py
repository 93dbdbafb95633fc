"""What an account that answers for pupils may see: their loans, and what waits for its signature."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, TypeVar, cast

from django.db.models import F, OuterRef, Q, QuerySet
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.ground.languages.own import word_on
from fleet.ground.wording import with_commas
from fleet.lending.models import Charge, FamilyAsk, Loan, LoanAccessory, LoanQuerySet
from fleet.people.models import Guardian, User
from fleet.people.queries.own_words import words_of
from fleet.register.models import Photograph
from fleet.register.queries.at_once import AtOnce
from fleet.signing.models import OnlineSignature, OnlineSignatureQuerySet
from fleet.workshop.models import FaultReport, Finding, RepairJob
from fleet.workshop.queries.condition import open_findings_of


def own_loans(request: HttpRequest) -> LoanQuerySet:
    """Open loans of the pupils this account answers for; 404 for somebody who answers for nobody."""
    return _own(request).open().select_related("horn__school", "pupil", "in_place_of").order_by("pupil__name", "pk")


def own_ended_loans(request: HttpRequest) -> LoanQuerySet:
    """Their loans that have ended, the newest first; 404 for somebody who answers for nobody."""
    ended = _own(request).ended().select_related("horn__school", "pupil", "returned_to", "replaced_by__horn")
    return ended.order_by("-returned_on", "-pk")


def own_every_loan(request: HttpRequest) -> LoanQuerySet:
    """Both."""
    return _own(request)


def only_families(request: HttpRequest) -> User:
    """The account, where it answers for somebody; else 404."""
    if not own_records(request):
        raise Http404("Not a guardian.")
    return cast(User, request.user)


def own_records(request: HttpRequest) -> list[Guardian]:
    """What schools have on record of this account's person. No query: the page's language has asked for them."""
    records: tuple[Guardian, ...] = request.speech.records  # type: ignore[attr-defined]
    return sorted(records, key=lambda one: (one.school.name, one.pk))


Row = TypeVar("Row", Loan, OnlineSignature)


def own_one(rows: QuerySet[Row], pk: int) -> Row:
    """One of these, or 404; what is said from here on is said in the words of its school."""
    row = get_object_or_404(rows, pk=pk)
    speak_as(row)
    return row


def speak_as(row: Loan | OnlineSignature) -> None:
    """The page goes on in the words of this school, whatever other schools the family has children at."""
    word_on(words_of(row.horn.school))


def _own(request: HttpRequest) -> LoanQuerySet:
    return Loan.objects.answered_for_by(only_families(request))


def own_signatures(request: HttpRequest) -> OnlineSignatureQuerySet:
    """What was put before this account to sign, taken back or not, for pupils it still answers for."""
    mine = OnlineSignature.objects.filter(guardian__user=cast(User, request.user), guardian__pupils=F("pupil"))
    return mine.select_related("horn__school", "pupil", "guardian", "agreement")


# What a family reads of a job that is open or was given up.
BECAME = {
    RepairJob.State.WAITING: _("It waits for the repairer."),
    RepairJob.State.BENCH: _("It is being mended."),
    RepairJob.State.PARTS: _("The repairer waits for a part."),
    RepairJob.State.AWAY: _("It is at the repairer’s."),
    RepairJob.State.GIVEN_UP: _("It could not be mended; the school will tell you more."),
}
KEEP_IT = _("The school will say here when to bring it. Keep the horn until then.")
MENDED = _("It is mended, and the school has looked it over.")
TO_MEND = (Finding.Severity.REPAIR, Finding.Severity.MUST_NOT_BE_PLAYED)


def hangs_on(loan: Loan) -> dict[str, list[Any]]:
    """What a family's page shows of its loan: `asks`, `accessories`, `charges` that are due, the newest of the
    `photographs`, and `jobs` that are open or not fetched from. Two queries."""
    [(_, rows)] = _asked()([loan.pk])
    return rows


@lru_cache(maxsize=1)
def _asked() -> AtOnce[Loan]:
    loan, horn = OuterRef("pk"), OuterRef("horn")
    ours = Q(closed_at=None) | Q(brought_at__isnull=False, fetched_at=None)
    hanging = {
        "asks": FamilyAsk.objects.filter(loan=loan).select_related("by"),
        "accessories": LoanAccessory.objects.filter(loan=loan),
        "charges": Charge.objects.due().filter(loan=loan),
        "photographs": Photograph.objects.filter(horn=horn)[:1],
        "jobs": RepairJob.objects.filter(ours, horn=horn).select_related("horn"),
    }
    return AtOnce(Loan.objects.order_by(), hanging)


def repair_of(jobs: Iterable[RepairJob]) -> RepairJob | None:
    """The repair, among these jobs of a horn, that the family brings it to, or that it was brought for and has not
    fetched it from. No query."""
    found = [job for job in jobs if job.is_open or job.horn.on_bench]
    return next((job for job in found if job.waits_for_family or job.horn.on_bench), None)


def reports_of(loan: Loan) -> list[tuple[FaultReport, str]]:
    """What the pupil's guardians reported, whichever of them, each with what became of it. Two queries, and one for
    each horn swapped before."""
    reports = list(
        FaultReport.objects.filter(_reported_under(loan), pupil=loan.pupil).select_related("job", "horn", "pupil", "by")
    )
    findings = open_findings_of({report.horn_id for report in reports if report.job_id})
    return [(report, _became(report, findings.get(report.horn_id, []))) for report in reports]


def _became(report: FaultReport, findings: Sequence[Finding]) -> str:
    """A job may have taken other faults than the family's: what is still to be mended is said, and that nobody has
    looked since."""
    if report.job is None:
        return ""
    state = RepairJob.State(report.job.state)
    if state == RepairJob.State.WAITING and report.horn.whereabouts.is_with_family:
        # Who left is asked to bring it back at once.
        gone = report.pupil is not None and report.pupil.left_on is not None
        return "" if report.job.bring_on or gone else str(KEEP_IT)
    if state != RepairJob.State.DONE:
        return str(BECAME[state])
    left = [str(one) for one in findings if one.severity in TO_MEND]
    if left:
        return gettext("A repair is done. Still to be mended: %(faults)s.") % {"faults": with_commas(left)}
    if report.horn.mended_on is not None:
        return gettext("A repair is done. The school has not looked the horn over since.")
    if small := [str(one) for one in findings if one.severity == Finding.Severity.WATCH]:
        return gettext(
            "A repair is done, and the school has looked the horn over. It can be played, though this is still there: "
            "%(faults)s."
        ) % {"faults": with_commas(small)}
    return str(MENDED)


def _reported_under(loan: Loan) -> Q:
    """Reports on the horn since it went out, and on those it was swapped in for, which are the ones to be mended."""
    found = Q()
    swapped: Loan | None = loan
    while swapped is not None:
        found |= Q(horn=swapped.horn_id, at__date__gte=swapped.issued_on)
        swapped = swapped.in_place_of
    return found
