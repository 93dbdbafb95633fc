"""Writing a list: batch by batch, cut off, met by others, undone."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection

from fleet.exchange.actions import imports
from fleet.exchange.actions.old_lists import forget_old
from fleet.exchange.models import BATCH, Batch, Import
from fleet.exchange.queries import imports as imports_queries
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions.horns import amend_horn
from fleet.register.models import Horn, Place
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs

HEAD = ["Register number", "What it is", "Maker", "Room", "Shelf", "Acquired on", "Price paid", "Notes"]


def many(count: int, **changes: str) -> bytes:
    return as_csv([["number", "maker"], *[[f"H-{n}", changes.get(f"H{n}", "Bell")] for n in range(1, count + 1)]])


def test_a_duplicate_is_met_across_batches(desk: Desk):
    data = many(BATCH + 20) + b"H-3,again\r\n"

    imported = desk.looked_over(data)

    assert wrongs(imported) == [(BATCH + 22, "Register number", "H-3", "Row 4 has this number too.")]
    assert imported.batches.count() == 2


def test_an_import_cut_off_between_batches_goes_on_where_it_stopped(desk: Desk):
    imported = desk.looked_over(many(2 * BATCH + 10))
    imports.begin_writing(imported=imported)

    assert imports.write_next(imported=imported, by=desk.head, at=make.NOW)

    # The first row is the headings, so the first batch brings one horn less.
    assert Horn.objects.at(desk.school).count() == BATCH - 1
    again = Import.objects.get(pk=imported.pk)
    while imports.write_next(imported=again, by=desk.head, at=make.NOW):
        pass
    assert Horn.objects.at(desk.school).count() == 2 * BATCH + 10
    again.refresh_from_db()
    assert again.state == Import.State.WRITTEN


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL looks for itself")
@pytest.mark.parametrize(("horns", "measured"), [(4, False), (5, True)])
def test_after_a_list_of_more_than_a_batch_the_tables_are_measured(desk: Desk, monkeypatch, horns, measured):
    # With its row of headings it has one more.
    monkeypatch.setattr("fleet.exchange.actions.imports.BATCH", 5)
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE IF EXISTS sqlite_stat1")

    desk.write(desk.looked_over(many(horns)))

    assert ("sqlite_stat1" in connection.introspection.table_names()) is measured


def test_a_batch_cut_off_in_the_middle_leaves_nothing_half(desk: Desk):
    imported = desk.looked_over(many(100))
    imports.begin_writing(imported=imported)
    inserts = 0

    def breaks(execute, sql, params, more, context):
        nonlocal inserts
        if sql.startswith("UPDATE") and "exchange_batch" in sql:
            raise DatabaseError("the line is cut")
        inserts += sql.startswith("INSERT") and "register_horn" in sql
        return execute(sql, params, more, context)

    with connection.execute_wrapper(breaks), pytest.raises(DatabaseError):
        imports.write_next(imported=imported, by=desk.head, at=make.NOW)

    assert inserts > 0
    assert Horn.objects.at(desk.school).count() == 0
    assert not Batch.objects.get(batch_of=imported).written
    assert not imports.write_next(imported=imported, by=desk.head, at=make.NOW)
    assert Horn.objects.at(desk.school).count() == 100


def test_a_second_import_is_refused_while_one_is_being_written(desk: Desk):
    first, second = desk.looked_over(many(3)), desk.looked_over(as_csv([["number"], ["X-1"]]))
    imports.begin_writing(imported=first)

    with pytest.raises(Refused) as no:
        imports.begin_writing(imported=second)

    assert (
        no.value.sentence
        == "“list.csv” is being written at this moment. Wait until it is done, or undo it on its page."
    )
    desk_of_other = make.staff(Role.HEAD, desk.other)
    elsewhere = Import.objects.create(
        school=desk.other, kind="horns", name="x", by=desk_of_other, at=make.NOW, state="checked"
    )
    Batch.objects.create(batch_of=elsewhere, place=0, new=1)
    imports.begin_writing(imported=elsewhere)


def test_a_horn_changed_since_the_preview_is_looked_over_again_before_anything_of_its_batch_is_written(desk: Desk):
    horn = make.horn(desk.school, number="H-1", maker="Old", build="")
    imported = desk.looked_over(many(3))
    amend_horn(horn=horn, changes={"maker": "Newer"}, by=desk.head, at=make.NOW)
    imports.begin_writing(imported=imported)

    with pytest.raises(Refused, match="was changed since the preview"):
        imports.write_next(imported=imported, by=desk.head, at=make.NOW)

    assert Horn.objects.at(desk.school).count() == 1
    imported.refresh_from_db()
    assert imported.state == Import.State.CHECKING
    desk.look_over(imported)
    assert imported.batches.get().rows_that_are("changed")[0]["before"] == {"maker": "Newer"}


def test_a_number_taken_since_the_preview_sends_the_batch_back(desk: Desk):
    imported = desk.looked_over(many(3))
    make.horn(desk.school, number="h-2")
    imports.begin_writing(imported=imported)

    with pytest.raises(Refused):
        imports.write_next(imported=imported, by=desk.head, at=make.NOW)

    assert Horn.objects.at(desk.school).count() == 1
    assert verdicts(desk.look_over(Import.objects.get(pk=imported.pk))) == ["new", "changed", "new"]


def everything(desk: Desk) -> list[dict]:
    return list(Horn.objects.at(desk.school).order_by("pk").values()) + list(
        Place.objects.filter(school=desk.school).order_by("pk").values()
    )


def test_undoing_the_last_import_leaves_everything_as_it_was(desk: Desk):
    room = make.place(desk.school, room="Room 1")
    make.horn(desk.school, number="H-1", maker="Old", place=room, build="", price=Decimal("10.00"))
    before = everything(desk)
    rows = [HEAD, ["H-1", "double", "New", "Room 2", "Top", "3.9.2019", "20", "x"]]
    rows += [[f"H-{n}", "single", "Bell", "room 2", "top", "", "", ""] for n in range(2, BATCH + 50)]
    imported = desk.bring_in(as_csv(rows))
    assert Horn.objects.at(desk.school).count() == BATCH + 49
    assert imports_queries.may_undo(imported)

    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert everything(desk) == before
    assert list(Horn.objects.having_words("bell", school=desk.school)) == []
    assert [horn.number for horn in Horn.objects.having_words("old", school=desk.school)] == ["H-1"]


@pytest.mark.parametrize("touch", ["maker", "valve", "photograph", "check", "loan", "withdrawn"])
def test_an_import_is_not_undone_once_one_of_its_horns_was_touched(desk: Desk, touch: str):
    imported = desk.bring_in(many(3))
    horn = Horn.objects.at(desk.school).get(number="H-2")
    if touch == "maker":
        amend_horn(horn=horn, changes={"maker": "Other"}, by=desk.head, at=make.NOW)
    elif touch == "valve":
        amend_horn(horn=horn, changes={"fourth_valve": "stopping"}, by=desk.head, at=make.NOW)
    elif touch == "withdrawn":
        Horn.objects.filter(pk=horn.pk).update(withdrawn_on=make.TODAY)
    elif touch == "photograph":
        horn.photographs.create(at=make.NOW, by=desk.head, width=20, height=20)
    elif touch == "check":
        make.check(horn, desk.head)
    else:
        make.loan(horn, make.pupil(desk.school, make.guardian(desk.school)), desk.head, returned_on=make.TODAY)

    with pytest.raises(Refused, match="cannot be undone"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert Horn.objects.at(desk.school).count() == 3


def test_a_changed_horn_that_was_changed_again_keeps_the_import_from_being_undone(desk: Desk):
    horn = make.horn(desk.school, number="H-1", maker="Old", build="")
    imported = desk.bring_in(many(2))
    amend_horn(horn=horn, changes={"maker": "Third"}, by=desk.head, at=make.NOW)

    with pytest.raises(Refused, match="A horn was changed since"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert Horn.objects.at(desk.school).count() == 2


def test_only_the_last_import_can_be_undone_and_the_rows_of_the_one_before_are_not_kept(desk: Desk):
    first, second = desk.bring_in(many(2)), desk.bring_in(as_csv([["number"], ["X-1"]]))

    assert not imports_queries.may_undo(first)
    assert first.batches.count() == 0
    with pytest.raises(Refused):
        imports.undo(imported=first, by=first.by, at=make.NOW)
    imports.undo(imported=second, by=second.by, at=make.NOW)
    assert Horn.objects.at(desk.school).count() == 2


def test_an_import_stopped_halfway_can_be_undone(desk: Desk):
    imported = desk.looked_over(many(BATCH + 10))
    imports.begin_writing(imported=imported)
    imports.write_next(imported=imported, by=desk.head, at=make.NOW)

    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert Horn.objects.at(desk.school).count() == 0
    assert Import.objects.get(pk=imported.pk).state == Import.State.UNDONE


def test_a_list_nobody_wrote_is_forgotten_after_a_week(desk: Desk):
    desk.looked_over(many(3))

    later = make.NOW + timedelta(days=8)
    imports.take_in(school=desk.school, kind="horns", file=io.BytesIO(many(2)), name="b.csv", by=desk.head, at=later)

    assert [one.name for one in Import.objects.all()] == ["b.csv"]


def test_the_rows_of_a_written_list_are_not_kept_for_ever_and_its_horns_stay(desk: Desk):
    imported = desk.bring_in(many(3))

    forget_old(school=desk.school, at=make.NOW + timedelta(days=59))
    assert imports_queries.may_undo(imported)
    forget_old(school=desk.school, at=make.NOW + timedelta(days=61))

    assert not Batch.objects.exists()
    assert not imports_queries.may_undo(imported)
    assert Horn.objects.at(desk.school).count() == 3


def test_a_file_that_cannot_be_read_leaves_no_import(desk: Desk):
    for data in (b"%PDF-1.4", b"just one line", b"Nr\r\n" + b"1\r\n" * 21_000):
        with pytest.raises(Refused):
            desk.take_in(data)
    assert not Import.objects.exists()
    assert not Batch.objects.exists()


def test_looking_a_batch_over_and_writing_it_take_as_many_queries_for_many_horns_as_for_few(
    desk: Desk, django_assert_max_num_queries
):
    few, lots = desk.take_in(many(3)), desk.take_in(many(400))
    for imported in (few, lots):
        imports.match_columns(imported=imported, columns=imported.columns, day_first=True)
        imported.refresh_from_db()
        with django_assert_max_num_queries(16):
            imports.look_over_next(imported=imported, at=make.NOW)
