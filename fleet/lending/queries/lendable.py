"""Whether a horn may be lent now and, where not, why not and what would change that."""

from __future__ import annotations

from django.db.models import OuterRef, QuerySet, Subquery

from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.lending.queries.loans import last_ended
from fleet.register.models import Horn
from fleet.register.queries.horns_now import grade_blocks_loan


def why_not(horn: Horn) -> Refused | None:
    """The first thing that keeps the horn from being lent, with the way out, or None. One query at most.

    No query for a horn fetched through `with_last_loan`.
    """
    return _not_here(horn) or _not_known(horn) or grade_blocks_loan(horn) or _mouthpiece(horn)


def with_last_loan(horns: QuerySet[Horn]) -> QuerySet[Horn]:
    """The horns with `last_loan`, the key of the loan that ended last, and `last_cleaned`, when the mouthpiece was
    cleaned after it: what `why_not` needs for many horns without a query for each."""
    newest = Loan.objects.ended().filter(horn=OuterRef("pk")).order_by("-returned_on", "-pk")
    return horns.annotate(
        last_loan=Subquery(newest.values("pk")[:1]), last_cleaned=Subquery(newest.values("mouthpiece_cleaned_on")[:1])
    )


def mouthpiece_owed(horn: Horn) -> bool:
    """Whether nobody recorded the cleaning after the loan that ended last. One query, or none (`with_last_loan`)."""
    if hasattr(horn, "last_loan"):
        return horn.last_loan is not None and getattr(horn, "last_cleaned", None) is None
    before = last_ended(horn)
    return before is not None and before.mouthpiece_cleaned_on is None


def _not_here(horn: Horn) -> Refused | None:
    if horn.withdrawn_on is not None:
        sentence = f"{horn} was withdrawn on {day(horn.withdrawn_on)}."
        return Refused(sentence, way_out=WayOut("register:standing", "Keep it again", (horn.pk,)))
    if horn.not_found_on is not None:
        sentence = f"{horn} has not been found since {day(horn.not_found_on)}."
        return Refused(sentence, way_out=WayOut("register:standing", "Record that it was found", (horn.pk,)))
    if horn.holder_name:
        until = f", due back on {day(horn.due_on)}" if horn.due_on else ""
        return Refused(
            f"{horn} is out: {horn.holder_name} has it{until}.",
            way_out=WayOut("loans:return-of", "Take it back first", (horn.pk,)),
        )
    if horn.on_bench:
        way_out = WayOut("workshop:job-new", "Go to its repair job", (horn.pk,))
        return Refused(f"{horn} is in the workshop.", way_out=way_out)
    return None


def _not_known(horn: Horn) -> Refused | None:
    if not horn.build:
        return Refused(
            f"Nobody has found out yet what {horn} is, so nobody knows which fingerings it takes.",
            way_out=WayOut("identify:walk", "Identify it", query=(("horn", str(horn.pk)),)),
        )
    if horn.test_note_owed:
        return Refused(
            f"Work on {horn} may have changed how it stands, and the test note has not been sounded since.",
            way_out=WayOut("register:sound", "Sound the test note", (horn.pk,)),
        )
    return None


def _mouthpiece(horn: Horn) -> Refused | None:
    if not mouthpiece_owed(horn):
        return None
    return Refused(
        f"Nobody has recorded that the mouthpiece of {horn} was cleaned since the last player.",
        way_out=WayOut("loans:mouthpiece-of", "Record the cleaning", (horn.pk,)),
    )
