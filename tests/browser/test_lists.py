"""A list on its way in, in a real browser: with script the page goes on by itself, without it buttons do."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from fleet.exchange.models import BATCH
from fleet.ground.access import Role
from fleet.register.models import Horn
from tests import make
from tests.exchange.conftest import as_csv

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ROWS = [["Nr", "Maker", "Type"], *[[f"H-{n}", "Bell", "double"] for n in range(2 * BATCH)], ["H*", "Bell", ""]]


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_list_of_several_batches_goes_in_and_out_again(open_as: Any, axe: Any, script: bool):
    school = make.school()
    page = open_as(make.staff(Role.HEAD, school), width=320, height=640, script=script)
    wrong = []

    def look() -> None:
        wrong.extend(axe(page) if script else [])
        if script:
            width = page.evaluate("document.documentElement.scrollWidth")
            wrong.extend([f"{page.url}: {width} px wide"] if width > 320 else [])

    page.goto(reverse("exchange:imports", args=[school.slug]))
    look()
    page.set_input_files("input[type=file]", {"name": "l.csv", "mimeType": "text/csv", "buffer": as_csv(ROWS)})
    with page.expect_navigation():
        page.click("text=Read the file")
    look()
    page.click("text=Look it over")
    if not script:
        page.click("text=Go on")
    page.wait_for_selector(f"text={2 * BATCH} new, 0 changed, 0 already as they are, 1 refused.")
    look()
    page.click("text=Write the others to the record")
    page.wait_for_selector("text=On record")
    look()
    assert Horn.objects.at(school).count() == 2 * BATCH

    page.click("text=Undo the import")
    page.wait_for_selector("text=This import was undone.")
    assert Horn.objects.at(school).count() == 0
    assert not wrong, "\n".join(wrong)
