"""Putting an agreement before a guardian on their own page, and taking it back from there."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day, with_commas
from fleet.lending.actions.agreements import kept_version
from fleet.lending.actions.issuing import held_together
from fleet.lending.models import Agreement
from fleet.people.models import Guardian, Pupil, User
from fleet.people.queries.own_words import speaking
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked, locked_all, locked_by_key
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.signers import why_not
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import latest_check, open_findings


def take_back_first(horn: Horn) -> WayOut:
    """The page of issuing the horn: it shows what waits, and takes it back."""
    return WayOut("loans:issue", _s("Take it back first"), query=(("horn", str(horn.pk)),))


def refuse_for_others(horn: Horn, pupil: Pupil) -> None:
    """The horn's row has the name it is promised to, which two pupils may share."""
    unused = OnlineSignature.objects.unused().filter(horn=horn).exclude(pupil=pupil)
    if (other := unused.select_related("horn", "pupil", "guardian").first()) is not None:
        raise Refused(
            _s("%(waits_in_words)s Take it back first.") % {"waits_in_words": other.waits_in_words},
            way_out=take_back_first(horn),
        )


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
    """Puts a loan that is to be made before its guardian. The next letters tell them that it waits.

    The same asked again stays as it is; what else waits for this horn and pupil is taken back. Raises Refused when
    the horn may not be lent or waits for another pupil, the people do not belong together, the guardian cannot sign
    in or may not sign (`why_not`), or check or agreement are not the newest.
    """
    horn = locked(horn)
    # Whom else it is promised to is said below, with more words.
    for reason in horn.kept_back_from(horn.promised_to):
        raise Refused.because(reason)
    held_together(horn, pupil, guardian, timezone.localdate(at))
    if guardian.user_id is None:
        raise Refused(
            _s("%(guardian)s has no e-mail address, so cannot sign in. Print the sheet.") % {"guardian": guardian}
        )
    if no := why_not(Guardian.objects.get(pk=guardian.pk), asked_by=by, at=at):
        raise Refused(no)
    agreement, check = as_it_was_seen(horn, agreement_version, check_seen, due_on, at)
    unused = OnlineSignature.objects.unused().filter(horn=horn).select_related("agreement", "guardian")
    refuse_for_others(horn, pupil)
    for before in unused:
        # What they asked for themselves could not be signed, were it from before that was refused.
        if before.asked_by_id != guardian.user_id and before.is_for(
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
    with speaking(horn.school, guardian.speaks):
        shown = words_shown(horn, pupil, check, agreement, due_on, accessories)
    made = OnlineSignature.objects.create(
        horn=horn,
        pupil=pupil,
        guardian=guardian,
        agreement=agreement,
        check_seen=check,
        due_on=due_on,
        accessories=list(accessories),
        shown=shown,
        language=guardian.speaks,
        asked_at=at,
        asked_by=by,
    )
    keep([horn])
    told = [["due", due_on.isoformat()]]
    record(deed=Deed.PUT_BEFORE, school=horn.school, by=by, at=at, told=told, horn=horn, pupil=pupil, guardian=guardian)
    return made


def as_it_was_seen(
    horn: Horn, agreement_version: int, check_seen: int, due_on: date, at: datetime
) -> tuple[Agreement, ConditionCheck]:
    """Agreement and check that a family is to sign under. Refuses a due date that is past, and either of the two when
    it is not the newest."""
    if due_on < timezone.localdate(at):
        raise Refused(_s("The due date, %(due_on)s, is in the past.") % {"due_on": day(due_on)})
    agreement = kept_version(horn.school_id, agreement_version, at)
    if agreement is None:
        raise Refused(_s("The agreement has a newer version. Look at it first."))
    check = latest_check(horn)
    if check is None or check.pk != check_seen:
        raise Refused(_s("%(horn)s was checked again meanwhile. Look at it first.") % {"horn": horn})
    return agreement, check


@transaction.atomic
def take_back(*, signature: OnlineSignature, signed_seen: bool, by: User, at: datetime) -> OnlineSignature:
    """The school does not lend it like this after all. `signed_seen` is whether the page that was looked at showed it
    signed. Raises Refused when the family has signed since, and once the horn is out under the signature."""
    horn = locked_by_key(signature.horn_id)
    signature = OnlineSignature.objects.select_related("horn", "pupil", "guardian").get(pk=signature.pk)
    if signature.loan_id is not None:
        raise Refused(
            _s("%(horn)s is out with %(pupil)s under this signature already.")
            % {"horn": signature.horn, "pupil": signature.pupil}
        )
    if signature.withdrawn_at is None:
        if signature.signed_at is not None and not signed_seen:
            raise Refused(
                _s("%(guardian)s has signed for %(horn)s meanwhile. Look at it again first.")
                % {"guardian": signature.guardian, "horn": horn}
            )
        signature.withdrawn_at = at
        signature.save(update_fields=["withdrawn_at"])
        keep([horn])
        pupil, guardian = signature.pupil, signature.guardian
        record(deed=Deed.TAKEN_BACK, school=horn.school, by=by, at=at, horn=horn, pupil=pupil, guardian=guardian)
    return signature


@transaction.atomic
def take_off(*, guardian: Guardian, pupil_ids: Collection[int], by: User, at: datetime) -> None:
    """Takes what waits for these pupils off the page of a guardian who no longer answers for them."""
    asked = OnlineSignature.objects.unused().filter(guardian=guardian, pupil__in=pupil_ids)
    horns = locked_all(asked.values_list("horn_id", flat=True))
    asked.update(withdrawn_at=at)
    keep(horns.values())


def words_shown(
    horn: Horn, pupil: Pupil, check: ConditionCheck, agreement: Agreement, due_on: date, things: Sequence[str]
) -> str:
    """Every word the guardian signs, as plain text, in the language that is spoken now: it is shown like this and kept
    like this."""
    kind = horn.in_full
    found = gettext("; ").join(str(finding) for finding in open_findings(horn)) or gettext("nothing found")
    grade = {"grade": check.grade, "words": gettext(check.get_grade_display()), "found": found}
    parts = [
        gettext("%(school)s: loan of a horn") % {"school": horn.school.name},
        gettext("Horn %(number)s: %(kind)s") % {"number": horn.number, "kind": kind},
        gettext("For %(pupil)s") % {"pupil": pupil.described},
        gettext("Due back on %(day)s") % {"day": day(due_on)},
        gettext("Goes along: %(things)s") % {"things": with_commas(map(gettext, things)) or gettext("nothing")},
        gettext("How it is: grade %(grade)s, %(words)s; %(found)s") % grade,
        "",
        gettext("Agreement, version %(version)s") % {"version": agreement.version},
        agreement.in_full,
    ]
    if horn.school.rules:
        parts += ["", gettext("The school’s own rules"), horn.school.rules]
    return "\n".join(parts)
