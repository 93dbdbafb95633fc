"""What goes between the demo school and its families: loans, letters, charges, wishes, what is to be signed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from fleet.desk.actions.demo_school import DemoSchool
from fleet.lending.actions.agreements import write_version
from fleet.lending.actions.asks import ask as ask_school
from fleet.lending.actions.charges import charge as charge_for
from fleet.lending.actions.charges import settle
from fleet.lending.actions.dates import recall, renew
from fleet.lending.actions.pupils import amend
from fleet.lending.actions.returning import give_back, lose
from fleet.lending.actions.wishes import wait
from fleet.lending.models import Charge, LoanPeriod
from fleet.lending.queries.agreements import current_agreement
from fleet.letters.actions.bounces import came_back
from fleet.letters.actions.reminding import remind
from fleet.letters.models import Letter
from fleet.mail.actions.server import Server
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.actions.putting_before import put_before
from fleet.signing.actions.sheets import send_home
from fleet.signing.models import Terms
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import latest_check


class NoServer(Server):
    """Takes every letter for sent and sends none: the families are invented."""

    def send(self, *said: Any, **more: Any) -> None:
        pass


def _terms(demo: DemoSchool, plan: dict[str, Any], check: ConditionCheck) -> Terms:
    horn, pupil = demo.horns[plan["horn"]], demo.pupil(plan["pupil"])
    horn.refresh_from_db()
    return {
        "horn": horn,
        "pupil": pupil,
        "guardian": pupil.guardians.order_by("pk")[0],
        "agreement_version": current_agreement(demo.school).version,
        "check_seen": check.pk,
        "due_on": demo.on(plan["due"]),
        "accessories": plan["accessories"],
    }


def issue(demo: DemoSchool, plan: dict[str, Any]) -> None:
    look = demo.check(demo.horns[plan["horn"]], plan["issued"], ConditionCheck.Occasion.BEFORE_LOAN)
    signed = demo.on(plan["issued"])
    hand_out(**_terms(demo, plan, look), signed_on=signed, by=demo.head, at=demo.day(plan["issued"]))


def take_back(demo: DemoSchool, plan: dict[str, Any]) -> None:
    days, loan = plan["returned"], demo.loan(plan["horn"])
    missing = plan.get("missing", [])
    give_back(
        loan=loan,
        returned_on=demo.on(days),
        came_back={one.pk for one in loan.accessories.exclude(name__in=missing)},
        look_over=lambda horn: demo.check(horn, days, ConditionCheck.Occasion.ON_RETURN),
        mouthpiece_cleaned_on=demo.on(days),
        notes=plan.get("notes", ""),
        by=demo.head,
        at=demo.day(days),
    )


def lose_on_loan(demo: DemoSchool, plan: dict[str, Any]) -> None:
    lose(loan=demo.loan(plan["horn"]), words=plan["lost_words"], by=demo.head, at=demo.day(plan["lost"]))


def move_due_day(demo: DemoSchool, plan: dict[str, Any]) -> None:
    loan, act = demo.loan(plan["horn"]), renew if plan["kind"] == LoanPeriod.Kind.RENEWED else recall
    due, at = demo.on(plan["due"]), demo.day(plan["days"])
    act(loan=loan, due_on=due, due_seen=loan.due_on, reason=plan["reason"], by=demo.head, at=at)


def charge(demo: DemoSchool, plan: dict[str, Any]) -> None:
    at, due = demo.day(plan["days"]), demo.on(plan["due"])
    amount = Decimal(plan["amount"])
    made = charge_for(loan=demo.loan(plan["horn"]), what=plan["what"], amount=amount, due_on=due, by=demo.head, at=at)
    if "settled" in plan:
        settle(charge=made, state=Charge.State(plan["state"]), by=demo.head, at=demo.day(plan["settled"]))


def leave(demo: DemoSchool, plan: dict[str, Any]) -> None:
    left = {"left_on": demo.on(plan["days"])}
    amend(pupil=demo.pupil(plan["pupil"]), changes=left, by=demo.head, at=demo.day(plan["days"]))


def add_to_agreement(demo: DemoSchool, plan: dict[str, Any]) -> None:
    now = current_agreement(demo.school)
    words, at = f"{now.words}\n\n{plan['adds']}", demo.day(plan["days"])
    write_version(school=demo.school, words=words, seen=now.version, by=demo.head, at=at)


def send_letters(demo: DemoSchool, plan: dict[str, Any]) -> None:
    at = demo.day(plan["days"])
    remind(schools=[demo.school], now=at, server=NoServer())
    for address in plan.get("came_back", []):
        letter = Letter.objects.filter(address=address, sent_at=at).get()
        came_back(letter=letter, why="550 5.1.1 there is no such mailbox", by=None, at=demo.day(plan["days"]))


def ask(demo: DemoSchool, plan: dict[str, Any]) -> None:
    loan = demo.loan(plan["horn"])
    assert loan.guardian.user is not None
    ask_school(loan=loan, kind=plan["kind"], words=plan["words"], by=loan.guardian.user, at=demo.day(plan["days"]))


def wish(demo: DemoSchool, plan: dict[str, Any]) -> None:
    horn = demo.horns[plan["horn"]] if "horn" in plan else None
    until = demo.on(plan["kept_until"]) if "kept_until" in plan else None
    sort = {"kind": plan["kind"]} if "kind" in plan else {}
    said: dict[str, Any] = {"horn": horn, "sort": sort, "since": demo.on(plan["days"]), "reserved_until": until}
    wait(pupil=demo.pupil(plan["pupil"]), **said, by=demo.head, at=demo.day(plan["days"]))


def put_before_family(demo: DemoSchool, plan: dict[str, Any]) -> None:
    put_before(**_as_checked(demo, plan), by=demo.head, at=demo.day(plan["days"]))


def send_sheets_home(demo: DemoSchool, plan: dict[str, Any]) -> None:
    """One batch: the sheets of a class, printed together."""
    loans = [_as_checked(demo, {**plan, **one}) for one in plan["sheets"]]
    send_home(loans=loans, by=demo.head, at=demo.day(plan["days"]))


def _as_checked(demo: DemoSchool, plan: dict[str, Any]) -> Terms:
    check = latest_check(demo.horns[plan["horn"]])
    assert check is not None
    return _terms(demo, plan, check)
