"""A wrong cell of a list is typed anew before anything is written, and read again by the same reader."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.forms import CellsForm
from fleet.exchange.models import Batch, Import
from fleet.ground.refusal import Refused
from fleet.people.models import Guardian, Pupil
from fleet.register.models import Horn
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.pages import folded

HORNS = [["Number", "Maker", "bought", "notes"], ["H*1", "Bell", "31.2.2019", "two\nlines"], ["H-2", "B", "2019", ""]]


def page(desk: Desk, imported: Import, are: str = "refused") -> str:
    return f"{reverse('exchange:rows', args=[desk.school.slug, imported.pk])}?are={are}"


def test_a_refused_cell_is_typed_anew_and_the_row_comes_in(desk: Desk, as_):
    imported = desk.looked_over(as_csv(HORNS))
    client = as_(desk.head)
    assert page(desk, imported) in folded(client.get(reverse("exchange:import", args=[desk.school.slug, imported.pk])))
    form = client.get(page(desk, imported)).context["form"]
    (row,) = form.rows
    assert (row.line, [field.label for field in row.wrong]) == (2, ["Register number"])
    assert [field.label for field in row.others] == ["Maker", "Acquired on", "Notes"]
    # One that its column needs is not said to be optional, and may be empty all the same: the reader refuses the row.
    assert [field.field.required for field in (*row.wrong, *row.others)] == [True, False, False, False]
    assert CellsForm({}, imported=imported, rows=form.lines, why="wrong").is_valid()

    sent = {name: field.initial for name, field in form.fields.items()} | {"cell-2-0": "H-1"}
    # As a field of one line gives a cell of two back.
    answer = client.post(page(desk, imported), sent | {"cell-2-3": "two lines"}, follow=True)

    assert "1 cell is typed anew, and the list is read again." in folded(answer)
    imported.refresh_from_db()
    assert verdicts(imported) == ["new", "new"]
    assert wrongs(imported, "noted")[0][:2] == (2, "Acquired on")
    row = imported.batches.get().rows[1]
    assert (row["cells"], row["said"]) == (["H-1", "Bell", "31.2.2019", "two\nlines"], {"0": "H*1"})
    desk.write(imported)
    assert Horn.objects.at(desk.school).count() == 2


def test_a_cell_left_empty_is_typed_anew_and_what_the_file_said_first_is_kept(desk: Desk, as_):
    imported = desk.looked_over(as_csv([*HORNS[:1], ["H-1", "Bell", "31.2.2019"]]))

    for said in ("30.2.2019", "28.2.2019"):
        as_(desk.head).post(page(desk, imported, "noted"), {"cell-2-2": said, "cell-2-0": "H-1", "cell-2-1": "Bell"})

    row = imported.batches.get().rows[1]
    assert row["said"] == {"2": "31.2.2019"}
    assert row["after"]["acquired_on"] == "2019-02-28"
    assert row["noted"] == []


def test_a_guardians_contact_is_asked_for_where_it_is_missing(desk: Desk, as_):
    head = ["Name", "Guardian", "Guardian’s e-mail", "Class"]
    imported = desk.looked_over(as_csv([head, ["Ada", "Ann", "", "5a"]]), kind="pupils")
    (row,) = as_(desk.head).get(page(desk, imported, "noted")).context["form"].rows
    assert [field.label for field in row.wrong] == ["Guardian", "Guardian’s e-mail"]

    sent = {"cell-2-0": "Ada", "cell-2-1": "Ann", "cell-2-2": "zoe@example.org", "cell-2-3": "5a"}
    as_(desk.head).post(page(desk, imported, "noted"), sent)

    imported.refresh_from_db()
    desk.write(imported)
    assert Guardian.objects.get(pupils=Pupil.objects.get(school=desk.school)).email == "zoe@example.org"


@pytest.mark.parametrize("said", ["H*1", " H*1 "])
def test_nothing_typed_anew_is_said_and_the_list_stays_looked_over(desk: Desk, as_, said: str):
    imported = desk.looked_over(as_csv(HORNS))

    sent = {"cell-2-0": said, "cell-2-1": "Bell", "cell-2-2": "31.2.2019", "cell-2-3": "two lines"}
    answer = as_(desk.head).post(page(desk, imported), sent)

    assert answer.status_code == 409
    assert "Nothing is typed anew." in folded(answer)
    imported.refresh_from_db()
    assert imported.state == Import.State.CHECKED


def test_a_formula_and_a_cell_that_is_too_long_are_no_better_typed_by_hand(desk: Desk, as_):
    imported = desk.looked_over(as_csv(HORNS))
    others = {"cell-2-1": "Bell", "cell-2-2": "", "cell-2-3": ""}

    assert as_(desk.head).post(page(desk, imported), others | {"cell-2-0": "x" * 99_999}).status_code == 422
    as_(desk.head).post(page(desk, imported), others | {"cell-2-0": "=1+1"})

    imported.refresh_from_db()
    assert verdicts(imported) == ["refused", "new"]
    assert "no formula" not in str(wrongs(imported))
    assert "is a formula" in wrongs(imported)[0][3]


@pytest.mark.parametrize("name", ["cell-9-0", "cell-2-9", "cell-x-0", "cell-2", "cell-2-0-1", "cell--0", "line"])
def test_what_is_no_cell_of_the_list_is_let_alone(desk: Desk, as_, name: str):
    imported = desk.looked_over(as_csv(HORNS))

    assert as_(desk.head).post(page(desk, imported), {name: "H-9"}).status_code in {302, 409}

    assert "H-9" not in str(Batch.objects.get(batch_of=imported).rows)


def test_the_rows_that_were_sent_are_told_from_the_names_of_their_fields():
    assert CellsForm.lines_in({"cell-2-0": "", "cell-13-4": "", "cell-x-1": "", "cell-3": "", "page": ""}) == {2, 13}


def test_what_was_looked_over_before_a_cell_was_typed_anew_is_not_kept(desk: Desk, monkeypatch):
    imported = desk.looked_over(as_csv(HORNS))
    imports.settle_names(imported=imported, answers=[])
    stale = Import.objects.get(pk=imported.pk)
    look_over = imports.look_over

    def meanwhile(*args, at):
        # Another request has looked it over, and somebody has typed a cell anew, before this one is done.
        monkeypatch.setattr(imports, "look_over", look_over)
        look_over(*args, at=at)
        desk.look_over(Import.objects.get(pk=imported.pk))
        imports.correct_cells(imported=imported, cells={2: {0: "H-1"}})

    monkeypatch.setattr(imports, "look_over", meanwhile)
    assert imports.look_over_next(imported=stale, at=make.NOW)

    imported = desk.look_over(Import.objects.get(pk=imported.pk))
    assert imported.batches.get().rows[1]["cells"][0] == "H-1"
    assert verdicts(imported) == ["new", "new"]


def test_a_list_that_is_written_is_not_typed_anew(desk: Desk):
    imported = desk.bring_in(as_csv(HORNS))

    with pytest.raises(Refused, match="written by now"):
        imports.correct_cells(imported=imported, cells={2: {0: "H-1"}})
