"""The pages of matching: who sees what, what the address holds, and that another school's rows never appear."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.candidates import gather
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.rows import Weights
from fleet.people.models import Pupil
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn
from tests import make

pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]


def pairs(answer):
    return {line.pupil: line.horn for line in answer.context["table"].data}


def ready_horn(lending, **fields):
    horn = make.horn(lending.school, **fields)
    make.check(horn, lending.teacher)
    return horn


def test_the_classes_are_offered_with_how_many_pupils_they_have(client, page, band, elsewhere):
    make.pupil(band.school, group="band two")
    make.pupil(band.school)
    Pupil.objects.filter(pk=elsewhere.pupil.pk).update(group="Elsewhere")
    make.pupil(band.school, group="Band", left_on=make.TODAY)

    answer = client.get(page)

    assert [(one["label"], one["pupils"]) for one in answer.context["classes"]] == [
        ("Band", 1),
        ("band two", 1),
        ("in no class", 1),
    ]


def test_a_class_gets_a_proposal_from_the_schools_own_horns(client, page, band, elsewhere):
    Pupil.objects.filter(pk=elsewhere.pupil.pk).update(group="Band")
    make.pupil(band.school, group="Choir")

    answer = client.get(page, {"class": "Band"})

    assert pairs(answer) == {band.pupil: band.horn}
    text = answer.content.decode()
    assert elsewhere.horn.number not in text
    assert elsewhere.pupil.name not in text
    assert f"pair={band.pupil.pk}.{band.horn.pk}" in text


def test_horns_that_may_not_be_lent_are_no_part_of_it_and_are_counted(client, page, band):
    make.horn(band.school, build="", number="UNKNOWN-1")
    ready_horn(band, build="marching-mellophone-f", stands_in="F")
    Horn.objects.filter(pk=ready_horn(band).pk).update(not_found_on=make.TODAY)
    Horn.objects.filter(pk=ready_horn(band).pk).update(withdrawn_on=make.TODAY)
    make.loan(ready_horn(band), make.pupil(band.school, group="Choir"), band.teacher)
    make.check(ready_horn(band), band.teacher, grade=4)

    answer = client.get(page, {"class": "Band"})

    assert pairs(answer) == {band.pupil: band.horn}
    assert answer.context["unused"] == []
    assert dict(answer.context["aside"]) == {
        "not identified": 1,
        "not a French horn with valves": 1,
        "not found": 1,
        "with other pupils": 1,
        "to be withdrawn or repaired": 1,
    }


def test_a_pupil_keeps_the_horn_they_have(client, page, band):
    make.loan(band.horn, band.pupil, band.teacher)
    ready_horn(band, number="AA-1")

    answer = client.get(page, {"class": "Band"})

    assert pairs(answer) == {band.pupil: band.horn}
    assert answer.context["table"].data[0].words == ["Keeps the horn they have.", "Stands in F, like the class."]
    assert (answer.context["kept"], answer.context["ready"]) == (1, 0)


def test_the_need_on_the_pupils_record_counts(client, page, band):
    band.pupil.needs_kind, band.pupil.needs_wrap = "double", "compact"
    band.pupil.save()
    ready_horn(band, build="double-full")
    compact = ready_horn(band, build="double-full", wrap="compact")

    assert pairs(client.get(page, {"class": "Band"})) == {band.pupil: compact}


def test_what_the_class_plays_on_is_what_somebody_said_or_else_what_most_of_its_horns_stand_in(client, page, band):
    other = make.pupil(band.school, group="Band")
    flat = ready_horn(band, build="single-bb", stands_in="Bb")
    make.loan(flat, other, band.teacher)

    assert pairs(client.get(page, {"class": "Band"})) == {other: flat}

    ClassPlan.objects.create(school=band.school, group="band", stands_in="F")
    assert pairs(client.get(page, {"class": "Band"}))[band.pupil] == band.horn


def test_weights_can_be_tried_in_the_address_and_change_nothing_kept(client, page, band):
    flat = ready_horn(band, build="single-bb", stands_in="Bb")
    Horn.objects.filter(pk=band.horn.pk).update(grade=3)
    ClassPlan.objects.create(school=band.school, group="Band", stands_in="F")

    assert pairs(client.get(page, {"class": "Band"})) == {}
    assert pairs(client.get(page, {"class": "Band", "stand": "1"})) == {band.pupil: flat}
    assert MatchingRules.objects.count() == 0


@pytest.mark.parametrize("nonsense", ["2", "-1", "x", "99", "²", "9" * 40])
def test_a_weight_in_the_address_that_is_none_is_as_if_it_were_not_there(client, page, band, nonsense):
    answer = client.get(page, {"class": "Band", "carry": nonsense})

    assert answer.context["asked"].weights == Weights()


@pytest.mark.parametrize("nonsense", ["", "x.y", "x", "1.2.3", "-1.4", "1." + "9" * 30])
def test_nonsense_among_the_changes_by_hand_is_passed_over(client, page, band, nonsense):
    asked = {"class": ["Band", "No such class"], "fix": nonsense, "without": nonsense, "leave": "x", "choose": "x"}

    assert pairs(client.get(page, asked)) == {band.pupil: band.horn}


def test_a_pair_can_be_fixed_and_let_go_by_links(client, page, band):
    second = ready_horn(band, number="ZZ-2")

    fixed = client.get(page, {"class": "Band", "fix": f"{band.pupil.pk}.{second.pk}"})
    (line,) = fixed.context["table"].data
    let_go = client.get(f"{page}?{line.let_go}")

    assert pairs(fixed) == {band.pupil: second}
    assert line.words[0] == "Fixed by hand."
    assert pairs(let_go) == {band.pupil: band.horn}


def test_a_fixed_horn_that_may_not_be_lent_any_more_is_told(client, page, band, elsewhere):
    second = ready_horn(band, number="ZZ-2")
    Horn.objects.filter(pk=second.pk).update(grade=3)
    pair, foreign = f"{band.pupil.pk}.{second.pk}", f"{band.pupil.pk}.{elsewhere.horn.pk}"

    answer = client.get(page, {"class": "Band", "fix": [pair, foreign]})

    assert pairs(answer) == {band.pupil: band.horn}
    ((why, address),) = answer.context["lost"]
    assert why == f"ZZ-2 cannot be fixed for {band.pupil} now, so it was left out of account."
    assert client.get(f"{page}?{address}").context["lost"] == []


def test_a_horn_and_a_pupil_can_be_left_out_and_put_back(client, page, band):
    second = ready_horn(band, number="ZZ-2")
    other = make.pupil(band.school, name="Zoe", group="Band")
    asked = {"class": "Band", "without": band.horn.pk, "leave": band.pupil.pk}

    answer = client.get(page, asked)

    assert pairs(answer) == {other: second}
    assert [one["name"] for one in answer.context["put_back"]] == [band.horn.number, band.pupil.name]
    again = client.get(f"{page}?{answer.context['put_back'][0]['address']}")
    assert again.context["asked"].without == ()
    assert again.context["asked"].leave == (band.pupil.pk,)


def test_another_horn_is_offered_with_what_it_would_do_to_the_whole(client, page, band):
    other = make.pupil(band.school, name="Zoe", group="Band", needs_kind="double")
    double = ready_horn(band, number="ZZ-1", build="double-full", stands_in="F")
    same = ready_horn(band, number="ZZ-2")

    answer = client.get(page, {"class": "Band", "choose": band.pupil.pk})

    effects = {one.horn: one.effect for one in answer.context["chosen"].others}
    assert pairs(answer) == {band.pupil: band.horn, other: double}
    assert effects == {band.horn: "The proposal", same: "As good", double: "Zoe goes without"}
    first = answer.context["chosen"].others[1]
    assert pairs(client.get(f"{page}?{first.address}"))[band.pupil] == same


def test_a_horn_for_one_who_goes_without_names_who_would_go_without_instead(client, page, band):
    other = make.pupil(band.school, name="Zoe", group="Band")

    answer = client.get(page, {"class": "Band", "choose": other.pk})

    assert [one.effect for one in answer.context["chosen"].others] == [f"{band.pupil} goes without instead"]


def test_who_stays_without_is_told_why_and_what_would_help(client, page, band):
    other = make.pupil(band.school, name="Zoe", group="Band")
    broken = make.horn(band.school, number="ZZ-9")
    make.finding(make.check(broken, band.teacher, grade=3), "string-broken", "r")

    answer = client.get(page, {"class": "Band"})

    (short,) = answer.context["short"]
    assert short["why"] == (
        f"{band.pupil} and Zoe need a horn, and there is only {band.horn}. It is a tie who of them goes without."
    )
    (step,) = answer.context["steps"]
    assert [step["what"], *(horn for horn, _ in step["horns"])] == ["Mend", broken]
    assert step["words"] == ": string broken, about 15 minutes."
    assert step["serves"] in {other.name, band.pupil.name}


@pytest.mark.parametrize(
    ("what", "do"),
    [
        ("identify", "Identify"),
        ("clean", "Clean the mouthpiece of"),
        ("check", "Check"),
        ("sound", "Check"),
        ("bench", "Mend"),
        ("stand", "Restring"),
    ],
)
def test_every_remedy_names_its_horn_and_leads_to_the_page_where_it_is_done(client, page, band, what, do):
    horn = band.horn
    if what == "clean":
        make.loan(horn, make.pupil(band.school), band.teacher, returned_on=make.TODAY)
    elif what == "identify":
        Horn.objects.filter(pk=horn.pk).update(build="", stands_in="")
    elif what == "check":
        Horn.objects.filter(pk=horn.pk).update(grade=None, checked_on=None)
    elif what == "sound":
        Horn.objects.filter(pk=horn.pk).update(test_note_owed=True)
    elif what == "bench":
        Horn.objects.filter(pk=horn.pk).update(on_bench=True)
    else:
        Horn.objects.filter(pk=horn.pk).update(build="double-full", stands_in="Bb")
        ClassPlan.objects.create(school=band.school, group="Band", stands_in="F")

    answer = client.get(page, {"class": "Band"})

    (step,) = answer.context["steps"]
    ((named, address),) = step["horns"]
    assert (step["what"], named, step["serves"]) == (do, horn, band.pupil.name)
    assert client.get(address, follow=True).status_code == 200


def test_horns_to_be_taken_back_first_are_told_apart_from_those_to_be_issued(client, page, band):
    tall = make.pupil(band.school, name="Aaron", group="Band")
    band.pupil.needs_wrap = "compact"
    band.pupil.save()
    Horn.objects.filter(pk=band.horn.pk).update(wrap="compact")
    make.loan(Horn.objects.get(pk=band.horn.pk), tall, band.teacher)
    other = ready_horn(band)

    answer = client.get(page, {"class": "Band"})

    assert pairs(answer) == {tall: other, band.pupil: band.horn}
    assert (answer.context["back_first"], answer.context["ready"]) == (1, 1)
    assert "Aaron has it now and gives it back first." in answer.content.decode()
    assert f"Gives back {band.horn}." in answer.content.decode()


def test_a_technician_does_not_match_and_a_stranger_does_not_see(as_, page, band):
    technician = make.staff(Role.TECHNICIAN, band.school)

    assert as_(technician).get(page).status_code == 403
    assert as_(make.user()).get(page).status_code == 404


@pytest.mark.parametrize("more", [0, 2, 29])
def test_the_proposal_takes_as_many_queries_for_thirty_as_for_one(client, page, band, more, django_assert_num_queries):
    make.finding(make.check(make.horn(band.school), band.teacher, grade=3))
    for n in range(more):
        pupil = make.pupil(band.school, band.guardian, group="Band")
        horn = ready_horn(band, place=make.place(band.school))
        if n % 3 == 0:
            make.loan(horn, pupil, band.teacher)
        if n % 3 == 1:
            make.finding(make.check(horn, band.teacher, grade=3))

    with django_assert_num_queries(12):
        answer = client.get(page, {"class": "Band"})
    assert answer.context["in_all"] == more + 1


def test_the_pool_agrees_with_what_may_be_lent_one_by_one(band):
    """`gather` looks at all horns at once; each it lets in must pass the rules that the issue itself asks."""
    make.loan(ready_horn(band), make.pupil(band.school), band.teacher, returned_on=make.TODAY)
    cleaned = make.loan(ready_horn(band), make.pupil(band.school), band.teacher, returned_on=make.TODAY)
    cleaned.mouthpiece_cleaned_on, cleaned.mouthpiece_cleaned_by = make.TODAY, band.teacher
    cleaned.save()
    keep([cleaned.horn])
    make.check(make.horn(band.school), band.teacher, grade=3)
    make.horn(band.school)
    Horn.objects.filter(pk=ready_horn(band).pk).update(test_note_owed=True, due_on=None)
    old = ready_horn(band)
    make.check(old, band.teacher, grade=2, at=make.NOW + timedelta(hours=1))

    make.check(old, band.teacher, grade=2, at=make.NOW + timedelta(hours=2), finish_grade=4)

    pool = gather(band.school, ["Band"])

    assert {row.key: row.finish for row in pool.horns}[old.pk] == 4, "as the newest check saw it"
    assert {row.key for row in pool.horns} == {horn.pk for horn in Horn.objects.at(band.school) if not horn.kept_back}
    assert {row.key for row in pool.horns} == {band.horn.pk, cleaned.horn_id, old.pk}
    assert propose(pool.pupils, pool.horns, Weights()).left == []
