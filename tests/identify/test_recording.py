"""Recordings on their way in: strange, too large, too many; heard in memory, and nothing of them is kept."""

from __future__ import annotations

import re
import struct
import tempfile
from datetime import timedelta

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from identify.recording import A_MINUTE, FRAMING_BYTES, MOST_BYTES, _length, _too_often, heard_in
from tests import make
from tests.identify.test_listening import TEST_NOTE, carried, play, school, teacher, tone, words
from tests.identify.tones import horn_tone, wav

__all__ = ["play", "school", "teacher"]

pytestmark = pytest.mark.django_db

GOOD = tone(TEST_NOTE)
NOT_A_NUMBER = horn_tone(TEST_NOTE)
NOT_A_NUMBER[100] = np.nan


def _rate(hz):
    return GOOD[:24] + struct.pack("<I", hz) + GOOD[28:]


@pytest.mark.parametrize(
    ("recording", "status", "said"),
    [
        (b"", 422, "empty"),
        (GOOD[:30], 422, "cut off or damaged"),
        (b"%PDF-1.7\n" + b"x" * 4000, 422, "This is a PDF document, not a WAV recording"),
        (wav(NOT_A_NUMBER, bits=32, kind=3), 422, "not numbers"),
        (_rate(1), 422, "sample rate as 1 Hz"),
        (_rate(10_000_000), 422, "sample rate as 10000000 Hz"),
        (wav(horn_tone(TEST_NOTE), claimed=2**31), 200, "length did not match its heading"),
        (GOOD[: len(GOOD) // 2], 200, "length did not match its heading"),
        (wav(horn_tone(TEST_NOTE), bits=24), 200, "This is the test note"),
        (wav(horn_tone(TEST_NOTE), bits=8), 200, "This is the test note"),
        (wav(horn_tone(TEST_NOTE), channels=2), 200, "This is the test note"),
        (wav(horn_tone(TEST_NOTE), bits=32, kind=3), 200, "This is the test note"),
    ],
    ids=[
        "empty",
        "truncated-heading",
        "pdf",
        "nan",
        "1hz",
        "10mhz",
        "lying",
        "truncated",
        "24bit",
        "8bit",
        "stereo",
        "float",
    ],
)
def test_a_strange_file_is_answered_with_a_sentence_and_leaves_nothing_behind(
    play, recording, status, said, tmp_path, monkeypatch, caplog
):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with CaptureQueriesContext(connection) as seen:
        answer = play(recording, "test_note", valves="4")

    assert answer.status_code == status
    assert said in words(answer)
    assert [one["sql"] for one in seen if not one["sql"].startswith("SELECT")] == []
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    assert [record for record in caplog.records if record.name != "django.request"] == []


def test_a_large_file_is_heard_in_memory_though_other_uploads_would_go_to_a_file(play, tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "no-such-folder"))
    recording = wav(horn_tone(TEST_NOTE, seconds=29, rate=48_000), rate=48_000, channels=2)

    assert 5_000_000 < len(recording) < MOST_BYTES
    assert "This is the test note" in words(play(recording, "test_note"))


class _Unreadable:
    """A body that must not be read."""

    def read(self, *_size):
        raise AssertionError("The body was read.")

    readline = read


def test_two_hundred_megabytes_are_refused_before_any_of_them_is_read(teacher):
    answer = teacher.post(
        "/s/hill/identify/listen/?step=test_note&valves=4",
        data=b"",
        content_type="multipart/form-data; boundary=x",
        **{"wsgi.input": _Unreadable(), "CONTENT_LENGTH": str(200 * 2**20)},
    )

    assert answer.status_code == 413
    assert "larger than 6 MB, so it was not read" in words(answer)
    assert carried(answer) == "?valves=4&step=test_note"


@pytest.mark.parametrize(("more", "status"), [(0, 422), (1, 413)])
def test_up_to_the_size_that_is_told_and_the_form_around_it_a_body_is_read(teacher, more, status):
    length = str(MOST_BYTES + FRAMING_BYTES + more)

    answer = teacher.post(
        "/s/hill/identify/listen/", data=b"", content_type="multipart/form-data; boundary=x", CONTENT_LENGTH=length
    )

    # Read, it turns out to hold no recording.
    assert answer.status_code == status


def test_no_recording_at_all_is_said(teacher):
    answer = teacher.post("/s/hill/identify/listen/?step=heard_up", {})

    assert (answer.status_code, "No recording arrived" in words(answer)) == (422, True)


def test_a_form_that_is_not_ours_is_refused_and_ours_is_not(school):
    client = Client(enforce_csrf_checks=True)
    client.force_login(make.staff(Role.TEACHER, school))
    page = client.get("/s/hill/identify/listen/").content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]

    def send(**more):
        return client.post("/s/hill/identify/listen/", {"recording": SimpleUploadedFile("n.wav", GOOD), **more})

    assert send().status_code == 403
    assert send(csrfmiddlewaretoken=token).status_code == 200


def test_of_a_thousand_recordings_in_a_minute_sixty_are_listened_to(school):
    person, other = make.staff(Role.TEACHER, school), make.staff(Role.HEAD, school)
    factory = RequestFactory()

    def send(by, at):
        request = factory.post("/", {"recording": SimpleUploadedFile("n.wav", wav(np.zeros(100)))})
        request.user = by
        return heard_in(request, at=at).code

    codes = [send(person, make.NOW) for _ in range(1000)]
    assert codes == ["short"] * A_MINUTE + ["too-often"] * (1000 - A_MINUTE)
    assert send(other, make.NOW) == "short"
    assert send(person, make.NOW + timedelta(minutes=1)) == "short"


@pytest.mark.parametrize(("said", "length"), [("12", 12), ("", 0), ("many", 0)])
def test_a_length_that_is_no_number_counts_for_nothing(said, length):
    request = RequestFactory().post("/")
    request.META["CONTENT_LENGTH"] = said
    assert _length(request) == length


def test_a_counter_that_was_swept_away_keeps_nobody_from_recording(settings):
    # This one keeps nothing at all.
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}
    request = RequestFactory().post("/")
    request.user = make.user()
    assert _too_often(request, make.NOW) is False
