"""A class typed close to one that is there is asked about, wherever one is typed."""

from __future__ import annotations

from functools import partial

import pytest
from django.urls import reverse

from fleet.desk.forms import ClassForm
from fleet.ground.access import Role
from fleet.people.forms.classes import ClassNameForm
from fleet.people.models import Pupil
from tests import make
from tests.pages import folded

THERE = ["Bläserklasse 5b", "Wind band"]
ASKED = "Bläserklasse 5b is there already: write it so, or tick this."


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (partial(ClassForm, groups=THERE), "group"),
        (partial(ClassNameForm, was="7c", known=dict.fromkeys([*THERE, "7c"], 3)), "name"),
    ],
)
@pytest.mark.parametrize(
    ("typed", "ticked", "wrong"),
    [
        ("Blaeserklasse 5b", {}, {"another": [ASKED]}),
        ("bläserklasse 5B", {}, {"another": [ASKED]}),
        ("Blaeserklasse 5b", {"another": "on"}, {}),
        ("Blaeserklasse 5c", {}, {}),
        ("Bläserklasse 5b", {"together": "on"}, {}),
    ],
)
def test_a_class_close_to_one_that_is_there_needs_a_tick(form, field, typed, ticked, wrong):
    sent = form({field: typed, **ticked})

    assert (sent.errors, "another" in sent.cleaned_data) == (wrong, False)


def test_a_pupil_of_a_class_close_to_another_is_asked_about_with_nothing_lost(db, as_):
    school = make.school()
    make.pupil(school, group="Bläserklasse 5b")
    make.pupil(make.school(), group="Blaserklasse 5b")
    browser, page = as_(make.staff(Role.TEACHER, school)), reverse("people:pupil-new", args=[school.slug])
    said = {"name": "Bo Lindgren", "year": "5", "group": "Blaeserklasse 5b"}

    asked = browser.post(page, said)

    assert asked.status_code == 422
    assert ASKED in folded(asked)
    assert "Blaeserklasse 5b is another class than Bläserklasse 5b" in folded(asked)
    assert 'value="Bo Lindgren"' in asked.content.decode()
    assert browser.post(page, {**said, "another": "on"}).status_code == 302
    assert Pupil.objects.at(school).filter(group="Blaeserklasse 5b").count() == 1


def test_a_pupil_who_is_in_such_a_class_is_changed_without_being_asked(db, as_):
    school = make.school()
    make.pupil(school, group="Bläserklasse 5b")
    pupil = make.pupil(school, name="Bo", group="Blaeserklasse 5b")
    browser = as_(make.staff(Role.TEACHER, school))

    said = {"name": "Bo Lindgren", "year": "5", "group": pupil.group}
    assert browser.post(reverse("people:pupil-edit", args=[school.slug, pupil.pk]), said).status_code == 302
