"""Names taken out of the records, while the horns keep their history: a tag stands where a name stood.

What belongs to the person goes (names, addresses, letters, what they wrote and signed); what belongs to the horn
stays (days, checks, faults), with the person's name taken out of its words. It cannot be undone. What shows in a
photograph, what is on paper and what is in a backup is left, and said to be left.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models import Max, Q
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.counting.models import Find
from fleet.desk.actions.scrubbing import GONE, names_in, scrub_horns, scrub_lists, scrub_row
from fleet.desk.actions.unrecording import forget_in_record
from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import KEY, amend_many, held, hold_horns_of
from fleet.lending.models import Charge, FamilyAsk, Loan, LoanPeriod, ReturnNote, Wish
from fleet.letters.models import Letter
from fleet.letters.queries.rules import rules_of
from fleet.mail.actions.queueing import let_go
from fleet.people.models import AddressChange, Guardian, Post, Pupil, School, User
from fleet.record.models import Act, Deed
from fleet.register.models import Photograph
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.models import CheckPhotograph, FaultReport


@dataclass(frozen=True, slots=True)
class Would:
    """What forgetting a pupil means, said before it is done."""

    pupil: Pupil
    guardians: list[Guardian]
    loans: int
    photographs: int


def to_forget(school: School, today: date) -> list[Pupil]:
    """Pupils who left, and whose last loan ended, longer ago than the school keeps names. Already forgotten: not."""
    before = today - timedelta(days=rules_of(school).names_kept_days)
    left = Pupil.objects.at(school).filter(left_on__lt=before).exclude(name__startswith="former pupil ")
    ended = left.annotate(last=Max("loans__returned_on")).filter(Q(last=None) | Q(last__lt=before))
    still = Q(loans__isnull=False, loans__returned_on=None) | Q(loans__charges__state=Charge.State.DUE)
    return list(ended.exclude(pk__in=Pupil.objects.at(school).filter(still)).order_by("left_on", "pk"))


def would(pupil: Pupil) -> Would:
    """What would go: the guardians who answer for nobody else, and how many loans lose their names."""
    alone = [one for one in _around(pupil) if not one.pupils.exclude(pk=pupil.pk).exists()]
    return Would(pupil, alone, pupil.loans.count(), _photographs(_horns(pupil)))


@transaction.atomic
def forget(*, pupil: Pupil, by: User | None, at: datetime) -> Would:
    """Takes the pupil's name, and those of guardians left with nobody, out of all records. `by` is None for the
    command, which runs without an account.

    Raises Refused while a horn is out with them or a charge is due.
    """
    hold_horns_of([pupil.pk])
    pupil = held(pupil)
    if (loan := pupil.loans.open().select_related("horn").first()) is not None:
        raise Refused(_s("%(pupil)s still has %(horn)s. Take it back first.") % {"pupil": pupil, "horn": loan.horn})
    if Charge.objects.due().filter(loan__pupil=pupil).exists():
        raise Refused(_s("A charge for %(pupil)s is still due. Settle it first.") % {"pupil": pupil})
    done = would(pupil)
    before = _entered_twice([one.pk for one in done.guardians])
    names = [pupil.name, *(one.name for one in done.guardians), *(one["entered twice as"] for one in before)]
    loans = Loan.objects.filter(pupil=pupil)
    # The horns' own history first, while the names to take out are still known.
    clean = names_in(names)
    horns = _horns(pupil)
    scrub_horns(horns, clean)
    for charge in Charge.objects.filter(loan__in=loans):
        scrub_row(charge, ("what",), clean)
    for find in Find.objects.filter(count__school=pupil.school_id):
        scrub_row(find, ("words", "reason"), clean)
    known = [pupil.pupil_id, *(one.email for one in done.guardians), *(one.telephone for one in done.guardians)]
    known += [words for one in before for words in one.values()]
    changes = AddressChange.objects.filter(guardian__in=done.guardians)
    known += changes.values_list("before", flat=True)
    scrub_lists(pupil.school, [*names, *known])
    let_go(addresses=known)
    loans.exclude(return_notes="").update(return_notes=GONE)
    loans.exclude(lost_words="").update(lost_words=GONE)
    LoanPeriod.objects.filter(loan__in=loans).update(reason="")
    FamilyAsk.objects.filter(loan__in=loans).update(words="", answer="")
    ReturnNote.objects.filter(loan__in=loans).update(words="")
    Letter.objects.of_pupil(pupil).update(address="", subject="", words="", trouble="")
    OnlineSignature.objects.unused().filter(pupil=pupil).update(withdrawn_at=at)
    OnlineSignature.objects.filter(pupil=pupil).update(shown=GONE, accessories=[])
    OnlineSignature.objects.filter(pupil=pupil).exclude(typed_name="").update(typed_name=GONE)
    SheetOut.objects.not_put_away().filter(pupil=pupil).update(put_away_at=at)
    SheetOut.objects.filter(pupil=pupil).update(accessories=[])
    for sheet in SignedSheet.objects.filter(loan__in=loans):
        sheet.delete()
        transaction.on_commit(partial(sheet.file.delete, save=False))
    Wish.objects.filter(pupil=pupil, ended_on=None).update(ended_on=timezone.localdate(at))
    pupil.guardians.clear()
    changes.delete()
    closed = [account.pk for account in _of_addresses_before(pupil)]
    closed += [account.pk for one in done.guardians if (account := _forget_guardian(one)) is not None]
    forget_in_record(
        pupil=pupil,
        guardians=[*(one.pk for one in done.guardians), *(int(one[KEY]) for one in before)],
        accounts=closed,
        horns=horns,
        whole=[*names, *known],
        clean=clean,
        by=by,
        at=at,
    )
    nothing: dict[str, Any] = dict.fromkeys(
        ("family_name", "pupil_id", "year", "group", "needs_wrap", "needs_kind"), ""
    )
    nothing |= {"struck_out": GONE if pupil.struck_out else "", "left_on": pupil.left_on or timezone.localdate(at)}
    amend_many({pupil: {"name": f"former pupil {pupil.pk}", **nothing}})
    return done


def _entered_twice(guardians: Collection[int]) -> list[dict[str, str]]:
    """What the record tells of those who were put together with these guardians, and of others with those before."""
    acts = Act.objects.filter(deed=Deed.GUARDIANS_MERGED, guardian__in=guardians).exclude(told="")
    told = [{line[0]: line[1] for line in act.lines} for act in acts]
    return told + (_entered_twice([int(one[KEY]) for one in told]) if told else [])


def _horns(pupil: Pupil) -> set[int]:
    """Keys of the horns the pupil had, here or by an older list, or reported on."""
    had = [pupil.loans.all(), pupil.past_loans.all(), FaultReport.objects.filter(pupil=pupil)]
    return {key for rows in had for key in rows.values_list("horn_id", flat=True)}


def _photographs(horns: set[int]) -> int:
    """How many pictures of these horns there are, which nobody but a person can look through for a name."""
    of_checks = CheckPhotograph.objects.filter(check_made__horn__in=horns)
    return Photograph.objects.filter(horn__in=horns).count() + of_checks.count()


def _around(pupil: Pupil) -> list[Guardian]:
    """Guardians of the pupil and whoever signed for them."""
    # By their keys first: one question of both would be put to every guardian of every school.
    theirs = (
        pupil.guardians.order_by().values("pk").union(Loan.objects.filter(pupil=pupil).order_by().values("guardian"))
    )
    return list(Guardian.objects.filter(pk__in=theirs).order_by("pk"))


def _of_addresses_before(pupil: Pupil) -> list[User]:
    """Closes the accounts that signed, asked or reported for the pupil with an address that no guardian has any more.
    Who ever had a post here stays."""
    acted = [
        OnlineSignature.objects.filter(pupil=pupil).values("signed_by"),
        FamilyAsk.objects.filter(loan__pupil=pupil).values("by"),
        FaultReport.objects.filter(pupil=pupil).values("by"),
    ]
    theirs = Q(pk__in=acted[0]) | Q(pk__in=acted[1]) | Q(pk__in=acted[2])
    staff = Act.objects.filter(deed__in=(Deed.POST_GIVEN, Deed.SCHOOL_BEGUN)).exclude(account=None).values("account")
    found = User.objects.filter(theirs, posts=None, guardianships=None, is_active=True).exclude(pk__in=staff)
    return [_close(account) for account in found.order_by("pk")]


def _forget_guardian(guardian: Guardian) -> User | None:
    """The account that was closed with it, if any."""
    account = guardian.user
    guardian.name, guardian.email, guardian.telephone = f"former guardian {guardian.pk}", "", GONE
    guardian.user = None
    guardian.save(update_fields=["name", "email", "telephone", "user"])
    if account is None or Guardian.objects.filter(user=account).exists() or Post.objects.filter(user=account).exists():
        return None
    return _close(account)


def _close(account: User) -> User:
    """Reports and signatures point at the account, so it stays, closed and without a name."""
    EmailAddress.objects.filter(user=account).delete()
    Authenticator.objects.filter(user=account).delete()
    account.email, account.name, account.is_active = f"account-{account.pk}@removed.invalid", GONE, False
    account.set_unusable_password()
    account.save(update_fields=["email", "name", "is_active", "password"])
    return account
