"""Who waits for a horn, what is offered to them, and a horn that is kept for a pupil until a day."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.desk.actions.forgetting import forget
from fleet.desk.queries.personal import of_pupil
from fleet.ground.refusal import Refused
from fleet.lending.actions.wishes import wait, wait_no_longer
from fleet.lending.models import Wish
from fleet.lending.queries.wishes import first_offers, offers, reserved_for, sorts_ready, waiting_for
from fleet.matching.queries.candidates import gather
from fleet.people.models import Pupil, School
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from fleet.signing.queries.fitting import misfits
from tests import make
from tests.reading import horn_now

pytestmark = pytest.mark.usefixtures("at_noon")
DAY = timedelta(days=1)


@pytest.fixture
def other(lending):
    """A pupil beside that of the fixture, who waits for nothing yet."""
    return make.pupil(lending.school, make.guardian(lending.school), name="Zoe Quill")


def ready(lending, build="single-f", stands_in="F", **fields):
    horn = make.horn(lending.school, build=build, stands_in=stands_in, **fields)
    make.check(horn, lending.teacher)
    return horn


def asked(lending, pupil, horn=None, until=None, **sort):
    said = {"pupil": pupil, "horn": horn, "sort": sort, "since": make.TODAY, "reserved_until": until}
    return wait(**said, by=lending.teacher, at=make.NOW)


@pytest.mark.parametrize(
    ("sort", "met"),
    [
        ({}, {"single-f", "compact-f", "double-full", "marching-mellophone-f"}),
        ({"family": "horn"}, {"single-f", "compact-f", "double-full"}),
        ({"family": "other"}, {"marching-mellophone-f"}),
        ({"kind": "double"}, {"double-full"}),
        ({"kind": "single", "family": "horn"}, {"single-f", "compact-f"}),
        ({"compact": True}, {"compact-f"}),
        ({"stands_in": "Bb"}, {"double-full"}),
    ],
)
def test_a_wish_for_a_sort_is_met_by_every_horn_of_it(lending, other, sort, met):
    horns = [make.horn(lending.school, build=build) for build in ("single-f", "compact-f", "marching-mellophone-f")]
    horns += [make.horn(lending.school, build="double-full", stands_in="Bb"), make.horn(lending.school, build="")]

    wish = make.wish(other, lending.teacher, **sort)

    assert {horn.build for horn in horns if wish.is_met_by(horn)} == met
    certain = make.wish(other, lending.teacher, horn=horns[0])
    assert [horn for horn in horns if certain.is_met_by(horn)] == [horns[0]]


def test_what_is_waited_for_is_said_in_words(lending, other):
    sort = {"kind": "single", "family": "horn", "stands_in": "Bb", "compact": True}
    assert make.wish(other, lending.teacher, **sort).what == "a compact single French horn that stands in B♭"
    assert make.wish(other, lending.teacher).what == "any horn"
    assert make.wish(other, lending.teacher, family="other").what == "an instrument that is no French horn"
    assert make.wish(other, lending.teacher, horn=lending.horn).what == lending.horn.number


def test_what_is_ready_is_offered_in_the_order_of_asking_but_for_what_is_kept(lending, other, elsewhere):
    make.wish(elsewhere.pupil, elsewhere.teacher)
    late = make.wish(other, lending.teacher, since=make.TODAY)
    early = make.wish(lending.pupil, lending.teacher, since=make.TODAY - DAY)
    make.wish(make.pupil(lending.school, left_on=make.TODAY), lending.teacher)
    kept = ready(lending)
    asked(lending, other, kept, make.TODAY)
    broken = make.horn(lending.school)
    make.check(broken, lending.teacher, grade=3)

    waiting = list(Wish.objects.at(lending.school).waiting(make.TODAY))

    assert waiting == [early, late]
    assert [one.ready for one in offers(waiting, lending.school, make.TODAY)] == [[lending.horn]] * 2
    assert [waiting_for(broken, make.TODAY, most) for most in (1, 6)] == [[early], [early, late]]


def test_of_what_is_ready_the_first_two_are_named_and_all_are_counted(lending, other):
    for stem, build, many in (("AA", "single-f", 2), ("BB", "double-full", 4), ("CC", "triple-full", 1)):
        last = [ready(lending, number=f"{stem}-{n}", build=build) for n in range(many)][-1]
    waiting = [
        make.wish(lending.pupil, lending.teacher),
        make.wish(other, lending.teacher, kind="double"),
        make.wish(other, lending.teacher, horn=last),
    ]
    horns = list(Horn.objects.at(lending.school).may_be_lent().order_by("number_stem", "number_tail", "pk"))

    told = offers(waiting, lending.school, make.TODAY)

    such = [[horn for horn in horns if wish.is_met_by(horn)] for wish in waiting]
    assert [(one.ready, one.many) for one in told] == [(met[:2], len(met)) for met in such]
    assert [len(met) for met in such] == [8, 5, 1]

    doubles = such[1]
    for horn in doubles[:2]:
        asked(lending, make.pupil(lending.school), horn, make.TODAY)
    _, after_those_kept, _ = offers(waiting, lending.school, make.TODAY)
    assert (after_those_kept.ready, after_those_kept.many) == (doubles[2:4], 3)


def test_the_first_for_whom_something_is_ready_are_those_whom_any_horn_meets(lending, other):
    horns = [
        ready(lending, build, stands_in)
        for build, stands_in in (("single-f", "F"), ("single-bb", "Bb"), ("double-compensating", "F"))
    ]
    kept = ready(lending, "single-f", "F", number="HN-900")
    asked(lending, make.pupil(lending.school), horn=kept, until=make.TODAY)
    sorts: list[dict] = [{}, {"horn": horns[1]}, {"horn": kept}]
    for family in ("horn", "wagner"):
        sorts += [{"family": family, "kind": kind} for kind in ("", "single", "double")]
    sorts += [{"stands_in": stand} for stand in ("Bb", "Eb")] + [{"compact": True}, {"kind": "double", "compact": True}]
    for sort in sorts:
        asked(lending, make.pupil(lending.school), **sort)
    waiting = Wish.objects.at(lending.school).waiting(make.TODAY)
    offered = [one for one in offers(list(waiting), lending.school, make.TODAY) if one.ready]

    sorts_there = School.objects.values_list(sorts_ready(lending.school, make.TODAY), flat=True)
    for most in (100, 2):
        first = first_offers(lending.school, make.TODAY, sorts_there.get(pk=lending.school.pk), most)
        assert first == offered[:most]
    assert 2 < len(offered) < len(sorts)


def test_a_horn_is_kept_to_the_end_of_its_day_and_then_ends_by_itself(lending, other):
    wish = asked(lending, other, lending.horn, make.TODAY + DAY)

    assert reserved_for(lending.school, make.TODAY + DAY) == {lending.horn.pk: wish}
    assert reserved_for(lending.school, make.TODAY + 2 * DAY) == {}
    owed = horn_now(lending.horn, today=make.TODAY + DAY).owed
    assert [(one.what, one.why) for one in owed] == [(f"{lending.horn}: kept for Zoe Quill", "until 15 September 2026")]
    assert horn_now(lending.horn, today=make.TODAY + 2 * DAY).owed == []
    # It makes room: the row that is over does not stand in the way of the next.
    Wish.objects.update(reserved_until=make.TODAY - DAY)
    again = asked(lending, lending.pupil, lending.horn, make.TODAY)
    assert reserved_for(lending.school, make.TODAY) == {lending.horn.pk: again}


def test_who_may_not_wait_or_have_a_horn_kept_is_refused_with_a_reason(lending, other, elsewhere):
    asked(lending, other, lending.horn, make.TODAY)
    gone = make.horn(lending.school, withdrawn_on=make.TODAY)
    for said, sentence in (
        ((lending.pupil, lending.horn, make.TODAY), "is kept for Zoe Quill until 14 September 2026. End that first."),
        ((lending.pupil, ready(lending), make.TODAY - DAY), "13 September 2026 is in the past."),
        ((lending.pupil, gone), "was withdrawn on"),
        ((elsewhere.pupil, lending.horn), "belongs to another school"),
        ((make.pupil(lending.school, left_on=make.TODAY),), "left the school on"),
    ):
        with pytest.raises(Refused, match=sentence):
            asked(lending, *said)
    asked(lending, other, lending.horn, make.TODAY + DAY)
    assert Wish.objects.in_force(make.TODAY).get().reserved_until == make.TODAY + DAY


def test_issuing_it_ends_what_was_waited_for_and_warns_who_gives_it_to_somebody_else(lending, other):
    asked(lending, other, lending.horn, make.TODAY)
    asked(lending, lending.pupil, stands_in="F")
    asked(lending, lending.pupil, kind="double")

    pairs = [(lending.pupil, lending.horn), (other, lending.horn)]
    said = misfits(lending.school, pairs, today=make.TODAY)

    assert {keys: one.words for keys, one in said.items()} == {
        (lending.pupil.pk, lending.horn.pk): [f"{lending.horn} is kept for Zoe Quill until 14 September 2026."]
    }
    assert misfits(lending.school, pairs, today=make.TODAY + DAY) == {}
    lending.issue()
    assert [wish.what for wish in Wish.objects.filter(pupil=lending.pupil, ended_on=None)] == ["a double horn"]
    assert reserved_for(lending.school, make.TODAY) != {}


def test_a_horn_that_somebody_waits_for_is_no_better_one_and_is_told(lending, other):
    asked(lending, other, lending.horn)
    Pupil.objects.filter(pk=lending.pupil.pk).update(needs_kind="single")
    lending.pupil.refresh_from_db()
    double = ready(lending, "double-full")

    said = misfits(lending.school, [(lending.pupil, lending.horn), (other, lending.horn)], today=make.TODAY)

    assert [one.words for one in said.values()] == [[f"Zoe Quill waits for {lending.horn} since 14 September 2026."]]
    assert (
        misfits(lending.school, [(lending.pupil, double)], today=make.TODAY)[lending.pupil.pk, double.pk].better is None
    )


def test_of_a_horn_kept_for_somebody_that_is_told_and_not_who_waited_before(lending, other):
    make.wish(other, lending.teacher, horn=lending.horn, since=make.TODAY - DAY)
    kept_for = make.pupil(lending.school, name="Ida Quill")
    asked(lending, kept_for, lending.horn, make.TODAY)

    pairs = [(pupil, lending.horn) for pupil in (lending.pupil, kept_for)]
    said = misfits(lending.school, pairs, today=make.TODAY)

    assert {pupil: one.words for (pupil, _), one in said.items()} == {
        lending.pupil.pk: [f"{lending.horn} is kept for Ida Quill until 14 September 2026."]
    }


def test_matching_leaves_a_kept_horn_and_its_pupil_alone(lending, other):
    Pupil.objects.update(group="Band")
    asked(lending, other, lending.horn, make.TODAY)

    pool = gather(lending.school, ["Band"], today=make.TODAY)

    assert ([row.key for row in pool.pupils], pool.horns) == ([lending.pupil.pk], [])
    assert dict(pool.aside) == {"kept for a pupil": 1}
    assert len(gather(lending.school, ["Band"], today=make.TODAY + DAY).pupils) == 2


def test_it_is_on_record_taken_along_and_ended_when_the_pupil_is_forgotten(lending, other):
    wish = asked(lending, other, lending.horn, make.TODAY)
    wait_no_longer(wish=asked(lending, other, kind="double"), by=lending.teacher, at=make.NOW)
    wait_no_longer(wish=Wish.objects.get(kind="double"), by=lending.teacher, at=make.NOW)

    told = of_pupil(other)["waits_for"]

    assert [one["horn__number"] for one in told] == [lending.horn.number, None]
    assert list(Act.objects.order_by("pk").values_list("deed", flat=True)) == [
        Deed.WISH_KEPT,
        Deed.WISH_KEPT,
        Deed.WISH_ENDED,
    ]
    forget(pupil=other, by=lending.teacher, at=make.NOW)
    wish.refresh_from_db()
    assert wish.ended_on == make.TODAY


def test_a_pupil_is_written_down_and_offered_what_is_ready_on_every_page(client, lending, other):
    here = f"/s/{lending.school.slug}"
    new = f"{here}/pupils/{other.pk}/wishes/new/"
    wrong = {"since": (make.TODAY + DAY).isoformat(), "horn": "NONE-1", "reserved_until": "2025-01-01"}
    answer = client.post(new, wrong)
    assert set(answer.context["form"].errors) == {"since", "horn", "reserved_until"}
    answer = client.post(new, {"since": make.TODAY.isoformat(), "reserved_until": make.TODAY.isoformat()})
    assert answer.context["form"].errors == {"horn": ["Say which horn is kept for them."]}

    client.post(new, {"since": make.TODAY.isoformat(), "kind": "single", "stands_in": "F"})

    said = "Zoe Quill waits for such a horn"
    assert said in client.get(f"{here}/").content.decode()
    issue = f"?horn={lending.horn.pk}&amp;pupil={other.pk}"
    for page in ("/", f"/horns/{lending.horn.pk}/", "/loans/wishes/"):
        assert issue in client.get(f"{here}{page}").content.decode(), page
    wish = Wish.objects.get()
    assert f"/wishes/{wish.pk}/end/" in client.get(f"{here}/pupils/{other.pk}/").content.decode()
    client.post(f"{here}/loans/wishes/{wish.pk}/end/")
    assert said not in client.get(f"{here}/").content.decode()


@pytest.mark.parametrize(
    ("typed", "until", "wrong"),
    [
        ("zoe", 0, {}),
        ("Zoe Quill", 366, {}),
        ("Zoe Quill", 367, {"until"}),
        ("Zoe Quill", -1, {"until"}),
        ("quill", 0, {"pupil"}),
        ("nobody", 0, {"pupil"}),
    ],
)
def test_a_horn_is_kept_for_a_pupil_by_name(client, lending, other, typed, until, wrong):
    make.pupil(lending.school, name="Ada Quill")
    page = f"/s/{lending.school.slug}/horns/{lending.horn.pk}/reserve/"

    answer = client.post(page, {"pupil": typed, "until": (make.TODAY + until * DAY).isoformat()})

    if wrong:
        assert set(answer.context["form"].errors) == wrong
    else:
        assert Wish.objects.get().pupil == other
        text = client.get(f"/s/{lending.school.slug}/loans/issue/?horn={lending.horn.pk}&pupil={lending.pupil.pk}")
        assert f"{lending.horn} is kept for Zoe Quill until" in text.content.decode()
