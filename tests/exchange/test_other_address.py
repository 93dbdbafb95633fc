"""A school comes in under another address, and a second one of the same name is asked about."""

from __future__ import annotations

import shutil

import pytest
from django.core.management import CommandError, call_command

from fleet.exchange.actions.school_in import import_school
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.people.models import School
from tests import make
from tests.exchange.whole import emptied, furnish, out, rows_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def file(tmp_path):
    """Of a school called Hill Road that stood at hill-road; the site is empty now."""
    file = out(furnish(), tmp_path)
    emptied()
    return file


def test_a_school_comes_in_under_another_address_with_all_it_had(file, settings):
    shutil.rmtree(settings.MEDIA_ROOT)
    call_command("import_school", str(file), at="vale-road", verbosity=0)
    moved = rows_of(School.objects.get(slug="vale-road"))
    emptied()
    shutil.rmtree(settings.MEDIA_ROOT)

    as_it_was = rows_of(import_school(file=file, at=make.NOW))

    assert moved["people-school"][0].pop("slug") == "vale-road"
    assert as_it_was["people-school"][0].pop("slug") == "hill-road"
    assert moved == as_it_was


def test_where_its_address_is_taken_another_is_asked_for(file):
    make.school(slug="hill-road", name="Another on a hill")

    with pytest.raises(CommandError, match="under another address with --at"):
        call_command("import_school", str(file))
    call_command("import_school", str(file), at="hill-road-2", verbosity=0)

    assert set(School.objects.values_list("slug", flat=True)) == {"hill-road", "hill-road-2"}


@pytest.mark.parametrize("at", ["Hill Road", "../x", "x" * 41])
def test_an_address_that_is_none_is_refused(file, at):
    with pytest.raises(CommandError, match="takes a part of an address"):
        call_command("import_school", str(file), at=at)
    assert not School.objects.exists()


def test_a_second_school_of_the_same_name_is_asked_about(file):
    make.school(slug="vale", name="HILL ROAD")

    with pytest.raises(CommandError, match=r"There is a school called HILL ROAD at /s/vale/ already.* --another"):
        call_command("import_school", str(file))
    assert School.objects.count() == 1

    call_command("import_school", str(file), another=True, verbosity=0)
    assert School.objects.count() == 2


def test_the_same_school_twice_is_not_possible_since_its_labels_are_on_its_horns(file):
    import_school(file=file, at=make.NOW)

    with pytest.raises(Refused, match="labels of its horns are in use"):
        import_school(file=file, slug="again", another=True, at=make.NOW)
    assert School.objects.count() == 1


def test_opening_a_second_school_of_the_same_name_is_asked_about():
    make.school(slug="vale", name="Vale School")
    words = {"school": "Vale school", "slug": "vale-2", "head": "Ines", "email": "ines@example.org", "verbosity": 0}

    with pytest.raises(CommandError, match=r"at /s/vale/ already.* --another"):
        call_command("begin", **words)
    assert School.objects.count() == 1

    call_command("begin", **words, another=True)
    assert School.objects.count() == 2


def test_who_has_posts_at_two_schools_of_one_name_is_told_them_apart_by_their_addresses(as_):
    first, second = (make.school(slug=slug, name="Vale School") for slug in ("vale", "vale-2"))
    person = make.staff(Role.SERVICE, first)
    second.posts.create(user=person, role="service")

    page = as_(person).get("/").content.decode()

    assert "· /s/vale/<" in page
    assert "· /s/vale-2/<" in page
