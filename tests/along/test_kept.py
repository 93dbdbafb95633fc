"""What a phone is given to keep: what is needed in the cupboard, and nothing about a person."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles.finders import find

from fleet.counting.actions.counts import begin
from fleet.ground.access import Role
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher(school):
    return make.staff(Role.TEACHER, school, name="Tilda Staff")


@pytest.fixture
def kept(as_, school, teacher):
    client = as_(teacher)
    return lambda: client.get(f"/s/{school.slug}/along/kept.json").json()


def test_of_each_horn_is_kept_what_finds_it_and_what_it_is(kept, school, teacher):
    place = make.place(school, room="Cellar", shelf="left")
    horn = make.horn(school, number="HN-0007", build="double-full", stands_in="Bb", place=place)
    check = make.check(horn, teacher, grade=2)
    make.horn(school, number="HN-0002", build="")
    make.horn(school, number="HN-0005", withdrawn_on=make.TODAY)
    make.horn(make.school(), number="HN-0900")

    told = kept()

    assert [one["number"] for one in told["horns"]] == ["HN-0002", "HN-0007"]
    asks = told["asks"][told["horns"][1].pop("asks")]
    assert {"rotor-leaking", "thumb-string-slipped"} <= {*asks["faults"]}
    assert asks["valves"] == ["1", "2", "3", "change"]
    assert told["horns"][1] == {
        "id": horn.pk,
        "number": "HN-0007",
        "label": horn.label_code,
        "build": "double-full",
        "kind": "full double horn in F and B♭, stands in B♭",
        "place": "Cellar, left",
        "place_id": place.pk,
        "out": False,
        "where": "in its place",
        "in_place": True,
        "condition": "plays, small fault",
        "grade": 2,
        "seen": check.pk,
        "finish": check.finish_grade,
        "occasion": "before-loan",
        "found": [],
    }
    assert (told["horns"][0]["kind"], told["horns"][0]["condition"]) == ("not identified", "never looked over")
    assert told["places"] == [{"id": place.pk, "name": "Cellar, left"}]
    assert (told["by"], told["days"], told["next_number"]) == (teacher.pk, 14, "HN-0008")
    assert sum(told["shares"].values()) == pytest.approx(1)


def test_nothing_is_kept_of_a_person_a_value_or_a_note(as_, kept, school, teacher):
    guardian = make.guardian(school, name="Greta Secret")
    pupil = make.pupil(school, guardian, name="Paula Secret", group="Class Secret")
    place = make.place(school)
    horn = make.horn(school, place=place, value=4711, maker="Maker Secret", notes="note Secret")
    make.loan(horn, pupil, teacher)
    begin(school=school, places=[place], by=teacher, at=make.NOW)

    written = json.dumps(kept(), ensure_ascii=False)
    page = as_(teacher).get(f"/s/{school.slug}/along/cupboard/").content.decode()

    assert Horn.objects.get(pk=horn.pk).holder_name == "Paula Secret"
    assert kept()["horns"][0]["where"] == "out on loan"
    [count] = kept()["counts"]
    assert count["lines"] == [
        {"horn": horn.pk, "number": horn.number, "place": place.pk, "place_words": str(place), "seen": False}
    ]
    for word in ("Secret", "4711", "Tilda", teacher.email):
        assert word not in written
        assert word not in page


def test_a_horn_here_for_repair_is_not_told_as_out_nor_waited_for(kept, school, teacher):
    horn = make.horn(school)
    make.loan(horn, make.pupil(school, make.guardian(school)), teacher)
    make.job(horn, teacher, state="bench", brought_at=make.NOW)
    keep([horn])

    assert [(one["where"], one["out"]) for one in kept()["horns"]] == [("here for repair", False)]


def test_places_and_shelves_of_a_count_stand_in_the_order_in_which_they_are_read(kept, school, teacher):
    places = [make.place(school, room=room, shelf="") for room in ("Room 10", "Room 2")]
    for place in places:
        make.horn(school, place=place)
    begin(school=school, places=places, by=teacher, at=make.NOW)

    assert [one["name"] for one in kept()["places"]] == ["Room 2", "Room 10"]
    assert [one["place_words"] for one in kept()["counts"][0]["lines"]] == ["Room 2", "Room 10"]


def test_it_takes_as_many_queries_for_many_horns_as_for_one(as_, school, teacher, django_assert_num_queries):
    client = as_(teacher)
    for many in (1, 5):
        for _ in range(many):
            make.horn(school, place=make.place(school))
        with django_assert_num_queries(11):
            client.get(f"/s/{school.slug}/along/kept.json")


def test_a_browser_lets_the_worker_act_for_the_pages_of_this_school_and_for_labels(as_, school, teacher):
    page = as_(teacher).get(f"/s/{school.slug}/along/").content.decode()
    answer = as_(teacher).get(f"/s/{school.slug}/along-worker.js")

    # A worker acts for what lies below its own folder, unless a header says otherwise (W3C, Service Workers).
    assert f'data-worker="/s/{school.slug}/along-worker.js"' in page
    assert f'data-along="/s/{school.slug}/"' in page
    assert answer.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert "Service-Worker-Allowed" not in answer.headers
    for_labels = as_(teacher).get(f"/s/{school.slug}/along-worker.js?labels")
    assert for_labels.headers["Service-Worker-Allowed"] == "/h/"
    assert 'data-labels="/h/"' in page
    # It sends what waits by the same outbox as the pages.
    assert answer.content.decode().startswith('const LABELS = "/h/";\nimportScripts("/static/fleet/outbox')


def test_a_worker_that_is_still_the_same_is_not_sent_again(as_, school, teacher):
    client, address = as_(teacher), f"/s/{school.slug}/along-worker.js"

    first = client.get(address, headers={"Accept-Encoding": "gzip"})
    again = client.get(address, headers={"Accept-Encoding": "gzip", "If-None-Match": first.headers["ETag"]})

    assert len(first.content) < 2_500
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["Cache-Control"] == "no-cache"


def test_the_site_says_how_it_stands_among_a_phones_programs(as_, school, teacher):
    client = as_(teacher)

    told = client.get(f"/s/{school.slug}/along/app.webmanifest")

    # What a browser needs to offer it (W3C, Web Application Manifest): name, icons, start, display.
    assert told.headers["Content-Type"] == "application/manifest+json"
    assert told.json()["start_url"] == told.json()["scope"] == f"/s/{school.slug}/"
    assert school.name in told.json()["name"]
    # The ground of a page, as the style sheet has it first: for the light.
    sheet = Path(str(find("fleet/cupboard.css"))).read_text(encoding="utf-8")
    assert told.json()["background_color"] == re.search(r"--paper: (#\w+);", sheet)[1]
    assert f'href="/s/{school.slug}/along/app.webmanifest"' in client.get(f"/s/{school.slug}/").content.decode()
