"""What pages play: the note asked for, what a novice may hit, at the pitch the school tunes to."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.urls import reverse

from fleet.ground.access import Role
from identify.core.reasoning.verdict import assess
from identify.playing import SHOWN, reckoned, to_expect
from identify.walk import read_walk
from tests import make
from tests.identify.tones import horn_tone, wav

pytestmark = pytest.mark.either_engine


def expected(asked, key, **more):
    return to_expect(assess(read_walk(QueryDict(asked)).observations), key, **more)


def hertz(note):
    return [one["hz"] for one in json.loads(note.tones)]


def test_the_likeliest_tube_comes_first_with_the_note_and_what_may_be_hit():
    first, *_ = expected("valves=3&slide_sets=1&test_note=1", "test_note").tubes

    assert "12-foot F tube" in first.how
    assert first.right.words == "B♭3 (written F4)"
    assert [(words, [one.words for one in notes]) for words, notes in first.missed] == [
        ("Missed, the note is", ["G3 (written D4)", "C♯4 (written G♯4)"]),
        ("With no valve, the note is", ["A3 (written E4)", "C4 (written G4)"]),
    ]
    # The sixth partial of a tube a tone longer than 12 feet, two cents above the tempered note.
    assert hertz(first.right) == [pytest.approx(233.34, abs=0.02)]


def test_before_anything_is_known_three_tubes_are_played():
    tubes = expected("", "test_note").tubes

    assert len(tubes) == SHOWN
    assert len({one.how for one in tubes}) == SHOWN


def test_with_the_thumb_down_the_tube_behind_the_lever_is_played_and_nothing_without_a_lever():
    (only,) = expected("valves=4&slide_sets=2&test_note=1&thumb=raises&second_set=longer", "test_note_thumb").tubes[:1]

    assert "Open, the 9-foot B♭ tube" in only.how
    assert expected("valves=3&slide_sets=1", "test_note_thumb") is None


def test_the_step_down_is_played_as_each_of_its_answers():
    steps = expected("valves=4&slide_sets=2", "step_down").steps

    assert [one.words for one in steps] == ["down a minor third", "down a fourth", "down a fifth", "down an octave"]
    assert [round(high / low, 3) for high, low in map(hertz, steps)] == [1.2, 1.333, 1.5, 2]


@pytest.mark.parametrize("key", ["valves", "wrap", "thumb"])
def test_nothing_is_played_where_nothing_is_sounded(key):
    assert expected("valves=4", key) is None


@pytest.mark.parametrize(("a4", "said"), [(440, "A = 440 Hz and 20 °C"), (442, "A = 442 Hz and 20 °C")])
def test_the_pitch_and_the_temperature_are_named(a4, said):
    assert said in reckoned(a4)
    assert "about 3 cents a degree" in reckoned(a4)


def played(page):
    """Hertz of every first note on a page."""
    tones = [json.loads(unescape(found)) for found in re.findall(r'data-tones="([^"]*)"', page)]
    return [notes[0]["hz"] for notes in tones]


@pytest.fixture
def school(db):
    return make.school(slug="hill", tuned_to=442)


def test_the_walk_plays_at_the_pitch_of_the_school_and_reads_as_words_without_a_script(as_, school):
    client = as_(make.staff(Role.TEACHER, school))

    page = client.get("/s/hill/identify/?valves=3&slide_sets=1&test_note=1&step=test_note").content.decode()

    assert played(page)[0] == pytest.approx(233.34 * 442 / 440, abs=0.02)
    assert "A = 442 Hz" in page
    assert re.search(r'<span class="hear" data-tones="[^"]*">A3 \(written E4\)</span>', page)
    assert re.search(r'<script src="/static/identify/hear[^"/]*\.js" defer', page)
    assert "identify/hear" not in client.get("/s/hill/identify/?step=valves").content.decode()


@pytest.mark.parametrize(("tuned_to", "said"), [(440, "cents high"), (442, "in tune")])
def test_a_recording_is_measured_against_the_pitch_of_the_school(as_, db, tuned_to, said):
    client = as_(make.staff(Role.TEACHER, make.school(slug="mine", tuned_to=tuned_to)))
    recording = SimpleUploadedFile("note.wav", wav(horn_tone(234.6)), "audio/wav")

    told = client.post("/s/mine/identify/listen/?step=test_note", {"recording": recording}).context["listening"].told

    assert said in told.picture.words


def test_the_field_guide_plays_at_the_pitch_of_the_reader_s_school(as_, school):
    page = as_(make.staff(Role.TEACHER, school)).get(reverse("desk:guide-build", args=["hill", "single-bb"]))

    assert played(page.content.decode())[0] == 234.14
    assert "Hear it" in page.content.decode()


@pytest.mark.parametrize(("tuned_to", "status"), [("442", 302), ("441", 422)])
def test_a_head_says_what_the_school_tunes_to(as_, db, tuned_to, status):
    school = make.school(slug="hill")
    client = as_(make.staff(Role.HEAD, school))
    filled = client.get("/s/hill/settings/school/").context["form"].initial

    said = {name: value for name, value in filled.items() if value is not None} | {"tuned_to": tuned_to}
    answer = client.post("/s/hill/settings/school/", said)
    school.refresh_from_db()

    assert answer.status_code == status
    assert school.tuned_to == (442 if status == 302 else 440)
