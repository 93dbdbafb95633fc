"""A school year in a real browser: signing at home, asking for longer, a row of returns by typed numbers."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.signing.models import OnlineSignature
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Band:
    """Three pupils of one guardian, each with a horn that may be lent."""

    def __init__(self) -> None:
        self.school = make.school()
        self.teacher = make.staff(Role.TEACHER, self.school)
        self.guardian = make.guardian(self.school, name="Maria Okafor")
        self.pupils = [
            make.pupil(self.school, self.guardian, name=f"{name} Okafor", group="Band") for name in ("Ada", "Ben", "Cy")
        ]
        self.horns = [make.horn(self.school, number=f"HN-70{n}") for n in range(3)]
        for horn in self.horns:
            make.check(horn, self.teacher)

    def at(self, address: str = "") -> str:
        return f"/s/{self.school.slug}/{address}"


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_family_signs_at_home_and_the_teacher_issues_from_today(open_as: Any, script: bool):
    band = Band()
    pairs = "&".join(f"pair={pupil.pk}.{horn.pk}" for pupil, horn in zip(band.pupils, band.horns, strict=True))
    teacher = open_as(band.teacher, width=390, script=script)
    teacher.goto(band.at(f"loans/batch/?{pairs}&due_on=2030-06-30&accessories=case"))
    teacher.get_by_role("button", name="Or let 3 sign on their pages").click()
    expect(teacher.locator(".messages")).to_contain_text("3 families find it on their pages")

    family = open_as(band.guardian.user, width=390, script=script)
    family.goto("/")
    for waiting in (3, 2):
        expect(family.get_by_role("link", name="Read and sign")).to_have_count(waiting)
        family.get_by_role("link", name="Read and sign").first.click()
        expect(family.get_by_role("heading", level=1)).to_contain_text("Please sign")
        family.get_by_role("button", name="Sign", exact=True).click()
        expect(family.locator(".errorlist").first).to_contain_text("Tick this to sign.")
        family.get_by_label("I have read all of it").check()
        family.get_by_label("Your name").fill("Maria Okafor")
        family.get_by_role("button", name="Sign", exact=True).click()
        expect(family.get_by_text("Signed as “Maria Okafor”")).to_be_visible()
        family.get_by_role("link", name="To your children").click()

    teacher.goto(band.at())
    teacher.get_by_role("link", name="3 horns, due 30 June").click()
    expect(teacher.get_by_text("2 signed, 1 not yet")).to_be_visible()
    expect(teacher.locator('input[name="signed"]:checked')).to_have_count(2)
    teacher.get_by_role("button", name="Issue to those ticked").click()
    expect(teacher.locator(".messages")).to_contain_text("2 horns are out until 30 June 2030")

    assert Loan.objects.filter(online_signature__typed_name="Maria Okafor").count() == 2
    assert OnlineSignature.objects.waiting().count() == 1


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_family_asks_to_keep_a_horn_and_reads_that_it_may(open_as: Any, script: bool):
    band = Band()
    loan = make.loan(band.horns[0], band.pupils[0], band.teacher)
    family = open_as(band.guardian.user, width=390, script=script)
    family.goto(f"/family/{loan.pk}/")
    family.get_by_role("link", name="Keep it longer").click()
    family.get_by_label("Until when").fill("Until June, for the concert.")
    family.get_by_role("button", name="Ask the school").click()
    expect(family.get_by_text("you asked to keep it longer")).to_be_visible()

    teacher = open_as(band.teacher, script=script)
    teacher.goto(band.at())
    teacher.get_by_role("link", name="asks to keep it longer").click()
    teacher.get_by_role("link", name="Renew it").click()
    expect(teacher.get_by_text("Until June, for the concert.")).to_be_visible()
    teacher.get_by_label("Due back on").fill("2099-06-30")
    teacher.get_by_role("button", name="Renew it").click()
    expect(teacher.locator(".errorlist").first).to_contain_text("more than ten years")
    teacher.get_by_label("Due back on").fill("2030-06-28")
    teacher.get_by_role("button", name="Renew it").click()
    expect(teacher.locator(".timeline")).to_contain_text("Renewed until 28 June 2030")

    family.reload()
    expect(family.get_by_text("Yes: it is due back on 28 June 2030 now.")).to_be_visible()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_row_of_horns_is_taken_back_by_typed_and_scanned_numbers(open_as: Any, script: bool):
    band = Band()
    for pupil, horn in zip(band.pupils, band.horns, strict=True):
        make.loan(horn, pupil, band.teacher)
    page = open_as(band.teacher, width=390, script=script)
    page.goto(band.at("loans/"))
    page.get_by_role("link", name="Take several back").click()

    # A scanner types and ends with Enter; the field stands ready for the next one.
    for count, typed in enumerate(("hn-700", "HN-702"), start=1):
        field = page.locator("#id_numbers")
        expect(field).to_be_focused() if script else field.focus()
        page.keyboard.type(typed)
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", level=2)).to_have_text(f"{count} on the list")
    # The phone's own camera opens the label's address and nothing else.
    page.goto(f"/h/{band.horns[1].label_code}/")
    expect(page.get_by_role("heading", level=2)).to_have_text("3 on the list")
    page.get_by_label("Their mouthpieces are cleaned").check()
    page.get_by_role("button", name="Take all 3 back").click()
    expect(page.locator(".errorlist")).to_contain_text("Look each horn over first")
    expect(page.get_by_label("Their mouthpieces are cleaned")).to_be_checked()
    page.get_by_label("I looked each one over").check()
    page.get_by_role("button", name="Take all 3 back").click()
    expect(page.locator(".messages")).to_contain_text("3 horns taken back.")

    assert Loan.objects.open().count() == 0
    assert Loan.objects.exclude(mouthpiece_cleaned_on=None).count() == 3


def test_a_batch_on_families_pages_and_a_row_of_returns_fit_a_narrow_phone(open_as: Any, axe: Any):
    band = Band()
    asked = make.signature(band.horns[0], band.pupils[0], band.teacher)
    signed = make.signature(
        band.horns[1], band.pupils[1], band.teacher, signed_at=make.NOW, typed_name="M", signed_by=band.guardian.user
    )
    loan = make.loan(band.horns[2], band.pupils[2], band.teacher)
    letter = make.letter(asked, state="bounced", trouble="550 no such mailbox", address="a@example.org")
    make.letter(signed, state="sent")
    page = open_as(band.teacher, width=320, height=640)
    page.goto(band.at("loans/back/"))
    page.fill("#id_numbers", loan.horn.number)
    page.get_by_role("button", name="Put it on the list").click()
    expect(page.get_by_role("heading", level=2)).to_have_text("1 on the list")
    page.goto(band.at())
    waiting = page.get_by_role("link", name="2 horns, due").get_attribute("href")
    wrong = []
    for address in (waiting, band.at("loans/back/"), band.at("loans/letters/"), band.at(f"loans/letters/{letter.pk}/")):
        answer = page.goto(address)
        wrong += [f"{address}: answered {answer.status}"] if answer.status != 200 else []
        wrong += [f"{address}: {finding}" for finding in axe(page)]
        width = page.evaluate("document.documentElement.scrollWidth")
        wrong += [f"{address}: {width} px wide"] if width > 320 else []
    assert not wrong, "\n".join(wrong)
