"""Figures for a monitor: in its format, behind a key, and about nobody."""

from __future__ import annotations

import re

import pytest
from django.db import DatabaseError, connection
from django.utils import timezone

from fleet.ground.access import Role
from fleet.mail.models import Outgoing
from tests import make

pytestmark = pytest.mark.django_db
KEY = "a-key-of-more-than-twenty"
# Exposition formats, version 0.0.4: a name, labels in braces with their values in quotation marks, a number.
SAMPLE = re.compile(r'([a-z_]+)(\{[a-z_]+="[^"\\\n]*"(?:,[a-z_]+="[^"\\\n]*")*\})? (-?[0-9.e+]+)')


def asked(client, key=KEY, **more):
    return client.get("/figures/", headers={"Authorization": f"Bearer {key}", "Host": "10.0.0.7"}, **more)


@pytest.fixture
def figures(client, settings):
    settings.FIGURES_KEY = KEY

    def read():
        answer = asked(client)
        assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")
        assert answer["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
        return answer.content.decode()

    return read


def samples(text):
    """Each sample by its name with its labels, but for the process."""
    found, typed = {}, set()
    for line in text.splitlines():
        if line.startswith("#"):
            typed.add(line.split(" ")[2])
            continue
        sample = SAMPLE.fullmatch(line)
        assert sample, line
        name, labels, value = sample.groups()
        assert {name, re.sub("_(bucket|sum|count)$", "", name)} & typed, line
        found[name + re.sub('process="[^"]*",?', "", labels or "").replace("{}", "")] = float(value)
    return found


def test_what_the_site_holds_is_told_of_all_schools_together(figures):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    horn, pupil = make.horn(school), make.pupil(school, make.guardian(school))
    before = samples(figures())
    make.loan(horn, pupil, head)
    other = make.horn(make.school())
    Outgoing.objects.create(name="x", queued_at=make.NOW, next_at=make.NOW, good_until=make.NOW)

    after = samples(figures())

    assert {name: after[name] - before.get(name, 0) for name in ("horn_schools", "horn_horns", "horn_loans_open")} == {
        "horn_schools": 1,
        "horn_horns": 1,
        "horn_loans_open": 1,
    }
    assert after['horn_mail_queue{state="waiting"}'] == 1
    assert (after["horn_database_up"], after["horn_last_backup_timestamp_seconds"]) == (1, 0)
    assert other.number not in figures()


def test_requests_are_counted_by_how_they_were_answered_and_how_long_they_took(figures, client):
    before = samples(figures())
    client.get("/robots.txt")
    client.get("/nowhere/")

    after = samples(figures())

    def more(name):
        return after[name] - before.get(name, 0)

    # The figures that were asked for before these, too, are a request.
    assert (more('horn_requests_total{status="2xx"}'), more('horn_requests_total{status="4xx"}')) == (2, 1)
    assert more("horn_request_seconds_count") == more('horn_request_seconds_bucket{le="+Inf"}') == 3
    bounds = [after[f'horn_request_seconds_bucket{{le="{one}"}}'] for one in ("0.1", "0.3", "1.0", "3.0", "10.0")]
    assert bounds == sorted(bounds)


def test_they_are_about_nobody(figures):
    school = make.school()
    people = [make.guardian(school), make.staff(Role.HEAD, school)]
    text = figures()

    assert [
        one for one in (school.slug, *(each.name for each in people), *(each.email for each in people)) if one in text
    ] == []


@pytest.mark.parametrize("key", ["", "a-key-of-more-than-twentY", KEY + "x"])
def test_without_the_key_there_is_no_such_page(client, settings, key):
    settings.FIGURES_KEY = KEY
    nowhere = client.get("/nowhere/")
    for answer in (
        client.get("/figures/", headers={"Authorization": f"Bearer {key}"}),
        client.get("/figures/", {"key": KEY}),
        client.post("/figures/", headers={"Authorization": f"Bearer {KEY}"}),
    ):
        assert (answer.status_code, answer.content) == (404, nowhere.content)


def test_where_no_key_is_set_nobody_reads_them(client, settings):
    settings.FIGURES_KEY = ""
    assert client.get("/figures/", headers={"Authorization": "Bearer "}).status_code == 404


def test_a_database_that_is_away_is_a_figure_too(figures):
    def away(*_, **__):
        raise DatabaseError("away")

    with connection.execute_wrapper(away):
        found = samples(figures())

    assert (found["horn_database_up"], "horn_schools" in found) == (0, False)
    assert found["horn_disk_free_bytes"] > 0


def test_the_last_backup_is_told_by_its_moment(figures):
    from pathlib import Path

    from fleet.exchange.actions.site_recorded import record_backup

    make.school()
    at = timezone.now()
    record_backup(file=Path("horns.zip"), at=at)
    assert samples(figures())["horn_last_backup_timestamp_seconds"] == pytest.approx(at.timestamp(), abs=0.001)
