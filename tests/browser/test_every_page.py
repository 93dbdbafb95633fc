"""Every page that can be read, in a real browser and in German: no barrier the engine can find, nothing wider than a
narrow phone, nor than another with each word two fifths longer."""

from __future__ import annotations

from typing import Any

import pytest

from fleet.ground.access import DOORS, OPEN, Reach, Role
from fleet.people.models import Guardian, School, User
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, World, reverse_parts

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# So many tests for all pages, that several may run at once.
PARTS = 4
# Each word two fifths longer, as another language may have it.
LONGER = """() => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT,
        node => node.parentElement.closest('script, style, textarea, option, svg') ? 2 : 1);
    while (walk.nextNode())
        walk.currentNode.data = walk.currentNode.data.replace(/\\p{L}{2,}/gu,
            word => word + word.slice(0, Math.ceil(word.length * 0.4)));
    return document.documentElement.scrollWidth;
}"""
# Heads of columns that run into the next one, and tables wider than what they stand in.
CUT = """() => [...document.querySelectorAll('th, .table-wrap')]
    .filter(one => one.offsetParent && one.scrollWidth > one.clientWidth + (one.tagName === 'TH' ? 10 : 0))
    .map(one => one.innerText.slice(0, 60))"""
# Files and fragments rather than pages.
NOT_PAGES = {
    "along:kept",
    "along:manifest",
    "along:scales",
    "along:worker",
    "register:photograph",
    "workshop:check-photograph",
    "loans:signed-sheet",
    "loans:agreement-own",
    "desk:family-agreement",
    "desk:family-signed-sheet",
    "desk:family-picture",
    "desk:family-sheet",
    "desk:family-care",
    "desk:chart-xml",
    "desk:family-data",
    "desk:family-due",
    "desk:pupil-data",
    "exchange:refused",
    "exchange:horns-out",
    "exchange:pupils-out",
    "exchange:loans-out",
    "exchange:past-loans-out",
    "exchange:charges-out",
    "exchange:jobs-out",
    "exchange:parts-out",
    "exchange:orders-out",
    "workshop:invoice",
    *(name for name in DOORS if name.startswith("reports:") and name != "reports:job-order"),
}


def addresses(world: World) -> list[tuple[str, Any, str]]:
    """(page, who opens it, address) for one person who may read each page."""
    found = []
    for name in (*SCHOOL_PAGES, *FAMILY_PAGES, "desk:home", "desk:benches"):
        if name in NOT_PAGES:
            continue
        family = DOORS[name].reach is Reach.FAMILY
        who = world.guardian.user if family else world.people[Role.HEAD]
        found.append((name, who, world.address(name)))
    found += [
        (name, None, world.address(name)) for name in sorted(OPEN - {"alive", "security"}) if not reverse_parts(name)
    ]
    return found


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_is_free_of_barriers_and_fits_a_narrow_phone(open_as, axe, part):
    world = World()
    # Longer than in English.
    School.objects.update(staff_languages=["de"], family_languages=["de"])
    User.objects.update(language="de")
    Guardian.objects.update(language="de")
    pages: dict[Any, Any] = {}
    wrong = []
    for name, who, address in addresses(world)[part::PARTS]:
        if who not in pages:
            pages[who] = open_as(who, width=320, height=640)
        page = pages[who]
        page.set_viewport_size({"width": 320, "height": 640})
        answer = page.goto(address)
        if answer is None or answer.status >= 400:
            wrong.append(f"{name}: answered {answer and answer.status}")
            continue
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        # The whole page at once: what stays in sight while one scrolls covers now this, now that, in any window shorter
        # than the page. That nothing it covers has the focus is test_sticky_bar's.
        page.set_viewport_size({"width": 320, "height": max(640, page.evaluate("document.body.scrollHeight"))})
        wrong += [f"{name}: {finding}" for finding in axe(page)]
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > 320:
            wrong.append(f"{name}: {width} px wide on a phone of 320")
        small = page.evaluate(
            """() => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, summary')]
                .filter(e => e.offsetParent && (getComputedStyle(e).display !== 'inline'
                    || e.parentElement.textContent.trim() === e.textContent.trim()))
                .map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
                .filter(([_, r]) => r.width > 0 && (r.width < 24 || r.height < 24) && r.width > 1)
                .map(([html]) => html)"""
        )
        wrong += [
            f"{name}: smaller than 24 px: {html}"
            for html in small
            if 'type="radio"' not in html and 'type="checkbox"' not in html
        ]
        page.set_viewport_size({"width": 1280, "height": 844})
        wrong += [f"{name}: cut at a desk: {words}" for words in page.evaluate(CUT)]
        page.set_viewport_size({"width": 390, "height": 844})
        low = page.evaluate(
            """() => [...document.querySelectorAll('.steps a, .tasks > li > a:first-child')]
                .filter(e => e.offsetParent && e.getBoundingClientRect().height < 43.5)
                .map(e => e.outerHTML.slice(0, 90))"""
        )
        wrong += [f"{name}: a step or a task lower than 44 px: {html}" for html in low]
        if (wide := page.evaluate(LONGER)) > 390:
            wrong.append(f"{name}: {wide} px wide on a phone of 390 with words two fifths longer")
    assert not wrong, "\n".join(wrong)
