"""A place that was written down twice: both become one."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.counting.actions.counts import begin
from fleet.counting.actions.sightings import see
from fleet.counting.models import Sighting
from fleet.ground.refusal import Refused
from fleet.matching.models import ClassPlan
from fleet.record.models import Act, Deed
from fleet.register.actions.horns import amend_horn, register_horn
from fleet.register.actions.places import PUT_TOGETHER, keep_place, merge_places
from fleet.register.models import Horn, Place
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def test_horns_and_counts_go_to_the_place_that_stays(as_, school, teacher):
    stays, twice = make.place(school, room="Music room"), make.place(school, room="Musik room")
    horn = make.horn(school, place=twice)
    both = begin(school=school, places=[stays, twice], by=teacher, at=make.NOW)
    see(count=both, horn=horn, place=twice, key="a-tap-of-theirs", by=teacher, at=make.NOW)
    page = reverse("register:place-twice", args=[school.slug, twice.pk])
    client = as_(teacher)
    shown = folded(client.get(page))
    assert "<li> 1 horn </li>" in shown
    assert "<li> 2 lines of counts </li>" in shown
    assert page in folded(client.get(reverse("register:place-edit", args=[school.slug, twice.pk])))

    answer = client.post(page, {"into": stays.pk}, follow=True)

    assert "Musik room and Music room are now one place: Music room." in folded(answer)
    assert list(Place.objects.filter(school=school)) == [stays]
    horn.refresh_from_db()
    assert horn.place == stays
    assert "music" in Horn.objects.get(pk=horn.pk).search
    assert "musik" not in Horn.objects.get(pk=horn.pk).search
    assert list(both.places.all()) == [stays]
    seen = Sighting.objects.get()
    assert (seen.place, seen.place_words) == (stays, "Musik room")
    act = Act.objects.get(deed=Deed.PLACES_MERGED)
    assert act.lines == [["place", "Musik room", "Music room"], ["horns kept there", "1"]]


def test_a_class_plays_in_the_room_that_its_room_became(school, teacher):
    stays = make.place(school, room="Music room")
    oben, unten = (make.place(school, room="Musik room", shelf=shelf) for shelf in ("oben", "unten"))
    plan = ClassPlan.objects.create(school=school, group="5b", room="Musik room")

    merge_places(twice=oben, into=stays, by=teacher, at=make.NOW)
    plan.refresh_from_db()
    assert plan.room == "Musik room"

    keep_place(place=unten, room="Attic", shelf="", by=teacher, at=make.NOW)
    plan.refresh_from_db()
    assert plan.room == "Attic"

    merge_places(twice=unten, into=stays, by=teacher, at=make.NOW)
    plan.refresh_from_db()
    assert plan.room == "Music room"


def test_only_another_place_of_this_school_can_stay(as_, school, teacher):
    place, elsewhere = make.place(school), make.place(make.school())
    page = reverse("register:place-twice", args=[school.slug, place.pk])

    assert "nothing: nobody has kept or seen a horn here" in folded(as_(teacher).get(page))
    for other in (place, elsewhere):
        assert as_(teacher).post(page, {"into": other.pk}).status_code == 422
        with pytest.raises(Refused, match="another place of this school"):
            merge_places(twice=place, into=other, by=teacher, at=make.NOW)


def test_nothing_goes_into_a_place_that_was_put_together_with_another(school, teacher):
    stays, twice = make.place(school, room="A"), make.place(school, room="B")
    horn, gone = make.horn(school), Place.objects.get(pk=twice.pk)
    merge_places(twice=twice, into=stays, by=teacher, at=make.NOW)

    for act in (
        lambda: merge_places(twice=gone, into=stays, by=teacher, at=make.NOW),
        lambda: keep_place(place=gone, room="C", shelf="", by=teacher, at=make.NOW),
        lambda: amend_horn(horn=horn, changes={"place": gone}, by=teacher, at=make.NOW),
        lambda: register_horn(school=school, particulars={"place": gone}, by=teacher, at=make.NOW),
    ):
        with pytest.raises(Refused, match=str(PUT_TOGETHER)):
            act()
    assert list(Place.objects.filter(school=school)) == [stays]
