"""A family's pages on a phone, in its own language."""

from __future__ import annotations

import os
import re
from datetime import timedelta
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.utils import timezone
from django.utils.translation import get_language_info, gettext, override

from fleet.ground.access import Role
from fleet.ground.languages.known import ENGLISH, KNOWN
from fleet.signing.actions.putting_before import put_before
from fleet.workshop.actions.brought import ForTheFamily, tell_family
from fleet.workshop.actions.jobs import move_job
from tests import make
from tests.browser.test_by_keyboard import Keys
from tests.browser.test_every_page import LONGER
from tests.desk.test_no_word_unmarked import everything_of_a_family, pages_of, speak_made_up

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The pages are the same in each: one that runs from right to left stands for all. HORN_TEST_LANGUAGES=all tries each.
ALL = os.environ.get("HORN_TEST_LANGUAGES") == "all"
LANGUAGES = sorted(set(KNOWN) - {ENGLISH}) if ALL else ["ar"]
# One on both engines: the others write the same rows.
WAYS = ("keys", "no scripts", "large text")
JOURNEYS = [("ar", WAYS[0]), ("uk", WAYS[1]), ("de", WAYS[2])]
if ALL:
    JOURNEYS = [*product(LANGUAGES, WAYS)]
WIDE = "document.documentElement.scrollWidth"
# What a finger is to hit, lower than 44 px. A link within a sentence is as high as the sentence's line.
LOW = """() => [...document.querySelectorAll('main :is(a[href], button, input:not([type=hidden]), select, summary)')]
    .map(e => e.matches('[type=radio], [type=checkbox]') ? (e.labels && e.labels[0]) || e : e)
    .filter(e => e.offsetParent && getComputedStyle(e).display !== 'inline')
    .filter(e => e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 120))"""
# Words beside marked ones, from which a flex box takes the blanks between them.
RUN_TOGETHER = """() => [...document.querySelectorAll('main a[href]')]
    .filter(e => /flex|grid/.test(getComputedStyle(e).display) && e.children.length)
    .filter(e => [...e.childNodes].some(one => one.nodeType === 3 && one.data.trim()))
    .map(e => e.outerHTML.slice(0, 120))"""
# Pairs of what can be touched, and texts beside each other, of which one lies on the other.
OVERLAP = """() => {
    const all = [...document.querySelectorAll(
        'header :is(a, button), main :is(a[href], button, input:not([type=hidden]), textarea, h1, h2, dt, dd, label)')]
        .filter(e => e.checkVisibility() && !e.closest('[popover]'));
    const wrong = [];
    const boxes = all.map(e => [...e.getClientRects()]);
    for (let i = 0; i < all.length; i++) for (let j = i + 1; j < all.length; j++) {
        if (all[i].contains(all[j]) || all[j].contains(all[i])) continue;
        if (boxes[i].some(a => boxes[j].some(b => a.left < b.right - 1 && b.left < a.right - 1
            && a.top < b.bottom - 1 && b.top < a.bottom - 1)))
            wrong.push(all[i].outerHTML.slice(0, 80) + ' on ' + all[j].outerHTML.slice(0, 80));
    }
    return wrong;
}"""
# No word of the masthead is broken: each is as high as a line.
BROKEN = """() => [...document.querySelectorAll('.wordmark')].filter(e => {
    const range = document.createRange();
    return [...e.firstChild.data.matchAll(/\\S+/g)].some(word => {
        range.setStart(e.firstChild, word.index);
        range.setEnd(e.firstChild, word.index + word[0].length);
        return range.getClientRects().length > 1;
    });
}).length"""
TWICE = "document.documentElement.style.fontSize = '200%'"


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_page_of_a_family_has_a_barrier_in_its_language(open_as, axe, code):
    with override(code):
        family = everything_of_a_family(code)
    page = open_as(family["guardian"].user, width=360, height=780)
    wrong = []
    for address in pages_of(family):
        page.goto(address)
        wrong += [f"{address}: {finding}" for finding in axe(page)]
        said = page.evaluate(f"[document.documentElement.lang, document.documentElement.dir, {WIDE}]")
        if said != [code, "rtl" if get_language_info(code)["bidi"] else "", 360]:
            wrong.append(f"{address}: {said}")
    assert not wrong, "\n".join(wrong)


def test_texts_longer_by_two_fifths_and_letters_of_twice_the_size_fit_a_phone(open_as, settings, tmp_path: Path):
    speak_made_up(tmp_path, settings)
    family = everything_of_a_family("de")
    page = open_as(family["guardian"].user, width=390, height=780)
    wrong = []
    for address in pages_of(family):
        page.goto(address)
        wrong += [f"{address}: lower than 44 px: {html}" for html in page.evaluate(LOW)]
        wrong += [f"{address}: run together: {html}" for html in page.evaluate(RUN_TOGETHER)]
        for size in ("usual", "twice"):
            if size == "twice":
                page.evaluate(TWICE)
            if (wide := page.evaluate(WIDE)) > 390:
                wrong.append(f"{address}, {size}: {wide} px wide")
            wrong += [f"{address}, {size}: {pair}" for pair in page.evaluate(OVERLAP)]
            if page.evaluate(BROKEN):
                wrong.append(f"{address}, {size}: a word of the masthead is broken")
        if (wide := page.evaluate(LONGER)) > 390:
            wrong.append(f"{address}, twice, each word longer: {wide} px wide")
    assert not wrong, "\n".join(wrong)


class Fingers:
    """As `Keys`, by touch."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def enter(self, words: str) -> None:
        with self.page.expect_navigation():
            self.page.locator("main a, main button").filter(
                has_text=re.compile(rf"^\s*{re.escape(words)}")
            ).first.click()

    def tick(self, name: str) -> None:
        self.page.locator(f"main [name={name}]").first.check()

    def type(self, name: str, words: str) -> None:
        self.page.locator(f"main [name={name}]").fill(words)


class KeysThatType(Keys):
    def type(self, name: str, words: str) -> None:
        self.to(name=name)
        self.page.keyboard.type(words)


@pytest.mark.parametrize(("code", "how"), JOURNEYS)
def test_a_family_signs_in_signs_reports_brings_fetches_and_renews(open_as, code, how):
    now = timezone.now()
    soon = timezone.localdate(now) + timedelta(days=3)
    school = make.school(name="Alder Row", language=code)
    head, technician = make.staff(Role.HEAD, school), make.staff(Role.TECHNICIAN, school)
    maria = make.guardian(school, name="Maria Quill", email="maria@example.org", language=code)
    lent, wanted = make.horn(school, number="07/H", build="double-full"), make.horn(school, number="08/H")
    loan = make.loan(lent, make.pupil(school, maria, name="Ada"), head, due_on=soon + timedelta(days=90))
    put_before(
        horn=wanted, pupil=make.pupil(school, maria, name="Bea"), guardian=maria, agreement_version=1,
        check_seen=make.check(wanted, head).pk, due_on=soon + timedelta(days=90), accessories=[], by=head, at=now,
    )  # fmt: skip
    mail.outbox.clear()
    page = open_as(None, width=360, height=780, script=how != "no scripts")
    page.set_extra_http_headers({"Accept-Language": code})
    if how == "large text":
        page.add_init_script(f"addEventListener('DOMContentLoaded', () => {{ {TWICE} }})")
    hand: Any = KeysThatType(page, scripts=True) if how == "keys" else Fingers(page)

    def said(words: str) -> str:
        with override(code):
            return gettext(words)

    def sees(words: str) -> None:
        page.wait_for_selector("main")
        assert said(words).split("%")[0].strip(" \u2068") in page.inner_text("main")
        assert page.evaluate(WIDE) == 360

    page.goto("/account/code/")
    hand.type("email", "maria@example.org")
    hand.enter(said("Send the code"))
    found = re.search(r"^ {4}(\S+)$", mail.outbox[-1].body, re.M)
    assert found is not None
    hand.type("code", found[1])
    hand.enter(said("Sign in"))

    hand.enter(said("Read and sign"))
    sees("I have read all of it and agree")
    hand.tick("agreed")
    hand.type("typed_name", "Maria Quill")
    hand.enter(said("Sign"))
    sees("The school hands it out next.")

    page.goto("/family/")
    hand.enter("Ada")
    hand.type("words", "3: ?")
    hand.tick("still_plays")
    hand.enter(said("Tell the school"))
    sees("The school has it and will answer here.")

    job = make.job(lent, technician, at=now)
    make.finding(make.check(lent, technician, grade=3), "string-broken", "r", job=job)
    tell_family(job=job, said=ForTheFamily(bring_on=soon), by=technician, at=now)
    page.goto(f"/family/{loan.pk}/")
    hand.enter(said("We bring it"))
    sees("You said that you bring it. The loan goes on meanwhile.")

    for state in ("brought", "done"):
        move_job(job=job, by=technician, at=now, seen=job.steps.latest("pk").pk, state=state)
        job.refresh_from_db()
    make.check(lent, technician, at=now + timedelta(minutes=1))
    make.keep([lent])
    tell_family(job=job, said=ForTheFamily(bring_on=soon, fetch_on=soon), by=technician, at=now)
    page.goto(f"/family/{loan.pk}/")
    sees("Please fetch it, from %(weekday)s, %(day)s")

    hand.enter(said("Keep it longer"))
    hand.type("words", "30.6.")
    hand.enter(said("Ask the school"))
    sees("you asked to keep it longer.")
    page.goto("/family/")
    hand.enter(said("Your papers"))
    sees("Your papers")
    assert page.request.get(f"/family/{loan.pk}/sheet.pdf").body().startswith(b"%PDF")
