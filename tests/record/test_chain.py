"""The chain of acts: sealed in one order, and whoever changes, removes, moves or slips in a row is found."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Q, QuerySet

from fleet.ground.access import Role
from fleet.record.actions.emptying import ENTRY_KEPT, KEPT, empty, empty_old
from fleet.record.actions.recording import record
from fleet.record.actions.sealing import seal, seal_all
from fleet.record.models import Act, Chain, Deed
from fleet.record.models.acts import sum_of
from fleet.record.queries.numbers import in_ranges, of_ranges
from fleet.record.queries.proving import proof_of
from fleet.record.queries.telling import LONGEST, said
from tests import make
from tests.at_once import all_at_once

raw = QuerySet[Act](Act)


@pytest.fixture
def school(db):
    """A school with five acts, about a pupil each, by its head."""
    made = make.school()
    head = make.staff(Role.HEAD, made, name="Ines Head")
    for n in range(1, 6):
        pupil = make.pupil(made, name=f"Pupil {n}")
        told = [["class", "7A", "7B"]]
        record(deed=Deed.PUPIL_CHANGED, school=made, by=head, at=make.NOW, pupil=pupil, told=told)
    seal(school=made.pk)
    return made


def wrong(school):
    return proof_of(school.pk).wrong


def act(school, number):
    return raw.filter(school=school, number=number)


def test_acts_are_numbered_in_their_order_and_tell_who_about_whom_from_what_to_what(school):
    acts = list(Act.objects.of(school.pk).order_by("number"))

    assert [one.number for one in acts] == [1, 2, 3, 4, 5]
    assert [one.before for one in acts] == ["", *(one.seal for one in acts[:-1])]
    assert (acts[0].by_name, acts[0].lines) == ("Ines Head", [["pupil", "Pupil 1"], ["class", "7A", "7B"]])
    assert acts[0].keys == f"school {school.pk} by {acts[0].by_id} pupil {acts[0].pupil_id}"
    assert wrong(school) == []


def test_nobody_changes_or_removes_an_act_by_the_usual_ways(school):
    one = Act.objects.latest("pk")
    ways = [one.save, one.delete, Act.objects.all().delete, lambda: Act.objects.update(page="x")]
    for way in (*ways, lambda: Act.objects.bulk_update([one], ["page"])):
        with pytest.raises(TypeError, match="only added to"):
            way()


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("deed", Deed.PUPIL_NEW, "Act 3 was changed."),
        ("page", "another:page", "Act 3 was changed."),
        ("at", make.NOW.replace(microsecond=1), "Act 3 was changed."),
        ("by_name", "Somebody Else", "Act 3 was changed: who did it."),
        ("told", '[["class", "7A", "7C"]]', "Act 3 was changed: what it tells."),
        ("told_salt", "", "Act 3 was changed: what it tells."),
        ("by_id", 999_999, "Act 3 was changed: it is about others than it was."),
        ("pupil_id", None, "Act 3 was changed: it is about others than it was."),
    ],
)
def test_a_changed_row_is_found_and_only_that_one(school, column, value, said):
    act(school, 3).update(**{column: value})

    assert wrong(school) == [said]


def test_a_row_changed_and_sealed_anew_breaks_the_chain_after_it(school):
    one = act(school, 3).get()
    one.told, one.told_sum = "[]", sum_of(one.told_salt, "[]")
    act(school, 3).update(told=one.told, told_sum=one.told_sum, seal=one.seal_now())

    assert wrong(school) == ["Act 4 does not follow the act before it: that one was put there, or sealed anew."]


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        ([1], "Act 1 is missing."),
        ([3], "Act 3 is missing."),
        ([2, 3], "Acts 2 to 3 are missing."),
        ([5], "The acts after 4 are missing: there were 5."),
        ([1, 2, 3, 4, 5], "The acts after 0 are missing: there were 5."),
    ],
)
def test_removed_rows_are_found_at_the_beginning_within_and_at_the_end(school, gone, said):
    raw.filter(school=school, number__in=gone)._raw_delete("default")

    assert wrong(school) == [said]


def test_swapped_rows_are_found(school):
    act(school, 3).update(number=99)
    act(school, 4).update(number=3)
    act(school, 99).update(number=4)

    assert {"Act 3 was changed.", "Act 4 was changed."} <= set(wrong(school))


def test_a_row_slipped_in_at_the_end_is_found_though_its_seal_is_right(school):
    one = act(school, 5).get()
    one.pk, one.number, one.before = None, 6, one.seal
    one.seal = one.seal_now()
    raw.bulk_create([one])

    assert wrong(school) == ["Act 6 was put there: the chain ended before it."]


def test_a_row_moved_to_another_schools_chain_is_found_in_both(school):
    other = make.school()
    head = make.staff(Role.HEAD, other)
    for _ in range(4):
        record(deed=Deed.SIGNED_IN, school=other, by=head, at=make.NOW)
    seal(school=other.pk)
    assert wrong(other) == []

    act(school, 5).update(school=other)

    assert wrong(school) == ["The acts after 4 are missing: there were 5."]
    assert wrong(other) == ["Act 5 was put there: the chain ended before it."]


def test_a_chain_made_anew_from_end_to_end_is_found_by_a_seal_written_down(school):
    known = (5, act(school, 5).get().seal[:16])
    assert proof_of(school.pk, known=known).wrong == []

    act(school, 1).update(page="another:page")
    raw.filter(school=school).update(number=None, before="", seal="")
    Chain.objects.all().delete()
    seal(school=school.pk)

    assert proof_of(school.pk).wrong == []
    assert proof_of(school.pk, known=known).wrong == ["Act 5 has another seal than the one written down."]
    assert proof_of(school.pk, known=(6, "0")).wrong == ["There is no act 6, whose seal was written down."]


def test_what_is_taken_out_leaves_the_chain_whole_and_says_so(school):
    about_them = Q(number=2) | Q(number=3)

    assert empty(told=about_them, named=Q(number=3), deed=Deed.FORGOTTEN, by=None, at=make.NOW, say=school.pk) == 2

    seal(school=school.pk)
    proof = proof_of(school.pk)
    assert (proof.wrong, proof.acts, proof.emptied) == ([], 6, 2)
    second, third = act(school, 2).get(), act(school, 3).get()
    assert (second.told, second.told_salt, second.by_name) == ("", "", "Ines Head")
    assert (third.told, third.by_name, third.by_salt) == ("", "", "")
    assert act(school, 6).get().lines == [["emptied", "2-3"]]


def test_a_row_emptied_by_hand_is_found(school):
    act(school, 2).update(told="", told_salt="")

    assert wrong(school) == ["Act 2 was emptied, and no act says so."]


def test_a_changed_row_is_found_after_forgetting_too(school):
    empty(told=Q(number=2), named=Q(pk=None), deed=Deed.FORGOTTEN, by=None, at=make.NOW)
    act(school, 2).update(told='[["pupil", "Somebody Else"]]')
    act(school, 4).update(told="")

    assert wrong(school) == ["Act 2 was changed: what it tells.", "Act 4 was changed: what it tells."]


def test_names_go_once_they_are_too_old_and_sooner_where_it_is_only_signing_in(db):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    for deed, kept in ((Deed.SIGNED_IN, ENTRY_KEPT), (Deed.POST_CHANGED, KEPT)):
        for at in (make.NOW - kept, make.NOW - kept - timedelta(seconds=1)):
            record(deed=deed, school=school, by=head, at=at, account=head)

    assert empty_old(at=make.NOW) == 2
    assert empty_old(at=make.NOW) == 0

    seal(school=school.pk)
    acts = Act.objects.of(school.pk).order_by("number")
    assert [(bool(one.by_name), bool(one.told)) for one in acts[:4]] == [(True, True), (False, False)] * 2
    assert acts[4].lines == [["emptied", "2, 4"]]
    assert wrong(school) == []


def test_numbers_are_told_in_ranges_and_read_back():
    assert in_ranges([7, 2, 1, 3, 9, 10]) == "1-3, 7, 9-10"
    assert [list(one) for one in of_ranges("1-3, 7, x, ")] == [[1, 2, 3], [7]]


def test_the_command_says_all_is_well_and_which_row_is_not(school):
    call_command("verify_record", stdout=(said := StringIO()))
    assert f"{school.slug}: all 5 acts are as they were sealed. The last is 5:" in said.getvalue()
    known = said.getvalue().split("The last is ")[1].rstrip(".\n")
    call_command("verify_record", school=school.slug, known=known, stdout=StringIO())

    act(school, 3).update(page="another:page")
    with pytest.raises(SystemExit):
        call_command("verify_record", stdout=(said := StringIO()))
    assert said.getvalue() == f"{school.slug}: Act 3 was changed.\n"


@pytest.mark.parametrize("options", [{"school": "nowhere"}, {"known": "5:0123456789abcdef"}, {"known": "five"}])
def test_the_command_refuses_what_it_does_not_understand(school, options):
    with pytest.raises(CommandError):
        call_command("verify_record", stdout=StringIO(), **options)


@pytest.mark.django_db(transaction=True)
def test_acts_of_many_people_at_once_are_sealed_one_after_another_in_both_schools():
    schools = [make.school(), make.school()]
    heads = [make.staff(Role.HEAD, school) for school in schools]

    def some(place):
        def acts():
            for _ in range(3):
                with transaction.atomic():
                    record(deed=Deed.SIGNED_IN, school=schools[place % 2], by=heads[place % 2], at=make.NOW)

        return acts

    assert all_at_once([some(place) for place in range(6)]) == [None] * 6

    for school in schools:
        seal(school=school.pk)
        assert list(Act.objects.of(school.pk).order_by("number").values_list("number", flat=True)) == [*range(1, 10)]
        assert wrong(school) == []


@pytest.mark.django_db(transaction=True)
def test_two_who_seal_the_same_acts_at_one_moment_number_each_once():
    school = make.school()
    head = make.staff(Role.HEAD, school)
    with transaction.atomic():
        for _ in range(20):
            record(deed=Deed.SIGNED_IN, school=school, by=head, at=make.NOW)
        # As if the site had stopped between the act and its seal.
        transaction.get_connection().run_on_commit.clear()
    assert Act.objects.filter(number=None).count() == 20

    assert all_at_once([lambda: seal(school=school.pk)] * 3) == [None] * 3

    assert Chain.objects.get().number == 20
    assert wrong(school) == []


@pytest.mark.django_db(transaction=True)
def test_what_an_action_undoes_leaves_no_act():
    school = make.school()
    head = make.staff(Role.HEAD, school)
    with transaction.atomic():
        record(deed=Deed.SIGNED_IN, school=school, by=head, at=make.NOW)
        transaction.set_rollback(True)
    assert not Act.objects.exists()


def test_where_nothing_waits_to_be_sealed_no_chain_is_looked_at(school, django_assert_num_queries):
    with django_assert_num_queries(1):
        seal_all()


def test_a_school_of_which_nothing_is_emptied_is_left_alone(school):
    other = make.school()
    record(deed=Deed.PUPIL_CHANGED, school=other, by=None, at=make.NOW, told=[["class", "7A", "7B"]])

    assert empty(told=Q(school=school), named=Q(pk=None), deed=Deed.FORGOTTEN, by=None, at=make.NOW) == 5
    assert not Act.objects.of(other.pk).exclude(number=None).exists()


def test_a_value_is_told_whole_as_long_as_there_is_room():
    assert said("x" * LONGEST) == "x" * LONGEST
    assert said("x" * (LONGEST + 1)) == "x" * LONGEST + "…"
