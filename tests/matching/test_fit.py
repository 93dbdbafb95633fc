"""Whether a horn suits a pupil: what a person who chooses by hand is told, and that it forbids nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.lending.actions.wishes import wait
from fleet.lending.models import Loan
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.candidates import horn_row
from fleet.people.models import Pupil
from fleet.register.models import Horn
from fleet.signing.queries.fitting import misfits
from tests import make

pytestmark = pytest.mark.usefixtures("at_noon")
DUE = make.TODAY + timedelta(days=100)


@pytest.fixture
def small(band):
    """The pupil of the fixture needs a compact horn, and the class plays on horns in F."""
    ClassPlan.objects.create(school=band.school, group="Band", stands_in="F")
    Pupil.objects.filter(pk=band.pupil.pk).update(needs_wrap="compact")
    band.pupil.refresh_from_db()
    return band


def ready(lending, build="single-f", stands_in="F", **fields):
    horn = make.horn(lending.school, build=build, stands_in=stands_in, **fields)
    make.check(horn, lending.teacher)
    return horn


def against(lending, horn, pupil=None, **said):
    found = misfits(lending.school, [(pupil or lending.pupil, horn)], today=make.TODAY, **said)
    return next(iter(found.values()), None)


def test_nothing_is_said_of_a_horn_that_suits(band):
    assert against(band, band.horn) is None


def test_a_horn_too_large_and_one_in_another_stand_are_told_with_a_horn_that_suits(small):
    large = ready(small, "double-full", "Bb")
    ready(small, "compact-bb", "Bb")
    fits = ready(small, "compact-f")

    found = against(small, large)

    assert found.words == ["Not compact, though they need that.", "Stands in B♭; the class plays in F."]
    assert found.better == fits
    assert against(small, fits) is None


def test_a_rule_that_does_not_matter_at_the_school_warns_of_nothing(small):
    large = ready(small, "double-full", "Bb")
    rules = MatchingRules.objects.create(school=small.school, wrap=0, stand=1)
    assert against(small, large).words == ["Stands in B♭; the class plays in F."]
    assert against(small, large).better == small.horn

    rules.stand = 0
    rules.save()

    assert against(small, large) is None


@pytest.mark.both_engines
def test_whoever_is_in_no_class_is_measured_by_no_horns_that_nobody_has(band):
    for _ in range(3):
        ready(band, "marching-mellophone-f")

    assert against(band, band.horn, make.pupil(band.school, group="")) is None


def test_of_another_family_than_the_class_plays_is_told(band):
    mellophone = ready(band, "marching-mellophone-f")
    assert against(band, mellophone).words == ["A marching mellophone in F is no French horn."]
    assert against(band, mellophone).better == band.horn
    assert against(band, ready(band, "natural-horn", "")).words == ["A natural horn has no valves."]

    for _ in range(2):
        make.loan(
            ready(band, "marching-mellophone-f"),
            make.pupil(band.school, make.guardian(band.school), group="Band"),
            band.teacher,
        )

    assert against(band, mellophone) is None
    assert against(band, band.horn).words == ["A single horn in F is not what the class plays."]
    assert against(band, band.horn).better == mellophone


def test_a_better_horn_may_be_lent_is_not_taken_and_is_named_once(small, elsewhere):
    large, other = ready(small, "double-full", "F"), ready(small, "double-full", "F")
    make.horn(small.school, build="compact-f", stands_in="F")
    make.check(make.horn(elsewhere.school, build="compact-f", stands_in="F"), elsewhere.teacher)
    assert against(small, large).better is None
    one, two = ready(small, "compact-f"), ready(small, "compact-f")
    twin = make.pupil(small.school, group="Band", needs_wrap="compact")

    both = misfits(small.school, [(small.pupil, large), (twin, other)], today=make.TODAY)

    assert [said.better for said in both.values()] == [one, two]
    assert against(small, large, taken=[one.pk]).better == two


def test_the_better_horn_is_the_one_the_pupil_waits_for_then_one_as_they_wait_for(lending):
    Pupil.objects.filter(pk=lending.pupil.pk).update(needs_kind="single")
    lending.pupil.refresh_from_db()
    other = make.pupil(lending.school, make.guardian(lending.school))
    double = ready(lending, "double-full")
    good, wished = ready(lending), ready(lending, stands_in="Bb", build="single-bb")
    Horn.objects.filter(pk=wished.pk).update(grade=2)

    def asked(pupil, horn=None, until=None, **sort):
        said = {"pupil": pupil, "horn": horn, "sort": sort, "since": make.TODAY, "reserved_until": until}
        wait(**said, by=lending.teacher, at=make.NOW)

    def better():
        return against(lending, double).better

    assert better() != wished
    asked(lending.pupil, stands_in="Bb")
    assert better() == wished
    asked(other, good)
    asked(lending.pupil, good)
    assert better() == wished
    asked(lending.pupil, lending.horn, make.TODAY)
    assert better() == lending.horn


def test_no_horn_is_better_than_one_of_the_sort_the_pupil_waits_for_unless_it_is_of_the_sort(small):
    make.wish(small.pupil, small.teacher, kind="double")
    waited_for = ready(small, "double-full", "Bb")
    ready(small, "compact-f")

    assert against(small, waited_for).better is None
    assert against(small, waited_for, wishes=[]).better is not None
    double = ready(small, "compact-double-full", "F")
    assert against(small, waited_for).better == double


@pytest.mark.parametrize("more", [0, 2])
def test_it_takes_three_queries_for_three_pairs_as_for_one(small, more, django_assert_num_queries):
    pairs = [(small.pupil, ready(small, "double-full"))]
    pairs += [
        (make.pupil(small.school, group="Band", needs_wrap="compact"), ready(small, "double-full")) for _ in range(more)
    ]
    with django_assert_num_queries(3):
        assert len(misfits(small.school, pairs, today=make.TODAY)) == more + 1
    with django_assert_num_queries(0):
        misfits(small.school, [], today=make.TODAY)


def test_of_horns_that_are_alike_no_more_are_looked_at_than_there_are_pupils(small, monkeypatch):
    large = ready(small, "double-full", "F")
    alike = [ready(small, "compact-f") for _ in range(4)]
    near = ready(small, "compact-f", place=make.place(small.school, room="Music room"))
    ClassPlan.objects.update(room="Music room")
    for horn in alike[:2]:
        wait(
            pupil=make.pupil(small.school, make.guardian(small.school)),
            horn=horn,
            sort={},
            since=make.TODAY,
            reserved_until=None,
            by=small.teacher,
            at=make.NOW,
        )
    seen = []
    monkeypatch.setattr("fleet.matching.queries.fit.horn_row", lambda horn: seen.append(horn) or horn_row(horn))

    assert against(small, large).better == near
    assert [horn for horn in seen if horn in alike] == alike[:3]


def whole(lending, horn):
    return {
        "horn": horn.pk,
        "pupil": lending.pupil.pk,
        "due_on": DUE.isoformat(),
        "guardian": lending.guardian.pk,
        "more": "mute",
        "then": "sign",
    }


def test_issuing_warns_offers_the_better_horn_with_the_form_as_it_is_and_forbids_nothing(client, small):
    large, fits = ready(small, "double-full"), ready(small, "compact-f")
    page = f"/s/{small.school.slug}/loans/issue/"

    answer = client.get(page, whole(small, large))
    better = answer.context["better"]

    assert "Not compact, though they need that." in answer.content.decode()
    kept = client.get(f"{page}?{better}")
    assert "Not compact" not in kept.content.decode()
    assert kept.context["draft"].horn == fits
    assert kept.context["draft"].form["more"].value() == "mute"
    assert kept.context["draft"].form["due_on"].value() == DUE.isoformat()
    before = answer.content.decode().split('method="post" action="?')[1].split('"')[0].replace("&amp;", "&")
    client.post(f"{page}?{before}", {"signed": "on", "signed_on": make.TODAY.isoformat()})
    assert Loan.objects.get().horn == large


def test_the_choice_of_a_horn_for_a_pupil_says_which_do_not_suit(client, small):
    large, fits = ready(small, "double-full"), ready(small, "compact-f")

    offered = dict(client.get(f"/s/{small.school.slug}/loans/issue/", {"pupil": small.pupil.pk}).context["offered"])

    assert offered[large].words == offered[small.horn].words == ["Not compact, though they need that."]
    assert offered[fits] is None


def test_a_batch_says_what_does_not_suit_and_swaps_one_pair(client, small):
    large, fits = ready(small, "double-full"), ready(small, "compact-f")
    twin = make.pupil(small.school, make.guardian(small.school), group="Band", name="Zoe Quill")
    page = f"/s/{small.school.slug}/loans/batch/"
    pairs = [f"{small.pupil.pk}.{large.pk}", f"{twin.pk}.{small.horn.pk}"]

    lines = client.get(page, {"pair": pairs, "due_on": DUE.isoformat(), "more": "mute"}).context["lines"]
    said = {line["entry"].pupil: line for line in lines}

    assert said[twin]["misfit"] is None
    assert said[small.pupil]["misfit"].better == fits
    batch = client.get(f"{page}?{said[small.pupil]['better']}").context["batch"]
    assert {(entry.pupil, entry.horn) for entry in batch.entries} == {(small.pupil, fits), (twin, small.horn)}
    assert batch.form["more"].value() == "mute"


def test_the_pupils_and_the_horns_page_say_that_a_horn_in_hand_does_not_suit(client, small):
    large = ready(small, "double-full")
    make.loan(large, small.pupil, small.teacher)
    fits = ready(small, "compact-f")

    for page in (f"pupils/{small.pupil.pk}/", f"horns/{large.pk}/"):
        text = client.get(f"/s/{small.school.slug}/{page}").content.decode()
        assert "Not compact, though they need that." in text
        assert f"{fits} would suit" in text
