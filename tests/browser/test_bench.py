"""The bench in a real browser: the grade while ticking, the same check without script, and large text."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.test_family_languages import BROKEN, TWICE, WIDE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# Words in a column so narrow that they stand letter below letter.
NARROW = """() => [...document.querySelectorAll('main *')]
    .filter(e => e.checkVisibility() && e.innerText.trim().length > 5 && !e.closest('.visually-hidden'))
    .filter(e => getComputedStyle(e).display !== 'inline' && e.getBoundingClientRect().width < 64)
    .map(e => e.outerHTML.slice(0, 80))"""


def test_the_grade_so_far_follows_the_ticks(open_as):
    school = make.school()
    horn = make.horn(school)
    page = open_as(make.staff(Role.TECHNICIAN, school), width=390)
    page.goto(f"/s/{school.slug}/horns/{horn.pk}/check/")
    assert "plays well" in page.inner_text("#so-far")
    assert not page.is_visible("#id_severity-string-broken")

    page.locator("summary", has_text="Strings and levers").click()

    page.get_by_label("string broken", exact=True).check()
    page.wait_for_selector("#so-far:has-text('repair before the next loan')")
    page.select_option("#id_severity-string-broken", "n")
    page.wait_for_selector("#so-far:has-text('plays well')")
    page.context.set_offline(True)
    page.select_option("#id_severity-string-broken", "r")
    page.wait_for_selector("#so-far:has-text('told once there is a connection')")
    page.context.set_offline(False)
    page.wait_for_selector("#so-far:has-text('repair before the next loan')")

    assert not ConditionCheck.objects.exists()


def test_without_script_the_check_is_saved_all_the_same(open_as):
    school = make.school()
    horn = make.horn(school)
    page = open_as(make.staff(Role.TECHNICIAN, school), width=390, script=False)
    page.goto(f"/s/{school.slug}/horns/{horn.pk}/check/")

    page.locator("summary", has_text="Strings and levers").click()

    page.get_by_label("string broken", exact=True).check()
    page.get_by_label("light wear").check()
    page.fill("#id_note-string-broken", "third")
    # On a phone the key that ends a note is Enter: only the button saves.
    page.press("#id_note-string-broken", "Enter")
    page.fill("#id_note-string-broken", "third valve")
    page.get_by_role("button", name="Save the check").click()
    page.wait_for_url(f"**/s/{school.slug}/horns/{horn.pk}/")

    [finding] = ConditionCheck.objects.get().findings.all()
    assert (finding.fault, finding.severity, finding.note) == ("string-broken", "r", "third valve")


def test_what_has_the_focus_is_never_under_the_bar(open_as):
    # WCAG 2.2, 2.4.11 Focus Not Obscured (Minimum).
    school = make.school()
    horn = make.horn(school)
    page = open_as(make.staff(Role.TECHNICIAN, school), width=390, height=700)
    page.goto(f"/s/{school.slug}/horns/{horn.pk}/check/")
    bar = page.locator(".so-far")

    page.locator("summary", has_text="Strings and levers").click()
    page.locator("#id_found-string-broken").focus()
    for _ in range(30):
        page.keyboard.press("Tab")
        box = page.evaluate(
            "(() => { const b = document.activeElement.getBoundingClientRect(); return [b.top, b.bottom] })()"
        )
        inside = page.evaluate("!!document.activeElement.closest('.so-far')")
        assert inside or box[0] < bar.bounding_box()["y"]


def test_in_text_of_twice_the_size_no_word_of_the_bench_is_broken_letter_by_letter(open_as):
    school = make.school(slug="bench", name="Alder Row School")
    technician, horn = make.staff(Role.TECHNICIAN, school), make.horn(school, place=make.place(school))
    job = make.job(horn, technician, state="bench", work_ordered="Clean it through before it goes away.")
    make.job(make.horn(school), technician, state="away", repairer="Bramble Yard Brass", sent_on=make.TODAY)
    make.horn(school, build="", number="HN-0010")
    page = open_as(technician, width=390)
    wrong = []
    for address in ("", "horns/", "bench/", "care/", f"jobs/{job.pk}/", "labour/", "parts/"):
        page.goto(f"/s/bench/{address}")
        page.evaluate(TWICE)
        if (wide := page.evaluate(WIDE)) > 390:
            wrong.append(f"{address}: {wide} px wide")
        wrong += [f"{address}: {html}" for html in page.evaluate(NARROW)]
        if page.evaluate(BROKEN):
            wrong.append(f"{address}: a word of the masthead is broken")

    assert not wrong, "\n".join(wrong)
