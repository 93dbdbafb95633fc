"""The guardian signs what they were shown."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from fleet.ground.due import DueDay
from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.issuing import held_together
from fleet.people.models import Post, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked_by_key
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.signers import why_not
from fleet.workshop.queries.condition import latest_check


@transaction.atomic
def sign(*, signature: OnlineSignature, typed_name: str, by: User, at: datetime) -> OnlineSignature:
    """The guardian signs what they were shown. Raises Refused when that is not what would be lent any more, or it is
    not theirs to sign."""
    horn = locked_by_key(signature.horn_id)
    signature = OnlineSignature.objects.select_related(
        "asked_by", "guardian", "pupil", "agreement", "horn__school"
    ).get(pk=signature.pk)
    guardian = signature.guardian
    typed_name = " ".join(typed_name.split())
    if guardian.user_id != by.pk:
        raise Refused(gettext("Only %(guardian)s can sign this.") % {"guardian": guardian})
    held_together(horn, signature.pupil, guardian, timezone.localdate(at))
    if no := why_not(guardian, asked_by=signature.asked_by, at=at):
        raise Refused(no)
    if signature.withdrawn_at is not None:
        raise Refused(gettext("The school has changed something and will ask you again."))
    if signature.signed_at is not None:
        raise Refused(gettext("You have signed this already."))
    if len(typed_name) < 2:
        raise Refused(gettext("Type your name to sign."))
    if not signature.can_be_lent:
        raise Refused(gettext("The horn cannot be lent at the moment. The school will ask you again."))
    check = latest_check(horn)
    if check is None or check.pk != signature.check_seen_id:
        raise Refused(gettext("The horn was looked over again since. The school will ask you again."))
    if DueDay(signature.due_on, timezone.localdate(at)).is_over:
        raise Refused(
            gettext("The due date, %(day)s, has passed. The school will ask you again.")
            % {"day": day(signature.due_on)}
        )
    signature.typed_name, signature.signed_at, signature.signed_by = typed_name, at, by
    signature.signer_works_here = Post.objects.filter(user=by, school=horn.school_id).exists()
    signature.save(update_fields=["typed_name", "signed_at", "signed_by", "signer_works_here"])
    keep([horn])
    about = {"horn": horn, "pupil": signature.pupil, "guardian": signature.guardian}
    record(deed=Deed.SIGNED, school=horn.school, by=by, at=at, told=[["name typed", typed_name]], **about)
    return signature
