from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from django.utils.translation import override
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions import asks, charges, dates, returning, swapping
from fleet.lending.models import Charge, FamilyAsk, Loan, LoanPeriod
from fleet.people.models import Guardian, School
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up

DAY = timedelta(days=1)


def renew(lending, loan, days=400, **changes):
    said = {
        "due_on": make.TODAY + days * DAY,
        "due_seen": loan.due_on,
        "reason": "next year too",
        "by": lending.teacher,
        "at": make.NOW,
    }
    return dates.renew(loan=loan, **{**said, **changes})


def swap(lending, loan, to, came_back=(), **changes):
    said = {
        "came_back": came_back,
        "look_over": lambda horn: make.check(horn, lending.teacher, occasion="on-return"),
        "mouthpiece_cleaned_on": None,
        "notes": "",
        "by": lending.teacher,
        "at": make.NOW,
    }
    return swapping.swap(loan=loan, to=to, **{**said, **changes})


def test_a_renewal_is_a_new_period_and_moves_the_due_date_of_loan_and_horn(lending, out):
    before = out.due_on

    period = renew(lending, out)

    out.refresh_from_db()
    assert (out.due_on, Horn.objects.get(pk=out.horn_id).due_on) == (make.TODAY + 400 * DAY,) * 2
    assert (period.kind, period.due_before, period.due_on, period.by) == (
        "renewed",
        before,
        out.due_on,
        lending.teacher,
    )
    assert out.signed_on == make.TODAY


def test_a_renewal_ends_later_than_the_loan_does_and_of_two_at_once_the_second_reads_so(lending, out):
    with pytest.raises(Refused, match="ends later"):
        renew(lending, out, days=200)
    seen = out.due_on
    renew(lending, out)
    with pytest.raises(Refused, match="moved the due date to"):
        renew(lending, out, days=800, due_seen=seen)
    assert LoanPeriod.objects.count() == 1


def test_an_overdue_loan_may_be_renewed_but_not_into_the_past(lending):
    loan = lending.issue(due_on=make.TODAY)
    later = make.NOW + 30 * DAY
    with pytest.raises(Refused, match="in the past"):
        renew(lending, loan, days=20, at=later)
    renew(lending, loan, days=60, at=later)
    assert not Loan.objects.overdue(later.date()).exists()


def test_a_horn_that_must_not_be_played_is_not_renewed(lending, out):
    make.check(lending.horn, lending.teacher, grade=4)
    Horn.objects.filter(pk=lending.horn.pk).update(grade=4)
    with pytest.raises(Refused, match="must not be played"):
        renew(lending, out)


def test_a_recall_asks_for_the_horn_sooner_and_says_why(lending, out):
    said = {"due_seen": out.due_on, "by": lending.teacher, "at": make.NOW}
    with pytest.raises(Refused, match="Say why"):
        dates.recall(loan=out, due_on=make.TODAY + DAY, reason=" ", **said)
    with pytest.raises(Refused, match="anyway"):
        dates.recall(loan=out, due_on=out.due_on, reason="The band travels.", **said)

    dates.recall(loan=out, due_on=make.TODAY + 7 * DAY, reason="The band travels.", **said)

    out.refresh_from_db()
    assert (out.due_on, out.periods.get().kind) == (make.TODAY + 7 * DAY, "recalled")


@pytest.mark.parametrize(("kind", "shift"), [("renewed", -1), ("renewed", 0), ("recalled", 1), ("recalled", 0)])
def test_the_database_itself_refuses_a_period_that_runs_the_wrong_way(lending, out, kind, shift):
    with pytest.raises(IntegrityError), transaction.atomic():
        LoanPeriod.objects.create(
            loan=out,
            kind=kind,
            due_before=out.due_on,
            due_on=out.due_on + shift * DAY,
            at=make.NOW,
            by=lending.teacher,
        )


def test_a_swap_keeps_pupil_due_date_and_signature_and_what_the_pupil_keeps_goes_on(lending, out):
    other = make.horn(lending.school, number="HN-9000")
    make.check(other, lending.teacher)
    _, case = out.accessories.all()

    new = swap(lending, out, other, came_back=[case.pk])

    old = Loan.objects.get(pk=out.pk)
    assert (new.pupil, new.guardian, new.due_on, new.signed_on, new.agreement) == (
        old.pupil,
        old.guardian,
        old.due_on,
        old.signed_on,
        old.agreement,
    )
    assert (old.returned_on, new.in_place_of) == (make.TODAY, old)
    assert {thing.name: thing.came_back for thing in old.accessories.all()} == {"mouthpiece": None, "case": True}
    assert [thing.name for thing in new.accessories.all()] == ["mouthpiece"]
    lending.horn.refresh_from_db()
    other.refresh_from_db()
    assert (lending.horn.where, other.where, other.holder_name) == ("cupboard", "out", lending.pupil.name)


def test_to_keep_it_longer_is_asked_of_the_horn_that_goes_on_and_a_return_answers_what_is_left(lending, out):
    make.ask(out, lending.guardian.user, kind="renew", words="Until May")
    make.ask(out, lending.guardian.user, kind="lost", words="On the bus")
    School.objects.filter(pk=lending.school.pk).update(family_languages=["de"])
    Guardian.objects.filter(pk=lending.guardian.pk).update(language="de")
    other = make.horn(lending.school)
    make.check(other, lending.teacher)

    new = swap(lending, out, other)

    assert [one.words for one in new.asks.unanswered()] == ["Until May"]
    assert out.asks.get().answer == f"{out.horn} kam am 14. September 2026 zurück."
    returning.lose(loan=new, words="Gone.", by=lending.teacher, at=make.NOW)
    assert new.asks.get().answer == f"Die Schule hat am 14. September 2026 eingetragen, dass {other} verloren ist."


def test_a_swap_that_is_refused_leaves_the_first_horn_out(lending, out, elsewhere):
    unknown = make.horn(lending.school, build="")
    for horn, why in ((unknown, "what"), (lending.horn, "is out"), (elsewhere.horn, "another school")):
        with pytest.raises(Refused, match=why):
            swap(lending, out, horn)
    out.refresh_from_db()
    assert out.is_open
    assert Loan.objects.filter(pupil=lending.pupil).count() == 1


def test_a_horn_out_with_somebody_else_cannot_be_swapped_in(lending, out):
    other = make.horn(lending.school)
    make.loan(other, make.pupil(lending.school, lending.guardian), lending.teacher)
    with pytest.raises(Refused, match="is out"):
        swap(lending, out, other)


def test_a_lost_horn_ends_its_loan_and_stands_as_not_found(lending, out):
    loan = returning.lose(loan=out, words="Left on the bus.", by=lending.teacher, at=make.NOW)

    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (horn.where, horn.holder_name, loan.ended_as, loan.is_open) == ("not-found", "", "lost", False)
    assert {thing.came_back for thing in loan.accessories.all()} == {False}
    with pytest.raises(Refused, match="ended"):
        returning.lose(loan=out, words="Again.", by=lending.teacher, at=make.NOW)


def test_a_horn_found_again_waits_for_its_mouthpiece_to_be_cleaned(lending, out):
    returning.lose(loan=out, words="Left on the bus.", by=lending.teacher, at=make.NOW)
    change_standing(horn=lending.horn, kind="found", reason="The bus company had it.", by=lending.teacher, at=make.NOW)
    with pytest.raises(Refused, match="mouthpiece"):
        lending.issue()


def test_a_charge_is_due_then_paid_once(lending, out):
    made = charges.charge(
        loan=out, what="hire", amount=Decimal("35.50"), due_on=make.TODAY, by=lending.teacher, at=make.NOW
    )
    assert (str(made), made.state) == ("hire, 35.50 EUR", "due")

    charges.settle(charge=made, state="paid", by=lending.teacher, at=make.NOW)

    with pytest.raises(Refused, match="It was paid on 14 September 2026"):
        charges.settle(charge=made, state="remitted", by=lending.teacher, at=make.NOW)
    assert not Charge.objects.due().exists()


# The one loan serves every example: each adds a charge of its own.
@given(amount=st.decimals("0.01", "999999.99", places=2))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_money_comes_back_from_the_database_to_the_cent(lending, out, amount):
    said = {"what": "hire", "due_on": make.TODAY, "by": lending.teacher, "at": make.NOW}
    made = charges.charge(loan=out, amount=amount, **said)
    assert Charge.objects.get(pk=made.pk).amount == amount


# The check digits of this account number are the example of ISO 13616 for the United Kingdom.
@pytest.mark.parametrize("words", ["from GB29 NWBK 6016 1331 9268 19", "card 4000 1234 5678 9010", "12345678901"])
def test_account_numbers_are_not_kept(lending, out, words):
    with pytest.raises(Refused, match="not kept here"):
        charges.charge(loan=out, what=words, amount=Decimal(1), due_on=make.TODAY, by=lending.teacher, at=make.NOW)


@pytest.mark.parametrize("words", ["hire 2026/27", "lost mouthpiece, HN-0042", "repair of 3 September 2026"])
def test_what_only_holds_a_year_or_a_register_number_is_kept(lending, out, words):
    charges.charge(loan=out, what=words, amount=Decimal(1), due_on=make.TODAY, by=lending.teacher, at=make.NOW)
    assert Charge.objects.get().what == words


@pytest.mark.parametrize("amount", [Decimal(0), Decimal(-1), Decimal(1_000_000)])
def test_a_charge_is_more_than_nothing_and_less_than_a_million(lending, out, amount):
    with pytest.raises(Refused, match="less than a million"):
        charges.charge(loan=out, what="hire", amount=amount, due_on=make.TODAY, by=lending.teacher, at=make.NOW)


def test_a_renewal_answers_the_family_that_asked_for_it(lending, out):
    asked = asks.ask(loan=out, kind="renew", words="Next year too?", by=lending.guardian.user, at=make.NOW)
    with pytest.raises(Refused, match="has this already"):
        asks.ask(loan=out, kind="renew", words="Please?", by=lending.guardian.user, at=make.NOW)

    renew(lending, out)

    asked.refresh_from_db()
    assert asked.answer.startswith("Yes: it is due back on")
    assert not FamilyAsk.objects.unanswered().exists()


def test_a_renewal_answers_in_the_familys_language_whoever_renews(lending, out):
    type(lending.school).objects.update(family_languages=["de"])
    type(lending.guardian).objects.update(language="de")
    asked = asks.ask(loan=out, kind="renew", words="Noch länger?", by=lending.guardian.user, at=make.NOW)

    with override("fr"):
        due_on = renew(lending, out).due_on

    asked.refresh_from_db()
    with override("de"):
        assert asked.answer == f"Ja: Es ist jetzt bis einschließlich {day(due_on)} zurückzubringen."


def test_two_who_answer_a_family_at_once_answer_it_once(lending, out):
    asked, other = (
        asks.ask(loan=out, kind=kind, words="", by=lending.guardian.user, at=make.NOW) for kind in ("renew", "lost")
    )
    asks.answer(ask=asked, words="No, it is needed.", by=lending.teacher, at=make.NOW)
    with pytest.raises(Refused, match="has answered: No, it is needed"):
        asks.answer(ask=asked, words="Yes.", by=lending.teacher, at=make.NOW)
    assert list(FamilyAsk.objects.unanswered()) == [other]


@pytest.mark.django_db(transaction=True)
def test_of_a_renewal_a_recall_and_a_return_at_once_every_one_sees_what_the_others_did():
    lending = set_up()
    loan = lending.issue()
    act = {"loan": loan, "due_seen": loan.due_on, "reason": "x", "by": lending.teacher, "at": make.NOW}

    outcomes = all_at_once(
        [
            partial(dates.renew, due_on=make.TODAY + 400 * DAY, **act),
            partial(dates.recall, due_on=make.TODAY + 10 * DAY, **act),
            partial(lending.give_back, loan),
        ]
    )

    unexpected = [one for one in outcomes if isinstance(one, Exception) and not isinstance(one, Refused)]
    assert unexpected == []
    loan.refresh_from_db()
    assert not loan.is_open
    # Whoever came first moved the date; the other of the two was refused.
    assert loan.periods.count() <= 1
    assert Horn.objects.get(pk=loan.horn_id).due_on is None


def test_the_story_tells_the_first_due_date_and_each_one_after(lending, out):
    from fleet.lending.queries.told import STORY
    from tests.reading import story_of

    renew(lending, out)
    told = [one.sentence for one in story_of(lending.horn, STORY).told()]
    assert f"Lent to {lending.pupil}, due back on 2 April 2027." in told
    assert "Renewed: due back on 19 October 2027." in told
