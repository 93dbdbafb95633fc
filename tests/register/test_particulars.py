"""A horn's particulars, new and changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions import horns
from fleet.register.models import Horn
from tests import make

pytestmark = pytest.mark.django_db

NEW = {
    "number": "HN-0007",
    "suggested": "",
    "build": "double-full",
    "stands_in": "Bb",
    "wrap": "standard",
    "fourth_valve": "change",
    "fifth_valve": "",
    "maker": "Üblein 🎺",
    "model": "محمد",
    "serial_number": "12-345",
    "finish": "lacquered",
    "bell": "screw",
    "place": "",
    "acquired_on": "2019-05-01",
    "notes": "Leadpipe replaced.",
}


def new_page(school):
    return f"/s/{school.slug}/horns/new/"


def edit_page(school, horn):
    return f"/s/{school.slug}/horns/{horn.pk}/edit/"


def as_shown(client, address):
    """What a browser would send back from a form nobody touched."""
    form = client.get(address).context["form"]
    sent = {}
    for name in form.fields:
        bound = form[name]
        value = bound.field.widget.format_value(bound.value())
        value = "".join(value) if isinstance(value, list) else value
        sent[bound.html_name] = value or ""
        sent[bound.html_initial_name] = value or ""
    return sent


def errors(answer):
    return {name: list(sentences) for name, sentences in answer.context["form"].errors.items()}


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_a_horn_is_registered_with_everything_that_was_typed(as_, role):
    school = make.school()
    person = make.staff(role, school)
    shelf = make.place(school)

    answer = as_(person).post(new_page(school), NEW | {"place": shelf.pk})

    horn = Horn.objects.get(school=school)
    assert (answer.status_code, answer.url) == (302, f"/s/{school.slug}/horns/{horn.pk}/")
    expected = {**NEW, "place": shelf, "acquired_on": date(2019, 5, 1)}
    del expected["suggested"]
    assert {name: getattr(horn, name) for name in expected} == expected
    assert horn.created_by == person


def test_the_form_suggests_the_next_free_number(as_):
    school = make.school()
    make.horn(school, number="HN-0011")

    form = as_(make.staff(Role.TEACHER, school)).get(new_page(school)).context["form"]

    assert form["number"].value() == form["suggested"].value() == "HN-0012"


def test_a_suggestion_somebody_else_took_becomes_the_next_one_and_the_page_says_so(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school))
    make.horn(school, number="HN-0001")

    answer = client.post(new_page(school), NEW | {"number": "HN-0001", "suggested": "HN-0001"})

    assert answer.status_code == 302
    assert sorted(Horn.objects.values_list("number", flat=True)) == ["HN-0001", "HN-0002"]
    [message] = client.get(f"/s/{school.slug}/horns/").context["messages"]
    assert str(message) == "Registered as HN-0002. Somebody took HN-0001 a moment ago."


def test_a_number_that_is_taken_is_said_beside_the_field_and_nothing_typed_is_lost(as_):
    school = make.school()
    make.horn(school, number="HN-0007")

    answer = as_(make.staff(Role.TEACHER, school)).post(new_page(school), NEW | {"number": "hn-0007"})

    assert errors(answer) == {"number": ["This register number is taken. A number stays with its horn for ever."]}
    form = answer.context["form"]
    assert {name: form[name].value() for name in NEW} == NEW | {"number": "hn-0007"}
    assert "Üblein 🎺" in answer.content.decode()


@pytest.mark.parametrize(
    ("sent", "wrong"),
    [
        ({"number": ""}, "number"),
        ({"number": "HN 🎺"}, "number"),
        ({"number": "x" * 25}, "number"),
        ({"build": "no-such-build"}, "build"),
        ({"build": "", "stands_in": "F"}, "stands_in"),
        ({"build": "single-f", "stands_in": "Bb"}, "stands_in"),
        ({"stands_in": "H"}, "stands_in"),
        ({"wrap": "knotted"}, "wrap"),
        ({"fourth_valve": "5"}, "fourth_valve"),
        ({"acquired_on": "3026-01-01"}, "acquired_on"),
        ({"acquired_on": "yesterday"}, "acquired_on"),
        ({"price": "-1"}, "price"),
        ({"value": "NaN"}, "value"),
        ({"value": "1e400"}, "value"),
        ({"value": "123456789012.00"}, "value"),
        ({"place": "999999"}, "place"),
        ({"place": "abc"}, "place"),
        ({"maker": "x" * 81}, "maker"),
        ({"notes": "x" * 4001}, "notes"),
        ({"maker": "a\x00b"}, "maker"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(as_, sent, wrong):
    school = make.school()

    answer = as_(make.staff(Role.HEAD, school)).post(new_page(school), NEW | sent)

    assert answer.status_code == 422
    assert list(errors(answer)) == [wrong]
    assert not Horn.objects.exists()


def test_a_build_that_cannot_stand_so_says_how_it_stands(as_):
    school = make.school()

    answer = as_(make.staff(Role.HEAD, school)).post(new_page(school), NEW | {"build": "single-f", "stands_in": "Bb"})

    assert errors(answer)["stands_in"] == ["A single horn in F does not stand in B♭; it stands in F."]


def test_another_schools_place_cannot_be_chosen(as_):
    school = make.school()
    theirs = make.place(make.school())

    answer = as_(make.staff(Role.HEAD, school)).post(new_page(school), NEW | {"place": theirs.pk})

    assert list(errors(answer)) == ["place"]


@pytest.mark.parametrize("role", [Role.TEACHER, Role.TECHNICIAN])
def test_price_and_value_are_neither_shown_to_nor_taken_from_others_than_heads(as_, role):
    school = make.school()
    horn = make.horn(school, price=Decimal("4321.00"), value=Decimal("1234.00"))
    client = as_(make.staff(role, school))

    text = client.get(edit_page(school, horn)).content.decode()
    sent = as_shown(client, edit_page(school, horn)) | {"maker": "Known", "price": "1", "value": "1"}
    client.post(edit_page(school, horn), sent)

    assert "4321.00" not in text
    assert "1234.00" not in text
    horn.refresh_from_db()
    assert (horn.maker, horn.price, horn.value) == ("Known", Decimal("4321.00"), Decimal("1234.00"))


def test_a_head_sees_and_changes_price_and_value(as_):
    school = make.school()
    horn = make.horn(school, price=Decimal("4321.00"), value=Decimal("1234.00"))
    client = as_(make.staff(Role.HEAD, school))

    sent = as_shown(client, edit_page(school, horn)) | {"value": "1100.50"}
    answer = client.post(edit_page(school, horn), sent)

    assert answer.status_code == 302
    horn.refresh_from_db()
    assert (horn.price, horn.value) == (Decimal("4321.00"), Decimal("1100.50"))


def test_two_people_changing_different_things_keep_each_others_changes(as_):
    school = make.school()
    horn = make.horn(school, maker="", notes="")
    one, two = as_(make.staff(Role.TEACHER, school)), as_(make.staff(Role.HEAD, school))
    first, second = as_shown(one, edit_page(school, horn)), as_shown(two, edit_page(school, horn))

    one.post(edit_page(school, horn), first | {"maker": "Seen by one"})
    two.post(edit_page(school, horn), second | {"notes": "Seen by two"})

    horn.refresh_from_db()
    assert (horn.maker, horn.notes) == ("Seen by one", "Seen by two")


def test_only_what_changed_is_written(now):
    horn = make.horn(make.school(), maker="A", holder_name="")
    stale = Horn.objects.get(pk=horn.pk)
    Horn.objects.filter(pk=horn.pk).update(holder_name="Bo")

    changed = horns.amend_horn(horn=stale, changes={"maker": "B", "model": ""}, by=make.user(), at=now)

    horn.refresh_from_db()
    assert (changed, horn.maker, horn.holder_name) == (["maker"], "B", "Bo")


def test_restringing_is_not_done_on_the_particulars(as_, now):
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    client = as_(make.staff(Role.HEAD, school))

    sent = as_shown(client, edit_page(school, horn)) | {"stands_in": "Bb"}
    answer = client.post(edit_page(school, horn), sent)

    assert errors(answer) == {"stands_in": ["Restringing is an act of its own: use “Change the stand” below."]}
    assert f"/s/{school.slug}/horns/{horn.pk}/stand/" in answer.content.decode()
    with pytest.raises(Refused, match="an act of its own"):
        horns.amend_horn(horn=horn, changes={"stands_in": "Bb"}, by=make.user(), at=now)


def test_a_wrong_kind_can_be_put_right_with_its_stand(as_):
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    client = as_(make.staff(Role.TEACHER, school))

    sent = as_shown(client, edit_page(school, horn)) | {"build": "mellophone-f"}
    client.post(edit_page(school, horn), sent)

    horn.refresh_from_db()
    assert (horn.build, horn.stands_in) == ("mellophone-f", "F")


def test_a_kind_the_catalogue_has_dropped_stays_on_its_horn(as_):
    school = make.school()
    horn = make.horn(school, build="double-of-old", stands_in="X")
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(edit_page(school, horn), as_shown(client, edit_page(school, horn)) | {"maker": "Known"})

    assert answer.status_code == 302
    horn.refresh_from_db()
    assert (horn.maker, horn.build, horn.stands_in) == ("Known", "double-of-old", "X")


def test_a_stand_without_a_kind_does_not_get_into_the_database():
    with pytest.raises(IntegrityError, match="stands_in_needs_build"), transaction.atomic():
        Horn.objects.create(school=make.school(), number="HN-1", stands_in="F")


def test_another_schools_horn_is_404(as_):
    school, other = make.school(), make.school()
    theirs = make.horn(other)
    client = as_(make.staff(Role.HEAD, school))

    for page in ("edit", "stand", "standing", "photographs/new"):
        assert client.get(f"/s/{school.slug}/horns/{theirs.pk}/{page}/").status_code == 404
        assert client.post(f"/s/{school.slug}/horns/{theirs.pk}/{page}/", NEW).status_code == 404
        assert client.get(f"/s/{other.slug}/horns/{theirs.pk}/{page}/").status_code == 404
    assert client.get(f"/s/{school.slug}/horns/{10**30}/edit/").status_code == 404


def test_without_the_forms_token_nothing_is_written():
    school = make.school()
    client = Client(enforce_csrf_checks=True)
    client.force_login(make.staff(Role.HEAD, school))

    assert client.post(new_page(school), NEW).status_code == 403
    assert not Horn.objects.exists()


def test_a_form_of_ten_megabytes_is_refused_without_being_kept(as_):
    school = make.school()

    answer = as_(make.staff(Role.HEAD, school)).post(new_page(school), NEW | {"notes": "x" * (10 * 1024 * 1024)})

    assert answer.status_code in {400, 413}
    assert not Horn.objects.exists()


@pytest.mark.parametrize("rows", [1, 3])
def test_the_form_takes_as_many_queries_for_three_horns_as_for_one(as_, rows):
    school = make.school()
    for _ in range(rows):
        horn = make.horn(school, place=make.place(school))
    client = as_(make.staff(Role.HEAD, school))
    client.get(f"/s/{school.slug}/horns/")

    with CaptureQueriesContext(connection) as queries:
        client.get(edit_page(school, horn))

    # Session, account, seat, the horn, the places to choose from.
    assert len(queries) == 5
