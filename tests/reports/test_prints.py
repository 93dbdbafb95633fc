"""Labels, lists, letters, cards, receipts and schedules, read back from their PDFs."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
import zxingcpp
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from fleet.counting.models import Count
from fleet.ground.access import Role
from fleet.lending.models import Agreement
from fleet.people.models import School
from fleet.people.queries.school_days import SchoolDays
from fleet.register.models import Horn, LabelSheet
from fleet.register.models.labels import LEAST_HEIGHT, LEAST_WIDTH, PAPERS, label_sheet_of
from fleet.reports.paper import handover, labels
from fleet.reports.paper.counts import count_sheet_drawn
from fleet.reports.queries.loan_facts import of_draft
from fleet.reports.sheet.lines import MM
from fleet.signing.forms.drafts import Draft
from fleet.signing.forms.particulars import ParticularsForm
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.pages import on_paper

# The same rows give the same paper.
pytestmark = pytest.mark.either_engine
DAY = timedelta(days=1)
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
SIZES = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}


def text(content: bytes) -> str:
    return " ".join(on_paper(content))


def pages(content: bytes) -> int:
    return len(PdfReader(io.BytesIO(content)).pages)


def codes(png: bytes) -> list[str]:
    return [found.text for found in zxingcpp.read_barcodes(Image.open(io.BytesIO(png)))]


def test_every_label_of_a_sheet_is_decoded_to_its_horns_own_address(school, get, rendered):
    horns = [make.horn(school, number=f"HN-{n:03d}") for n in range(1, 25)]
    content = get("labels")
    assert sorted(codes(rendered(content))) == sorted(f"http://testserver/h/{one.label_code}/" for one in horns)
    assert pages(content) == 1
    said = text(content)
    assert [one.number for one in horns if one.number not in said] == []


def test_labels_used_already_stay_free_and_a_full_sheet_goes_on_with_the_next(school, get):
    for n in range(5):
        make.horn(school, number=f"HN-{n}")
    content = get("labels", skip="22")
    assert pages(content) == 2
    first, second = (page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    assert ("HN-0" in first, "HN-1" in first, "HN-2" in first) == (True, True, False)
    assert "HN-4" in second


def test_a_label_tells_nothing_but_number_school_and_address(school, head, get):
    horn = make.horn(school, number="HN-1", value=Decimal("4321"), serial_number="S-77")
    make.loan(horn, make.pupil(school, make.guardian(school), name="Ada"), head)
    assert text(get("labels")).split("Hill") == ["HN-1", " Road School"]


def test_labels_of_some_numbers_and_of_one_place(school, get):
    place = make.place(school)
    make.horn(school, number="HN-1", place=place)
    make.horn(school, number="HN-2")
    make.horn(school, number="HN-3")
    assert text(get("labels", numbers="hn-2; HN-3,")).replace("Hill Road School", "").split() == [
        "HN-2",
        "HN-3",
    ]
    assert text(get("labels", place=str(place.pk))).replace("Hill Road School", "").split() == ["HN-1"]


def test_a_sheet_of_letter_paper_has_three_by_ten_labels_unless_a_school_says_otherwise(school):
    school.paper = "letter"
    assert str(label_sheet_of(school)) == "3 × 10 labels of 66.7 × 25.4 mm"


def test_labels_lie_where_the_packet_says(school, get):
    sheet = LabelSheet.objects.create(
        school=school, across=2, down=3, width=90, height=50, left=12, top=20, gap_across=6, gap_down=10
    )
    assert sheet.corner(3) == (12 + 96, 20 + 60)
    make.horn(school, number="HN-1")
    content = get("labels", skip="3")
    # The number stands right of a code half as wide as the label at most, a little below its middle.
    where = {}
    PdfReader(io.BytesIO(content)).pages[0].extract_text(
        visitor_text=lambda words, cm, tm, font, size: where.setdefault(words.strip(), (tm[4] / MM, tm[5] / MM))
    )
    x, y = where["HN-1"]
    assert 108 < x < 108 + 90
    assert y == pytest.approx(297 - (80 + 25 + 1), abs=0.1)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_school_without_a_sheet_of_its_own_has_one_that_fits_its_paper(school, paper):
    school.paper = paper
    sheet = label_sheet_of(school)
    sheet.full_clean(exclude=["school"])
    content = labels.alignment(sheet, school=school)
    box = PdfReader(io.BytesIO(content)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZES[paper], abs=0.1)
    assert text(content).startswith("1 ")
    assert str(sheet.count) in text(content)


@given(
    across=st.integers(1, 6),
    down=st.integers(1, 14),
    width=st.floats(25, 210),
    height=st.floats(16, 290),
    left=st.floats(0, 40),
    top=st.floats(0, 40),
)
@settings(max_examples=60, deadline=None)
def test_a_sheet_that_is_let_through_has_every_label_on_the_paper(across, down, width, height, left, top):
    sheet = LabelSheet(across=across, down=down, width=width, height=height, left=left, top=top)
    try:
        sheet.clean()
    except Exception:
        return
    for place in range(sheet.count):
        x, y = sheet.corner(place)
        assert x + width <= PAPERS["a4"][0] + 0.11
        assert y + height <= PAPERS["a4"][1] + 0.11


def test_a_sheet_wider_than_the_paper_is_refused_in_a_sentence(school, head, as_):
    sent = {"paper": "a4", "across": 4, "down": 8, "width": 70, "height": 36, "left": 0, "top": 4}
    address = reverse("register:label-sheet", args=(school.slug,))
    answer = as_(head).post(address, {**sent, "gap_across": 0, "gap_down": 0})
    assert answer.status_code == 422
    assert "280 mm wide in all; the paper is 210 mm" in answer.content.decode()
    assert not LabelSheet.objects.exists()


def test_sheets_of_a_class_are_one_pdf_with_a_page_each(school, head, get):
    groups = ("7B", "7B", "8A")
    loans = [make.loan(make.horn(school), make.pupil(school, make.guardian(school), group=one), head) for one in groups]
    content = get("loan-sheets", group="7B")
    assert pages(content) == 2
    assert "8A" not in text(content)
    assert pages(get("loan-sheets", loan=loans[0].pk)) == 1
    type(loans[1]).objects.filter(pk=loans[1].pk).update(signed_on=make.TODAY - DAY, issued_on=make.TODAY - DAY)
    assert pages(get("loan-sheets", on=str(make.TODAY))) == 2


def test_too_many_sheets_at_once_are_refused_and_none_is_left_out_unsaid(school, head, as_, monkeypatch):
    monkeypatch.setattr("fleet.reports.pages.loans.MOST_SHEETS", 1)
    for _ in range(2):
        make.loan(make.horn(school), make.pupil(school, make.guardian(school)), head)
    answer = as_(head).get(reverse("reports:loan-sheets", args=(school.slug,)), follow=True)
    assert "More than 1 sheets are too many at once. Choose a class." in answer.content.decode()


def test_many_sheets_take_as_many_queries_as_one(school, head, as_, django_assert_num_queries):
    client, address = as_(head), reverse("reports:loan-sheets", args=(school.slug,))
    for more in (1, 2):
        for _ in range(more):
            horn = make.horn(school)
            make.loan(horn, make.pupil(school, make.guardian(school)), head)
            make.finding(horn.checks.get(), "bell-dented", "n")
        # Session, account, seat, loans, accessories, findings, moved due dates; the act with its savepoint.
        with django_assert_num_queries(11):
            client.get(address)


def test_a_class_list_has_every_pupil_with_and_without_a_horn(school, head, get):
    ada = make.pupil(school, make.guardian(school), name="Ada", group="7B")
    make.pupil(school, name="Ben", group="7B")
    cid = make.pupil(school, make.guardian(school), name="Cid", group="8A")
    make.loan(make.horn(school, number="HN-88"), cid, head)
    horn = make.horn(school, number="HN-77", build="double-full", stands_in="F")
    make.loan(horn, ada, head, due_on=make.TODAY + 9 * DAY)
    said = text(get("class-list", group="7B"))
    for words in ("2 pupils, 1 with a horn", "Ada 5 HN-77 full double horn", "23 September 2026", "Ben 5 – no horn"):
        assert words in said
    assert "Cid" not in said


def test_of_a_class_that_is_not_there_no_list_is_printed(school, head, as_, get):
    make.pupil(school, group="7B", left_on=make.TODAY)
    assert "Nobody is in this class." in text(get("class-list", group="7B"))
    address = reverse("reports:class-list", args=(school.slug,))
    answer = as_(head).get(address, {"group": "7C"}, follow=True)
    assert [status for _, status in answer.redirect_chain] == [302]
    assert "Nobody is in this class." in answer.content.decode()


def test_the_overdue_list_says_who_has_what_for_how_long_and_whom_to_ask(school, head, get):
    maria = make.guardian(school, name="Maria", email="m@home.example", telephone="0123")
    late = make.pupil(school, maria, name="Ada", group="7B")
    make.loan(
        make.horn(school, number="HN-5"), late, head, issued_on=make.TODAY - 40 * DAY, due_on=make.TODAY - 3 * DAY
    )
    make.loan(make.horn(school, number="HN-6"), make.pupil(school, make.guardian(school)), head)
    said = text(get("overdue-list"))
    assert "11 September 2026 3 HN-5 Ada 7B Maria m@home.example, 0123" in said
    assert "HN-6" not in said


@pytest.mark.parametrize(
    ("build", "oil"),
    [("double-full", "a few drops of valve oil"), ("piston-single-f", "take the pistons out one at a time")],
)
def test_a_care_card_names_the_oil_of_its_own_horn_and_its_code_is_decoded(school, get, rendered, build, oil):
    horn = make.horn(school, build=build, stands_in="F")
    content = get("care-card", horn.pk)
    assert oil in text(content)
    assert "Tell the school the same day: the music office" in text(content)
    assert "May be fatal if swallowed and enters airways" in text(content)
    assert codes(rendered(content)) == [f"http://testserver/h/{horn.label_code}/"]


@pytest.mark.parametrize(("rules", "printed"), [("Bring it on Mondays.", True), ("Long words. " * 900, False)])
def test_a_care_card_says_the_schools_own_rules_where_they_have_room(school, get, rules, printed):
    type(school).objects.filter(pk=school.pk).update(local_rules=rules)
    said = text(get("care-card", make.horn(school).pk))
    # A caution begins with these words, too.
    assert said.count("The school’s own rules") == 1 + printed
    assert (rules[:10] in said) is printed
    assert "Tell the school the same day: the music office" in said


def test_a_sheet_of_a_count_without_horns_says_so(school):
    assert "No horn is on the list" in text(count_sheet_drawn(Count(), [], school=school, paper="a4"))


@pytest.mark.parametrize("lacks", ["horn", "pupil", "form", "check", "agreement"])
def test_a_draft_that_is_not_whole_has_no_sheet(school, lacks):
    pupil = make.pupil(school)
    form = ParticularsForm(today=make.TODAY, days=SchoolDays(9), pupil=pupil)
    whole = Draft(school, make.TODAY, Horn(), pupil, form, ConditionCheck(), Agreement())
    with pytest.raises(ValueError, match="not whole"):
        of_draft(replace(whole, **{lacks: None}), [])


def test_no_loan_that_is_out_has_a_page_that_says_so(get):
    assert "No such loan is out: there is no sheet to print." in text(get("loan-sheets"))


def test_the_boxes_of_a_class_list_say_what_is_ticked(school, get):
    make.pupil(school, name="Ben", group="7B")
    assert "Back by Out Back" in text(get("class-list", group="7B"))


def test_the_overdue_list_says_by_which_of_the_two_a_guardian_is_reached(school, head, get):
    for contact in ({"email": "m@home.example"}, {"email": "", "telephone": "0123"}):
        guardian = make.guardian(school, with_account=False, **contact)
        ends = {"issued_on": make.TODAY - 40 * DAY, "due_on": make.TODAY - 3 * DAY}
        make.loan(make.horn(school), make.pupil(school, guardian), head, **ends)
    said = text(get("overdue-list"))
    assert "m@home.example" in said
    assert "0123" in said


def test_a_label_asks_a_finder_to_bring_the_horn_back_where_that_is_wanted(school, get):
    make.horn(school, number="HN-1")
    school.contact = "the music office, 0123"
    school.save()
    assert "If found" not in text(get("labels"))
    assert "If found: Hill Road School, the music office, 0123" in text(get("labels", found="1"))


@pytest.mark.parametrize("role", [Role.TEACHER, Role.TECHNICIAN])
def test_values_are_printed_for_heads_only(school, as_, role):
    answer = as_(make.staff(role, school)).get(reverse("reports:insurance", args=(school.slug,)))
    assert answer.status_code == 403


PRINTS = ["labels", "loan-sheets", "class-list", "overdue-list", "overdue-letters", "handover", "insurance"]


@pytest.mark.parametrize("name", PRINTS)
def test_the_same_print_gives_the_same_bytes_on_either_paper(school, head, get, name):
    pupil = make.pupil(school, make.guardian(school), group="")
    make.loan(make.horn(school), pupil, head, issued_on=make.TODAY - 9 * DAY, due_on=make.TODAY - DAY)
    for paper in ("a4", "letter"):
        once, twice = get(name, paper=paper), get(name, paper=paper)
        assert once == twice
        box = PdfReader(io.BytesIO(once)).pages[0].mediabox
        # Labels lie on the sheets that the school bought, whatever paper it writes on.
        wanted = SIZES["a4" if name == "labels" else paper]
        assert (float(box.width), float(box.height)) == pytest.approx(wanted, abs=0.1)


@pytest.mark.parametrize("name", [name for name in PRINTS if name != "labels"])
def test_a_print_of_nothing_is_a_page_and_no_error(school, get, name):
    content = get(name)
    assert pages(content) == 1
    # Never a heading with nothing under it.
    assert "Number" not in text(content)
    assert "Due back" not in text(content)


@pytest.mark.parametrize("name", ["labels", "handover"])
def test_numbers_that_no_horn_has_are_named_and_what_was_typed_stays(school, head, as_, name):
    make.horn(school, number="HN-1")
    asked = {"numbers": "HN-1, hn-x, 7", "skip": "5", "from": "Ines", "cut": "1"}
    answer = as_(head).get(reverse(f"reports:{name}", args=(school.slug,)), asked, follow=True)
    said = answer.content.decode()
    assert "no horn with the number hn-x, 7" in said
    assert 'value="HN-1, hn-x, 7"' in said
    assert re.search(r'name="skip"\s+min="0"\s+max="24"\s+value="5"', said)
    assert 'value="Ines"' in said


def test_a_number_in_small_letters_that_a_database_may_not_know_is_found_as_typed(school, get):
    make.horn(school, number="é-1")
    assert "é-1" in text(get("labels", numbers="é-1"))


def test_no_label_is_printed_where_there_is_no_horn(school, head, as_):
    answer = as_(head).get(reverse("reports:labels", args=(school.slug,)), follow=True)
    assert "There is no horn to print a label for." in answer.content.decode()


def test_too_many_labels_at_once_are_refused_with_how_many(school, head, as_, monkeypatch):
    monkeypatch.setattr("fleet.reports.pages.horns.MOST", 2)
    for _ in range(3):
        make.horn(school)
    answer = as_(head).get(reverse("reports:labels", args=(school.slug,)), follow=True)
    assert "That would be 3 labels. Print at most 2 at once" in answer.content.decode()


def test_lines_to_cut_along_lie_where_the_labels_meet(school, get, rastered):
    make.horn(school)
    corner = (70 / 25.4 * 100, 20 / 25.4 * 100)  # The right edge of the first label, half-way down.

    def ink(**asked):
        [page] = rastered(get("labels", **asked), 100)
        x, y = map(round, corner)
        return min(page.convert("L").crop((x - 3, y - 3, x + 4, y + 4)).tobytes())

    assert ink() == 255
    assert ink(cut="1") < 128


@pytest.mark.parametrize("origin", ["https://horns.example.org", "https://the-very-long-name.of-a-school.example.org"])
def test_the_smallest_label_allowed_is_read_from_the_paper(school, rastered, origin):
    sheet = LabelSheet(school=school, across=2, down=2, width=LEAST_WIDTH, height=LEAST_HEIGHT, left=10, top=10)
    row = ("HN-0001", "ABCD2345", "double-full")
    content = labels.labels_drawn([row], sheet=sheet, school=school, origin=origin, skip=0, cut=False)
    # What a school's laser printer draws, and then what a telephone sees of it.
    [page] = rastered(content, 600)
    corner = page.crop((0, 0, 1200, 900)).resize((600, 450))
    assert [found.text for found in zxingcpp.read_barcodes(corner)] == [f"{origin}/h/ABCD2345/"]


@given(st.lists(st.text(max_size=80), min_size=1, max_size=6))
@settings(max_examples=40, deadline=None)
def test_any_words_at_all_go_into_a_table(words):
    from fleet.register.models import Horn

    horns = [Horn(number="HN-1", maker=said, serial_number=said, where="cupboard") for said in words]
    school = School(name="Hill Road School")
    content = handover.schedule_drawn(horns, along={}, school=school, today=make.TODAY, paper="a4")
    assert content.startswith(b"%PDF")


@pytest.mark.parametrize(("wrong", "more"), [(5, ""), (6, " and 1 more")])
def test_of_numbers_that_no_horn_has_five_are_named(school, head, as_, wrong, more):
    numbers = ",".join(f"XX-{n}" for n in range(wrong))

    page = as_(head).get(reverse("reports:labels", args=(school.slug,)), {"numbers": numbers}, follow=True)

    named = ", ".join(f"XX-{n}" for n in range(5))
    assert f"no horn with the number {named}{more}. Nothing was printed." in page.content.decode()
