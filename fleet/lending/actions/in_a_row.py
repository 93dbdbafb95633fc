"""Taking back one of many horns that were all looked over and are as before."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused, WayOut
from fleet.lending.actions.returning import give_back
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.queries.telling import in_english
from fleet.register.models import Horn
from fleet.workshop.actions.checking import found_again, log_check
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import open_findings

NOTHING_NEW = _s_lazy("Looked over in a row of returns; nothing new was seen.")


def take_unchanged(*, loan: Loan, cleaned: bool, by: User, at: datetime) -> Loan:
    """Takes a horn back today with everything that went along, as it was; `cleaned` says its mouthpiece is clean.

    The loan is fetched with its accessories and its check at issue. Raises Refused as `give_back` does.
    """
    today, before = timezone.localdate(at), loan.check_at_issue
    if before is None:
        raise Refused(
            _s("%(horn)s was never checked before it went out. Look it over on its own page.") % {"horn": loan.horn},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )

    if loan.as_noted is not None:
        raise Refused(
            _s("%(by)s noted how %(horn)s came back. Look at that on its own page.")
            % {"by": loan.as_noted.by, "horn": loan.horn},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )

    def nothing_new(horn: Horn) -> ConditionCheck:
        # What was known before is still there: left out of the check, it would count as gone.
        known = [found_again(one) for one in open_findings(horn)]
        return log_check(
            horn=horn,
            by=by,
            at=at,
            occasion=ConditionCheck.Occasion.ON_RETURN,
            finish_grade=before.finish_grade,
            found=known,
            notes=in_english(NOTHING_NEW),
        )

    return give_back(
        loan=loan,
        returned_on=today,
        came_back=[thing.pk for thing in loan.accessories.all()],
        look_over=nothing_new,
        mouthpiece_cleaned_on=today if cleaned else None,
        notes="",
        by=by,
        at=at,
    )
