"""Labels scanned while two lists of horns are on: the list begun last gets them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from tests import make

pytestmark = pytest.mark.django_db
LISTS = ("loans:back", "desk:several")


@pytest.mark.parametrize("begun", [LISTS, LISTS[::-1], (*LISTS, LISTS[0]), (*LISTS[::-1], LISTS[1])], ids=str)
def test_what_is_scanned_goes_to_the_list_begun_last(as_, monkeypatch, begun):
    school = make.school()
    teacher, horn = make.staff(Role.TEACHER, school), make.horn(school)
    make.loan(horn, make.pupil(school, make.guardian(school)), teacher)
    browser = as_(teacher)
    for minute, page in enumerate(begun):
        now = make.NOW + timedelta(minutes=minute)
        monkeypatch.setattr("fleet.middleware.timezone.now", lambda now=now: now)
        browser.get(reverse(page, args=[school.slug]))

    for minute in (10, 20):
        now = make.NOW + timedelta(minutes=minute)
        monkeypatch.setattr("fleet.middleware.timezone.now", lambda now=now: now)
        scanned = browser.get(reverse("desk:label", args=[horn.label_code]), follow=True)

        assert scanned.redirect_chain[-1][0] == reverse(begun[-1], args=[school.slug])
        assert len(scanned.context["rows"]) == 1
