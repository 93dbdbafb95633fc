"""The log of letters is found by words and narrowed along indexes, as it is row by row."""

import random
import re
from datetime import timedelta

import pytest
from django.db import connection

from fleet.exchange.actions.measuring import measure_tables
from fleet.ground.paging import PAGE
from fleet.letters.models import Letter
from fleet.letters.models.letters import _ways
from fleet.people.models import searched
from fleet.people.models.searched import words_of
from fleet.people.models.trigrams import SHORTEST
from fleet.register.models.numbers import parts_of
from tests import make

MINUTE = timedelta(minutes=1)


@pytest.fixture
def written(lending):
    """Letters about two loans and an agreement to sign, the newest first, and one of another school alike."""
    other = make.school()
    to = make.guardian(other, name="Ada Öz")
    elsewhere = make.loan(make.horn(other), make.pupil(other, to, name="Işıl Öz"), make.user())
    make.letter(elsewhere, address="ada@home.example")
    ada, bo = (make.guardian(lending.school, name=name) for name in ("Ada Öz", "Bo Okafor"))
    isil, ann = (make.pupil(lending.school, to, name=name) for name, to in (("Işıl Öz", ada), ("Ann O’Hara", bo)))
    first = make.loan(make.horn(lending.school, number="HN-0089"), isil, lending.teacher)
    second = make.loan(make.horn(lending.school, number="ANN-7"), ann, lending.teacher)
    asked = make.signature(make.horn(lending.school, number="HN-0030"), ann, lending.teacher)
    return [
        make.letter(about, made_at=make.NOW - ago * MINUTE, **fields)
        for ago, (about, fields) in enumerate(
            [
                (first, {"address": "ada@home.example", "state": "sent"}),
                (second, {"address": "bo.before@home.example", "state": "bounced"}),
                (asked, {"address": "", "state": "waiting"}),
            ]
        )
    ]


@pytest.fixture
def rows(lending, as_):
    client = as_(lending.teacher)
    return lambda **asked: client.get(f"/s/{lending.school.slug}/loans/letters/", asked).context["page"].rows


@pytest.mark.both_engines
@pytest.mark.parametrize("counted", [0, 1, 1000])
def test_letters_are_found_by_any_of_their_words_however_many_have_them(rows, written, monkeypatch, counted):
    monkeypatch.setattr(searched, "COUNTED_TO", counted)
    first, second, third = written

    assert rows() == written
    assert rows(q="ada") == rows(q="isil") == rows(q="hn89") == rows(q="ADA@home") == rows(q="öz 089 ada") == [first]
    assert rows(q="okafor") == rows(q="o'hara") == rows(q="bo hara") == [second, third]
    assert rows(q="ann-7") == rows(q="before") == [second]
    assert rows(q="030") == rows(q="hara 0030") == [third]
    assert rows(q="home.example") == [first, second]
    assert rows(q="okafor isil") == rows(q="zz") == rows(q="zzz") == []
    assert rows(state="sent") == rows(state="sent", q="ada") == [first]
    assert rows(state="undelivered") == [second]
    assert rows(state="undelivered", q="ada") == []


def _has(letter: Letter, word: str) -> bool:
    """What a letter is found by, looked at by itself."""
    horn, (stem, tail) = letter.about.horn, parts_of(word)
    typed = bool(tail) and horn.number_stem.startswith(stem.rstrip("-/. ")) and horn.number_tail == tail
    told = (letter.guardian.search, letter.about.pupil.search, horn.number.lower(), letter.address.lower())
    return typed or any(word in one if len(word) >= SHORTEST else f" {word}" in f" {one}" for one in told)


@pytest.mark.parametrize("counted", [1, 1000])
def test_letters_are_found_by_every_piece_of_what_is_said_of_them_and_no_other(lending, written, monkeypatch, counted):
    monkeypatch.setattr(searched, "COUNTED_TO", counted)
    said = ["Ada Öz", "Işıl", "Ann O’Hara", "HN-0089", "hn89", "ANN7", "h30", "bo.before@home.example", '50%_\\"q']
    lots = random.Random(counted)
    pieces = [one[a : a + lots.randint(1, 5)] for one in said for a in range(len(one))]

    for query in [*said, *pieces, *(" ".join(lots.sample(pieces, 2)) for _ in range(40))]:
        asked = words_of(query)
        expected = {one.pk for one in written if all(_has(one, word) for word in asked)}
        found = Letter.objects.having_words(query, school=lending.school)
        assert set(found.values_list("pk", flat=True)) == expected, query


def test_a_letter_is_found_by_the_address_it_went_to_last_and_not_once_it_is_gone(lending, written):
    first, second, _ = written

    def found(word):
        return list(Letter.objects.having_words(word, school=lending.school))

    first.address = "new@home.example"
    first.save()
    Letter.objects.filter(pk=second.pk).update(school=None)
    assert found("ada@home") == found("before@") == []
    assert found("new@") == [first]
    Letter.objects.filter(pk=second.pk).update(school=lending.school)
    assert found("before@") == [second]
    first.delete()
    assert found("new@") == []


def test_more_letters_than_a_page_are_leafed_and_more_than_a_thousand_not_counted(lending, as_, written):
    one, client = written[0], as_(lending.teacher)
    same = {"school": lending.school, "loan": one.loan, "guardian": one.guardian, "made_at": make.NOW}
    Letter.objects.bulk_create(Letter(due_on=make.TODAY, occasion=f"after-{n}", **same) for n in range(1, 1002))
    address = f"/s/{lending.school.slug}/loans/letters/"

    first, last = (client.get(address, {"page": page}) for page in (1, 41))

    assert len(first.context["page"].rows) == PAGE
    assert "More than 1,000 letters; this is 1 to 25." in " ".join(first.content.decode().split())
    assert last.context["page"].rows[-3:] == written


def test_the_letters_of_a_pupil_are_those_about_loans_and_agreements_of_theirs(written):
    first, second, asked = written
    isil, ann = first.about.pupil, second.about.pupil

    assert set(Letter.objects.of_pupil(isil)) == {first}
    assert set(Letter.objects.of_pupil(ann)) == {second, asked}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
def test_the_letters_of_a_pupil_are_not_looked_for_among_those_of_all(written):
    first, second, _ = written
    told = {"loan": first.loan, "due_on": first.due_on, "guardian": first.guardian, "made_at": make.NOW}
    Letter.objects.bulk_create(Letter(occasion=f"before-{n}", school=first.school, **told) for n in range(500))
    measure_tables()

    plan = Letter.objects.of_pupil(second.about.pupil).order_by("-made_at", "-pk").explain()

    assert not re.search(r"SCAN (TABLE )?loans_letter", plan), plan


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
@pytest.mark.parametrize("to_sign", [False, True])
def test_the_letters_about_what_is_to_be_signed_are_not_looked_for_among_all(written, to_sign):
    first, _, asked = written
    about = {"due_on": first.due_on, "guardian": first.guardian, "made_at": make.NOW, "school": first.school}
    Letter.objects.bulk_create(Letter(occasion=f"before-{n}", loan=first.loan, **about) for n in range(500))
    if not to_sign:
        asked.delete()
    measure_tables()

    plans = "\n".join(way.order_by().values("pk")[:9].explain() for way in _ways("ann", first.school))
    assert "loans_onlinesignature" in plans
    assert not re.search(r"loans_letter USING (COVERING )?INDEX letter_(to|sent|newest)\b", plans), plans
