"""The pages of a list on its way in, as the department head goes through them."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from fleet.exchange.models import BATCH, Import
from fleet.exchange.reading.bounds import Notes
from fleet.exchange.reading.file import lines_of
from fleet.ground.access import Role
from fleet.lending.models import PastLoan
from fleet.register.models import Horn
from fleet.workshop.models import Part
from tests import make
from tests.exchange.conftest import Desk, as_csv, as_xlsx, verdicts
from tests.pages import folded

pytestmark = pytest.mark.both_engines


def page(desk: Desk, name: str, *args: int) -> str:
    return reverse(f"exchange:{name}", args=(desk.school.slug, *args))


def send(desk: Desk, as_, data: bytes, kind: str = "horns"):
    file = SimpleUploadedFile("Liste.csv", data)
    return as_(desk.head).post(page(desk, "imports"), {"kind": kind, "file": file})


HORNS = as_csv([["Nr", "Maker", "Type"], ["H-1", "Bell", "double F/Bb"], ["H*2", "Bell", ""]])


def test_a_head_sends_a_file_matches_looks_writes_and_undoes(desk: Desk, as_):
    head = as_(desk.head)
    answer = send(desk, as_, HORNS)
    imported = Import.objects.get()
    assert answer.url == page(desk, "columns", imported.pk)
    shown = folded(head.get(answer.url))
    assert "like H-1 · H*2" in shown

    matched = {
        "match": "yes",
        "day_first": "yes",
        "column-0": "number",
        "column-1": "maker",
        "column-2": "described_as",
    }
    answer = head.post(answer.url, matched)
    assert answer.url == page(desk, "import", imported.pk)
    assert "part 0 of 1 is done" in folded(head.get(answer.url))

    head.post(answer.url, {"act": "check"})
    shown = folded(head.get(answer.url))
    assert "1 new, 0 changed, 0 already as they are, 1 refused." in shown
    assert "to be identified" in shown
    assert "A register number is made of letters, digits, spaces, dash, dot or slash." in shown
    assert not Horn.objects.at(desk.school).exists()

    head.post(answer.url, {"act": "write"})
    assert "On record" in folded(head.get(answer.url))
    horn = Horn.objects.at(desk.school).get()
    assert (horn.number, horn.described_as, horn.build) == ("H-1", "double F/Bb", "")

    head.post(answer.url, {"act": "undo"})
    assert folded(head.get(answer.url)).count("Everything is as it was before.") == 1
    assert not Horn.objects.at(desk.school).exists()


def test_columns_that_do_not_go_together_are_said_beside_them_and_the_choice_stays(desk: Desk, as_):
    imported = desk.take_in(as_csv([["Nr", "Type", "Maker"], ["H-1", "double", "Bell"]]))
    sent = {"match": "yes", "day_first": "no", "column-0": "-", "column-1": "maker", "column-2": "maker"}

    answer = as_(desk.head).post(page(desk, "columns", imported.pk), sent)

    assert answer.status_code == 422
    form = answer.context["form"]
    assert form.errors == {
        "column-2": ["“Type” is taken for “Maker” already."],
        "__all__": ["Say which column is “Register number”."],
    }
    assert [form[f"column-{place}"].value() for place in range(3)] == ["-", "maker", "maker"]
    imported.refresh_from_db()
    assert imported.state == "columns"


@pytest.mark.parametrize(
    ("sent", "sentences"),
    [
        ({"kind": "violins"}, {"kind": ["Choose what the list is about."], "file": ["Choose a file."]}),
        ({}, {"kind": ["Choose what the list is about."], "file": ["Choose a file."]}),
    ],
)
def test_what_is_wrong_with_the_sending_is_said_in_plain_words(desk: Desk, as_, sent, sentences):
    answer = as_(desk.head).post(page(desk, "imports"), sent)

    assert answer.context["form"].errors == sentences


@pytest.mark.parametrize("as_word", ["csv", "xlsx"])
def test_the_refused_rows_come_back_to_correct_and_send_again(desk: Desk, as_, as_word: str):
    data = as_csv(
        [["Nr", "Maker", "bought"], ["=1", "=cmd", "1.1.2019"], ["H*2", "'-x", "31.1.2019"], ["H-3", "B", ""]]
    )
    imported = desk.looked_over(data)

    answer = as_(desk.head).get(page(desk, "refused", imported.pk), {"as": as_word})
    content = b"".join(answer.streaming_content)
    rows = [cells for _, cells in lines_of(io.BytesIO(content), Notes())]

    assert answer.headers["Content-Disposition"].endswith(f"refused-horns.{as_word}")
    assert rows[0] == ["Nr", "Maker", "bought", "What is wrong"]
    assert [row[:3] for row in rows[1:]] == [["(formula) 1", "(formula) cmd", "1.1.2019"], ["H*2", "'-x", "31.1.2019"]]
    assert rows[2][3].startswith("Row 3. Register number: A register number is made of letters")
    # Sent again as it is, it is refused again; corrected, it is taken.
    assert verdicts(desk.looked_over(content)) == ["refused", "refused"]
    corrected = [[cell.replace("(formula) ", "").replace("*", "") for cell in row] for row in rows]
    again = desk.looked_over(as_csv(corrected))
    assert again.columns == ["number", "maker", "acquired_on", ""]
    assert [row["after"]["maker"] for row in again.batches.get().rows_that_are("new")] == ["cmd", "-x"]


def test_with_script_every_request_does_one_batch_and_the_page_asks_for_the_next(desk: Desk, as_):
    rows = [["number"], *[[f"H-{n}"] for n in range(2 * BATCH)]]
    imported = desk.take_in(as_csv(rows))
    head, address = as_(desk.head), page(desk, "import", imported.pk)
    head.post(page(desk, "columns", imported.pk), {"match": "yes", "day_first": "yes", "column-0": "number"})

    def step(act: str) -> str:
        return head.post(address, {"act": act}, headers={"HX-Request": "true"}).content.decode()

    assert [("part 1 of 3" in step("check")), ("part 2 of 3" in step("check"))] == [True, True]
    assert "1000 new" in step("check")
    first = step("write")
    assert "part 1 of 3" in first
    assert 'hx-trigger="load, submit"' in first
    assert "<html" not in first
    assert Horn.objects.at(desk.school).count() == BATCH - 1
    step("write-on")
    assert "On record" in step("write-on")
    assert Horn.objects.at(desk.school).count() == 2 * BATCH


def test_without_script_one_request_does_all_that_fits_into_it(desk: Desk, as_):
    imported = desk.take_in(as_csv([["number"], *[[f"H-{n}"] for n in range(2 * BATCH)]]))
    head, address = as_(desk.head), page(desk, "import", imported.pk)
    head.post(page(desk, "columns", imported.pk), {"match": "yes", "day_first": "yes", "column-0": "number"})

    head.post(address, {"act": "check"})
    head.post(address, {"act": "write"})

    assert "On record" in head.get(address).content.decode()


def test_a_file_that_is_no_spreadsheet_gets_a_sentence_beside_the_field(desk: Desk, as_):
    answer = send(desk, as_, b"%PDF-1.7 no list")

    assert answer.status_code == 409
    assert "This is no spreadsheet we can read." in answer.content.decode()
    assert not Import.objects.exists()


def test_a_second_writing_is_refused_on_the_page(desk: Desk, as_):
    first, second = desk.looked_over(HORNS), desk.looked_over(as_csv([["number"], ["X-1"]]))
    Import.objects.filter(pk=first.pk).update(state="writing")

    answer = as_(desk.head).post(page(desk, "import", second.pk), {"act": "write"})

    assert answer.status_code == 409
    assert "is being written at this moment" in answer.content.decode()


def test_a_list_can_be_put_away(desk: Desk, as_):
    imported = desk.looked_over(HORNS)

    as_(desk.head).post(page(desk, "import", imported.pk), {"act": "discard"})

    assert not Import.objects.exists()


@pytest.mark.parametrize("as_word", ["csv", "xlsx"])
def test_a_list_that_went_out_comes_back_in_unchanged(desk: Desk, as_, as_word: str):
    room = make.place(desk.school, room="Room 1", shelf="Top")
    make.horn(
        desk.school, number="H-1", maker="=HYPERLINK(1)", notes="-x\n@y", place=room, finish="nickel-silver", build=""
    )
    make.horn(desk.school, number="H-2", described_as="double", build="", acquired_on=make.TODAY, bell="screw")
    make.horn(desk.school, number="H-3", serial_number="+12", wrap="oval", price="12.30")

    answer = as_(desk.head).get(page(desk, "horns-out"), {"as": as_word, "money": "yes"})
    data = b"".join(answer.streaming_content)
    imported = desk.looked_over(data)

    assert [row["verdict"] for row in imported.batches.get().rows if "verdict" in row] == ["same"] * 3
    assert set(imported.columns) - {""} >= {"number", "described_as", "maker", "price", "value", "notes", "room"}


def rows_out(answer) -> list[list[str]]:
    content = b"".join(answer.streaming_content)
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_the_list_of_horns_goes_out_as_it_is_narrowed_and_only_this_schools(desk: Desk, as_):
    make.horn(desk.school, number="H-10", maker="Quillfeather")
    make.horn(desk.school, number="H-9", maker="Quillfeather", build="double-full", stands_in="F")
    make.horn(desk.school, number="H-8", maker="Other", build="double-full", stands_in="F")
    teacher = as_(make.staff(Role.TEACHER, desk.school))

    def numbers(**query: str) -> list[str]:
        return [row[0] for row in rows_out(teacher.get(page(desk, "horns-out"), {"as": "csv", **query}))[1:]]

    assert numbers() == ["H-8", "H-9", "H-10"]
    assert numbers(q="quillf") == ["H-9", "H-10"]
    assert numbers(q="quillf", build="double-full") == ["H-9"]
    assert numbers(sort="-number") == ["H-10", "H-9", "H-8"]
    assert numbers(sort="build", build="double-full", q="") == ["H-8", "H-9"]
    assert numbers(sort="nonsense") == ["H-8", "H-9", "H-10"]


def test_pupils_and_loans_go_out_in_the_order_of_their_list(desk: Desk, as_):
    ada = make.pupil(desk.school, name="Ada", group="B")
    ben = make.pupil(desk.school, name="Ben", group="A")
    make.loan(make.horn(desk.school, number="H-2"), ada, desk.head, due_on=date(2027, 1, 1))
    make.loan(make.horn(desk.school, number="H-10"), ben, desk.head, due_on=date(2027, 2, 1))
    head = as_(desk.head)

    def first_cells(name: str, sort: str) -> list[str]:
        return [row[0] for row in rows_out(head.get(page(desk, name), {"as": "csv", "sort": sort}))[1:]]

    assert [first_cells("pupils-out", sort) for sort in ("group", "-group", "guardians", "")] == [
        ["Ben", "Ada"],
        ["Ada", "Ben"],
        ["Ada", "Ben"],
        ["Ada", "Ben"],
    ]
    assert [first_cells("loans-out", sort) for sort in ("horn", "-horn", "-due_on", "")] == [
        ["H-2", "H-10"],
        ["H-10", "H-2"],
        ["H-10", "H-2"],
        ["H-2", "H-10"],
    ]
    listed = head.get(reverse("people:pupils", args=[desk.school.slug]), {"sort": "-group"}).content.decode()
    assert f"{page(desk, 'pupils-out')}?sort=-group&amp;as=xlsx" in listed


@pytest.mark.parametrize(
    ("role", "asked", "seen"),
    [(Role.HEAD, "yes", True), (Role.HEAD, "", False), (Role.TEACHER, "yes", False), (Role.TECHNICIAN, "yes", False)],
)
def test_prices_go_out_to_heads_who_ask_for_them(desk: Desk, as_, role: Role, asked: str, seen: bool):
    make.horn(desk.school, price="77.10", value="66.10")

    answer = as_(make.staff(role, desk.school)).get(page(desk, "horns-out"), {"as": "csv", "money": asked})
    head, row = rows_out(answer)

    assert ("Price paid" in head, "77.10" in row, "66.10" in row) == (seen, seen, seen)


def test_pupils_and_loans_go_out_as_they_are_narrowed(desk: Desk, as_):
    adult = make.guardian(desk.school, name="Ann Quill", email="a@example.org")
    ada, ben = make.pupil(desk.school, adult, name="Ada Quill"), make.pupil(desk.school, name="Ben")
    make.pupil(desk.school, name="Cy Quill", left_on=make.TODAY)
    make.loan(make.horn(desk.school, number="H-1"), ada, desk.head)
    make.loan(make.horn(desk.school, number="H-2"), ben, desk.head, returned_on=make.TODAY)
    head = as_(desk.head)

    pupils = rows_out(head.get(page(desk, "pupils-out"), {"as": "csv", "q": "quill"}))
    assert [row[:1] + row[4:6] for row in pupils[1:]] == [["Ada Quill", "Ann Quill", "a@example.org"]]
    loans = {
        state: [row[0] for row in rows_out(head.get(page(desk, "loans-out"), {"as": "csv", "state": state}))[1:]]
        for state in ("open", "ended", "")
    }
    assert loans == {"open": ["H-1"], "ended": ["H-2"], "": ["H-1", "H-2"]}


def test_past_loans_go_out_and_come_back_in_unchanged(desk: Desk, as_):
    horn, ada = make.horn(desk.school, number="H-1"), make.pupil(desk.school, name="Ada Quill")
    PastLoan.objects.create(horn=horn, pupil=ada, issued_on=date(2019, 1, 1), returned_on=date(2019, 2, 1), notes="=1")
    PastLoan.objects.create(
        horn=make.horn(desk.other, number="X-1"),
        pupil=make.pupil(desk.other),
        issued_on=date(2019, 1, 1),
        returned_on=date(2019, 2, 1),
    )

    answer = as_(desk.head).get(page(desk, "past-loans-out"), {"as": "csv"})
    data = b"".join(answer.streaming_content)

    assert verdicts(desk.looked_over(data, kind="past-loans")) == ["same"]


def test_charges_go_out_as_listed_or_with_those_settled(desk: Desk, as_):
    loan = make.loan(make.horn(desk.school, number="H-1"), make.pupil(desk.school, name="Ada"), desk.head)
    make.charge(loan, desk.head, what="a mute", amount=Decimal("9.50"))
    make.charge(loan, desk.head, what="a case", state="paid", settled_on=make.TODAY, settled_by=desk.head)
    make.charge(make.loan(make.horn(desk.other), make.pupil(desk.other), desk.head), desk.head)
    head = as_(desk.head)

    def out(**query: str) -> list[list[str]]:
        return [row[:2] + row[8:9] for row in rows_out(head.get(page(desk, "charges-out"), {"as": "csv", **query}))[1:]]

    assert out() == [["a mute", "Ada", "due"]]
    assert sorted(out(state="all")) == [["a case", "Ada", "paid"], ["a mute", "Ada", "due"]]
    charges = head.get(reverse("loans:charges", args=[desk.school.slug])).content.decode()
    assert f"{page(desk, 'charges-out')}?as=xlsx&amp;state=all" in charges


def test_a_horn_at_the_repairers_goes_out_as_there_and_not_as_at_its_shelf(desk: Desk, as_):
    horn = make.horn(desk.school, number="H-1", place=make.place(desk.school, room="Horn cupboard"))
    make.job(horn, desk.head, state="away", repairer="Bell and Sons")
    head = as_(desk.head)

    names, horns = rows_out(head.get(page(desk, "horns-out"), {"as": "csv"}))
    said = dict(zip(names, horns, strict=True))
    assert (said["Where it is"], said["Who has it"]) == ("at the repairer’s", "Bell and Sons")
    names, jobs = rows_out(head.get(page(desk, "jobs-out"), {"as": "csv"}))
    assert dict(zip(names, jobs, strict=True))["Where it is"] == "at the repairer’s, Bell and Sons"


def test_repair_jobs_and_parts_go_out_as_the_bench_shows_them(desk: Desk, as_):
    slow, fast = make.horn(desk.school, number="H-1"), make.horn(desk.school, number="H-2")
    make.job_with(slow, desk.head, ("string-frayed", "n"))
    make.job_with(fast, desk.head, ("string-broken", "r"))
    make.job(make.horn(desk.school, number="H-3"), desk.head, state="done", cost=Decimal("12.00"))
    make.job(make.horn(desk.other), desk.head)
    Part.objects.create(school=desk.school, name="=string", on_hand=1, minimum=3, cost=Decimal("0.50"))
    technician = as_(make.staff(Role.TECHNICIAN, desk.school))

    def jobs(**query: str) -> list[list[str]]:
        found = rows_out(technician.get(page(desk, "jobs-out"), {"as": "csv", **query}))
        return [[row[0], row[4], row[11]] for row in found[1:]]

    assert jobs() == [["H-2", "waiting", ""], ["H-1", "waiting", ""]]
    assert jobs(state="done") == [["H-3", "done", "12.00"]]
    assert jobs(whose="mine") == []
    heads, *parts = rows_out(technician.get(page(desk, "parts-out"), {"as": "csv"}))
    told = dict.fromkeys(heads, "") | {"Part": "'=string", "There": "1", "At least": "3", "To order": "2"}
    assert [dict(zip(heads, row, strict=True)) for row in parts] == [told | {"Cost of one": "0.50"}]
    bench = technician.get(reverse("workshop:bench", args=[desk.school.slug]), {"whose": "free"}).content.decode()
    assert f"{page(desk, 'jobs-out')}?whose=free&amp;as=xlsx" in bench


def test_cells_that_would_run_are_words_in_both_kinds_of_file(desk: Desk, as_):
    from openpyxl import load_workbook

    make.horn(desk.school, number="H-1", maker='=cmd|"/C calc"!A0', model="+1", serial_number="-1", notes="@SUM(1)")
    head = as_(desk.head)

    row = rows_out(head.get(page(desk, "horns-out"), {"as": "csv"}))[1]
    answer = head.get(page(desk, "horns-out"), {"as": "xlsx"})
    sheet = load_workbook(io.BytesIO(b"".join(answer.streaming_content))).active
    cells = [cell for cell in sheet[2] if cell.value is not None]

    assert [row[4], row[5], row[6], row[-1]] == ['\'=cmd|"/C calc"!A0', "'+1", "'-1", "'@SUM(1)"]
    assert {cell.data_type for cell in cells} == {"s"}
    assert [str(cell.value) for cell in cells if str(cell.value)[0] in "=+-@"] == []


def test_a_long_list_goes_out_in_a_fixed_number_of_queries(desk: Desk, as_, django_assert_num_queries):
    def ask() -> None:
        # Three of them put on record that the list was taken along.
        with django_assert_num_queries(8):
            rows_out(client.get(page(desk, "horns-out"), {"as": "csv"}))

    client = as_(desk.head)
    make.horn(desk.school, place=make.place(desk.school))
    ask()
    for _ in range(3):
        make.horn(desk.school, place=make.place(desk.school))
    ask()


def test_the_preview_of_past_loans_says_which_horn_and_whom(desk: Desk, as_):
    horn = make.horn(desk.school, number="H-1")
    ada, _ = make.pupil(desk.school, name="Ada Quill"), make.pupil(desk.school, name="Ben Low")
    PastLoan.objects.create(horn=horn, pupil=ada, issued_on=date(2019, 1, 1), returned_on=date(2019, 2, 1))
    rows = [
        ["Nr", "Name", "from", "to"],
        ["H-1", "Ada Quill", "1.1.2020", "1.2.2020"],
        ["H-1", "Ben Low", "1.1.2019", "1.2.2019"],
    ]

    imported = desk.looked_over(as_csv(rows), kind="past-loans")
    shown = folded(as_(desk.head).get(page(desk, "import", imported.pk)))

    assert "H-1 · " in shown
    assert '<span class="quiet">Pupil</span> Ada Quill' in shown
    assert '<ins class="differs">Ben Low</ins>' in shown


def test_the_ways_to_lists_stand_on_the_pages_they_belong_to(desk: Desk, as_):
    make.horn(desk.school)
    head, teacher = as_(desk.head), as_(make.staff(Role.TEACHER, desk.school))
    slug = desk.school.slug

    assert page(desk, "imports") in head.get(reverse("people:settings", args=[slug])).content.decode()
    horns = head.get(reverse("register:horns", args=[slug]), {"q": "HN", "page": "1"}).content.decode()
    assert f"{page(desk, 'horns-out')}?q=HN&amp;as=xlsx" in horns
    assert "money=yes" in horns
    assert "money=yes" not in teacher.get(reverse("register:horns", args=[slug])).content.decode()


def test_a_horns_page_and_the_finding_page_show_what_the_list_called_it(desk: Desk, as_):
    horn = make.horn(desk.school, build="", described_as="compact single")
    head = as_(desk.head)

    shown = head.get(reverse("desk:horn", args=[desk.school.slug, horn.pk])).content.decode()
    finding = head.get(reverse("register:identified", args=[desk.school.slug]), {"horn": horn.pk, "valves": "3"})

    words = "calls it “compact single”: perhaps a compact single horn in F, or a compact single horn in B♭"
    assert words in shown
    assert words in folded(finding)
    assert "Nobody knows yet what this is." in shown


def test_an_xlsx_file_goes_through_the_page(desk: Desk, as_):
    answer = send(desk, as_, as_xlsx([["Nr", "Maker"], ["H-1", "Bell"]]))

    assert answer.status_code == 302
