"""Signing an agreement on the family's page: put before the guardian, signed, used for the loan it was about."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from fleet.loans.agreement import current_agreement, kept_version
from fleet.loans.drafts import Draft
from fleet.loans.lending import day, why_not
from fleet.loans.models import Agreement, OnlineSignature
from fleet.loans.reminding import write_to_sign
from fleet.people.models import Guardian, Pupil, School, User
from fleet.refused import Refused
from fleet.register.kinds import stand_in_words
from fleet.register.models import Horn
from fleet.workshop.condition import latest_check, open_findings
from fleet.workshop.models import ConditionCheck

# The page of issuing the horn shows what waits, and takes it back.
TAKE_BACK = ("loans:issue", "Take it back first")


@transaction.atomic
def put_before(
    *,
    horn: Horn,
    pupil: Pupil,
    guardian: Guardian,
    agreement_version: int,
    check_seen: int,
    due_on: date,
    accessories: Sequence[str],
    by: User,
    at: datetime,
) -> OnlineSignature:
    """Puts a loan that is to be made before its guardian, and writes them that it waits.

    The same asked again stays as it is; what else waits for this horn and pupil is taken back. Raises Refused when
    the horn may not be lent or waits for another pupil, the guardian cannot sign in, or check or agreement are not
    the newest.
    """
    horn = Horn.objects.select_for_update().get(pk=horn.pk)
    refused = why_not(horn)
    if refused is not None:
        raise refused
    if guardian.user_id is None:
        raise Refused(f"{guardian} has no e-mail address, so cannot sign in. Print the sheet.")
    if due_on < timezone.localdate(at):
        raise Refused(f"The due date, {day(due_on)}, is in the past.")
    agreement = kept_version(horn.school_id, agreement_version, at)
    if agreement is None:
        raise Refused("The agreement has a newer version. Look at it first.")
    check = latest_check(horn)
    if check is None or check.pk != check_seen:
        raise Refused(f"{horn} was checked again meanwhile. Look at it first.")
    unused = OnlineSignature.objects.unused().filter(horn=horn).select_related("agreement", "guardian", "horn", "pupil")
    other = unused.exclude(pupil=pupil).first()
    if other is not None:
        raise Refused(f"{other.waits_in_words} Take it back first.", way_out=TAKE_BACK)
    for before in unused.filter(pupil=pupil):
        if before.is_for(
            horn=horn,
            pupil=pupil,
            guardian=guardian,
            agreement_version=agreement_version,
            check_seen=check_seen,
            due_on=due_on,
            accessories=accessories,
        ):
            return before
    unused.update(withdrawn_at=at)
    made = OnlineSignature.objects.create(
        horn=horn,
        pupil=pupil,
        guardian=guardian,
        agreement=agreement,
        check_seen=check,
        due_on=due_on,
        accessories=list(accessories),
        shown=words_shown(horn, pupil, check, agreement, due_on, accessories),
        asked_at=at,
        asked_by=by,
    )
    write_to_sign(made, at)
    return made


@transaction.atomic
def take_back(*, signature: OnlineSignature, at: datetime) -> OnlineSignature:
    """The school does not lend it like this after all. Raises Refused once the horn is out under the signature."""
    Horn.objects.select_for_update().get(pk=signature.horn_id)
    signature = OnlineSignature.objects.select_related("horn", "pupil").get(pk=signature.pk)
    if signature.loan_id is not None:
        raise Refused(f"{signature.horn} is out with {signature.pupil} under this signature already.")
    if signature.withdrawn_at is None:
        signature.withdrawn_at = at
        signature.save(update_fields=["withdrawn_at"])
    return signature


@transaction.atomic
def sign(*, signature: OnlineSignature, typed_name: str, by: User, at: datetime) -> OnlineSignature:
    """The guardian signs what they were shown. Raises Refused when that is not what would be lent any more."""
    horn = Horn.objects.select_for_update().get(pk=signature.horn_id)
    signature = OnlineSignature.objects.select_related("guardian", "agreement", "horn__school").get(pk=signature.pk)
    typed_name = " ".join(typed_name.split())
    if signature.guardian.user_id != by.pk:
        raise Refused(f"Only {signature.guardian} can sign this.")
    if signature.withdrawn_at is not None:
        raise Refused("The school has changed something and will ask you again.")
    if signature.signed_at is not None:
        raise Refused("You have signed this already.")
    if len(typed_name) < 2:
        raise Refused("Type your name to sign.")
    if why_not(horn) is not None:
        raise Refused("The horn cannot be lent at the moment. The school will ask you again.")
    check = latest_check(horn)
    if check is None or check.pk != signature.check_seen_id:
        raise Refused("The horn was looked over again since. The school will ask you again.")
    if current_agreement(signature.horn.school).pk != signature.agreement_id:
        raise Refused("The agreement has a newer version. The school will ask you again.")
    if signature.due_on < timezone.localdate(at):
        raise Refused(f"The due date, {day(signature.due_on)}, has passed. The school will ask you again.")
    signature.typed_name, signature.signed_at, signature.signed_by = typed_name, at, by
    signature.save(update_fields=["typed_name", "signed_at", "signed_by"])
    return signature


def waiting_for(horn: Horn) -> OnlineSignature | None:
    """What is on a family's page for this horn, signed or not, and no loan came of yet. One query."""
    found = OnlineSignature.objects.unused().filter(horn=horn).select_related("guardian", "horn", "pupil")
    return found.first()


def of_draft(draft: Draft) -> OnlineSignature | None:
    """What was put before the guardian for exactly this draft, signed or not; None when anything differs. One query."""
    if draft.horn is None or draft.pupil is None or draft.form is None or not draft.is_whole or draft.check is None:
        return None
    found = OnlineSignature.objects.unused().filter(horn=draft.horn, pupil=draft.pupil)
    one = found.select_related("agreement", "guardian").first()
    said = draft.form.cleaned_data
    version = draft.agreement.version if draft.agreement else 1
    same = one is not None and one.is_for(
        horn=draft.horn,
        pupil=draft.pupil,
        guardian=said["guardian"],
        agreement_version=version,
        check_seen=draft.check.pk,
        due_on=said["due_on"],
        accessories=draft.form.along(),
    )
    return one if same else None


def of_horns(school: School, horns: Collection[int] | None = None) -> dict[int, OnlineSignature]:
    """What was put before a guardian for these horns, or any of the school's, and no loan came of yet, by horn. One
    query."""
    found = OnlineSignature.objects.at(school).unused()
    if horns is not None:
        found = found.filter(horn__in=horns)
    return {one.horn_id: one for one in found.select_related("agreement", "guardian", "horn", "pupil")}


def words_shown(
    horn: Horn, pupil: Pupil, check: ConditionCheck, agreement: Agreement, due_on: date, things: Sequence[str]
) -> str:
    """Every word the guardian signs, as plain text: it is shown like this and kept like this."""
    stand = f", stands in {stand_in_words(horn.stands_in)}" if horn.stands_in else ""
    found = "; ".join(str(finding) for finding in open_findings(horn)) or "nothing found"
    parts = [
        f"{horn.school.name}: loan of a horn",
        f"Horn {horn.number}: {horn.kind}{stand}",
        f"For {pupil.described}",
        f"Due back on {day(due_on)}",
        f"Goes along: {', '.join(things) or 'nothing'}",
        f"How it is: grade {check.grade}, {check.get_grade_display()}; {found}",
        "",
        f"Agreement, version {agreement.version}",
        agreement.words,
    ]
    if horn.school.local_rules:
        parts += ["", "The school’s own rules", horn.school.local_rules]
    return "\n".join(parts)
