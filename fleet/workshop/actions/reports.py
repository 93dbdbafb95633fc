"""A family's report kept, and answered. Each action is one transaction that locks the horn's row first."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.ground.wording import spoken_time
from fleet.people.models import Pupil, User
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.actions.mending import opened
from fleet.workshop.models import FaultReport


@transaction.atomic
def report_fault(*, horn: Horn, pupil: Pupil, by: User, at: datetime, words: str, still_plays: bool) -> FaultReport:
    """Keeps what a family says is wrong; sent twice, it is kept once. Raises Refused for no words or too many."""
    words = words.strip()
    most = FaultReport._meta.get_field("words").max_length
    if not words:
        raise Refused(gettext("Say in a few words what is wrong."))
    if most is not None and len(words) > most:
        raise Refused(gettext("Say it in at most %(most)d characters.") % {"most": most})
    horn = locked(horn)
    if pupil.school_id != horn.school_id:
        raise Refused(_s("This horn belongs to another school."))
    same = FaultReport.objects.filter(horn=horn, pupil=pupil, by=by, words=words).unanswered().first()
    if same is not None:
        return same
    said = {"pupil": pupil, "by": by, "at": at, "words": words, "still_plays": still_plays}
    report = FaultReport.objects.create(horn=horn, **said)
    keep([horn])
    return report


@transaction.atomic
def take_back_report(*, report: FaultReport, by: User, at: datetime) -> FaultReport:
    """Nothing is wrong after all, says who reported it. Refused once it was answered, and to anybody else."""
    horn = locked(report.horn)
    report = FaultReport.objects.get(pk=report.pk)
    if report.by_id != by.pk or report.answered_at is not None:
        raise Refused(gettext("The school has answered meanwhile."))
    report.answered_at, report.answered_by = at, by
    report.save(update_fields=["answered_at", "answered_by"])
    keep([horn])
    return report


@transaction.atomic
def answer_report(*, report: FaultReport, by: User, at: datetime, answer: str, to_bench: bool) -> FaultReport:
    """Answers a family, in words or by putting the horn's job on the bench list, or both.

    Raises Refused when somebody has answered already and when there is neither.
    """
    horn = locked(report.horn)
    report = FaultReport.objects.select_related("answered_by").get(pk=report.pk)
    if report.answered_at is not None:
        raise Refused(
            _s("%(answered_by)s answered this already at %(answered_at)s.")
            % {"answered_by": report.answered_by, "answered_at": spoken_time(report.answered_at)}
        )
    answer = answer.strip()
    if not answer and not to_bench:
        raise Refused(_s("Write the family an answer, or make a repair job of it."))
    if to_bench:
        report.job = horn.jobs.filter(closed_at=None).first() or opened(
            horn, by, at, words="opened for a family’s report"
        )
    report.answer, report.answered_at, report.answered_by = answer, at, by
    report.save(update_fields=["answer", "answered_at", "answered_by", "job"])
    keep([horn])
    return report
