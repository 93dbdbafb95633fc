"""Signed sheets kept with their loans, and taken away again."""

from __future__ import annotations

from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.lending.actions.running import record_of
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.register.actions.files import delete_with, save_with
from fleet.register.actions.locking import locked_by_key
from fleet.signing.models import SignedSheet

# Front and back of a sheet and of what went with it, each photographed.
MOST_SIGNED_SHEETS = 6


@transaction.atomic
def keep_signed(*, loan: Loan, file: ContentFile[bytes], by: User, at: datetime) -> SignedSheet:
    """Keeps what `fleet.ground.files.pdfs.kept_paper` let pass. Refused while nobody has signed, and beyond six."""
    horn = locked_by_key(loan.horn_id)
    loan = Loan.objects.select_related("horn__school", "pupil", "guardian").get(pk=loan.pk)
    if loan.signed_on is None:
        way_out = WayOut("loans:signed", _s("Record the signature"), (loan.pk,))
        raise Refused(
            _s("%(guardian)s has not signed for %(horn)s yet. Say first when that was.")
            % {"guardian": loan.guardian, "horn": horn},
            way_out=way_out,
        )
    if loan.signed_sheets.count() >= MOST_SIGNED_SHEETS:
        raise Refused(
            _s("A loan keeps at most %(most)s photographs or PDFs. Take one away first.") % {"most": MOST_SIGNED_SHEETS}
        )
    kept = SignedSheet(loan=loan, at=at, by=by)
    save_with(kept.file, file)
    record_of(loan, deed=Deed.SHEET_KEPT, by=by, at=at)
    return kept


@transaction.atomic
def remove_signed(*, sheet: SignedSheet, by: User, at: datetime) -> None:
    """Takes one away; its file goes once the row is really gone. Refused where somebody did so meanwhile."""
    locked_by_key(sheet.loan.horn_id)
    if not SignedSheet.objects.filter(pk=sheet.pk).exists():
        raise Refused(_s("It was taken away already."))
    record_of(sheet.loan, deed=Deed.SHEET_REMOVED, by=by, at=at)
    delete_with(sheet.file)
