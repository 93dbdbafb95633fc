"""A new school year where there are more classes than one page draws."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.lending.queries.new_year import ClassWish, classes_now
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.either_engine, pytest.mark.usefixtures("at_noon")]


def test_of_many_classes_a_page_is_drawn_and_what_was_chosen_on_another_travels_along(db, as_):
    school = make.school(year_ends=make.TODAY + timedelta(days=90))
    for n in range(101):
        make.pupil(school, group=f"Band {n + 100}", year="")
    assert [one.many for one in classes_now(school, counted=50)] == [1] * 50 + [0] * 51
    here = reverse("loans:new-year", args=[school.slug])
    client = as_(make.staff(Role.HEAD, school))

    def drawn(answer):
        form = answer.context["form"]
        fields = [*form.chosen_elsewhere, form["were"], form["ends"], form["last_day"]]
        fields += [field for _, row, _, _ in form.rows for field in row.values()]
        told = {field.html_name: field.value() for field in fields if field.value() is not False}
        assert all(f'name="{name}"' in folded(answer) for name in told)
        return {**told, "untouched": form.still_untouched}

    first = drawn(client.get(here))
    assert first["untouched"] == "1 2"
    assert ("c0-ticked" in first, "c49-group" in first, "c50-group" in first) == (True, True, False)
    second = client.post(here, {**first, "c0-group": "Wind", "c1-pupils": "leave", "do": "classes-1"})
    assert "Classes 51 to 100 of 101." in folded(second)
    sent_on = {**drawn(second), "c1-loans": "recall", "c50-group": "x" * 61}
    assert (sent_on["c0-group"], sent_on["untouched"]) == ("Wind", "2")
    del sent_on["c51-ticked"]

    assert "Not saved yet" not in folded(client.post(here, {**sent_on, "ends": "", "do": "classes-0"}))
    wrong = client.post(here, {**sent_on, "c1-pupils": "leave", "do": "look"})
    assert wrong.status_code == 422
    assert "Classes 51 to 100 of 101." in folded(wrong)
    look = client.post(here, {**sent_on, "c1-pupils": "leave", "c50-group": "Brass", "do": "look"})
    wish = look.context["form"].wish().classes
    assert len(wish) == 100
    assert wish["|Band 100"].group == "Wind"
    assert wish["|Band 101"] == ClassWish(True, "Band 101", "recall")
    assert wish["|Band 150"].group == "Brass"
    assert "|Band 151" not in wish
    assert wish["|Band 200"] == ClassWish(False, "Band 200", "renew")
    back = client.post(here, {**sent_on, "c1-pupils": "leave", "c50-group": "Brass", "do": "classes-9"})
    assert "Classes 101 to 101 of 101." in folded(back)
