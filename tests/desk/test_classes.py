"""A class gets another name, and two that are one become one."""

from __future__ import annotations

from urllib.parse import quote

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.matching.actions import rename_class
from fleet.matching.models import ClassPlan
from fleet.people.models import Pupil
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def page(school, name):
    return f"{reverse('people:class-rename', args=[school.slug])}?class={quote(name)}"


def groups(school):
    return dict(Pupil.objects.at(school).values_list("name", "group"))


def test_all_that_holds_the_name_of_a_class_has_the_other_one(as_, school, teacher):
    ada = make.pupil(school, make.guardian(school), name="Ada", group="Bläser 5b")
    make.pupil(school, name="Ben", group="Bläser 5b", left_on=make.TODAY)
    make.pupil(school, name="Cleo", group="5a")
    make.pupil(make.school(), name="Di", group="Bläser 5b")
    horn = make.horn(school)
    make.loan(horn, ada, teacher)
    plan = ClassPlan.objects.create(school=school, group="Bläser 5b", stands_in="F")
    client = as_(teacher)
    assert page(school, "Bläser 5b") in folded(client.get(reverse("people:classes", args=[school.slug])))
    assert "1 pupil and 1 who left get the other name" in folded(client.get(page(school, "Bläser 5b")))

    answer = client.post(page(school, "Bläser 5b"), {"name": " 5b "}, follow=True)

    assert "5b has 1 pupil." in folded(answer)
    assert groups(school) == {"Ada": "5b", "Ben": "5b", "Cleo": "5a"}
    assert Pupil.objects.get(name="Di").group == "Bläser 5b"
    assert Horn.objects.get(pk=horn.pk).holder_group == "5b"
    plan.refresh_from_db()
    assert plan.group == "5b"
    assert Act.objects.get(deed=Deed.CLASS_RENAMED).lines == [["class", "Bläser 5b", "5b"], ["pupils", "2"]]


def test_the_name_of_another_class_needs_a_tick_and_then_both_are_one(as_, school, teacher):
    make.pupil(school, name="Ada", group="5B")
    make.pupil(school, name="Ben", group="5b neu")
    ClassPlan.objects.create(school=school, group="5B", room="Hall")
    ClassPlan.objects.create(school=school, group="5b neu", room="Attic", stands_in="F")
    client = as_(teacher)

    asked = client.post(page(school, "5b neu"), {"name": "5B"})

    assert asked.status_code == 422
    assert "5B has 1 pupil already: both are one class" in folded(asked)
    assert groups(school) == {"Ada": "5B", "Ben": "5b neu"}
    with pytest.raises(Refused, match="There is a class 5B already"):
        rename_class(school=school, was="5b neu", name="5B", together=False, by=teacher, at=make.NOW)

    done = client.post(page(school, "5b neu"), {"name": "5B", "together": "on"}, follow=True)

    assert "5B has 2 pupils." in folded(done)
    assert groups(school) == {"Ada": "5B", "Ben": "5B"}
    plan = ClassPlan.objects.get(school=school)
    assert (plan.group, plan.room, plan.stands_in) == ("5B", "Hall", "F")


def test_a_class_that_differs_by_its_capitals_keeps_the_plan_of_both(school, teacher):
    for name, group in (("Ada", "5B"), ("Ben", "5b"), ("Cleo", "6a")):
        make.pupil(school, name=name, group=group)
    plan = ClassPlan.objects.create(school=school, group="5b", room="Hall")

    rename_class(school=school, was="5B", name="6a", together=True, by=teacher, at=make.NOW)
    plan.refresh_from_db()
    assert plan.group == "5b"

    rename_class(school=school, was="5b", name="5B", together=False, by=teacher, at=make.NOW)
    plan.refresh_from_db()
    assert plan.group == "5B"


def test_a_class_that_is_gone_or_called_so_already_is_not_renamed(as_, school, teacher):
    make.pupil(school, name="Ada", group="5a")
    client = as_(teacher)

    assert client.get(page(school, "9z")).url == reverse("people:classes", args=[school.slug])
    assert "It is called so already." in folded(client.post(page(school, "5a"), {"name": "5a"}))
    with pytest.raises(Refused, match="No class is called 9z any more"):
        rename_class(school=school, was="9z", name="5b", together=False, by=teacher, at=make.NOW)


@pytest.mark.parametrize("many", [25, 26])
def test_twenty_five_classes_stand_on_a_page_and_the_rest_on_the_next(as_, school, teacher, many):
    Pupil.objects.bulk_create(Pupil(school=school, name=f"P {n}", group=f"C{n:02}") for n in range(many))
    client = as_(teacher)

    first, second = (client.get(f"/s/{school.slug}/classes/", {"page": page}).content.decode() for page in (1, 2))

    assert ("C24" in first, "C25" in first, 'rel="next"' in first) == (True, False, many == 26)
    assert ("C25" in second) is (many == 26)


def test_the_rules_of_matching_ask_for_names_of_classes_and_not_how_many_are_in_each(as_, school, teacher):
    for name in ("5a", "5a", "5b"):
        make.pupil(school, group=name)

    with CaptureQueriesContext(connection) as asked:
        shown = as_(teacher).get(reverse("loans:matching-rules", args=[school.slug])).context["page"]

    assert shown.rows == ["5a", "5b"]
    assert not [one["sql"] for one in asked if "COUNT(" in one["sql"] and "group" in one["sql"]]
