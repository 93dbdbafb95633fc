"""Sheets to sign on paper: printed to go home, and put away when they are not waited for any more.

A sheet keeps its horn from nobody: a horn is promised by what was put before a family on its page, and by nothing else.
Nothing kept on the horn follows from a sheet.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.issuing import held_together, once_each
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.locking import locked_all
from fleet.signing.actions.putting_before import as_it_was_seen
from fleet.signing.models import SheetOut, Terms


@transaction.atomic
def send_home(*, loans: Sequence[Terms], by: User, at: datetime) -> list[SheetOut]:
    """Records that the sheets of these loans are printed to go home, all of them or none; a sheet of the same horn and
    pupil that was out is put away. Raises Refused as `issue` does, but for the signature."""
    horns = locked_all(terms["horn"].pk for terms in loans)
    made = []
    # By pupil, so that two who print for the same class never wait for each other for ever.
    for terms in sorted(loans, key=lambda terms: terms["pupil"].pk):
        horn, pupil, guardian = horns.get(terms["horn"].pk), terms["pupil"], terms["guardian"]
        if horn is None:
            raise Refused(
                _s("%(terms)s is not on the register any more: the list it came in with was undone.")
                % {"terms": terms["horn"]}
            )
        for reason in horn.kept_back_from(pupil.name):
            raise Refused.because(reason)
        held_together(horn, pupil, guardian, timezone.localdate(at))
        due_on = terms["due_on"]
        agreement, check = as_it_was_seen(horn, terms["agreement_version"], terms["check_seen"], due_on, at)
        SheetOut.objects.not_put_away().filter(horn=horn, pupil=pupil).update(put_away_at=at)
        one = SheetOut(horn=horn, pupil=pupil, guardian=guardian, agreement=agreement, check_seen=check, due_on=due_on)
        one.accessories, one.printed_at, one.printed_by = once_each(terms["accessories"]), at, by
        one.language = guardian.speaks
        one.save(force_insert=True)
        made.append(one)
    return made


@transaction.atomic
def put_away(*, school: School, sheets: Collection[int], by: User, at: datetime) -> list[SheetOut]:
    """The school waits for these sheets (their keys) no longer. Those that were put away already stay as they are."""
    found = SheetOut.objects.at(school).not_put_away().filter(pk__in=sheets)
    locked_all(found.values_list("horn_id", flat=True))
    waited_for = list(found.select_related("horn", "pupil"))
    for one in waited_for:
        one.put_away_at = at
        one.save(update_fields=["put_away_at"])
        record(deed=Deed.SHEETS_PUT_AWAY, school=school, by=by, at=at, horn=one.horn, pupil=one.pupil)
    return waited_for
