"""The record on its page: the newest first, narrowed by words, kind and person, of one's own school only."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.record.actions.recording import record
from fleet.record.models import Act, Deed
from tests import make
from tests.pages import folded


@pytest.fixture
def world(db):
    class World:
        school, other = make.school(), make.school()
        head = make.staff(Role.HEAD, school, name="Ines Head")
        teacher = make.staff(Role.TEACHER, school, name="Tom Teacher")
        pupil = make.pupil(school, name="Ada Quill")
        horn = make.horn(school, number="HN-7")
        page = reverse("desk:record", args=(school.slug,))

    mine = {"school": World.school, "at": make.NOW}
    record(deed=Deed.PUPIL_CHANGED, by=World.head, pupil=World.pupil, told=[["class", "7A", "7B"]], **mine)
    record(deed=Deed.HORN_CHANGED, by=World.teacher, horn=World.horn, told=[["maker", "", "Müller"]], **mine)
    record(deed=Deed.POST_GIVEN, by=World.head, account=World.teacher, told=[["say", 'a "b"']], **mine)
    theirs = {**mine, "school": World.other}
    record(deed=Deed.HORN_CHANGED, by=World.head, told=[["maker", "", "Elsewhere"]], **theirs)
    return World


@pytest.fixture
def asked(world, as_):
    client = as_(world.head)

    def ask(**query):
        return client.get(world.page, query)

    return ask


def deeds(answer):
    found = [act.deed for act in answer.context["table"].data]
    return [deed for deed in found if not deed.startswith("entry.")]


def test_the_newest_act_stands_first_with_who_what_and_about_whom_and_is_sealed_by_being_read(world, asked):
    answer = asked()

    assert deeds(answer) == [Deed.POST_GIVEN, Deed.HORN_CHANGED, Deed.PUPIL_CHANGED]
    page = answer.content.decode()
    assert reverse("desk:horn", args=(world.school.slug, world.horn.pk)) in page
    assert reverse("people:pupil", args=(world.school.slug, world.pupil.pk)) in page
    assert "class: <bdi>7A</bdi> → <bdi>7B</bdi>" in page
    assert "Elsewhere" not in page
    assert not Act.objects.filter(school=world.school, number=None).exists()
    last = Act.objects.filter(school=world.school).latest("number")
    assert f"{last.number}:{last.seal[:16]}" in page


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ({"q": "HN-7"}, [Deed.HORN_CHANGED]),
        ({"q": "ada quill"}, [Deed.PUPIL_CHANGED]),
        ({"q": "quill tom"}, []),
        ({"q": "tom"}, [Deed.POST_GIVEN, Deed.HORN_CHANGED]),
        ({"q": "Gave a post"}, [Deed.POST_GIVEN]),
        ({"q": "Müller"}, [Deed.HORN_CHANGED]),
        ({"q": '"b"'}, [Deed.POST_GIVEN]),
        ({"q": "Elsewhere"}, []),
        ({"kind": "horns"}, [Deed.HORN_CHANGED]),
        ({"kind": "nonsense"}, [Deed.POST_GIVEN, Deed.HORN_CHANGED, Deed.PUPIL_CHANGED]),
    ],
)
def test_words_and_kind_narrow_it(asked, query, found):
    assert deeds(asked(**query)) == found


def test_a_person_a_horn_and_a_pupil_narrow_it(world, asked):
    assert deeds(asked(by=world.teacher.pk)) == [Deed.HORN_CHANGED]
    assert deeds(asked(horn=world.horn.pk)) == [Deed.HORN_CHANGED]
    assert deeds(asked(pupil=world.pupil.pk)) == [Deed.PUPIL_CHANGED]
    assert f'name="horn" value="{world.horn.pk}"' in asked(horn=world.horn.pk).content.decode()
    assert len(deeds(asked(by="x", horn="-1", page="0"))) == 3


def test_an_act_about_a_row_that_is_gone_still_names_it(world, asked):
    world.pupil.delete()

    page = asked(kind="people")

    assert "Ada Quill" in folded(page)
    assert "/pupils/" not in page.content.decode().split("<table")[1]


def test_a_horns_page_and_a_pupils_lead_heads_to_what_was_changed_and_nobody_else(world, as_):
    for name, row in (("desk:horn", world.horn), ("people:pupil", world.pupil)):
        address = reverse(name, args=(world.school.slug, row.pk))
        way = f"{world.page}?{'horn' if row == world.horn else 'pupil'}={row.pk}"
        assert way in as_(world.head).get(address).content.decode()
        assert way not in as_(world.teacher).get(address).content.decode()
