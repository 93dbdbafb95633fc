"""Lists of pupils with their guardians, and of loans that are over."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleet.exchange.actions import imports
from fleet.exchange.models import BATCH
from fleet.ground.refusal import Refused
from fleet.lending.models import PastLoan
from fleet.lending.queries.told import STORY
from fleet.people.models import Guardian, Opening, Pupil, User
from fleet.register.models import Horn
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.reading import story_of

HEAD = ["Name", "Class or ensemble", "Pupil id", "Guardian", "Guardian’s e-mail", "Guardian’s telephone"]


def pupils(desk: Desk) -> list[tuple]:
    return list(Pupil.objects.filter(school=desk.school).order_by("name").values_list("name", "group", "pupil_id"))


def answering(desk: Desk) -> dict[str, list[str]]:
    found = Pupil.objects.filter(school=desk.school).order_by("name")
    return {pupil.name: sorted(g.name for g in pupil.guardians.all()) for pupil in found}


def test_pupils_come_in_with_their_guardians_and_brothers_and_sisters_share_one(desk: Desk):
    rows = [
        HEAD,
        ["Ada Quill", "5b", "S1", "Ann Quill", "Ann@Example.org", "+353 1 234"],
        ["Ben Quill", "7a", "S2", "Ann Quill", "ann@example.org", ""],
        ["Cy Moor", "5b", "S3", "Di Moor", "", "+353 1 999"],
        ["Dot Alone", "5b", "S4", "", "", ""],
    ]

    desk.bring_in(as_csv(rows), kind="pupils")

    assert pupils(desk) == [
        ("Ada Quill", "5b", "S1"), ("Ben Quill", "7a", "S2"), ("Cy Moor", "5b", "S3"), ("Dot Alone", "5b", "S4"),
    ]  # fmt: skip
    assert answering(desk) == {
        "Ada Quill": ["Ann Quill"],
        "Ben Quill": ["Ann Quill"],
        "Cy Moor": ["Di Moor"],
        "Dot Alone": [],
    }
    ann, di = Guardian.objects.filter(school=desk.school).order_by("name")
    assert (ann.email, ann.telephone, di.email, di.telephone) == ("ann@example.org", "+353 1 234", "", "+353 1 999")
    # The account of that address there was already, at the other school.
    assert ann.user == User.objects.get(email="ann@example.org") == Guardian.objects.get(school=desk.other).user
    assert di.user is None


@pytest.mark.parametrize(
    ("head", "cells", "name", "sorted_by"),
    [
        (["Name"], ["García López, Ana"], "Ana García López", "garcia0lopez0ana"),
        (["Surname", "First name"], ["García López", "Ana"], "Ana García López", "garcia0lopez0ana"),
        (["Surname", "First name"], ["Quill", "Ana María"], "Ana María Quill", "quill0ana0maria"),
        (["Name"], ["Moor, Sam, Jr."], "Moor, Sam, Jr.", "sam0moor0jr"),
        (["Name", "First name"], ["Ana García López", "Ana"], "Ana García López", "lopez0ana0garcia"),
    ],
)
def test_a_family_name_of_a_list_is_kept_where_it_is_more_than_one_word(desk: Desk, head, cells, name, sorted_by):
    imported = desk.bring_in(as_csv([head, cells]), kind="pupils")

    pupil = Pupil.objects.get(school=desk.school)
    assert (pupil.name, pupil.sorted_by) == (name, sorted_by)
    imports.undo(imported=imported, by=desk.head, at=make.NOW)
    assert not Pupil.objects.filter(school=desk.school).exists()


def test_what_is_wrong_with_a_pupil_is_said(desk: Desk):
    make.pupil(desk.school, name="Two Same")
    make.pupil(desk.school, name="Two Same")
    rows = [
        HEAD,
        ["", "5b", "", "", "", ""],
        ["Ed Low", "", "", "Fay Low", "", ""],
        ["Gil High", "", "", "Hal High", "no address", ""],
        ["Ida One", "", "S1", "", "", ""],
        ["Ida Two", "", "S1", "", "", ""],
        ["Two Same", "", "", "", "", ""],
        ["Jo", "", "", "", "jo@example.org", ""],
    ]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert [(row, column, sentence) for row, column, _, sentence in wrongs(imported)] == [
        (2, "Name", "It is missing."),
        (6, "Pupil id", "Row 5 has this id too."),
        (7, "Name", "Several pupils on record have this name. Give the pupil id."),
    ]
    contact = "Give one contact: an e-mail address or a telephone number."
    assert [(row, column, sentence) for row, column, _, sentence in wrongs(imported, "noted")] == [
        (3, "Guardian", contact),
        (4, "Guardian’s e-mail", "This is no e-mail address; it looks like name@example.org."),
        (4, "Guardian", contact),
        (8, "Guardian", "Say whose contact this is."),
    ]
    assert verdicts(imported) == ["refused", "new", "new", "new", "refused", "refused", "new"]
    desk.write(imported)
    assert {name: who for name, who in answering(desk).items() if name in {"Ed Low", "Gil High", "Jo"}} == {
        "Ed Low": [], "Gil High": [], "Jo": [],
    }  # fmt: skip


def test_a_pupil_met_by_name_gets_the_id_and_one_met_by_id_a_new_name_which_reaches_the_horn(desk: Desk):
    by_name = make.pupil(desk.school, name="Ada Quill", group="5b")
    by_id = make.pupil(desk.school, make.guardian(desk.school), name="Bea Old", pupil_id="S2")
    horn = make.horn(desk.school, number="H-1")
    make.loan(horn, by_id, desk.head)

    desk.bring_in(as_csv([HEAD[:3], ["ada quill", "6b", "S1"], ["Bea New", "", "S2"]]), kind="pupils")

    by_name.refresh_from_db()
    assert (by_name.name, by_name.group, by_name.pupil_id) == ("ada quill", "6b", "S1")
    horn.refresh_from_db()
    assert horn.holder_name == "Bea New"
    assert list(Horn.objects.having_words("bea new", school=desk.school)) == [horn]


def test_sending_the_same_pupils_again_changes_nothing(desk: Desk):
    data = as_csv([HEAD, ["Ada Quill", "5b", "S1", "Ann Quill", "ann@example.org", ""], ["Cy", "", "", "Di", "", "12"]])
    desk.bring_in(data, kind="pupils")

    assert verdicts(desk.looked_over(data, kind="pupils")) == ["same", "same"]


def test_who_comes_to_a_pupil_in_the_place_of_somebody_does_not_sign_at_once(desk: Desk):
    made = {name: make.pupil(desk.school, name=name, group="2a") for name in ("First", "Let go")}
    Pupil.objects.filter(pk=made["Let go"].pk).update(guardian_let_go_at=make.NOW)

    rows = [[name, "2a", "", f"Of {name}", "", f"+353 {n}"] for n, name in enumerate(made, 1)]
    desk.bring_in(as_csv([HEAD, *rows]), kind="pupils")

    assert {one.name: bool(one.address_since) for one in Guardian.objects.filter(school=desk.school)} == {
        "Of First": False,
        "Of Let go": True,
    }


def test_an_account_that_answers_for_a_pupil_elsewhere_by_now_is_not_undone(desk: Desk):
    imported = desk.bring_in(as_csv([HEAD, ["Fresh", "2a", "", "Fay", "fay@example.org", ""]]), kind="pupils")
    account = User.objects.get(email="fay@example.org")
    there = make.guardian(make.school(), name="Fay", email="fay@example.org", with_account=False)
    Guardian.objects.filter(pk=there.pk).update(user=account)

    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    there.refresh_from_db()
    assert there.user == account
    assert not Guardian.objects.filter(school=desk.school).exists()


def test_undoing_pupils_takes_back_guardians_accounts_and_ties_but_nothing_that_was_there(desk: Desk):
    kept = make.guardian(desk.school, name="Kept", email="kept@example.org")
    there = make.pupil(desk.school, kept, name="There", group="1a")
    before = (pupils(desk), answering(desk), User.objects.count(), Guardian.objects.count())
    rows = [
        HEAD,
        ["There", "2a", "", "New Adult", "new@example.org", ""],
        ["Fresh", "2a", "", "Kept", "kept@example.org", ""],
        ["Other", "2a", "", "Ann", "ann@example.org", ""],
    ]
    imported = desk.bring_in(as_csv(rows), kind="pupils")
    # Somebody has looked at their pages, which is no reason to keep them.
    for pupil in Pupil.objects.filter(name="Fresh"):
        Opening.objects.create(school=desk.school, by=desk.head, at=make.NOW, page="people:pupil-edit", pupil=pupil)
    for adult in Guardian.objects.filter(name="New Adult"):
        Opening.objects.create(
            school=desk.school, by=desk.head, at=make.NOW, page="people:guardian-edit", guardian=adult
        )
    assert answering(desk) == {"Fresh": ["Kept"], "Other": ["Ann"], "There": ["Kept", "New Adult"]}

    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert (pupils(desk), answering(desk), User.objects.count(), Guardian.objects.count()) == before
    assert Pupil.objects.get(pk=there.pk).group == "1a"


def test_pupils_who_have_borrowed_meanwhile_are_not_undone(desk: Desk):
    imported = desk.bring_in(as_csv([HEAD, ["Ada", "5b", "", "Ann", "a@example.org", ""]]), kind="pupils")
    pupil = Pupil.objects.get(school=desk.school)
    make.loan(make.horn(desk.school), pupil, desk.head)

    with pytest.raises(Refused, match=r"Something hangs on one of the new pupils by now \(loan\)"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert Pupil.objects.filter(school=desk.school).exists()


@pytest.mark.parametrize(
    ("asked", "what"), [(make.signature, "request to sign"), (make.sheet, "sheet to sign")], ids=["online", "on paper"]
)
def test_pupils_whose_family_was_asked_to_sign_are_not_undone(desk: Desk, asked, what: str):
    imported = desk.bring_in(as_csv([HEAD, ["Ada", "5b", "", "Ann", "a@example.org", ""]]), kind="pupils")
    asked(make.horn(desk.school), Pupil.objects.get(school=desk.school), desk.head)

    with pytest.raises(Refused, match=rf"one of the new pupils by now \({what}\)"):
        imports.undo(imported=imported, by=imported.by, at=make.NOW)

    assert Pupil.objects.filter(school=desk.school).exists()


LOANS = ["Register number", "Pupil", "Pupil id", "Out since", "Came back"]


def test_past_loans_lengthen_the_horns_story_and_leave_it_in_the_cupboard(desk: Desk):
    horn = make.horn(desk.school, number="H-1")
    make.pupil(desk.school, name="Ada Quill")

    desk.bring_in(as_csv([LOANS, ["h-1", "Ada Quill", "", "1.9.2019", "30.6.2020"]]), kind="past-loans")

    past = PastLoan.objects.get()
    assert (past.horn, past.pupil.name, past.issued_on, past.returned_on) == (
        horn, "Ada Quill", date(2019, 9, 1), date(2020, 6, 30),
    )  # fmt: skip
    horn.refresh_from_db()
    assert (horn.where, horn.holder_name) == ("cupboard", "")
    assert [told.sentence for told in story_of(horn, STORY).told()] == [
        "Was with Ada Quill until 30 June 2020, as an older list says."
    ]


def test_what_is_wrong_with_a_past_loan_is_said(desk: Desk):
    make.horn(desk.school, number="H-7")
    make.pupil(desk.school, name="Bea")
    rows = [
        LOANS,
        ["H-1", "Bea", "", "1.9.2019", "30.6.2020"],
        ["H-7", "Ada Quill", "", "1.9.2019", "30.6.2020"],
        ["H-7", "Bea", "", "1.9.2025", ""],
        ["H-7", "Bea", "", "1.9.2016", "1.8.2016"],
        ["H-7", "Bea", "", "1.9.2018", "1.8.2019"],
        ["H-7", "Bea", "", "1.9.2018", "1.8.2019"],
        ["H-7", "", "", "1.9.2017", "1.8.2018"],
    ]

    imported = desk.looked_over(as_csv(rows), kind="past-loans")

    # H-1 and Ada Quill are the other school's.
    assert [(row, column, sentence) for row, column, _, sentence in wrongs(imported)] == [
        (2, "Register number", "No horn on the register has this number."),
        (3, "Pupil", "This pupil is not on record. Bring the pupils in first."),
        (4, "Came back", "This loan has not ended. Bring the same file in as running loans."),
        (5, "Came back", "A horn cannot come back before it was issued."),
        (7, "Register number", "Row 6 has this horn going out on the same day."),
        (8, "Pupil", "Say who had the horn: a name or a pupil id."),
    ]


def test_past_loans_can_be_amended_and_undone(desk: Desk):
    make.horn(desk.school, number="H-1")
    make.pupil(desk.school, name="Bea")
    first = as_csv([LOANS, ["H-1", "Bea", "", "1.9.2019", "30.6.2020"]])
    desk.bring_in(first, kind="past-loans")
    assert verdicts(desk.looked_over(first, kind="past-loans")) == ["same"]

    again = desk.bring_in(as_csv([LOANS, ["H-1", "Bea", "", "1.9.2019", "1.7.2020"]]), kind="past-loans")
    assert PastLoan.objects.get().returned_on == date(2020, 7, 1)
    imports.undo(imported=again, by=again.by, at=make.NOW)

    assert PastLoan.objects.get().returned_on == date(2020, 6, 30)


def test_first_and_last_names_in_columns_of_their_own_become_one_name(desk: Desk):
    make.pupil(desk.school, name="Ada Quill", group="5b")
    rows = [
        ["Klasse", "Nachname", "Vorname"],
        ["6a", "Özdemir", "Aylin"],
        ["6a", "Aylin Sen", "Aylin"],
        ["6b", "Quill, Ada", ""],
        ["6b", "Quill, Jr.", ""],
    ]

    desk.bring_in(as_csv(rows, delimiter=";", encoding="cp1252"), kind="pupils")

    assert [name for name, _, _ in pupils(desk)] == ["Ada Quill", "Aylin Sen", "Aylin Özdemir", "Quill, Jr."]


def test_two_rows_are_about_one_pupil_however_they_name_them(desk: Desk):
    make.pupil(desk.school, name="Cy Low", pupil_id="S9")
    rows = [
        HEAD[:3],
        ["Ada", "5b", "S1"],
        ["Ada", "5b", "S2"],
        ["Ada", "5b", ""],
        ["Bea", "5b", ""],
        ["Bea", "5b", "S3"],
        ["Cy Lowe", "5b", "S9"],
        ["Cy Low", "5b", ""],
    ]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    ids = "has this name too. Two pupils need the school’s own id each."
    assert [(row, column, sentence) for row, column, _, sentence in wrongs(imported)] == [
        (4, "Name", f"Row 2 {ids}"),
        (6, "Name", f"Row 5 {ids}"),
        (8, "Name", "Row 7 is about this pupil too."),
    ]


def test_two_addresses_in_one_cell_are_told_apart_from_none(desk: Desk):
    rows = [
        HEAD,
        ["Ada", "", "", "Ann", "a@example.org; b@example.org", ""],
        ["Bea", "", "", "Bo", "bo[at]example", ""],
    ]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert [sentence for _, column, _, sentence in wrongs(imported, "noted") if column != "Guardian"] == [
        "Give one address. A second guardian has columns of their own.",
        "This is no e-mail address; it looks like name@example.org.",
    ]


def test_what_a_form_would_say_in_its_own_words_is_said_in_plain_ones(desk: Desk):
    imported = desk.looked_over(as_csv([HEAD[:3], ["A" * 130, "", "9" * 41]]), kind="pupils")

    assert [sentence for *_, sentence in wrongs(imported)] == [
        "Use at most 120 letters; here are 130.",
        "Use at most 40 letters; here are 41.",
    ]


def overlaps(imported) -> list[tuple[int, str]]:
    return [(row, sentence.partition(". ")[0]) for row, _, _, sentence in wrongs(imported)]


def test_a_horn_cannot_be_with_two_pupils_at_once_within_a_list(desk: Desk):
    make.horn(desk.school, number="H-1")
    make.horn(desk.school, number="H-2")
    make.pupil(desk.school, name="Bea")
    rows = [
        LOANS,
        ["H-1", "Bea", "", "1.9.2019", "30.6.2020"],
        ["H-1", "Bea", "", "30.6.2020", "1.9.2020"],
        ["H-1", "Bea", "", "1.1.2020", "2.1.2020"],
        ["H-1", "Bea", "", "1.1.2019", "2.1.2021"],
        ["H-2", "Bea", "", "1.1.2020", "2.1.2020"],
        # It overlaps only with what was refused.
        ["H-1", "Bea", "", "1.2.2019", "1.3.2019"],
    ]

    imported = desk.looked_over(as_csv(rows), kind="past-loans")

    first = "Row 2 has this horn out from 1 September 2019 to 30 June 2020"
    assert overlaps(imported) == [(4, first), (5, first)]
    assert verdicts(imported) == ["new", "new", "refused", "refused", "new", "new"]


def test_an_overlap_is_found_across_the_batches_of_a_long_list(desk: Desk):
    horn = make.horn(desk.school, number="H-1")
    make.pupil(desk.school, name="Bea")
    day = date(2000, 1, 1)
    rows = [["H-1", "Bea", "", day + timedelta(n), day + timedelta(n + 1)] for n in range(BATCH + 20)]

    imported = desk.bring_in(as_csv([LOANS, *rows, ["H-1", "Bea", "", "1.1.1999", "2.1.2000"]]), kind="past-loans")

    assert overlaps(imported) == [(BATCH + 22, "Row 2 has this horn out from 1 January 2000 to 2 January 2000")]
    assert horn.past_loans.count() == BATCH + 20


def test_a_past_loan_may_not_overlap_a_recorded_one(desk: Desk):
    bea = make.pupil(desk.school, name="Bea")
    out, back = make.horn(desk.school, number="H-1"), make.horn(desk.school, number="H-2")
    make.loan(out, bea, desk.head, issued_on=date(2026, 3, 2))
    make.loan(back, bea, desk.head, issued_on=date(2025, 3, 2), returned_on=date(2025, 9, 1))
    PastLoan.objects.create(horn=back, pupil=bea, issued_on=date(2024, 1, 1), returned_on=date(2024, 6, 1))
    rows = [
        LOANS,
        ["H-1", "Bea", "", "1.3.2026", "5.9.2026"],
        ["H-1", "Bea", "", "1.3.2025", "2.3.2026"],
        ["H-2", "Bea", "", "1.8.2025", "5.9.2025"],
        ["H-2", "Bea", "", "1.2.2024", "1.3.2024"],
        # Told anew, so it is the new end that counts for the row after it.
        ["H-2", "Bea", "", "1.1.2024", "1.5.2024"],
        ["H-2", "Bea", "", "1.5.2024", "1.2.2025"],
    ]

    imported = desk.looked_over(as_csv(rows), kind="past-loans")

    assert overlaps(imported) == [
        (2, "Bea has had this horn since 2 March 2026"),
        (4, "Bea had this horn from 2 March 2025 to 1 September 2025"),
        (5, "Row 6 has this horn out from 1 January 2024 to 1 May 2024"),
    ]
    assert verdicts(imported) == ["refused", "new", "refused", "refused", "changed", "new"]
    desk.write(imported)
    assert back.past_loans.count() == 2


def test_a_loan_recorded_since_the_preview_is_not_overlapped_either(desk: Desk):
    horn, bea = make.horn(desk.school, number="H-1"), make.pupil(desk.school, name="Bea")
    imported = desk.looked_over(as_csv([LOANS, ["H-1", "Bea", "", "1.3.2026", "5.9.2026"]]), kind="past-loans")
    make.loan(horn, bea, desk.head, issued_on=date(2026, 9, 1))

    with pytest.raises(Refused, match="was changed since the preview"):
        desk.write(imported)

    imported.refresh_from_db()
    assert verdicts(desk.look_over(imported)) == ["refused"]
