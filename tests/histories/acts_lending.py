"""What is done with loans, on paper and on the family's page."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.core.files.base import ContentFile
from hypothesis import strategies as st

from fleet.lending.actions import accessories, asks, charges, dates, in_a_row, returning, swapping, wishes
from fleet.lending.actions.new_year import begin_year
from fleet.lending.models import FamilyAsk, Loan, LoanAccessory, Wish
from fleet.lending.queries.agreements import current_agreement
from fleet.lending.queries.new_year import AS_IS, RECALL, RENEW, ClassWish, YearWish, classes_with_pupils, look_over
from fleet.people.queries.school_days import school_days
from fleet.register.models import Horn
from fleet.signing.actions import putting_before, sheets, signed_sheets, signing
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.queries.condition import latest_check
from tests.histories.acts_workshop import SEEN
from tests.histories.world import DAYS, WHICH, Deed, World, act, as_family, guardian_of


def terms(world: World, horn: int, pupil: int, days: int) -> dict[str, Any] | None:
    """What a loan is to be as its page fills it in; None where nobody could sign or nobody has checked the horn."""
    of, to = world.horn(horn), world.pupil(pupil)
    adult, check = guardian_of(to), latest_check(of)
    if adult is None or check is None:
        return None
    return {
        "horn": of,
        "pupil": to,
        "guardian": adult,
        "agreement_version": current_agreement(world.school).version,
        "check_seen": check.pk,
        "due_on": world.today + timedelta(days=days),
        "accessories": ["mouthpiece", "case"],
    }


@act(6, horn=WHICH, pupil=WHICH, days=st.sampled_from([1, 20, 200]))
def lend(world: World, horn: int, pupil: int, days: int) -> Deed | None:
    said = terms(world, horn, pupil, days)
    return said and partial(hand_out, **said, signed_on=world.today, by=world.teacher, at=world.tick())


@act(3, horn=WHICH, pupil=WHICH, days=st.sampled_from([20, 200]))
def put_before(world: World, horn: int, pupil: int, days: int) -> Deed | None:
    said = terms(world, horn, pupil, days)
    return said and partial(putting_before.put_before, **said, by=world.teacher, at=world.tick())


@act(4, horn=WHICH)
def sign(world: World, horn: int) -> Deed | None:
    waits = _put_before(world, horn)
    if waits is None or waits.guardian.user is None:
        return None
    user = waits.guardian.user
    deed = partial(signing.sign, signature=waits, typed_name=waits.guardian.name, by=user, at=world.tick())
    return as_family(user, deed)


@act(horn=WHICH)
def take_it_back_from_their_page(world: World, horn: int) -> Deed | None:
    waits = _put_before(world, horn)
    if waits is None:
        return None
    seen = waits.signed_at is not None
    return partial(putting_before.take_back, signature=waits, signed_seen=seen, by=world.teacher, at=world.tick())


@act(4, horn=WHICH)
def hand_out_what_is_signed(world: World, horn: int) -> Deed | None:
    one = _put_before(world, horn)
    if one is None:
        return None
    return partial(hand_out, **one.terms, signed_on=None, online=one, by=world.teacher, at=world.tick())


@act(3, horn=WHICH, pupil=WHICH, days=st.sampled_from([20, 200]))
def print_a_sheet_to_sign(world: World, horn: int, pupil: int, days: int) -> Deed | None:
    said = terms(world, horn, pupil, days)
    return said and partial(sheets.send_home, loans=[said], by=world.teacher, at=world.tick())


@act(horn=WHICH)
def put_the_sheets_away(world: World, horn: int) -> Deed | None:
    of = SheetOut.objects.filter(horn=world.horn(horn)).values_list("pk", flat=True)
    return partial(sheets.put_away, school=world.school, sheets=list(of), by=world.teacher, at=world.tick())


@act(horn=WHICH)
def keep_the_signed_sheet(world: World, horn: int) -> Deed | None:
    loan, file = world.loan(horn), ContentFile(b"a sheet", name="sheet.jpg")
    return loan and partial(signed_sheets.keep_signed, loan=loan, file=file, by=world.teacher, at=world.tick())


@act(horn=WHICH)
def take_a_signed_sheet_away(world: World, horn: int) -> Deed | None:
    kept = SignedSheet.objects.filter(loan__horn=world.horn(horn))
    one = kept.select_related("loan__horn__school", "loan__pupil", "loan__guardian").first()
    return one and partial(signed_sheets.remove_signed, sheet=one, by=world.teacher, at=world.tick())


@act(horn=WHICH, pupil=WHICH, days=st.sampled_from([None, 0, 5]))
def wait_for_a_horn(world: World, horn: int, pupil: int, days: int | None) -> Deed | None:
    until = None if days is None else world.today + timedelta(days=days)
    said = {"since": world.today, "reserved_until": until, "sort": {}, "by": world.teacher, "at": world.tick()}
    return partial(wishes.wait, pupil=world.pupil(pupil), horn=world.horn(horn), **said)


@act(wish=WHICH)
def wait_no_longer(world: World, wish: int) -> Deed | None:
    found = list(Wish.objects.filter(ended_on=None).select_related("pupil__school", "horn"))
    return (
        partial(wishes.wait_no_longer, wish=found[wish % len(found)], by=world.teacher, at=world.tick())
        if found
        else None
    )


def _put_before(world: World, horn: int) -> OnlineSignature | None:
    """What was put before a family last about this horn, be it signed, taken back or used."""
    asked = OnlineSignature.objects.filter(horn=world.horn(horn)).order_by("-pk")
    return asked.select_related("horn", "pupil", "guardian__user", "agreement").first()


def _looked_over(world: World, found: list[tuple[str, str]]) -> Any:
    seen = [Found(fault, severity) for fault, severity in found]

    def look_over(horn: Horn) -> Any:
        return log_check(horn=horn, by=world.teacher, at=world.at, occasion="on-return", finish_grade=2, found=seen)

    return look_over


def _how_it_came_back(world: World, loan: Loan, days_ago: int, cleaned: bool, whole: bool) -> dict[str, Any]:
    returned_on = world.today - timedelta(days=days_ago)
    things = [thing.pk for thing in loan.accessories.all()]
    return {
        "came_back": things if whole else things[:1],
        "mouthpiece_cleaned_on": returned_on if cleaned else None,
        "notes": "",
        "by": world.teacher,
        "at": world.tick(),
    }


@act(6, horn=WHICH, found=SEEN, days_ago=st.sampled_from([0, 0, 0, 3]), cleaned=st.booleans(), whole=st.booleans())
def take_back(
    world: World, horn: int, found: list[tuple[str, str]], days_ago: int, cleaned: bool, whole: bool
) -> Deed | None:
    loan = world.loan(horn)
    if loan is None:
        return None
    return partial(
        returning.give_back,
        loan=loan,
        returned_on=world.today - timedelta(days=days_ago),
        look_over=_looked_over(world, found),
        **_how_it_came_back(world, loan, days_ago, cleaned, whole),
    )


@act(2, horn=WHICH, cleaned=st.booleans())
def take_back_in_a_row(world: World, horn: int, cleaned: bool) -> Deed | None:
    loan = world.loan(horn)
    return loan and partial(in_a_row.take_unchanged, loan=loan, cleaned=cleaned, by=world.teacher, at=world.tick())


@act(4, horn=WHICH, to=WHICH, found=SEEN, cleaned=st.booleans(), whole=st.booleans())
def swap(world: World, horn: int, to: int, found: list[tuple[str, str]], cleaned: bool, whole: bool) -> Deed | None:
    loan = world.loan(horn)
    if loan is None or loan.horn_id == world.horn(to).pk:
        return None
    return partial(
        swapping.swap,
        loan=loan,
        to=world.horn(to),
        look_over=_looked_over(world, found),
        **_how_it_came_back(world, loan, 0, cleaned, whole),
    )


@act(horn=WHICH, days_ago=DAYS)
def clean_the_mouthpiece(world: World, horn: int, days_ago: int) -> Deed | None:
    last = world.horn(horn).loans.order_by("-returned_on", "-pk").first()
    if last is None:
        return None
    day = world.today - timedelta(days=days_ago)
    return partial(returning.record_mouthpiece_cleaned, loan=last, cleaned_on=day, by=world.teacher, at=world.tick())


@act(horn=WHICH, days=st.sampled_from([1, 30, 300]))
def renew(world: World, horn: int, days: int) -> Deed | None:
    return _move_the_day(world, horn, dates.renew, days)


@act(horn=WHICH, days=st.sampled_from([0, 5, 30]))
def recall(world: World, horn: int, days: int) -> Deed | None:
    return _move_the_day(world, horn, dates.recall, days)


def _move_the_day(world: World, horn: int, move: Any, days: int) -> Deed | None:
    loan = world.loan(horn)
    if loan is None:
        return None
    day = world.today + timedelta(days=days)
    return partial(
        move, loan=loan, due_on=day, due_seen=loan.due_on, reason="A concert", by=world.heads[0], at=world.tick()
    )


@act(1, pupil=WHICH, leaves=st.booleans(), loans=st.sampled_from([RENEW, RECALL, AS_IS]))
def begin_a_school_year(world: World, pupil: int, leaves: bool, loans: str) -> Deed:
    """All classes go on or leave, but for one pupil."""
    found, day = classes_with_pupils(world.school), timedelta(days=1)
    then = {one.key: ClassWish(leaves, one.next_group, RECALL if leaves else loans) for one in found}
    wish = YearWish(world.today + 400 * day, world.today, then)
    days, left_out = school_days(world.school), {world.pupil(pupil).pk}
    seen = look_over(found, wish, days, left_out=left_out, today=world.today).proof
    said = {"school": world.school, "wish": wish, "left_out": left_out, "seen": seen}
    return partial(begin_year, **said, by=world.heads[0], at=world.tick())


@act(2, horn=WHICH, waited=st.sampled_from([0, 1, 30]))
def note_that_it_came_back(world: World, horn: int, waited: int) -> Deed:
    seen = {"came_back": ["case"], "finish_grade": 2, "words": "Strap torn", "waited": timedelta(hours=waited)}
    return partial(returning.note_return, horn=world.horn(horn), **seen, by=world.teacher, at=world.tick())


@act(horn=WHICH)
def take_the_note_away(world: World, horn: int) -> Deed | None:
    loan = world.loan(horn)
    return loan and partial(returning.take_note_away, loan=loan, by=world.teacher, at=world.tick())


@act(horn=WHICH)
def lose(world: World, horn: int) -> Deed | None:
    loan = world.loan(horn)
    return loan and partial(returning.lose, loan=loan, words="Left on the train", by=world.heads[0], at=world.tick())


@act(horn=WHICH, kind=st.sampled_from(FamilyAsk.Kind.values))
def ask_for_something(world: World, horn: int, kind: str) -> Deed | None:
    loan = world.loan(horn)
    if loan is None or loan.guardian.user is None:
        return None
    user = loan.guardian.user
    return as_family(user, partial(asks.ask, loan=loan, kind=kind, words="Please", by=user, at=world.tick()))


@act(horn=WHICH)
def answer_what_was_asked(world: World, horn: int) -> Deed | None:
    loan = world.loan(horn)
    asked = loan and loan.asks.order_by("-pk").first()
    return asked and partial(asks.answer, ask=asked, words="Yes", by=world.teacher, at=world.tick())


@act(1, horn=WHICH)
def take_back_what_was_asked(world: World, horn: int) -> Deed | None:
    loan = world.loan(horn)
    asked = loan and loan.asks.order_by("-pk").first()
    return asked and as_family(asked.by, partial(asks.take_back_ask, ask=asked, by=asked.by, at=world.tick()))


@act(1, horn=WHICH, settled_as=st.sampled_from(LoanAccessory.Settled.values))
def settle_what_did_not_come_back(world: World, horn: int, settled_as: str) -> Deed | None:
    thing = LoanAccessory.objects.filter(loan__horn=world.horn(horn), came_back=False).order_by("-pk").first()
    said = {"settled_as": settled_as, "by": world.teacher}
    return thing and partial(accessories.settle, accessory=thing, **said, at=world.tick())


@act(1, horn=WHICH, settled=st.sampled_from(["", "paid", "remitted"]))
def charge_or_settle(world: World, horn: int, settled: str) -> Deed | None:
    loan = world.loan(horn)
    if loan is None:
        return None
    if not settled:
        said = {"what": "hire", "amount": Decimal(30), "due_on": world.today}
        return partial(charges.charge, loan=loan, **said, by=world.heads[0], at=world.tick())
    owed = loan.charges.order_by("-pk").first()
    return owed and partial(charges.settle, charge=owed, state=settled, by=world.heads[0], at=world.tick())
