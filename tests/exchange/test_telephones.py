"""Telephone numbers beside e-mail addresses, as lists bring them in and take them out."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.pages.preview import in_words
from fleet.ground.access import Role
from fleet.people.models import Guardian
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts
from tests.exchange.test_pages import rows_out

HEAD = ["Name", "Guardian", "Guardian’s e-mail", "Guardian’s telephone"]


def list_of(telephone: str) -> bytes:
    return as_csv([HEAD, ["Ada", "Ann", "zoe@example.org", telephone]])


def test_a_number_of_a_list_goes_to_a_guardian_who_has_none_and_is_taken_back(desk: Desk):
    ann = make.guardian(desk.school, name="Ann", email="zoe@example.org")
    make.pupil(desk.school, ann, name="Ada")

    imported = desk.bring_in(list_of("0123"), kind="pupils")

    ann.refresh_from_db()
    assert ann.telephone == "0123"
    assert verdicts(desk.looked_over(list_of(""), kind="pupils")) == ["same"]
    # Another number is somebody's own to change.
    assert verdicts(desk.looked_over(list_of("0999"), kind="pupils")) == ["same"]
    imports.undo(imported=imported, by=desk.head, at=make.NOW)
    ann.refresh_from_db()
    assert (ann.email, ann.telephone) == ("zoe@example.org", "")


def test_a_number_changed_since_is_not_taken_back(desk: Desk):
    ann = make.guardian(desk.school, name="Ann", email="zoe@example.org")
    make.pupil(desk.school, ann, name="Ada")
    imported = desk.bring_in(list_of("0123"), kind="pupils")
    Guardian.objects.filter(pk=ann.pk).update(telephone="0777")

    imports.undo(imported=imported, by=desk.head, at=make.NOW)

    ann.refresh_from_db()
    assert ann.telephone == "0777"


@pytest.mark.parametrize(
    ("mail", "number", "words"),
    [("a@b.example", "", "Ann (a@b.example)"), ("", "01", "Ann (01)"), ("a@b.example", "01", "Ann (a@b.example, 01)")],
)
def test_the_look_before_names_both(mail: str, number: str, words: str):
    assert in_words("adults", [["Ann", mail, number]]) == words


@pytest.mark.parametrize(("role", "told"), [(Role.HEAD, True), (Role.TEACHER, True), (Role.TECHNICIAN, False)])
def test_how_to_reach_a_family_goes_out_with_loans_to_those_who_see_the_pupils(desk: Desk, as_, role: Role, told: bool):
    ann = make.guardian(desk.school, name="Ann", email="zoe@example.org", telephone="0123")
    make.loan(make.horn(desk.school), make.pupil(desk.school, ann), desk.head)

    answer = as_(make.staff(role, desk.school)).get(
        reverse("exchange:loans-out", args=[desk.school.slug]), {"as": "csv"}
    )

    head, row = rows_out(answer)
    assert ("Guardian’s telephone" in head, row[-2:] == ["zoe@example.org", "0123"]) == (told, told)
