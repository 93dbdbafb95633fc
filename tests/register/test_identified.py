"""A finished walk put on record."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions import horns, identifying, restringing, whereabouts
from fleet.register.actions.identifying import what_extra_valves_do
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn, Identification
from fleet.register.models.numbers import TAKEN
from fleet.register.queries.identifying import disagreement
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import Observations, read_observations
from identify.core.reasoning.verdict import assess
from tests import make
from tests.reading import story_of

pytestmark = pytest.mark.django_db

# A full double standing in B♭, computed from the harmonic series: concert B♭3 is open on the 9-foot B♭ tube and
# taken with the first valve on the 12-foot F tube; a slur down is a fourth on the one and a minor third on the other.
FULL_DOUBLE_IN_BB = {
    "valves": "4",
    "slide_sets": "2",
    "test_note": "0",
    "test_note_thumb": "1",
    "hand": "left",
    "mechanism": "rotary",
    "bell": "back",
    "wrap": "standard",
    "second_set": "longer",
    "thumb": "lowers-fourth",
    "step_down": "5",
    "length": "38-42",
}
FULL_DOUBLE_IN_F = FULL_DOUBLE_IN_BB | {"test_note": "1", "test_note_thumb": "0", "thumb": "raises", "step_down": "3"}
MELLOPHONE = {
    "valves": "3",
    "slide_sets": "1",
    "test_note": "1",
    "hand": "right",
    "mechanism": "piston",
    "bell": "back",
    "wrap": "standard",
    "step_down": "7",
}


@pytest.fixture
def school():
    make.horn(make.school(), number="HN-0099", build="")
    return make.school()


def page(school, observed, **more):
    return f"/s/{school.slug}/horns/identified/?{urlencode({**observed, **more})}"


def put(horn, observed, build, stands_in, by, at):
    return identifying.put_on_horn(
        horn=horn, observations=Observations(observed), build=build, stands_in=stands_in, by=by, at=at
    )


def test_the_likeliest_kind_stands_first_and_is_chosen(as_, school):
    form = as_(make.staff(Role.TEACHER, school)).get(page(school, FULL_DOUBLE_IN_BB)).context["form"]

    assert (form.offered[0].value, form.offered[0].checked) == ("double-full|Bb", True)
    assert form.offered[0].words == "full double horn in F and B♭, stands in B♭"


@pytest.mark.parametrize(("more", "shown"), [({"shared_row": "one-side"}, 1), ({}, 6)])
def test_what_the_checks_settle_stands_alone_and_the_rest_is_folded(as_, school, more, shown):
    seen = FULL_DOUBLE_IN_BB | more

    context = as_(make.staff(Role.TEACHER, school)).get(page(school, seen)).context

    assert (len(context["likely"]), context["verdict"].settled) == (shown, shown == 1)
    assert len(context["unlikely"]) == len(context["form"].offered) - shown


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_a_finding_becomes_a_new_horn(as_, school, role):
    person = make.staff(role, school)
    place = make.place(school)

    answer = as_(person).post(
        page(school, FULL_DOUBLE_IN_BB),
        {
            "act": "as-new",
            "kind": "double-full|Bb",
            "number": "HN-0001",
            "suggested": "HN-0001",
            "place": place.pk,
            "maker": "Üblein 🎺",
        },
    )

    horn = Horn.objects.get(school=school)
    assert answer.url == f"/s/{school.slug}/horns/{horn.pk}/"
    assert (horn.number, horn.build, horn.stands_in) == ("HN-0001", "double-full", "Bb")
    assert (horn.wrap, horn.fourth_valve, horn.fifth_valve) == ("standard", "change", "")
    assert (horn.place, horn.maker, horn.created_by) == (place, "Üblein 🎺", person)
    finding = Identification.objects.get(horn=horn)
    assert (finding.observations, finding.by, finding.settled) == (FULL_DOUBLE_IN_BB, person, False)
    assert (finding.build, finding.stands_in) == ("double-full", "Bb")
    assert finding.probability > 0.9


def test_what_was_looked_at_twice_is_kept_so_that_the_verdict_can_be_made_anew(as_, school):
    seen = FULL_DOUBLE_IN_BB | {"again": "second_set"}

    as_(make.staff(Role.TEACHER, school)).post(
        page(school, seen), {"act": "as-new", "kind": "double-full|Bb", "number": "HN-0001"}
    )

    finding = Identification.objects.get()
    assert (finding.observations, finding.settled) == (seen, True)
    anew = assess(read_observations(finding.observations)[0])
    assert (anew.settled, anew.leading.probability) == (True, pytest.approx(finding.probability))


def test_a_finding_is_put_on_the_horn_the_walk_was_begun_with(as_, school):
    horn = make.horn(school, build="", number="HN-0005")
    client = as_(make.staff(Role.TEACHER, school))
    address = page(school, FULL_DOUBLE_IN_BB, horn=horn.pk)

    form = client.get(address).context["form"]
    answer = client.post(
        address, {"act": "on-horn", "kind": "double-full|Bb", "horn_number": form["horn_number"].value()}
    )

    assert answer.url == f"/s/{school.slug}/horns/{horn.pk}/"
    horn.refresh_from_db()
    assert (horn.build, horn.stands_in) == ("double-full", "Bb")
    assert Horn.objects.at(school).count() == 1


def test_the_horn_can_be_told_by_its_number_in_any_case(as_, school):
    horn = make.horn(school, build="", number="HN-0005")

    said = {"act": "on-horn", "kind": "mellophone-f|F", "horn_number": " hn-0005 ", "place-words": "a new one’s"}
    as_(make.staff(Role.TEACHER, school)).post(page(school, MELLOPHONE), said)

    horn.refresh_from_db()
    assert (horn.build, horn.stands_in) == ("mellophone-f", "F")


def test_a_mellophone_is_registered_as_what_it_is(as_, school):
    client = as_(make.staff(Role.TEACHER, school))

    text = client.get(page(school, MELLOPHONE)).content.decode()
    client.post(page(school, MELLOPHONE), {"act": "as-new", "kind": "mellophone-f|F", "number": "HN-0001"})

    assert "no French horn, registered as what it is" in text
    assert Horn.objects.get(school=school).kind == "mellophone in F"


def test_a_person_may_confirm_a_less_likely_kind_and_the_record_says_the_checks_left_it_open(as_, school):
    client = as_(make.staff(Role.TEACHER, school))

    client.post(page(school, FULL_DOUBLE_IN_BB), {"act": "as-new", "kind": "triple-full|Bb", "number": "HN-0001"})

    finding = Identification.objects.get()
    assert (finding.build, finding.settled) == ("triple-full", False)
    assert finding.probability < 0.1


def test_kinds_are_offered_as_near_and_not_as_certain_where_the_observations_do_not_fit(as_, school):
    misheard = FULL_DOUBLE_IN_BB | {"test_note": "1"}

    text = as_(make.staff(Role.TEACHER, school)).get(page(school, misheard)).content.decode()

    assert "The observations do not fit together" in text
    assert "near" in text
    assert "as good as certain" not in text
    assert "very likely" not in text


@pytest.mark.parametrize(
    ("observed", "before", "found", "after"),
    [
        ({}, "", "double-full-stopping|Bb", ""),  # these are met in two wraps, and nobody looked
        ({"wrap": "cant-tell"}, "", "double-full-stopping|Bb", ""),
        ({"wrap": "compact"}, "standard", "double-full-stopping|Bb", "compact"),
        ({}, "compact", "double-full-stopping|Bb", "compact"),  # said by somebody before
        ({}, "trumpet", "double-full-stopping|Bb", ""),  # it went with what the horn was taken for
        ({}, "", "double-full|Bb", "standard"),  # else it would be a compact double
        ({}, "", "single-bb|Bb", "standard"),
        ({}, "compact", "single-bb|Bb", "standard"),  # else it would be a compact single
        ({}, "standard", "compact-bb|Bb", "compact"),
    ],
)
def test_the_wrap_is_recorded_only_where_it_was_looked_at_or_is_beyond_doubt(
    as_, school, observed, before, found, after
):
    horn = make.horn(school, build="", wrap=before)
    walk = {key: value for key, value in FULL_DOUBLE_IN_BB.items() if key != "wrap"} | observed

    as_(make.staff(Role.TEACHER, school)).post(
        page(school, walk), {"act": "on-horn", "kind": found, "horn_number": horn.number}
    )

    horn.refresh_from_db()
    assert (f"{horn.build}|{horn.stands_in}", horn.wrap) == (found, after)


def test_what_could_not_be_told_is_kept_too(as_, school):
    horn = make.horn(school, build="")

    as_(make.staff(Role.TEACHER, school)).post(
        page(school, {"valves": "3", "test_note": "cant-tell"}),
        {"act": "on-horn", "kind": "single-f|F", "horn_number": horn.number},
    )

    assert Identification.objects.get().observations == {"valves": "3", "test_note": "cant-tell"}


@pytest.mark.parametrize(
    ("sent", "wrong"),
    [
        ({"act": "on-horn", "kind": "double-full|Bb", "horn_number": "HN-0099"}, "horn_number"),  # another school's
        ({"act": "as-new", "kind": "double-full|Bb", "number": "HN-0100", "place-words": "nowhere"}, "place"),
        ({"act": "on-horn", "kind": "double-full|Bb", "horn_number": ""}, "horn_number"),
        ({"act": "as-new", "kind": "double-full|Bb", "number": ""}, "number"),
        ({"act": "as-new", "kind": "double-full|Bb", "number": "🎺"}, "number"),
        ({"act": "as-new", "kind": "double-full|Eb", "number": "HN-1"}, "kind"),
        ({"act": "as-new", "kind": "no-such|F", "number": "HN-1"}, "kind"),
        ({"act": "as-new", "number": "HN-1"}, "kind"),
        ({"act": "burn", "kind": "double-full|Bb", "number": "HN-1"}, "act"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(as_, school, sent, wrong):
    answer = as_(make.staff(Role.TEACHER, school)).post(page(school, FULL_DOUBLE_IN_BB), sent | {"maker": "Kept words"})

    assert list(answer.context["form"].errors) == [wrong]
    assert "Kept words" in answer.content.decode()
    assert not Identification.objects.exists()
    assert Horn.objects.at(school).count() == 0


def test_a_button_tapped_twice_makes_one_horn_and_one_finding(as_, school):
    client = as_(make.staff(Role.TEACHER, school))
    sent = {"act": "as-new", "kind": "double-full|Bb", "number": "HN-0001", "suggested": "HN-0001", "maker": "Alike"}

    first, second = (client.post(page(school, FULL_DOUBLE_IN_BB), sent) for _ in range(2))

    assert first.url == second.url
    assert Horn.objects.at(school).count() == 1
    assert Identification.objects.count() == 1


def test_a_number_that_is_taken_leaves_neither_horn_nor_finding(as_, school):
    make.horn(school, number="HN-0001")

    answer = as_(make.staff(Role.TEACHER, school)).post(
        page(school, FULL_DOUBLE_IN_BB), {"act": "as-new", "kind": "double-full|Bb", "number": "HN-0001"}
    )

    assert answer.context["form"].errors == {"number": [TAKEN]}
    assert not Identification.objects.exists()


@pytest.mark.parametrize(
    "query",
    [
        "",
        "valves=banana",
        "valves=99999999999999999999",
        "valves=4&valves=3",
        "test_note=%00",
        "horn=abc&valves=3",
        "horn=-1&valves=3",
        "hand=left&hand=left&bell=" + "x" * 4000,
        "valves=3&slide_sets=2",
    ],
)
def test_nonsense_in_the_walk_is_answered_with_a_page(as_, school, query):
    answer = as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/horns/identified/?{query}")

    assert answer.status_code == 200


def test_nothing_observed_is_nothing_to_keep(as_, school, now):
    horn = make.horn(school, build="")
    client = as_(make.staff(Role.TEACHER, school))

    assert "Begin the four checks" in client.get(page(school, {})).content.decode()
    client.post(page(school, {}), {"act": "on-horn", "kind": "single-f|F", "horn_number": horn.number})
    assert not Identification.objects.exists()
    with pytest.raises(Refused, match="Nothing was observed"):
        put(horn, {}, "single-f", "F", make.user(), now)


def test_another_schools_horn_in_the_address_is_404(as_, school):
    theirs = Horn.objects.exclude(school=school).get()
    client = as_(make.staff(Role.HEAD, school))

    for observed in (FULL_DOUBLE_IN_BB, {}):
        assert client.get(page(school, observed, horn=theirs.pk)).status_code == 404
        assert client.post(page(school, observed, horn=theirs.pk), {}).status_code == 404


def test_sounding_the_test_note_settles_what_a_restringing_owed(school, now):
    horn, person = make.horn(school, build="double-full", stands_in="F"), make.user()
    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", person, now)
    restringing.restring(horn=horn, stands_in="Bb", reason="x", by=person, at=now + timedelta(hours=1))

    put(horn, {"valves": "4"}, "double-full", "Bb", person, now + timedelta(hours=2))
    horn.refresh_from_db()
    assert horn.test_note_owed
    put(make.horn(school), FULL_DOUBLE_IN_BB, "double-full", "Bb", person, now + timedelta(hours=3))
    keep([horn])
    horn.refresh_from_db()
    assert horn.test_note_owed, "another horn was sounded"
    put(horn, FULL_DOUBLE_IN_BB, "double-full", "Bb", person, now + timedelta(hours=3))
    horn.refresh_from_db()
    assert not horn.test_note_owed
    assert disagreement(horn, horn.identifications.all()) is None


def test_a_withdrawn_horn_takes_no_finding(school, now):
    horn = make.horn(school, withdrawn_on=now.date())

    with pytest.raises(Refused, match="This horn is withdrawn"):
        put(horn, FULL_DOUBLE_IN_F, "double-full", "F", make.user(), now)


def test_findings_that_disagree_are_both_kept_and_asked_about(school, now):
    horn = make.horn(school, build="")
    ada, bo = make.user(name="Ada Lin"), make.user(name="Bo Ek")
    assert disagreement(horn, horn.identifications.all()) is None

    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", ada, now)
    horn.refresh_from_db()
    assert disagreement(horn, horn.identifications.all()) is None
    put(horn, FULL_DOUBLE_IN_F, "double-compensating", "F", bo, now + timedelta(days=1))

    assert horn.identifications.count() == 2
    horn.refresh_from_db()
    assert horn.build == "double-compensating"
    assert disagreement(horn, horn.identifications.all()) == (
        "On 14 September 2026 Ada Lin found a full double horn in F and B♭, standing in F; "
        "on 15 September 2026 Bo Ek found a compensating double horn in F and B♭, standing in F. Which is right?"
    )
    put(horn, FULL_DOUBLE_IN_F, "double-compensating", "F", ada, now + timedelta(days=2))
    assert disagreement(horn, horn.identifications.all()) is None


def test_what_is_asked_about_findings_is_all_in_the_readers_language(school, now):
    horn = make.horn(school, build="")
    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", make.user(name="Ada Lin"), now)

    with override("de"):
        question = disagreement(Horn(build="", school=school), horn.identifications.all())

    assert question == (
        "Am 14. September 2026 fand Ada Lin: ein voll ausgebautes Doppelhorn in F und B, stehend in F. "
        "Das Verzeichnis sagt nichts. Was stimmt?"
    )


def test_another_stand_without_a_restringing_is_asked_about(school, now):
    horn, person = make.horn(school, build=""), make.user()
    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", person, now)
    put(horn, FULL_DOUBLE_IN_BB, "double-full", "Bb", person, now + timedelta(days=1))
    horn.refresh_from_db()

    question = disagreement(horn, horn.identifications.all())

    assert question is not None
    assert "it stood in F" in question
    assert "nobody recorded a restringing" in question


def test_a_register_that_says_something_else_than_the_checks_is_asked_about(school, now):
    horn = make.horn(school, build="")
    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", make.user(name="Ada Lin"), now)
    horn.refresh_from_db()
    horns.amend_horn(horn=horn, changes={"build": "single-f", "stands_in": "F"}, by=make.user(), at=now)
    horn.refresh_from_db()

    assert disagreement(horn, horn.identifications.all()) == (
        "On 14 September 2026 Ada Lin found a full double horn in F and B♭, standing in F. "
        "The register says single horn in F. Which is right?"
    )


@pytest.mark.parametrize(
    ("code", "valves"),
    [
        ("single-f", ("", "")),
        ("double-full", ("change", "")),
        ("double-full-stopping", ("change", "stopping")),
        ("single-bb-f-extension", ("f-extension", "")),
        ("single-bb-stopping", ("stopping", "")),
        ("descant-bb-high-f", ("high-change", "")),
        ("triple-full", ("change", "high-change")),
        ("wagner-tenor-bb", ("quart", "")),
    ],
)
def test_what_the_fourth_and_fifth_valve_do_follows_from_the_build(code, valves):
    assert what_extra_valves_do(catalogue()[code]) == valves


def test_every_build_of_the_catalogue_can_be_put_on_record(school, now):
    person = make.user()
    for build in catalogue().values():
        horn = make.horn(school, build="")
        stand = "" if build.crooked else build.stands[0].name
        put(horn, {"valves": str(build.valve_count)}, build.code, stand, person, now)
        horn.refresh_from_db()
        horn.full_clean()
        assert (horn.build, horn.stands_in) == (build.code, stand)


@pytest.mark.parametrize("rows", [1, 3])
def test_the_page_takes_eight_queries_however_many_unknown_horns(as_, school, rows):
    for _ in range(rows):
        make.horn(school, build="")
    client = as_(make.staff(Role.TEACHER, school))
    client.get(f"/s/{school.slug}/horns/")

    with CaptureQueriesContext(connection) as queries:
        client.get(page(school, FULL_DOUBLE_IN_BB))

    # Session, account, seat; the highest number and the highest former one; places; horns not identified.
    assert len(queries) == 8


@pytest.mark.parametrize("times", [1, 3])
def test_a_horns_story_asks_once_what_there_is_and_once_for_it(school, now, times):
    person = make.user(name="Ada Lin")
    horn = horns.register_horn(school=school, particulars={"number": "HN-1"}, by=person, at=now)
    put(horn, FULL_DOUBLE_IN_F, "double-full", "F", person, now)
    for day in range(1, times + 1):
        to = "Bb" if day % 2 else "F"
        restringing.restring(horn=horn, stands_in=to, reason="New class", by=person, at=now + timedelta(days=day))
        for kind in ("not-found", "found"):
            whereabouts.change_standing(
                horn=horn, kind=kind, reason="The count", by=person, at=now + timedelta(days=day)
            )
        changes = {"number": f"HN-{day + 1}", "build": "double-compensating" if day % 2 else "double-full"}
        horns.amend_horn(horn=horn, changes=changes, by=person, at=now + timedelta(days=day))
    horn = Horn.objects.get(pk=horn.pk)

    with CaptureQueriesContext(connection) as queries:
        told = story_of(horn).whole()

    # What there is, the rows of all five sorts of it, and who registered the horn.
    assert len(queries) == 3
    assert [one.at for one in told] == sorted((one.at for one in told), reverse=True)
    assert {one.by for one in told} == {"Ada Lin"}
    sentences = [one.sentence for one in told]
    assert sentences[-2:] == [
        "Identified: full double horn in F and B♭, stands in F; the checks left it open.",
        "Put on the register.",
    ]
    assert "Restrung to stand in B♭ instead of F: New class." in sentences
    assert "Not found: The count." in sentences
    assert "Its number was HN-1 until then; nobody else gets it." in sentences
    assert len(told) == 2 + 5 * times


STRING_OFF = FULL_DOUBLE_IN_BB | {"test_note_thumb": "0", "thumb": "nothing"}


@pytest.mark.parametrize(
    ("kind", "report", "reported"),
    [("double-full|Bb", "on", True), ("double-full|Bb", "", False), ("double-full|F", "on", False)],
)
def test_what_is_wrong_with_a_horn_is_reported_once_it_is_on_record(as_, school, kind, report, reported):
    client = as_(make.staff(Role.TEACHER, school))
    assert client.get(page(school, STRING_OFF)).context["form"]["report"].value() is True

    answer = client.post(
        page(school, STRING_OFF), {"act": "as-new", "kind": kind, "number": "HN-0001", "report": report}
    )

    horn = Horn.objects.get(school=school)
    if not reported:
        assert answer.url == f"/s/{school.slug}/horns/{horn.pk}/"
        return
    assert answer.url.startswith(f"/s/{school.slug}/horns/{horn.pk}/repair/?notes=Its+thumb+string+is+off.")
    form = client.get(answer.url).context["form"]
    assert form["work_ordered"].value().startswith("Its thumb string is off. The thumb lever changes nothing")


def test_of_a_whole_horn_nothing_is_to_be_reported(as_, school):
    form = as_(make.staff(Role.TEACHER, school)).get(page(school, FULL_DOUBLE_IN_BB)).context["form"]
    assert "report" not in form.fields
