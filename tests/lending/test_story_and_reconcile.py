from datetime import timedelta
from functools import partial

import pytest
from django.core.management import call_command

from fleet.lending.actions import returning, swapping
from fleet.lending.queries.told import STORY
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn, Standing
from fleet.workshop.models import RepairJob
from tests import make
from tests.reading import story_of

DAY = timedelta(days=1)


def test_a_horn_tells_who_had_it_and_how_it_came_back(lending, elsewhere):
    loan = lending.issue(at=make.NOW - 10 * DAY, signed_on=make.TODAY - 10 * DAY)
    lending.give_back(loan, came_back=[loan.accessories.get(name="case").pk], returned_on=make.TODAY - DAY)

    told = story_of(lending.horn, STORY).told()

    assert [(one.kind, one.sentence) for one in told] == [
        ("cleaning", "Mouthpiece cleaned."),
        ("return", f"Came back from {lending.pupil.name} without mouthpiece."),
        ("issue", f"Lent to {lending.pupil.name}, due back on 2 April 2027."),
    ]
    assert {one.by for one in told} == {str(lending.teacher)}
    assert told[0].link == ("loans:loan", loan.pk)


@pytest.mark.parametrize("swapped", [True, False])
def test_a_horn_that_comes_back_and_goes_out_again_the_same_day_tells_it_in_that_order(lending, swapped):
    morning, noon = make.NOW.replace(hour=8), make.NOW.replace(hour=11)
    first = lending.issue(at=make.NOW - DAY, signed_on=make.TODAY - DAY)
    if swapped:
        other = make.horn(lending.school)
        make.check(other, lending.teacher, at=make.NOW - DAY)
        end = {"to": other, "came_back": (), "notes": "", "mouthpiece_cleaned_on": make.TODAY}
        looked = partial(make.check, by=lending.teacher, at=morning, occasion="on-return")
        swapping.swap(loan=first, look_over=looked, by=lending.teacher, at=morning, **end)
        kinds = ["cleaning", "return"]
    else:
        returning.lose(loan=first, words="Left on the bus.", by=lending.teacher, at=morning)
        found = Standing.Kind.FOUND
        change_standing(horn=lending.horn, kind=found, reason="The driver had it.", by=lending.teacher, at=noon)
        returning.record_mouthpiece_cleaned(loan=first, cleaned_on=make.TODAY, by=lending.teacher, at=noon)
        kinds = ["cleaning", "found", "return", "not-found"]
    second = lending.issue(pupil=make.pupil(lending.school, lending.guardian))

    told = [(one.kind, one.link and one.link[1]) for one in story_of(lending.horn).told() if one.kind != "check"]

    assert [kind for kind, _ in told] == ["issue", *kinds, "issue"]
    assert (told[0][1], told[-1][1]) == (second.pk, first.pk)


def test_the_story_takes_as_many_queries_for_one_loan_as_for_three(lending, django_assert_num_queries):
    for count in (1, 2):
        for _ in range(count):
            make.loan(lending.horn, lending.pupil, lending.teacher, returned_on=make.TODAY)
        with django_assert_num_queries(6):
            story_of(lending.horn, STORY).told()


def test_horns_that_agree_with_their_loans_are_reported_as_agreeing(lending, elsewhere, capsys):
    lending.issue()

    call_command("reconcile")

    assert capsys.readouterr().out == "All 2 horns agree with their rows.\nAll 0 open jobs agree with their rows.\n"


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ({"holder_name": "", "due_on": None}, "holder_name is kept as nothing; the rows say"),
        ({"holder_name": "Mia Berg"}, "holder_name is kept as Mia Berg; the rows say"),
        ({"due_on": make.TODAY}, "due_on is kept as 2026-09-14; the rows say"),
        ({"grade": 3}, "grade is kept as 3; the rows say 1"),
        ({"checked_on": None}, "checked_on is kept as nothing; the rows say 2026-09-14"),
        ({"on_bench": True}, "on_bench is kept as yes; the rows say no"),
        ({"repairer": "Brass House"}, "repairer is kept as Brass House; the rows say nothing"),
        ({"mended_on": make.TODAY}, "mended_on is kept as 2026-09-14; the rows say nothing"),
        ({"test_note_owed": True}, "test_note_owed is kept as yes; the rows say no"),
        ({"mouthpiece_owed": True}, "mouthpiece_owed is kept as yes; the rows say no"),
        ({"promised_to": "Mia Berg"}, "promised_to is kept as Mia Berg; the rows say nothing"),
        ({"withdrawn_on": make.TODAY}, "withdrawn_on is kept as 2026-09-14; the rows say nothing"),
        ({"not_found_on": make.TODAY}, "not_found_on is kept as 2026-09-14; the rows say nothing"),
    ],
)
def test_a_horn_that_differs_is_named_and_the_command_fails(lending, elsewhere, capsys, columns, says):
    lending.issue()
    Horn.objects.filter(pk=lending.horn.pk).update(**columns)

    with pytest.raises(SystemExit) as end:
        call_command("reconcile")

    out = capsys.readouterr().out
    assert end.value.code == 1
    assert f"{lending.horn}: {says}" in out
    assert "1 of 2 horns differ" in out


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ({"turn": 7}, "turn is kept as 7; the rows say 7399991231000015."),
        ({"turn": None}, "turn is kept as nothing; the rows say 7399991231000015."),
        ({"wants": []}, "wants is kept as []; the rows say [['string-broken', 1]]"),
    ],
)
def test_a_job_that_keeps_another_turn_is_named_and_the_command_fails(lending, capsys, columns, says):
    make.job_with(lending.horn, lending.teacher, ("string-broken", "r"))
    RepairJob.objects.update(**columns)

    with pytest.raises(SystemExit) as end:
        call_command("reconcile")

    out = capsys.readouterr().out
    assert end.value.code == 1
    assert f"{lending.horn}: its job’s {says}" in out
    assert "1 of 1 open jobs differ from their rows." in out


def test_a_horn_that_claims_a_holder_without_a_loan_is_named(lending, capsys):
    Horn.objects.filter(pk=lending.horn.pk).update(holder_name="Mia Berg", due_on=make.TODAY)

    with pytest.raises(SystemExit):
        call_command("reconcile")

    assert "holder_name is kept as Mia Berg; the rows say nothing" in capsys.readouterr().out
