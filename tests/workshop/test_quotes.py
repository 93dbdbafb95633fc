"""Quotes of other repairers: their terms are never lost, nor what somebody typed of them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.ground.access import Role
from fleet.workshop.actions.agreed import add_quote, take_quote
from fleet.workshop.models import RepairJob
from tests import make
from tests.pages import folded

LATER = make.NOW + timedelta(hours=1)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        job = make.job(make.horn(school), technician)
        browser = as_(technician)

        @classmethod
        def at(cls, path: str = "") -> str:
            return f"/s/{cls.school.slug}/jobs/{cls.job.pk}/{path}"

    return World


def test_the_longest_terms_of_a_quote_taken_stand_whole_in_what_happened(world):
    who = {"job": world.job, "by": world.technician, "at": LATER}
    add_quote(repairer="H" * 120, amount=Decimal("99999999.99"), words="t" * 299 + "!", **who)
    take_quote(quote=world.job.other_quotes.get().pk, **who)

    assert world.job.steps.last().words.endswith("t!")


@pytest.mark.parametrize(
    ("sent", "sentence", "status"),
    [
        ({"amount": "-1"}, "A quote cannot be less than nothing.", 422),
        ({"repairer": ""}, "Say which repairer asks this.", 422),
        ({}, "This job was closed", 409),
    ],
)
def test_a_quote_that_cannot_be_kept_loses_nothing_that_was_typed(world, sent, sentence, status):
    if status == 409:
        RepairJob.objects.update(state="done", closed_at=LATER)

    answer = world.browser.post(
        world.at("quote/"), {"repairer": "Hill Workshop", "amount": "90", "words": "in May"} | sent
    )

    page = folded(answer)
    assert (answer.status_code, sentence in page, 'value="in May"' in page) == (status, True, True)
    assert f'action="{world.at("outside/")}"' in page
    assert not world.job.other_quotes.exists()
