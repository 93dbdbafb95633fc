"""The search's own tables keep up with the horns', whatever a migration does to them."""

from __future__ import annotations

import pytest
from django.db import connection

from fleet.letters.models.letters import ADDRESSES
from fleet.people.models.searched import words_of
from fleet.people.models.trigrams import GUARDIANS, IDS, PUPILS, found_by, keep_trigrams, trigrams_of
from fleet.register.actions import many
from fleet.register.models import Horn
from fleet.register.models.searching import HORNS, NUMBERS, TABLE, searchable
from tests import make

pytestmark = pytest.mark.django_db


def test_words_are_made_alike_on_both_sides():
    assert searchable("Größe", "B♭", "F♯", "", "ÉTÉ") == "grosse bb f# ete"
    assert words_of("  Bo  42 F Dönz ") == ["bo", "42", "f", "donz"]
    assert words_of("a\0b") == ["a", "b"]
    assert len(words_of("word " * 50)) == 6
    assert words_of(" ") == []


def test_a_horn_is_found_by_its_place_as_pages_write_it():
    school = make.school()
    place = make.place(school, room="Horn cupboard", shelf="top")
    horn = make.horn(school, place=place)
    make.horn(school, place=make.place(school, room="Horn cupboard", shelf="bottom"))

    for walk in (False, True):
        assert list(Horn.objects.having_words(str(place), walk=walk, school=school)) == [horn]


def test_search_works_again_after_a_migration_took_its_triggers():
    if connection.vendor != "sqlite":
        pytest.skip("an index goes with its table on PostgreSQL")
    school = make.school()
    with connection.cursor() as cursor:
        for event in ("added", "changed", "removed"):
            cursor.execute(f"DROP TRIGGER {TABLE}_{event}")
    make.horn(school, maker="Made meanwhile")
    assert Horn.objects.having_words("meanwhile", school=school).count() == 0

    keep_trigrams(using="default")

    make.horn(school, maker="Made after")
    assert Horn.objects.having_words("meanwhile", school=school).count() == 1
    assert Horn.objects.having_words("made after", school=school).count() == 1


def test_a_search_that_an_earlier_version_made_is_made_anew():
    if connection.vendor != "sqlite":
        pytest.skip("an index has no other form on PostgreSQL")
    horn = make.horn(make.school(), maker="Before")
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TABLE {TABLE}")
        kept_by = f"content='{HORNS}', content_rowid='id'"
        cursor.execute(f"CREATE VIRTUAL TABLE {TABLE} USING fts5(search, {kept_by}, tokenize='trigram', detail='full')")

    keep_trigrams(using="default")

    assert list(Horn.objects.having_words("before", school=horn.school)) == [horn]
    Horn.objects.filter(pk=horn.pk).update(search=" after ")
    assert Horn.objects.having_words("before", school=horn.school).count() == 0
    assert list(Horn.objects.having_words("after", school=horn.school)) == [horn]


def test_a_search_that_an_earlier_version_kept_in_other_words_is_made_anew():
    if connection.vendor != "sqlite":
        pytest.skip("an index has no other form on PostgreSQL")
    horn = make.horn(make.school(), maker="Quill")
    with connection.cursor() as cursor:
        for event, key in (("added", "new"), ("changed", "new")):
            cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [f"{TABLE}_{event}"])
            (sql,) = cursor.fetchone()
            cursor.execute(f"DROP TRIGGER {TABLE}_{event}")
            cursor.execute(sql.replace(f"'  ' || replace({key}.search, ' ', '  ')", f"{key}.search || ' '"))
    Horn.objects.filter(pk=horn.pk).update(search="rare")
    assert Horn.objects.having_words("r", school=horn.school).count() == 0

    keep_trigrams(using="default")

    assert list(Horn.objects.having_words("r", school=horn.school)) == [horn]


def test_what_is_looked_up_is_what_the_models_name():
    assert sorted(found_by()) == sorted([PUPILS, IDS, GUARDIANS, HORNS, NUMBERS, ADDRESSES])


@pytest.mark.parametrize("part", ["added", "changed", "removed"])
@pytest.mark.parametrize("column", found_by())
def test_a_search_that_lacks_one_of_its_parts_is_made_anew(column, part):
    if connection.vendor != "sqlite":
        pytest.skip("an index has none on PostgreSQL")
    name = f"{trigrams_of(column)}_{part}"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}")
        keep_trigrams(using="default")
        cursor.execute("SELECT 1 FROM sqlite_master WHERE name = %s", [name])
        assert cursor.fetchone()


def test_horns_made_in_bulk_are_found_and_sorted():
    school = make.school()
    Horn.objects.bulk_create([Horn(school=school, number="HN-12", maker="Bulk"), Horn(school=school, number="HN-3")])

    assert [horn.number for horn in Horn.objects.having_words("bulk", school=school)] == ["HN-12"]
    assert list(Horn.objects.at(school).order_by("number_tail").values_list("number_tail", flat=True)) == [3, 12]


def test_a_list_comes_in_whole_by_whatever_many_statements(monkeypatch):
    """SQLite takes so many values a statement; a list of more rows than that needs several."""
    columns = len([one for one in Horn._meta.concrete_fields if not one.primary_key and not one.generated])
    monkeypatch.setattr(many, "MOST_VALUES", 2 * columns + 1)
    school, by = make.school(), make.user()
    listed = [{"number": f"HN-{n}", "maker": f"Maker {n}"} for n in range(5)]

    horns = many.register_many(school=school, particulars=listed, by=by, at=make.NOW)

    assert len({horn.label_code for horn in horns}) == 5
    found = [Horn.objects.having_words(f"maker {n}", school=school).get() for n in range(5)]
    assert found == horns
    assert [(one.number, one.number_tail, one.maker) for one in found] == [
        (f"HN-{n}", n, f"Maker {n}") for n in range(5)
    ]
