"""Lists and whole schools at their edges: what a cell, a list that changed meanwhile and a command say."""

from __future__ import annotations

import io
import os
import subprocess
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection
from django.http import Http404
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.actions.lists.base import Reading, a_day, one_of, plainly
from fleet.exchange.actions.lists.horns import LONGEST, _described
from fleet.exchange.actions.site_in import _tables_of_the_empty_site
from fleet.exchange.models import Import
from fleet.exchange.pages.as_files import as_file
from fleet.exchange.pages.preview import in_words
from fleet.exchange.pages.preview_tables import ChangedRows
from fleet.exchange.queries.site_out import asked
from fleet.exchange.reading.bounds import NO_SPREADSHEET, Notes, looked_over
from fleet.exchange.reading.cells import as_text
from fleet.exchange.reading.file import lines_of
from fleet.exchange.reading.told import told
from fleet.ground.refusal import Refused
from fleet.lending.models import PastLoan
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs


@pytest.mark.either_engine
@pytest.mark.parametrize(
    ("said", "words"), [("2018-09", "September 2018"), ("2018", "2018"), ("2018-09-03", "3 September 2018")]
)
def test_the_preview_says_a_day_a_month_or_a_year_as_it_is_known(said: str, words: str):
    assert in_words("acquired_on", said) == words


class HornForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Horn
        fields = ("acquired_on",)


READ = Reading(school=School(), day_first=True, today=date(2026, 9, 14))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("14.9.2026", "2026-09-14"),
        ("15.9.2026", "has not come yet"),
        ("1.1.1850", "1850-01-01"),
        ("31.12.1849", "too long ago"),
        ("31.12.1899", "where none was given"),
        ("1.1.1900", "where none was given"),
        ("2.1.1900", "1900-01-02"),
    ],
)
def test_a_day_of_a_list_has_come_and_is_no_day_before_horns_had_valves(text: str, said: str):
    clean = a_day(HornForm, "acquired_on")
    if said[0].isdigit():
        assert clean(text, READ) == said
    else:
        with pytest.raises(ValidationError, match=said):
            clean(text, READ)


@pytest.mark.parametrize("words", ["silver plated", "SILVER", "argent", "silver platde"])
def test_a_choice_is_known_by_its_label_its_key_a_word_of_ours_and_with_a_slip_of_the_finger(words: str):
    assert one_of([("", "not said"), ("silver", "silver plated")], {"argent": "silver"})(words, READ) == "silver"


def test_a_word_that_is_no_choice_is_told_the_choices():
    with pytest.raises(ValidationError) as no:
        one_of([("", "not said"), ("silver", "silver plated")], {})("wood", READ)
    ((sentence, filled),) = plainly(no.value)
    assert told(sentence, filled) == "Say one of: silver plated."


def test_words_that_describe_a_horn_have_a_length():
    assert _described("x" * LONGEST, READ) == "x" * LONGEST
    with pytest.raises(ValidationError, match="the rest can go into the notes"):
        _described("x" * (LONGEST + 1), READ)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (datetime(2026, 9, 14), "2026-09-14"),
        (datetime(2026, 9, 14, 8, 5), "2026-09-14 08:05"),
        (date(2026, 9, 14), "2026-09-14"),
        (12.0, "12"),
        (12.5, "12.5"),
        (1e15, "1000000000000000.0"),
    ],
)
def test_a_cell_is_read_as_the_text_somebody_would_type(value: Any, text: str):
    assert as_text(value) == text


def test_a_file_with_a_password_is_named_as_one():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("a.xml", "x")
    data = bytearray(file.getvalue())
    # The flag of an encrypted part, in its own heading and in the list of parts (APPNOTE.TXT 4.4.4).
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(Refused, match="has a password"), zipfile.ZipFile(io.BytesIO(data)) as locked:
        looked_over(locked)


def test_bytes_that_are_no_letters_are_no_list():
    with pytest.raises(Refused, match=NO_SPREADSHEET[:20]):
        list(lines_of(io.BytesIO(b"\xff\xe9" + bytes(range(1, 9)) * 40), Notes()))


def test_a_list_is_fetched_as_a_spreadsheet_or_as_text_and_as_nothing_else():
    with pytest.raises(Http404):
        as_file("pdf", "horns", "horns", [], [])


def test_a_program_of_the_database_that_is_not_there_is_named(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(Refused, match="pg_dump is not found"):
        asked("pg_dump", [])


@pytest.mark.skipif(os.name == "nt", reason="a program of Windows is no text")
def test_a_program_of_the_database_is_handed_its_words_and_what_the_site_was_handed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    program = tmp_path / "pg_dump"
    program.write_text('#!/bin/sh\necho "$HORN_TRIED $*"\n', "utf-8")
    program.chmod(0o700)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("HORN_TRIED", "as handed")
    said, _ = asked("pg_dump", ["--one", "two"], stdout=subprocess.PIPE).communicate()
    _, *words = connection.client.settings_to_cmd_args_env(connection.settings_dict, ["--one", "two"])[0]
    assert said.decode().rstrip() == " ".join(["as handed", *words])
    assert words[-2:] == ["--one", "two"]


def test_a_database_that_holds_tables_of_others_is_no_empty_site(db: None):
    assert "register_horn" in _tables_of_the_empty_site()
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE their_own (one integer)")
    with pytest.raises(Refused, match="holds the table their_own"):
        _tables_of_the_empty_site()


def test_a_preview_says_each_adult_with_each_way_to_reach_them():
    assert in_words("adults", [["Ann", "ann@example.org", "1"], ["Bo", "", "2"]]) == "Ann (ann@example.org, 1); Bo (2)"


def test_a_row_of_a_preview_is_begun_by_its_first_cell_and_goes_on_with_its_number_alone():
    table = ChangedRows([], of=9)
    assert table.render_line({"line": 7}) == "7"
    assert "HN-1" in table.render_line({"line": 7, "first": "HN-1"})


@pytest.mark.parametrize("command", ["import_school", "restore"])
def test_a_file_that_is_not_there_is_said_so(db: None, tmp_path: Path, command: str):
    with pytest.raises(CommandError, match="There is no file"):
        call_command(command, str(tmp_path / "none.zip"))


def test_a_list_without_news_is_not_written(desk: Desk):
    data = as_csv([["Nr", "Maker"], ["H-1", "Alder"]])
    desk.bring_in(data)
    with pytest.raises(Refused, match="no row is new or changed"):
        imports.begin_writing(imported=desk.looked_over(data))


def test_a_list_that_is_partly_on_record_is_undone_before_it_is_put_away(desk: Desk):
    imported = desk.looked_over(as_csv([["Nr", "Maker"], ["H-1", "Alder"]]))
    imports.begin_writing(imported=imported)
    imported.batches.update(written=True)
    with pytest.raises(Refused, match="Undo it first"):
        imports.discard(imported=imported)


def test_a_list_that_somebody_put_away_meanwhile_is_said_so(desk: Desk):
    imported = desk.looked_over(as_csv([["Nr", "Maker"], ["H-1", "Alder"]]))
    imports.discard(imported=imported)
    with pytest.raises(Refused, match="put away"):
        imports.begin_writing(imported=imported)


LOANS = ["Register number", "Pupil", "Pupil id", "From", "To", "Notes"]


def test_of_past_loans_a_pupils_own_id_goes_before_the_name_and_a_pupil_must_be_told_apart(desk: Desk):
    make.horn(desk.school, number="H-1")
    known = make.pupil(desk.school, name="Ada", pupil_id="S1")
    for _ in range(2):
        make.pupil(desk.school, name="Two Same")
    rows = [
        LOANS[:5],
        ["H-1", "Somebody", "S1", "1.9.2019", "30.6.2020"],
        ["H-1", "Two Same", "", "1.9.2020", "30.6.2021"],
        ["H-1", "Nobody", "", "1.9.2021", "30.6.2022"],
        ["H-1", "", "", "1.9.2022", "30.6.2023"],
    ]

    imported = desk.looked_over(as_csv(rows), kind="past-loans")

    assert [(row, sentence) for row, _, _, sentence in wrongs(imported)] == [
        (3, "Several pupils on record have this name. Give the pupil id."),
        (4, "This pupil is not on record. Bring the pupils in first."),
        (5, "Say who had the horn: a name or a pupil id."),
    ]
    assert verdicts(imported)[0] == "new"
    assert Pupil.objects.get(pupil_id="S1") == known
    assert not PastLoan.objects.exists()
    assert not Import.objects.filter(state="written").exists()


def test_what_was_looked_over_with_columns_that_changed_meanwhile_is_looked_over_again(desk: Desk):
    stale = desk.take_in(as_csv([["Nr", "Maker"], ["H-1", "Alder"]]))
    imports.match_columns(imported=stale, columns=stale.columns, day_first=True)
    stale.refresh_from_db()
    now = desk.look_over(Import.objects.get(pk=stale.pk))
    imports.match_columns(imported=now, columns=now.columns, day_first=False)

    assert imports.look_over_next(imported=stale, at=make.NOW) is True
    assert not now.batches.get().checked
    assert desk.look_over(Import.objects.get(pk=stale.pk)).state == "checked"


def test_a_past_loan_that_came_on_record_meanwhile_is_not_written_twice(desk: Desk):
    make.horn(desk.school, number="H-1")
    make.pupil(desk.school, name="Ada", pupil_id="S1")
    data = as_csv([LOANS[:5], ["H-1", "Ada", "S1", "1.9.2019", "30.6.2020"]])
    first, second = (desk.looked_over(data, kind="past-loans") for _ in range(2))
    desk.write(first)

    with pytest.raises(Refused, match="was changed since the preview"):
        desk.write(second)

    assert PastLoan.objects.count() == 1


def test_of_a_past_loan_whose_pupil_id_cannot_be_only_that_is_said(desk: Desk):
    make.horn(desk.school, number="H-1")
    rows = [LOANS[:5], ["H-1", "Ada", "x" * 200, "1.9.2019", "30.6.2020"]]
    assert [column for _, column, _, _ in wrongs(desk.looked_over(as_csv(rows), kind="past-loans"))] == ["Pupil id"]


@pytest.mark.parametrize(("whose", "found"), [("", 2), ("mine", 1), ("free", 1)])
def test_closed_jobs_are_those_of_whom_they_are_asked_for_on_the_bench_and_in_the_file(
    desk: Desk, as_: Any, whose: str, found: int
):
    for technician in (desk.head, None):
        make.job(make.horn(desk.school), desk.head, state="done", technician=technician)
    client, asked_for = as_(desk.head), {"state": "done", "whose": whose}

    bench = client.get(f"/s/{desk.school.slug}/bench/", asked_for)
    file = client.get(reverse("exchange:jobs-out", args=(desk.school.slug,)), {**asked_for, "as": "csv"})

    assert len(bench.context["closed"]) == found
    assert len(b"".join(file).decode().strip().splitlines()) == 1 + found
