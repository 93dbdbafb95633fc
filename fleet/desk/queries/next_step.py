"""What there is to do with a horn, for the person who is looking at it: the next step, and what else waits."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.refusal import WayOut
from fleet.ground.wording import in_a_row
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.register.models.kept import IN_MINUTES
from fleet.register.queries.horns_now import HornNow
from fleet.register.queries.owing import Owed

# Seen to before anything else: nobody can do more about a horn that is not there or not known.
BEFORE_ALL = ("not-found", "unidentified")
# What is owed and presses, on Today and on a horn's page: what is late comes first (a horn that does not play, a loss),
# then this order.
PRESSING = ("noted", "overdue", "leaver", "report", "ask")
# On a horn's page they come before what keeps it from being lent.
BEFORE_THE_LOAN = (*PRESSING, "away-late")
# The same said twice: the reason that keeps it back stands for what is owed.
SAME = {"workshop": "job", "away": "job", "grade": "job", "unchecked": "check"}


@dataclass(frozen=True, slots=True)
class NextStep:
    """`label` is what the link says; without an address the step is for somebody else, and `why` says what it is."""

    code: str
    why: str
    label: str = ""
    address: str = ""

    @property
    def is_told_beside(self) -> bool:
        """Whether the horn's page has a part of its own about it."""
        return self.code in {"out", "report"}


def steps(of: HornNow, seat: Seat) -> list[NextStep]:
    """All there is to do, never empty: what presses, what keeps it from being lent, what merely should be done.

    What takes the horn in hand, as cleaning its mouthpiece does, is not asked while nobody can find it."""
    if of.horn.withdrawn_on is not None:
        struck = _s("It is struck out, entered by mistake. Its record and its number stay.")
        why = struck if of.horn.struck_out else _s("It is withdrawn. Its record and its number stay.")
        return [NextStep("withdrawn", why), *(_step(seat, one.code, _said(one, of.horn), one.way) for one in of.owed)]
    missing = any(one.code == "not-found" for one in of.kept_back)
    reasons = [one for one in of.kept_back if one.code != "promised" and not (missing and one.code in IN_MINUTES)]
    told = {SAME.get(one.code, one.code) for one in reasons}
    pressing = [one for one in of.owed if one.code in BEFORE_THE_LOAN]
    pressing.sort(key=lambda one: (not one.late, BEFORE_THE_LOAN.index(one.code)))
    rest = [one for one in of.owed if one.code not in {*BEFORE_THE_LOAN, *told}]
    found = [(one.code, one.sentence, one.way_out) for one in reasons if one.code in BEFORE_ALL]
    found += [(one.code, _said(one, of.horn), one.way) for one in pressing]
    found += [(one.code, one.sentence, one.way_out) for one in reasons if one.code not in BEFORE_ALL]
    found += [(one.code, _said(one, of.horn), one.way) for one in rest]
    if not of.kept_back:
        issue = WayOut("loans:issue", _s("Issue it"), query=(("horn", str(of.horn.pk)),))
        found.append(("ready", _s("It is ready to be lent."), issue))
    return [_step(seat, *one) for one in found]


def _said(one: Owed, horn: Horn) -> str:
    """What is owed, on the page of its horn, where nobody needs its number again."""
    # Of a job the pile says which kind of horn it is.
    if one.code == "job":
        return one.why
    what = one.what.removeprefix(str(horn)).lstrip(":, ")
    joint = " " if what.endswith("?") else ": "
    return f"{capfirst(what)}{joint if one.why else ''}{one.why}"


def _step(seat: Seat, code: str, why: str, way: WayOut | None) -> NextStep:
    address = seat.way(way)
    if way and address:
        return NextStep(code, why, way.label, address)
    # They may hold it in their hands, and the page would leave them at that.
    if way and code in BEFORE_ALL:
        why = in_a_row(why, way.for_others)
    return NextStep(code, why)
