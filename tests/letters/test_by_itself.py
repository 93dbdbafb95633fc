"""Letters without a command line: the site sends them by itself, each once, and promises no page nobody reaches."""

from __future__ import annotations

import smtplib
from datetime import datetime, timedelta
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.utils import timezone

from fleet.ground.access import Role
from fleet.letters.actions.reminding import remind, send_now
from fleet.letters.models import LendingRules, Letter, wording
from fleet.letters.queries.composing import composed
from fleet.management import daily
from tests import make

DAY = timedelta(days=1)
OCCASIONS = ("before-14", "after-1", "recalled", "moved", "to-sign")


@pytest.fixture
def out(lending):
    return lending.issue(due_on=make.TODAY + 40 * DAY)


def at(hour: int, minute: int = 0, days: int = 26) -> datetime:
    day = make.TODAY + days * DAY
    return timezone.make_aware(datetime(day.year, day.month, day.day, hour, minute))


@pytest.mark.parametrize(("hour", "minute", "goes"), [(6, 59, False), (7, 0, True), (18, 59, True), (19, 0, False)])
def test_the_served_site_sends_what_is_due_by_day_and_says_so(lending, out, postbox, hour, minute, goes):
    said: list[str] = []

    daily._send(at(hour, minute), said.append)

    assert said == (["Letters: 1 sent."] if goes else [])
    assert postbox.to() == ([out.guardian.email] if goes else [])


def test_whoever_sends_after_it_sends_no_second_letter(lending, out, postbox):
    by = make.staff(Role.HEAD, lending.school)
    for hour in (9, 10):
        daily._send(at(hour), lambda _: None)
    assert send_now(school=lending.school, by=by, at=at(11)) == 0
    remind(schools=[lending.school], now=at(12))

    assert len(postbox.arrived) == 1
    assert Letter.objects.get().state == "sent"


def test_without_a_mail_server_it_sends_and_says_nothing_and_one_that_is_away_is_told(lending, out, mail, settings):
    said: list[str] = []
    daily._send(at(9), said.append)
    assert [words.split(":")[0] for words in said] == ["The mail server is away"]
    assert Letter.objects.get().state == "waiting"

    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    daily._send(at(10), said.append)
    assert len(said) == 1


def test_whatever_the_mail_server_does_is_said_and_tried_again(lending, out, postbox, monkeypatch):
    def gone(**_: Any) -> None:
        raise smtplib.SMTPServerDisconnected("gone")

    said: list[str] = []
    monkeypatch.setattr(daily, "remind", gone)

    daily._send(at(9), said.append)

    assert said == ["Letters not sent yet: gone. They are tried again within the hour."]


def test_letters_that_went_are_sent_however_the_mail_server_takes_leave(lending, out, postbox, monkeypatch):
    def quit(self: smtplib.SMTP) -> None:
        self.close()
        raise smtplib.SMTPResponseException(451, b"Busy")

    said: list[str] = []
    monkeypatch.setattr(smtplib.SMTP, "quit", quit)

    daily._send(at(9), said.append)

    assert said == ["Letters: 1 sent."]
    assert Letter.objects.get().state == "sent"


@pytest.mark.parametrize("words", [wording.BEFORE, wording.AFTER, wording.RECALLED, wording.TO_SIGN, wording.MOVED])
@pytest.mark.either_engine
def test_the_first_word_after_the_greeting_begins_as_a_sentence_does(words):
    first = words[1].split("\n\n")[1]
    assert first.startswith(("The ", "While ", "{school}"))


@pytest.mark.parametrize("occasion", OCCASIONS)
def test_without_a_public_address_no_letter_speaks_of_a_page(lending, out, settings, occasion):
    about: Any = out
    if occasion == "to-sign":
        about = make.signature(make.horn(lending.school), lending.pupil, make.staff(Role.HEAD, lending.school))
    settings.SITE_ORIGIN = "https://horns.example.org"
    with_one = composed(about, occasion, make.TODAY)[1]
    settings.SITE_ORIGIN = ""

    without = composed(about, occasion, make.TODAY)[1]

    assert ("https://horns.example.org/" in with_one) is (occasion not in {"recalled", "moved"})
    for said in ("http", "page", "sign in", "{", "\n\n\n"):
        assert said not in without
    assert without.endswith(f"{lending.school.name}\n")


def test_a_school_with_the_words_it_began_with_gets_the_new_ones_and_its_own_words_stay(lending, elsewhere):
    step = import_module("fleet.lending.migrations.0017_letters_begin")
    LendingRules.objects.create(school=lending.school, **step.BEFORE)
    LendingRules.objects.create(school=elsewhere.school, after_words="Dear {guardian}, bring it.")

    step.fill(apps, None)

    kept = LendingRules.objects.get(school=lending.school)
    assert [getattr(kept, name) for name in sorted(step.NOW)] == [
        wording.AFTER[1],
        wording.BEFORE[1],
        wording.RECALLED[1],
        wording.TO_SIGN[1],
    ]
    assert LendingRules.objects.get(school=elsewhere.school).after_words == "Dear {guardian}, bring it."
