"""Everything that keeps a horn from being lent now, read from its own row."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fleet.ground.refusal import Reason, WayOut
from fleet.ground.wording import day

if TYPE_CHECKING:
    from fleet.register.models.horns import Horn

# From this grade on a horn is mended before it is lent.
REPAIR_FIRST = 3


def kept_back(horn: Horn) -> Iterator[Reason]:
    """All reasons, the one to see to first at the front. No query: the row holds what loans, jobs and checks say."""
    yield from _not_here(horn)
    yield from _not_known(horn)
    yield from _not_well(horn)
    yield from _not_free(horn)


def _not_here(horn: Horn) -> Iterator[Reason]:
    if horn.withdrawn_on is not None:
        yield Reason(
            "withdrawn",
            f"{horn} was withdrawn on {day(horn.withdrawn_on)}.",
            WayOut("register:standing", "Keep it again", (horn.pk,)),
        )
    if horn.not_found_on is not None:
        yield Reason(
            "not-found",
            f"{horn} has not been found since {day(horn.not_found_on)}.",
            WayOut("register:standing", "Record that it was found", (horn.pk,)),
        )
    if horn.holder_name:
        until = f", due back on {day(horn.due_on)}" if horn.due_on else ""
        yield Reason(
            "out",
            f"{horn} is out: {horn.holder_name} has it{until}.",
            WayOut("loans:return-of", "Take it back first", (horn.pk,)),
        )
    if horn.on_bench:
        yield Reason(
            "away" if horn.repairer else "workshop",
            f"{horn} is at the repairer’s: {horn.repairer} has it." if horn.repairer else f"{horn} is in the workshop.",
            WayOut("workshop:job-new", "Go to its repair job", (horn.pk,)),
        )


def _not_known(horn: Horn) -> Iterator[Reason]:
    if not horn.build:
        yield Reason(
            "unidentified",
            f"Nobody has found out yet what {horn} is, so nobody knows which fingerings it takes.",
            WayOut("identify:walk", "Identify it", query=(("horn", str(horn.pk)),)),
        )
    if horn.test_note_owed:
        yield Reason(
            "test-note",
            f"Work on {horn} may have changed how it stands, and the test note has not been sounded since.",
            WayOut("register:sound", "Sound the test note", (horn.pk,)),
        )


def _not_well(horn: Horn) -> Iterator[Reason]:
    if horn.grade is None:
        yield Reason(
            "unchecked",
            f"{horn} has never been checked.",
            WayOut("workshop:check-new", "Check its condition now", (horn.pk,)),
        )
    elif horn.grade >= REPAIR_FIRST and horn.mended_on is not None and not horn.on_bench:
        yield Reason(
            "mended",
            f"{horn} is mended, and nobody has looked it over since.",
            WayOut("workshop:check-new", "Check it after the repair", (horn.pk,)),
        )
    elif horn.grade >= REPAIR_FIRST:
        yield Reason(
            "grade",
            f"{horn} is graded {horn.grade}, {horn.get_grade_display()}.",
            WayOut("workshop:job-new", "Go to its repair job", (horn.pk,)),
        )


def _not_free(horn: Horn) -> Iterator[Reason]:
    if horn.mouthpiece_owed:
        yield Reason(
            "mouthpiece",
            f"Nobody has recorded that the mouthpiece of {horn} was cleaned since the last player.",
            WayOut("loans:mouthpiece-of", "Record the cleaning", (horn.pk,)),
        )
    if horn.promised_to:
        yield Reason(
            "promised",
            f"{horn} waits for a family’s signature, for {horn.promised_to}.",
            WayOut("loans:issue", "Take it back first", query=(("horn", str(horn.pk)),)),
        )
