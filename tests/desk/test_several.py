"""Acts on many rows at once: the boxes of the lists, the look before, what is done, what is undone."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.desk.pages.several import act as several
from fleet.ground.access import Role
from fleet.register.models import Horn
from tests import make
from tests.pages import folded, on_paper

DAY = timedelta(days=1)
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_ten")]


@pytest.mark.parametrize(
    ("page", "box", "acts"),
    [
        ("register:horns", "horn", ["checked", "place", "mouthpieces", "labels"]),
        ("loans:loans", "loan", ["renew", "recall", "sheets"]),
        ("people:pupils", "pupil", ["class", "leavers"]),
    ],
)
def test_a_list_has_a_box_for_each_row_and_a_button_for_each_act(world, page, box, acts):
    loan = world.out()
    row = {"horn": loan.horn, "loan": loan, "pupil": loan.pupil}[box]

    text = folded(world.browser.get(reverse(page, args=[world.school.slug])))

    tick = f'<input type="checkbox" name="{box}" value="{row.pk}" form="several" aria-label="Tick {row}">'
    assert text.count(tick) == 1
    assert [act for act in acts if world.at(act) not in text] == []


def test_a_technician_has_no_boxes_among_loans_where_there_is_nothing_they_may_do(world, as_):
    world.out()
    page = as_(make.staff(Role.TECHNICIAN, world.school)).get(f"/s/{world.school.slug}/loans/").content.decode()
    assert "checkbox" not in page
    assert 'id="several"' not in page


def test_ended_loans_have_no_boxes(world):
    world.out(returned_on=make.TODAY)
    assert "checkbox" not in world.browser.get(f"/s/{world.school.slug}/loans/?state=ended").content.decode()


@pytest.mark.parametrize("asked", ["", "?horn=x&horn=-1&horn=" + "9" * 40, "?horn=0"])
def test_with_nothing_ticked_the_page_says_so(world, asked):
    answer = world.browser.get(world.at("place") + asked)
    assert answer.status_code == 200
    assert "Nothing is ticked." in answer.content.decode()
    assert world.browser.post(world.at("place"), {"place": world.shelf.pk}).status_code == 422


def test_rows_of_another_school_are_neither_shown_nor_touched(world):
    theirs = make.horn(make.school(), number="LEAK-1")
    assert "LEAK" not in world.look("place", horn=[theirs]).content.decode()

    world.browser.post(
        world.at("place"), {"horn": [theirs.pk], f"seen-{theirs.pk}": "", "place": world.shelf.pk}, follow=True
    )

    theirs.refresh_from_db()
    assert theirs.place is None


def test_one_box_stands_for_all_rows_of_a_list_once_there_are_two(world):
    loans = f"/s/{world.school.slug}/loans/"
    world.out()
    assert 'name="all"' not in world.browser.get(loans).content.decode()
    world.out()
    assert "<b>All 2 of this list</b> <small>ticked or not</small>" in folded(world.browser.get(loans))

    looked = folded(world.browser.get(world.at("renew"), {"all": "1", "next": loans}))
    assert "<legend>2 loans</legend>" in looked


# Places


def test_horns_move_to_a_place_and_back_again_by_undo(world):
    first, second, _ = world.horns
    old = make.place(world.school)
    Horn.objects.filter(pk=first.pk).update(place=old)

    done = world.do("place", horn=[first, second], place=world.shelf.pk)

    assert "2 horns moved to Store, B." in done.content.decode()
    assert "Undo" in done.content.decode()
    assert set(Horn.objects.filter(place=world.shelf)) == {first, second}

    undone = world.undo("place")

    assert "Undone for 2 horns." in undone.content.decode()
    assert list(Horn.objects.order_by("number").values_list("place", flat=True)) == [old.pk, None, None]
    assert "There is nothing to undo any more." in world.undo("place").content.decode()


def test_a_horn_that_was_moved_again_since_is_not_moved_back(world):
    first, second, _ = world.horns
    world.do("place", horn=[first, second], place=world.shelf.pk)
    elsewhere = make.place(world.school)
    Horn.objects.filter(pk=first.pk).update(place=elsewhere)

    page = world.undo("place").content.decode()

    assert "HN-1 was changed again since." in page
    assert "Undone for 1 horn." in page
    assert list(Horn.objects.order_by("number").values_list("place", flat=True)) == [elsewhere.pk, None, None]


def test_what_was_changed_after_the_look_is_looked_at_again(world):
    first, second, _ = world.horns
    said = {"horn": [first.pk, second.pk], f"seen-{first.pk}": "", f"seen-{second.pk}": ""}
    Horn.objects.filter(pk=first.pk).update(place=make.place(world.school))

    answer = world.browser.post(world.at("place"), {**said, "place": world.shelf.pk})

    assert answer.status_code == 409
    assert "HN-1: Somebody changed it meanwhile. Look again." in folded(answer)
    assert list(Horn.objects.filter(place=world.shelf)) == [second]


def test_what_is_unticked_stays_on_the_page_that_comes_back_and_is_left_alone(world):
    first, second, _ = world.horns
    said = {"horn": [second.pk], f"seen-{first.pk}": "", f"seen-{second.pk}": ""}

    answer = world.browser.post(world.at("place"), said)

    assert answer.status_code == 422
    assert [(line.name, line.ticked) for line in answer.context["lines"]] == [("HN-1", False), ("HN-2", True)]


def test_a_withdrawn_horn_is_left_out_with_the_reason(world):
    gone = make.horn(world.school, withdrawn_on=make.TODAY)
    page = world.look("place", horn=[gone, world.horns[0]])
    assert [(line.name, line.why_not) for line in page.context["left_out"]] == [(str(gone), "It is withdrawn.")]


# Checks


def test_what_cannot_be_undone_is_not_undone_by_asking(world):
    make.check(world.horns[0], world.teacher)
    world.do("checked", horn=world.horns[:1], looked="on")

    world.undo("checked")

    assert world.horns[0].checks.count() == 2


def test_labels_and_sheets_are_printed_for_what_is_ticked(world):
    page = folded(world.look("labels", horn=world.horns[:2]))
    assert f'formaction="/s/{world.school.slug}/prints/labels.pdf"' in page
    assert page.count("csrf") == 1, "the token is sent to sign out, and stands in no address of a print"
    print_of = world.browser.get(f"/s/{world.school.slug}/prints/labels.pdf", {"horn": [world.horns[0].pk, "x"]})
    assert print_of["Content-Type"] == "application/pdf"
    none = world.browser.get(f"/s/{world.school.slug}/prints/labels.pdf?horn=x")
    assert none.status_code == 302
    loan = world.out()
    assert "prints/loan-sheets.pdf" in world.look("sheets", loan=[loan]).content.decode()


@pytest.mark.parametrize(("path", "box"), [("labels", "horn"), ("sheets", "loan")])
def test_with_every_box_unticked_a_print_is_of_nothing_and_not_of_all(world, path, box):
    loan = world.out()
    page = world.look(path, **{box: [loan if box == "loan" else loan.horn]}).content.decode()
    assert f'<input type="hidden" name="{box}" value="0">' in page

    sheets = world.browser.get(f"/s/{world.school.slug}/prints/loan-sheets.pdf", {"loan": "0"})
    labels = world.browser.get(f"/s/{world.school.slug}/prints/labels.pdf", {"horn": "0"})

    said = " ".join(on_paper(sheets.content))
    assert loan.horn.number not in said
    assert labels.status_code == 302


def test_all_of_a_list_are_those_its_filters_find(world):
    Horn.objects.filter(pk=world.horns[1].pk).update(place=world.shelf)
    page = world.browser.get(world.at("checked"), {"all": "1", "place": world.shelf.pk})
    assert [line.name for line in page.context["lines"]] == ["HN-2"]
    late, _ = world.out(due_on=make.TODAY - DAY), world.out()
    page = world.browser.get(world.at("renew"), {"all": "1", "state": "overdue"})
    assert [line.key for line in page.context["lines"]] == [late.pk]
    page = world.browser.get(world.at("class"), {"all": "1", "q": late.pupil.name})
    assert [line.key for line in page.context["lines"]] == [late.pupil_id]


@pytest.mark.parametrize(("most", "shown"), [(2, 2), (3, 3), (4, 3)])
def test_so_many_rows_at_once_and_no_more(world, monkeypatch, most, shown):
    monkeypatch.setattr(several, "MOST", most)
    page = world.browser.get(world.at("place"), {"all": "1"})
    assert len(page.context["lines"]) == shown
    cut = f"These are the first {most}. Narrow the list for the rest."
    assert (cut in page.content.decode()) == (most < 3)
    ticked = {"horn": [horn.pk for horn in world.horns]}
    assert (cut in world.browser.get(world.at("place"), ticked).content.decode()) == (most < 3)
    sent = {"place": "", **{f"seen-{line.key}": line.seen for line in page.context["lines"]}}
    more = {"more": "1"} if '<input type="hidden" name="more" value="1">' in page.content.decode() else {}
    again = world.browser.post(world.at("place"), {**sent, **ticked, **more})
    assert again.status_code == 422
    assert (cut in again.content.decode()) == (most < 3)


@pytest.mark.parametrize(
    ("path", "box", "queries"),
    [
        ("checked", "horn", 6),
        ("place", "horn", 5),
        ("mouthpieces", "horn", 5),
        ("labels", "horn", 4),
        ("renew", "loan", 5),
        ("recall", "loan", 5),
        ("school-day", "loan", 5),
        ("sheets", "loan", 4),
        ("class", "pupil", 6),
        ("leavers", "pupil", 5),
    ],
)
def test_the_look_before_takes_as_many_queries_for_three_as_for_one(
    world, django_assert_num_queries, path, box, queries
):
    loans = [world.out(returned_on=make.TODAY if path == "mouthpieces" else None) for _ in range(3)]
    rows = {"horn": [loan.horn for loan in loans], "loan": loans, "pupil": [loan.pupil for loan in loans]}[box]
    world.look(path, **{box: rows})
    for some in (rows[:1], rows):
        with django_assert_num_queries(queries):
            world.look(path, **{box: some})


# By number, by scanning


def test_a_number_is_put_on_the_list_however_it_is_typed(world):
    address = reverse("desk:several", args=[world.school.slug])
    world.browser.get(address)

    world.browser.post(address, {"do": "add", "numbers": "hn2, HN 3, hn02"})

    assert [horn.number for horn in world.browser.get(address).context["rows"]] == ["HN-2", "HN-3"]


def test_horns_are_put_on_a_list_by_number_and_label_and_lead_to_one_act(world):
    address = reverse("desk:several", args=[world.school.slug])
    world.browser.get(address)
    gone = make.horn(world.school, number="HN-9", withdrawn_on=make.TODAY)
    world.browser.post(address, {"do": "add", "numbers": f"HN-2, HN-404, {gone}"})

    answer = world.browser.get(reverse("desk:label", args=[world.horns[0].label_code]), follow=True)

    page = folded(answer)
    assert [horn.number for horn in answer.context["rows"]] == ["HN-2", "HN-1"]
    assert "No horn has the number or label “HN-404”." in page
    assert "HN-9 is withdrawn." in page
    assert page.count('<input type="hidden" name="horn"') == 2
    world.browser.post(address, {"do": f"leave-{world.horns[1].pk}"})
    assert [horn.number for horn in world.browser.get(address).context["rows"]] == ["HN-1"]
    world.browser.post(address, {"do": "stop"})
    label = world.browser.get(reverse("desk:label", args=[world.horns[0].label_code]))
    assert not label.url.endswith("/several/")
