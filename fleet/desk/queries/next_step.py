"""The one sensible thing to do next with a horn, for the person who is looking at it."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.ground.refusal import WayOut
from fleet.people.queries.seats import Seat
from fleet.register.queries.horns_now import HornNow

# What is owed comes before what keeps the horn from being lent, and after it.
FIRST = ("report", "ask", "overdue", "leaver")
LAST = ("job", "signature", "sheet", "mended", "check", "accessory", "charge", "to-decide")
# Seen to before anything else: nobody can do more about a horn that is not there or not known.
BEFORE_ALL = ("not-found", "unidentified")


@dataclass(frozen=True, slots=True)
class NextStep:
    """`label` is what the button says; without an address the step is for somebody else, and `why` says what it is."""

    why: str
    label: str = ""
    address: str = ""


def next_step(of: HornNow, seat: Seat) -> NextStep:
    """The first that applies: what presses, then what keeps it from being lent, then what merely should be done."""
    if of.horn.withdrawn_on is not None:
        return NextStep("It is withdrawn. Its record and its number stay.")
    owed = {one.code: (one.why, one.way) for one in reversed(of.owed)}
    kept_back = {one.code: (one.sentence, one.way_out) for one in of.kept_back if one.code != "promised"}
    steps = [
        *(kept_back.pop(code) for code in BEFORE_ALL if code in kept_back),
        *(owed[code] for code in FIRST if code in owed),
        *kept_back.values(),
        *(owed[code] for code in LAST if code in owed and (code != "signature" or not kept_back)),
    ]
    if not of.kept_back:
        issue = WayOut("loans:issue", "Issue it", query=(("horn", str(of.horn.pk)),))
        steps.append(("It is ready to be lent.", issue))
    why, way = steps[0]
    address = seat.way(way)
    return NextStep(why, way.label, address) if way and address else NextStep(why)
