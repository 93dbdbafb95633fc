"""The pages that listen: what they say of a recording, what they keep of it, and what they refuse."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from urllib.parse import parse_qsl, urlencode

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.ground.access import Role
from fleet.register.actions import identifying
from fleet.register.models import Identification
from fleet.register.queries.ways import sound_again
from identify.core.hearing.kept_notes import DOWN, UP
from identify.core.hearing.listening import REASONS
from identify.core.horns.pitch import midi_to_hz
from identify.core.reasoning.evidence import read_observations
from identify.core.reasoning.verdict import assess
from tests import make
from tests.identify.core.hearing.test_kept_notes import BB_UP, F_UP
from tests.identify.tones import horn_tone, wav

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]

TEST_NOTE = midi_to_hz(58)  # B♭3, written F4 for horn in F
F_PEDAL, BB_PEDAL = midi_to_hz(29), midi_to_hz(34)


def tone(hz, **how):
    return wav(horn_tone(hz, **how))


@pytest.fixture
def school():
    return make.school(slug="hill")


@pytest.fixture
def teacher(as_, school):
    return as_(make.staff(Role.TEACHER, school))


@pytest.fixture
def play(teacher):
    """Sends a recording to a step, as the page's form does."""

    def send(recording, step, **query):
        upload = SimpleUploadedFile("note.wav", recording, "audio/wav")
        return teacher.post(f"/s/hill/identify/listen/?{urlencode({**query, 'step': step})}", {"recording": upload})

    return send


def words(answer):
    main = answer.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", main)).split())


def carried(answer):
    """The query in which the page keeps its state."""
    return answer.context["listening"].address


def test_the_test_note_is_named_both_ways_and_the_valves_are_asked_for(play):
    answer = play(tone(TEST_NOTE * 2 ** (12 / 1200)), "test_note", valves="4", slide_sets="2")

    assert answer.status_code == 200
    assert "B♭3 (written F4)" in words(answer)
    assert "12 cents high, 234.7 Hz. As good as certain:" in words(answer)
    assert "This is the test note. Which valves were down?" in words(answer)
    assert "test_note" not in answer.context["walk"].observations.answers
    assert dict(answer.context["carried"])["heard_test"].startswith("234.7~")
    assert 'aria-current="true"' not in answer.content.decode()


def test_the_answer_that_follows_carries_the_note_to_the_result(teacher, play):
    answer = play(tone(TEST_NOTE), "test_note", valves="4", slide_sets="2")
    told = teacher.get("/s/hill/identify/", {**dict(answer.context["carried"]), "test_note": "1", "step": "result"})

    assert "Test note, thumb up 1 (heard B♭3 (written F4))" in words(told)


def test_the_tuning_picture_has_a_text_of_its_own(play):
    page = play(tone(TEST_NOTE * 2 ** (-30 / 1200)), "test_note").content.decode()

    assert re.search(r'role="img">\s*<title>B♭3 \(written F4\), 30 cents low</title>', page)


def test_a_wrong_note_is_named_with_what_to_do_and_is_not_kept(play):
    answer = play(tone(midi_to_hz(53)), "test_note", valves="3")

    assert "This is F3 (written C4), lower. Blow faster and aim higher" in words(answer)
    assert carried(answer) == "?valves=3&step=test_note"


def _two_notes():
    return wav(0.5 * horn_tone(TEST_NOTE) + 0.5 * horn_tone(TEST_NOTE * 2 ** (4 / 12), seed=2))


def _speech():
    """A voice-like glide between pitches, syllable by syllable, with breaks."""
    time = np.arange(3 * 22_050) / 22_050
    pitch = 210 + 70 * np.sin(2 * np.pi * 1.3 * time) + 20 * np.sin(2 * np.pi * 3.9 * time)
    phase = 2 * np.pi * np.cumsum(pitch) / 22_050
    voice = sum(np.sin(k * phase) / k for k in range(1, 12)) * (np.sin(2 * np.pi * 2.5 * time) > -0.3)
    return wav(0.2 * voice / np.abs(voice).max())


# Which reason is given may change when the hearing is fitted anew; that a fitting one is given may not.
NO_NOTE = {
    "short": (tone(TEST_NOTE, seconds=0.1), {"short"}),
    "silent": (wav(np.zeros(22_050)), {"silent"}),
    "clipped": (wav(np.clip(40 * np.random.default_rng(3).standard_normal(33_000), -1, 1)), {"clipped", "noise"}),
    "two notes": (_two_notes(), {"two notes", "unsure"}),
    "speech": (_speech(), {"moving", "unsure", "noise", "two notes", "low"}),
    "noise": (wav(0.1 * np.random.default_rng(4).standard_normal(44_100).clip(-4, 4)), {"noise"}),
}


@pytest.mark.parametrize("kind", NO_NOTE)
@pytest.mark.parametrize("step", ["test_note", "heard_up"])
def test_what_is_no_single_steady_note_is_said_with_what_to_do_and_not_kept(play, kind, step):
    recording, codes = NO_NOTE[kind]
    answer = play(recording, step, valves="3")

    told = answer.context["listening"].told
    assert (told.heard.hz, told.good, answer.status_code) == (None, False, 200)
    assert told.heard.code in codes
    assert REASONS[told.heard.code] in words(answer)
    assert carried(answer) == f"?valves=3&step={step}"


def test_listening_asks_four_queries_five_with_a_horn_and_writes_nothing(
    teacher, play, school, django_assert_num_queries
):
    with django_assert_num_queries(4):  # session, account, seat, what the school has confirmed
        teacher.get("/s/hill/identify/listen/")
    with django_assert_num_queries(4):
        play(tone(TEST_NOTE), "heard_up")
    horn = make.horn(school, build="double-full", stands_in="F")
    with django_assert_num_queries(5):
        play(tone(TEST_NOTE), "heard_up", horn=horn.pk)


def test_the_step_down_is_told_from_two_notes_and_taken_only_when_the_person_says_so(teacher, play):
    first = play(tone(TEST_NOTE), "step_down", valves="3", test_note="1")
    assert "Now keep the same valves and slur down" in words(first)

    # From the 6th partial down to the 5th: a minor third, 6:5.
    second = play(tone(TEST_NOTE * 5 / 6), "step_down", **dict(first.context["carried"]))
    page = second.content.decode()

    assert "Down a minor third." in words(second)
    assert "step_down" not in second.context["walk"].observations.answers
    assert re.search(r'name="step_down" value="3">\s*The same valves were down both times', page)
    assert re.fullmatch(r"233\.1~[01]\.\d\d,194\.2~[01]\.\d\d", dict(second.context["carried"])["heard_step"])


def test_a_step_down_must_begin_with_the_test_note_and_go_down(play):
    assert "lower. Blow faster" in words(play(tone(midi_to_hz(53)), "step_down"))
    up = play(tone(TEST_NOTE * 6 / 5), "step_down", heard_step="233.1~0.99")
    assert "holds a higher note" in words(up)
    assert up.context["listening"].told.good is False
    assert carried(up) == "?heard_step=233.1%7E0.99&step=step_down".replace("%7E", "~")


def test_a_page_of_a_second_look_opened_anew_asks_for_the_note_that_it_will_take_the_next_one_for(teacher, play):
    first = play(tone(TEST_NOTE), "step_down", step_down="5", heard_step="233.1~0.98,174.6~0.98", look="again")

    anew = teacher.get("/s/hill/identify/" + carried(first))
    second = play(tone(TEST_NOTE * 5 / 6), **dict(parse_qsl(carried(anew)[1:])))

    assert "Now keep the same valves and slur down" in anew.context["listening"].prompt
    assert "Down a minor third." in words(second)
    assert second.context["walk"].blind


def test_the_tube_is_never_told_from_one_note_and_told_from_four(play):
    said = []
    query: dict[str, str] = {}
    for partial in (3, 4, 5, 6):
        answer = play(tone(F_PEDAL * partial), UP, **query)
        query = {UP: answer.context["walk"].notes.texts()[UP]}
        said.append((answer.context["settled"], answer.context["found"] is not None))
        lacks = not answer.context["settled"] and partial < 6
        assert answer.context["not_enough"] is lacks, partial

    assert said[0] == (False, False)
    assert said[-1] == (True, True)
    assert "The 12-foot F tube" in words(answer)
    assert "This is the 12-foot F tube: every note belongs to it." in words(answer)
    assert len(answer.context["kept"]) == 4


def test_what_remains_and_the_note_that_would_decide_are_said(teacher):
    # C3, F3, B♭3: the first two are partials 3 and 4 of the 12-foot tube, the last two 3 and 4 of the 9-foot one.
    answer = teacher.get("/s/hill/identify/listen/", {UP: "130.8~0.98,174.6~0.98,233.1~0.98"})

    assert not answer.context["settled"]
    assert "Not settled yet" in words(answer)
    assert "Most likely the 12-foot F tube; 9-foot B♭ remains possible." in words(answer)
    assert "Try A3 (written E4) with no valve pressed: it speaks on the 12-foot F tube" in words(answer)


def test_the_same_note_again_is_not_counted_twice_and_a_note_may_be_taken_out(teacher, play):
    again = play(tone(F_PEDAL * 4), UP, heard_up="174.0~0.98")
    assert "a note you have played already" in words(again)
    assert len(again.context["kept"]) == 1

    without = teacher.get("/s/hill/identify/listen/" + again.context["kept"][0].without)
    assert without.context["kept"] == []


def test_the_record_of_a_registered_horn_is_checked_with_the_thumb_up_and_down(teacher, school):
    horn = make.horn(school, build="double-full", stands_in="F")

    def page(**notes):
        return teacher.get("/s/hill/identify/listen/", {"horn": horn.pk, **notes})

    assert "On record: full double horn in F and B♭, stands in F. Three notes begin to check that." in words(page())
    assert page(heard_up="174.6~1,220~1").context["claim"] is None
    assert page(heard_up=F_UP).context["claim"].verdict == "fits"
    assert "The record holds" in words(page(heard_up=F_UP))
    assert page(heard_down=BB_UP, step=DOWN).context["claim"].verdict == "fits"
    wrong = page(heard_up=BB_UP)
    assert wrong.context["claim"].verdict == "does-not-fit"
    assert "The record may be wrong" in words(wrong)
    assert "They fit the 9-foot B♭ tube." in words(wrong)


@pytest.mark.parametrize("page", ["listen/", "", "?step=result&valves=4"])
def test_the_registered_horn_in_hand_is_named_with_what_it_is_taken_for(teacher, school, page):
    horn = make.horn(school, build="double-full", stands_in="F")
    answer = teacher.get(f"/s/hill/identify/{page}{'&' if '?' in page else '?'}horn={horn.pk}")

    assert re.search(rf"Horn {horn.number} ?, full double horn in F and B♭, stands in F", words(answer))


def test_another_schools_horn_is_not_named_on_the_walk(teacher):
    theirs = make.horn(make.school(), build="double-full", stands_in="F", number="SECRET-9")
    answer = teacher.get(f"/s/hill/identify/?horn={theirs.pk}")

    assert answer.context["in_hand"] is None
    assert "SECRET-9" not in words(answer)


def test_a_horn_that_is_not_identified_or_has_crooks_makes_no_claim(teacher, school):
    for horn in (make.horn(school, build=""), make.horn(school, build="natural", stands_in="")):
        answer = teacher.get("/s/hill/identify/listen/", {"horn": horn.pk, UP: F_UP})
        assert (answer.status_code, answer.context["record"]) == (200, None)


def test_another_schools_horn_is_not_listened_to(teacher):
    theirs = make.horn(make.school())

    assert teacher.get("/s/hill/identify/listen/", {"horn": theirs.pk}).status_code == 404
    assert teacher.post(f"/s/hill/identify/listen/?horn={theirs.pk}", {}).status_code == 404


def test_thumb_down_is_not_asked_of_a_horn_without_a_lever(teacher, school):
    assert teacher.get("/s/hill/identify/listen/", {"valves": "4"}).context["other"]
    single = make.horn(school, build="single-f", stands_in="F")
    assert not teacher.get("/s/hill/identify/listen/", {"horn": single.pk}).context["other"]


OBSERVED = {"valves": "4", "slide_sets": "2", "test_note": "1", "hand": "left", "mechanism": "rotary", "bell": "back"}


def test_what_was_heard_is_shown_on_the_result_and_changes_it(teacher):
    def result(**notes):
        return teacher.get("/s/hill/identify/", {"valves": "4", "slide_sets": "2", **notes, "step": "result"})

    heard = result(heard_up=BB_UP, heard_down=F_UP)

    assert heard.context["leading"].key == ("double-full", "Bb")
    assert result().context["leading"].key == ("double-full", "F")
    assert "Thumb up, no valve pressed. This is the 9-foot B♭ tube" in words(heard)
    assert "Open notes, thumb up B♭2 (written F3), F3 (written C4)" in words(heard)
    assert 'href="listen/?valves=4' in heard.content.decode()


def test_a_result_that_does_not_fit_what_was_heard_says_so_and_is_not_settled(teacher):
    answer = teacher.get(
        "/s/hill/identify/",
        {"valves": "3", "slide_sets": "1", "test_note": "1", "hand": "left", "step_down": "3"}
        | {"mechanism": "rotary", "bell": "back", "wrap": "standard", "heard_up": BB_UP, "step": "result"},
    )

    assert not answer.context["verdict"].settled
    assert answer.context["verdict"].heard_against or answer.context["verdict"].clash


def test_a_broken_note_in_the_address_is_said_and_the_rest_is_kept(teacher):
    for page in ("/s/hill/identify/", "/s/hill/identify/listen/"):
        answer = teacher.get(page, {UP: "174.6~0.98,<b>", "valves": "3"})
        assert "part of what the address holds is no note, and is left out" in words(answer)
        assert answer.context["walk"].notes.texts() == {UP: "174.6~0.98"}


def test_numbers_and_no_sound_are_saved_and_the_verdict_comes_out_again(school):
    horn, person = make.horn(school, build=""), make.staff(Role.TEACHER, school)
    observations, problems = read_observations({**OBSERVED, UP: F_UP, DOWN: BB_UP, "heard_test": "233.1~0.98"})
    assert problems == {}

    found = identifying.put_on_horn(
        horn=horn, observations=observations, build="double-full", stands_in="F", by=person, at=make.NOW
    )
    kept = Identification.objects.get(pk=found.pk).observations

    assert kept == OBSERVED | {
        UP: observations.heard.notes.texts()[UP],
        DOWN: observations.heard.notes.texts()[DOWN],
    } | {"heard_test": "233.1~0.98"}
    assert read_observations(kept) == (observations, {})
    assert assess(read_observations(kept)[0]).leading.probability == found.probability


def test_a_restrung_horn_is_listened_to_anew(school):
    horn, person = make.horn(school, build=""), make.staff(Role.TEACHER, school)
    observations, _ = read_observations({**OBSERVED, UP: F_UP})
    identifying.put_on_horn(
        horn=horn, observations=observations, build="double-full", stands_in="F", by=person, at=make.NOW
    )

    assert "heard" not in sound_again(horn, school)
    assert "valves=4" in sound_again(horn, school)


def test_the_page_says_that_no_sound_is_kept_and_offers_a_file_without_a_script(teacher):
    page = teacher.get("/s/hill/identify/listen/")

    assert "The sound is listened to at once and never kept" in words(page)
    assert re.search(r'<form method="post" enctype="multipart/form-data"', page.content.decode())
    assert '<details class="fold" open data-file>' in page.content.decode()


def test_the_microphone_is_asked_for_raw_and_the_worklet_comes_from_this_site(teacher):
    page = teacher.get("/s/hill/identify/listen/")
    script = (Path(__file__).parents[2] / "identify/static/identify/listen.js").read_text(encoding="utf-8")

    assert page.headers["Permissions-Policy"].startswith("microphone=(self)")
    assert "script-src 'self'" in page.headers["Content-Security-Policy"]
    assert re.search(r'data-tap="/static/identify/tap[^"/]*\.js"', page.content.decode())
    for processing in ("echoCancellation", "noiseSuppression", "autoGainControl"):
        assert f"{processing}: false" in script


def test_after_four_notes_that_settle_nothing_the_way_on_is_offered_before_another_note(teacher):
    notes = "130.8~0.98,174.6~0.98,233.1~0.98"

    three, four = (teacher.get("/s/hill/identify/listen/", {UP: said}) for said in (notes, f"{notes},349.2~0.98"))

    assert [one.context["settled"] for one in (three, four)] == [False, False]
    assert [one.context["not_enough"] for one in (three, four)] == [True, False]
