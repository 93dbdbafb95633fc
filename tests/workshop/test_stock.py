"""The stock of parts: ordered by supplier, arrived, counted, and the faults that want one found by a word."""

from __future__ import annotations

import json
from datetime import timedelta
from io import BytesIO

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.record.models import Act
from fleet.workshop.actions.parts import count_parts, order_parts, part_arrived, use_part
from fleet.workshop.models import Part
from fleet.workshop.queries.parts import Stock
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.either_engine
LATER = make.NOW + timedelta(days=3)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        cord = make.part(school, name="Cord", on_hand=2, minimum=5, cost="1.50", supplier="Vale", order_number="V-7")
        cork = make.part(school, name="Cork", on_hand=0, minimum=1, cost="0.40")
        oil = make.part(school, name="Oil", on_hand=3, minimum=3, supplier="Acre")
        who = {"by": technician, "at": make.NOW}
        browser = as_(technician)

        @classmethod
        def at(cls, path: str) -> str:
            return f"/s/{cls.school.slug}/{path}"

        @classmethod
        def page(cls) -> str:
            return folded(cls.browser.get(cls.at("parts/")))

    return World


def test_what_is_short_is_listed_by_supplier_and_what_has_none_last(world):
    make.part(world.school, name="Spring", minimum=6, supplier="acre")

    context = world.browser.get(world.at("parts/")).context

    assert [(name, [str(one) for one in parts]) for name, parts in context["wanting"]] == [
        ("acre", ["Spring"]),
        ("Vale", ["Cord"]),
        ("", ["Cork"]),
    ]


def test_what_is_ordered_leaves_the_list_until_it_has_arrived(world):
    theirs = make.part(make.school(), minimum=9)
    world.browser.post(world.at("parts/ordered/"), {"parts": [world.cord.pk, world.cork.pk]})
    assert "2 ordered." in world.page()
    world.browser.post(world.at("parts/ordered/"), {"parts": [theirs.pk]})
    context = world.browser.get(world.at("parts/")).context
    assert (context["wanting"], context["coming"]) == ([], [world.cord, world.cork])

    world.browser.post(world.at(f"parts/{world.cord.pk}/came/"), {"count": "2"})

    world.cord.refresh_from_db()
    assert (world.cord.on_hand, world.cord.is_coming) == (4, False)
    assert [part for _, parts in world.browser.get(world.at("parts/")).context["wanting"] for part in parts] == [
        world.cord
    ]


def test_an_order_is_noted_once_and_again_after_it_came(world):
    def order(at) -> int:
        return order_parts(parts=[world.cord.pk], school=world.school, by=world.technician, at=at)

    assert (order(make.NOW), order(LATER)) == (1, 0)
    world.cord.refresh_from_db()
    assert world.cord.ordered_on == make.TODAY

    part_arrived(part=world.cord, count=1, **world.who)
    assert order(LATER) == 1
    world.cord.refresh_from_db()
    assert (world.cord.ordered_on, world.cord.arrived_on) == (LATER.date(), None)


def test_what_nobody_ordered_does_not_arrive(world):
    with pytest.raises(Refused, match="No Cord is on its way"):
        part_arrived(part=world.cord, count=1, **world.who)


@pytest.mark.parametrize(
    ("count", "there"), [("0", 2), ("", 2), ("-3", 2), ("1", 3), ("1000", 1002), ("1001", 2), ("x", 2)]
)
def test_pieces_that_cannot_have_come_are_not_taken(world, count, there):
    order_parts(parts=[world.cord.pk], school=world.school, **world.who)

    world.browser.post(world.at(f"parts/{world.cord.pk}/came/"), {"count": count})

    world.cord.refresh_from_db()
    assert world.cord.on_hand == there


def test_a_stock_take_names_what_differs_and_notes_it_on_the_record(world):
    sent = {f"was-{world.cord.pk}": "2", f"there-{world.cord.pk}": "1", f"was-{world.oil.pk}": "3"}
    sent |= {f"there-{world.oil.pk}": "3", f"there-{world.cork.pk}": ""}

    answer = world.browser.post(world.at("parts/count/"), sent)

    assert "Counted. Other than on record: Cord 1 (on record 2)." in folded(world.browser.get(answer.url))
    assert list(Part.objects.order_by("name").values_list("on_hand", flat=True)) == [1, 0, 3]
    act = Act.objects.get(deed="bench.part")
    assert json.loads(act.told) == [["part", "Cord"], ["pieces there now", "2", "1"]]


def test_a_stock_take_that_finds_all_as_it_is_says_so(world):
    answer = world.browser.post(world.at("parts/count/"), {f"there-{world.oil.pk}": "3", f"was-{world.oil.pk}": "3"})

    assert "Counted. All is as on record." in folded(world.browser.get(answer.url))


def test_pieces_used_while_they_were_counted_are_asked_about(world):
    page = world.at("parts/count/")
    use_part(job=make.job(make.horn(world.school), world.technician), part=world.cord, count=1, **world.who)
    sent = {f"was-{world.cord.pk}": "2", f"there-{world.cord.pk}": "2", f"there-{world.oil.pk}": "9"}

    no = world.browser.post(page, sent | {f"was-{world.oil.pk}": "3"})

    assert no.context["refused"].sentence == "1 of Cord are on record by now, not 2: count it again, then save."
    world.oil.refresh_from_db()
    assert world.oil.on_hand == 3
    form = no.context["form"]
    assert world.browser.post(page, {name: form[name].value() or "" for name in form.fields}).status_code == 302


@pytest.mark.parametrize(("there", "status"), [("-1", 422), ("0", 302), ("100000", 302), ("100001", 422), ("a", 422)])
def test_a_count_that_cannot_be_is_said_beside_its_field(world, there, status):
    sent = {f"was-{world.cord.pk}": "2", f"there-{world.cord.pk}": there}

    assert world.browser.post(world.at("parts/count/"), sent).status_code == status


def test_another_schools_parts_are_not_counted(world):
    theirs = make.part(make.school(), on_hand=5)

    assert count_parts(school=world.school, counted={theirs.pk: (5, 1)}, **world.who) == []
    theirs.refresh_from_db()
    assert theirs.on_hand == 5


def test_the_order_list_goes_by_supplier_on_paper_and_as_a_sheet(world):
    order_parts(parts=[world.cork.pk], school=world.school, **world.who)

    pdf = world.browser.get(world.at("prints/order-list.pdf"))
    sheet = world.browser.get(world.at("exchange/orders/?as=xlsx"))

    words = " ".join(on_paper(pdf.content))
    assert "V-7" in words
    assert "4.50 EUR" in words
    assert "Cork" not in words
    rows = list(load_workbook(BytesIO(sheet.getvalue())).active.values)
    assert [tuple(map(str, row)) for row in rows[1:]] == [("Vale", "V-7", "Cord", "3", "1.5", "4.5")]


def test_an_order_list_with_nothing_on_it_says_so(world):
    Part.objects.update(minimum=0)

    pdf = world.browser.get(world.at("prints/order-list.pdf"))

    assert "Nothing is to be ordered." in PdfReader(BytesIO(pdf.content)).pages[0].extract_text()


# The faults that want a part


def typed(world, **changed) -> dict[str, str]:
    return {"name": "Cord", "on_hand": "2", "was": "2", "minimum": "5", "cost": "1.50", **changed}


def test_a_fault_is_found_by_a_word_and_another_can_follow_at_once(world):
    page = world.at(f"parts/{world.cord.pk}/")

    more = world.browser.post(page, typed(world, fault="string brok", another="1"))
    done = world.browser.post(page, typed(world, mends=["string-broken"], fault="STRING FRAYED", shelf="Drawer"))

    world.cord.refresh_from_db()
    assert (more.url, done.url) == (page, world.at("parts/"))
    assert (world.cord.mends, world.cord.shelf) == (["string-broken", "string-frayed"], "Drawer")
    shown = folded(world.browser.get(page))
    assert shown.count('name="mends"') == 2


@pytest.mark.parametrize(
    ("fault", "sentence"), [("wings", "No fault is called so"), ("string", "faults are called so")]
)
def test_a_word_that_fits_no_fault_or_several_is_asked_about(world, fault, sentence):
    answer = world.browser.post(world.at(f"parts/{world.cord.pk}/"), typed(world, fault=fault))

    assert answer.status_code == 422
    assert sentence in str(answer.context["form"].errors["fault"])


def test_parts_that_faults_want_stand_in_the_order_of_the_stock_each_as_often_as_wanted():
    cord = Part(pk=1, mends=["string-broken", "string-frayed", "string-broken"])
    felt = Part(pk=2, mends=["lever-noisy"])
    stock, faults = Stock([cord, felt]), [("lever-noisy", 1), ("string-frayed", 2), ("string-broken", 3), ("torn", 4)]
    assert list(stock.wanted(faults).items()) == [(cord, 5), (felt, 1)]
    assert stock.wanting(faults, used={cord.pk: 5}) == ((felt, 1),)


def test_a_fault_of_an_older_catalogue_stays_with_its_part(world):
    Part.objects.filter(pk=world.cord.pk).update(mends=["old-fault"])
    page = world.at(f"parts/{world.cord.pk}/")
    assert "old fault" in folded(world.browser.get(page))

    world.browser.post(page, typed(world, mends=["old-fault"], fault="string broken"))

    world.cord.refresh_from_db()
    assert world.cord.mends == ["old-fault", "string-broken"]
