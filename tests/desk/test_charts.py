from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from fleet.ground.access import Role
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.fixture
def cupboard():
    """A school with a teacher and a double horn standing in F, and another school with a horn of its own."""
    school = make.school("alder")
    teacher = make.staff(Role.TEACHER, school)
    horn = make.horn(school, number="HN-1", build="double-full", stands_in="F")
    make.horn(make.school("birch"), number="XX-9", build="single-bb", stands_in="Bb")
    return school, teacher, horn


def chart_page(client, horn, query=""):
    return client.get(f"/s/alder/horns/{horn.pk}/chart/{query}").content.decode()


def test_the_chart_is_engraved_for_a_desk_and_for_a_phone_with_words_for_who_cannot_see_it(as_, cupboard):
    _, teacher, horn = cupboard

    page = chart_page(as_(teacher), horn)

    assert page.count('class="chart-wide"') == page.count('class="chart-narrow"') == 1
    assert "Full double horn in F and B♭, standing in F" in page
    assert "G4 0; A♭4 T23; A4 T12" in page
    assert "style=" not in page
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_the_table_shows_the_same_fingerings_with_what_else_sounds(as_, cupboard):
    _, teacher, horn = cupboard

    page = chart_page(as_(teacher), horn, "?as=table&notes=five")

    rows = re.findall(r'<th scope="row">(\w+)</th>\s*<td>\s*<span class="key">(\w+)</span>', page)
    assert rows == [("C4", "0"), ("D4", "1"), ("E4", "0"), ("F4", "1"), ("G4", "0")]
    assert "T0 +0 · T23 +2" in page  # for written F4


def test_a_double_that_stands_in_b_flat_is_fingered_like_the_single_b_flat_horn(as_, cupboard):
    school, teacher, _ = cupboard
    horn = make.horn(school, build="double-full", stands_in="Bb")

    page = chart_page(as_(teacher), horn)

    assert "D4 12; E♭4 1; E4 2; F4 0; F♯4 12; G4 1; A♭4 23; A4 12" in page


def test_beginners_on_a_double_get_a_chart_that_never_presses_the_thumb(as_, cupboard):
    school, teacher, horn = cupboard
    single = make.horn(school, build="single-f", stands_in="F")
    client = as_(teacher)

    usual = chart_page(client, horn, "?notes=octave")
    page = chart_page(client, horn, "?notes=octave&thumb=never")
    file = client.get(f"/s/alder/horns/{horn.pk}/chart.musicxml?notes=octave&thumb=never").content.decode()

    assert "G4 0; A4 T12; B4 T2; C5 T0" in usual
    assert 'href="?notes=octave&amp;thumb=never"' in usual
    assert "G4 0; A4 12; B4 2; C5 0" in page
    assert f'prints/horns/{horn.pk}/chart.pdf?notes=octave&amp;thumb=never"' in page
    assert "T12" not in file
    assert "never pressed" not in chart_page(client, single).lower()


def test_stopped_notes_are_shown_when_asked_for(as_, cupboard):
    _, teacher, horn = cupboard
    client = as_(teacher)

    plain = chart_page(client, horn, "?as=table")
    shown = chart_page(client, horn, "?as=table&with=stopped")

    assert 'href="?notes=all&amp;with=stopped&amp;as=table"' in plain
    assert '<th scope="col">Stopped</th>' not in plain
    assert "<td>+2</td>" in shown


def test_trills_pedals_and_both_spellings_are_layers_of_the_table(as_, cupboard):
    _, teacher, horn = cupboard
    client = as_(teacher)

    plain = chart_page(client, horn, "?as=table")
    shown = chart_page(client, horn, "?as=table&with=both,trills,pedals")

    assert "C♯4 / D♭4" not in plain
    assert "C♯4 / D♭4" in shown
    assert '<th scope="row">B1</th>' not in plain
    assert '<th scope="row">B1</th>' in shown
    assert "T0~" in shown
    assert '<th scope="col">Trills</th>' not in plain


def test_where_a_claim_comes_from_is_one_tap_away(as_, cupboard):
    _, teacher, horn = cupboard

    page = chart_page(as_(teacher), horn)

    assert "<summary>Where this comes from</summary>" in page
    assert "agrees with C. Smalley, Double Horn Fingering Dictionary (CC0)" in page
    assert "Common practice, no source" in page


def test_a_baritone_s_clef_is_a_choice_of_its_page(as_, cupboard):
    school, teacher, double = cupboard
    horn = make.horn(school, build="baritone-bb", stands_in="Bb")
    client = as_(teacher)

    page = chart_page(client, horn, "?notes=five&clef=bass")

    assert "B♭2 0; C3 13; D3 12; E♭3 1; F3 0</desc>" in page
    assert "it sounds as written" in page
    assert 'href="?notes=five"' in page
    assert "clef=bass" not in chart_page(client, double)


def test_the_place_where_a_descant_crosses_is_a_choice_of_its_page(as_, cupboard):
    school, teacher, double = cupboard
    horn = make.horn(school, build="descant-bb-high-f", stands_in="Bb")
    client = as_(teacher)

    usual = chart_page(client, horn)
    late = chart_page(client, horn, "?high=E5")

    assert "D5 T1" in usual
    assert 'href="?notes=all&amp;high=E5"' in usual
    assert "D5 12" in late
    assert [re.findall(r'aria-current="page"\s*>\s*([CDE]5)\s*<', page) for page in (usual, late)] == [["D5"], ["E5"]]
    assert "High side from" not in chart_page(client, double)


def test_the_recorded_fourth_valve_counts(as_, cupboard):
    school, teacher, _ = cupboard
    horn = make.horn(school, build="wagner-double", stands_in="F", fifth_valve="quart")

    page = chart_page(as_(teacher), horn)

    assert "with a fourth finger valve" in page
    assert "E♭2 1234" in page


def test_nonsense_in_the_address_gives_the_full_chart(as_, cupboard):
    _, teacher, horn = cupboard

    answer = as_(teacher).get(f"/s/alder/horns/{horn.pk}/chart/?notes=%00&as=picture")

    assert answer.status_code == 200
    assert "C6 T0" in answer.content.decode()


def test_an_unidentified_horn_leads_to_the_walk_instead(as_, cupboard):
    school, teacher, _ = cupboard
    horn = make.horn(school, build="")
    other = make.horn(school, build="double-full", stands_in="")

    client = as_(teacher)
    unknown = chart_page(client, horn)
    standless = chart_page(client, other)

    assert f"/s/alder/identify/?horn={horn.pk}" in unknown
    assert "Say what it stands in" in standless
    assert client.get(f"/s/alder/horns/{horn.pk}/chart.musicxml").status_code == 404


def test_the_file_for_notation_programs_is_musicxml_of_the_kind_asked_for(as_, cupboard):
    _, teacher, horn = cupboard

    answer = as_(teacher).get(f"/s/alder/horns/{horn.pk}/chart.musicxml?notes=octave")

    assert answer["Content-Type"].startswith("application/vnd.recordare.musicxml+xml")
    assert answer["Content-Disposition"] == 'attachment; filename="chart-HN-1-octave.musicxml"'
    root = ET.fromstring(answer.content)  # noqa: S314
    assert root.get("version") == "4.0"
    assert [step.text for step in root.iter("step")] == list("CDEFGABC")
    assert root.findtext(".//transpose/chromatic") == "-7"


def test_the_chart_of_another_school_is_not_there(as_, cupboard):
    from fleet.register.models import Horn

    _, teacher, _ = cupboard
    foreign = Horn.objects.get(number="XX-9")

    for address in (f"/s/alder/horns/{foreign.pk}/chart/", f"/s/alder/horns/{foreign.pk}/chart.musicxml"):
        assert as_(teacher).get(address).status_code == 404


def test_a_family_sees_the_chart_of_its_own_loan_only(as_, cupboard):
    school, teacher, horn = cupboard
    guardian, stranger = make.guardian(school), make.guardian(school)
    loan = make.loan(horn, make.pupil(school, guardian), teacher)
    make.loan(make.horn(school), make.pupil(school, stranger), teacher)

    own = as_(guardian.user).get(f"/family/{loan.pk}/chart/?notes=five")
    printed = as_(guardian.user).get(f"/family/{loan.pk}/chart/?notes=five&as=print")

    assert "Full double horn" in own.content.decode()
    assert "chart.musicxml" not in own.content.decode()
    assert printed.content.startswith(b"%PDF")
    assert as_(stranger.user).get(f"/family/{loan.pk}/chart/").status_code == 404


def test_a_family_s_chart_begins_with_five_notes_shows_the_hand_and_has_no_cents(as_, cupboard):
    school, teacher, horn = cupboard
    guardian = make.guardian(school)
    loan = make.loan(horn, make.pupil(school, guardian), teacher)
    client = as_(guardian.user)

    first = folded(client.get(f"/family/{loan.pk}/chart/"))
    octave = folded(client.get(f"/family/{loan.pk}/chart/?notes=octave"))
    everything = folded(client.get(f"/family/{loan.pk}/chart/?notes=all"))
    staff = chart_page(as_(teacher), horn, "?as=table")

    assert re.findall(r'<dt dir="ltr">([^<]+)</dt> <dd> <span class="key" dir="ltr">([^<]+)<', first) == [
        ("C4", "0"), ("D4", "1"), ("E4", "0"), ("F4", "1"), ("G4", "0"),
    ]  # fmt: skip
    assert "Left hand: 1 is the index finger, 2 the middle finger, 3 the ring finger." in first
    assert "T: the thumb." in octave
    assert "T: the thumb." not in first  # none of the five notes wants it
    assert "cents" not in (first + everything).lower()
    assert "Cents" in staff
    assert "Which finger is which" not in staff


def test_a_choice_that_changes_none_of_the_notes_shown_is_not_offered(as_, cupboard):
    _, teacher, horn = cupboard
    client = as_(teacher)

    def offered(page):
        return re.findall(r'<nav class="chart-kinds" aria-label="([^"]+)"', page), "Pedal notes" in page

    assert offered(chart_page(client, horn)) == (["Which notes", "Thumb", "Also show"], True)
    assert offered(chart_page(client, horn, "?notes=five")) == (["Which notes", "Also show"], False)


def test_horns_that_play_together_stand_in_one_list_and_one_change_is_proposed(as_, cupboard):
    school, teacher, _ = cupboard
    make.horn(school, number="HN-2", build="single-f", stands_in="F")
    odd = make.horn(school, number="HN-3", build="double-full", stands_in="Bb")
    make.horn(school, number="HN-4", build="single-bb", stands_in="Bb")
    make.horn(school, number="HN-5", build="")

    page = as_(teacher).get("/s/alder/together/").content.decode()

    assert "2 horns fingered like the F horn, parts in F" in page
    assert "2 horns fingered like the B♭ horn, parts in F" in page
    assert page.index("like the F horn") < page.index("like the B♭ horn")
    assert "One change brings HN-3 in line" in page
    assert "more can be restrung so" not in page
    assert f"/s/alder/horns/{odd.pk}/stand/" in page
    assert "XX-9" not in page
    assert page.index("Not known yet") < page.index("HN-5")


def test_of_a_long_list_thirty_horns_are_shown_and_how_many_more_there_are(as_, cupboard):
    school, teacher, _ = cupboard
    for number in range(31):
        make.horn(school, number=f"HN-{100 + number}", build="single-f", stands_in="F")
        make.horn(school, number=f"HN-{200 + number}", build="")

    page = as_(teacher).get("/s/alder/together/").content.decode()

    assert "32 horns fingered like the F horn" in page
    assert "and 2 more. Choose a class above" in page
    assert ("HN-128" in page, "HN-129" in page) == (True, False)
    assert ("and 1 more." in page, "HN-229" in page, "HN-230" in page) == (True, True, False)


def test_a_class_shows_only_the_horns_its_pupils_hold(as_, cupboard):
    school, teacher, horn = cupboard
    make.loan(horn, make.pupil(school, make.guardian(school), name="Ada", group="Band"), teacher)
    other = make.horn(school, number="HN-7", build="single-bb", stands_in="Bb")
    make.loan(other, make.pupil(school, make.guardian(school), name="Ben", group="Brass"), teacher)

    page = as_(teacher).get("/s/alder/together/?group=Band").content.decode()

    assert "HN-1" in page
    assert "Ada" in page
    assert "HN-7" not in page


@pytest.mark.parametrize("horns", [1, 4])
def test_the_page_asks_the_database_as_often_for_one_horn_as_for_four(
    as_, cupboard, django_assert_num_queries, horns: int
):
    school, teacher, _ = cupboard
    for number in range(horns - 1):
        horn = make.horn(school, build="single-f", number=f"HN-2{number}")
        make.loan(horn, make.pupil(school, make.guardian(school), group="Band"), teacher)
    client = as_(teacher)
    client.get("/s/alder/together/")

    # Session, user, post, classes, sorts, how many of each, the first horns of the one list.
    with django_assert_num_queries(7):
        client.get("/s/alder/together/")
