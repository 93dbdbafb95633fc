"""Names taken out of the records, while the horns keep their history: a tag stands where a name stood.

What belongs to the person goes (names, addresses, letters, what they wrote and signed); what belongs to the horn
stays (days, checks, faults), with the person's name taken out of its words. It cannot be undone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models import Max, Q

from fleet.counting.models import Find, Line, Sighting
from fleet.loans.models import Charge, FamilyAsk, Letter, Loan, LoanPeriod, OnlineSignature
from fleet.loans.post import rules_of
from fleet.people.models import Guardian, Post, Pupil, School
from fleet.refused import Refused
from fleet.register.models import Standing
from fleet.workshop.models import ConditionCheck, FaultReport

GONE = "(removed)"


@dataclass(frozen=True, slots=True)
class Would:
    """What forgetting a pupil means, said before it is done."""

    pupil: Pupil
    guardians: list[Guardian]
    loans: int


def due(school: School, today: date) -> list[Pupil]:
    """Pupils who left, and whose last loan ended, longer ago than the school keeps names. Already forgotten: not."""
    before = today - timedelta(days=rules_of(school).names_kept_days)
    left = Pupil.objects.at(school).filter(left_on__lt=before).exclude(name__startswith="former pupil ")
    ended = left.annotate(last=Max("loans__returned_on")).filter(Q(last=None) | Q(last__lt=before))
    still = Q(loans__isnull=False, loans__returned_on=None) | Q(loans__charges__state=Charge.State.DUE)
    return list(ended.exclude(pk__in=Pupil.objects.at(school).filter(still)).order_by("left_on", "pk"))


def would(pupil: Pupil) -> Would:
    """What would go: the guardians who answer for nobody else, and how many loans lose their names."""
    alone = [one for one in _around(pupil) if not one.pupils.exclude(pk=pupil.pk).exists()]
    return Would(pupil, alone, pupil.loans.count())


@transaction.atomic
def forget(pupil: Pupil) -> Would:
    """Takes the pupil's name, and those of guardians left with nobody, out of all records.

    Raises Refused while a horn is out with them or a charge is due.
    """
    pupil = Pupil.objects.select_for_update().get(pk=pupil.pk)
    if (loan := pupil.loans.open().select_related("horn").first()) is not None:
        raise Refused(f"{pupil} still has {loan.horn}. Take it back first.")
    if Charge.objects.due().filter(loan__pupil=pupil).exists():
        raise Refused(f"A charge for {pupil} is still due. Settle it first.")
    done = would(pupil)
    names = [pupil.name, *(one.name for one in done.guardians)]
    loans = Loan.objects.filter(pupil=pupil)
    # The horn's own history first, while the names to take out are still known.
    _scrub(FaultReport.objects.filter(pupil=pupil), names, "words", "answer")
    _scrub(Standing.objects.filter(horn__loans__pupil=pupil).distinct(), names, "reason")
    _scrub(ConditionCheck.objects.filter(horn__loans__pupil=pupil).exclude(notes="").distinct(), names, "notes")
    _scrub(Sighting.objects.filter(line__horn__loans__pupil=pupil).exclude(note="").distinct(), names, "note")
    _scrub(Line.objects.filter(horn__loans__pupil=pupil).exclude(reason="").distinct(), names, "reason")
    _scrub(Find.objects.filter(count__school=pupil.school_id), names, "words", "reason")
    _scrub(Charge.objects.filter(loan__in=loans), names, "what")
    loans.exclude(return_notes="").update(return_notes=GONE)
    loans.exclude(lost_words="").update(lost_words=GONE)
    LoanPeriod.objects.filter(loan__in=loans).update(reason="")
    FamilyAsk.objects.filter(loan__in=loans).update(words="", answer="")
    Letter.objects.filter(loan__in=loans).update(address="", subject="", words="", trouble="")
    OnlineSignature.objects.filter(pupil=pupil).update(shown=GONE, accessories=[])
    OnlineSignature.objects.filter(pupil=pupil).exclude(typed_name="").update(typed_name=GONE)
    pupil.guardians.clear()
    for guardian in done.guardians:
        _forget_guardian(guardian)
    pupil.name, pupil.pupil_id, pupil.year, pupil.group = f"former pupil {pupil.pk}", "", "", ""
    pupil.save(update_fields=["name", "pupil_id", "year", "group"])
    return done


def _around(pupil: Pupil) -> list[Guardian]:
    """Guardians of the pupil and whoever signed for them."""
    return list(Guardian.objects.filter(Q(pupils=pupil) | Q(loans__pupil=pupil)).distinct().order_by("pk"))


def _forget_guardian(guardian: Guardian) -> None:
    account = guardian.user
    guardian.name, guardian.email, guardian.telephone = f"former guardian {guardian.pk}", "", GONE
    guardian.user = None
    guardian.save(update_fields=["name", "email", "telephone", "user"])
    if account is None or Guardian.objects.filter(user=account).exists() or Post.objects.filter(user=account).exists():
        return
    EmailAddress.objects.filter(user=account).delete()
    Authenticator.objects.filter(user=account).delete()
    # Reports and signatures point at the account, so it stays, closed and without a name.
    account.email, account.name, account.is_active = f"account-{account.pk}@removed.invalid", GONE, False
    account.set_unusable_password()
    account.save(update_fields=["email", "name", "is_active", "password"])


def _scrub(rows: Iterable[object], names: list[str], *fields: str) -> None:
    """Takes names, whole and in their parts, out of words that a horn's history needs."""
    parts = {part for name in names for part in (name, *name.split()) if len(part) > 2}
    if not parts:
        return
    found = re.compile("|".join(rf"\b{re.escape(part)}\b" for part in sorted(parts, key=len, reverse=True)), re.I)
    for row in rows:
        cleaned = {field: found.sub(GONE, getattr(row, field)) for field in fields}
        changed = [field for field, words in cleaned.items() if words != getattr(row, field)]
        for field in changed:
            longest = row._meta.get_field(field).max_length  # type: ignore[attr-defined]
            setattr(row, field, cleaned[field][:longest])
        if changed:
            # Not `save`: a count that is signed lets nothing of it be saved, and a name goes all the same.
            type(row)._base_manager.filter(pk=row.pk).update(**{field: getattr(row, field) for field in changed})  # type: ignore[attr-defined]
