from datetime import timedelta
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from django.test import Client

from fleet.ground.access import Role
from fleet.lending.models import Agreement, Loan
from fleet.register.models import Horn
from tests import make

pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]
TYPED = {"HX-Request": "true", "HX-Target": "found"}
DUE = make.TODAY + timedelta(days=100)


@pytest.fixture
def page(lending):
    return f"/s/{lending.school.slug}/loans/issue/"


def whole(lending, **changes):
    return {
        "horn": lending.horn.pk,
        "pupil": lending.pupil.pk,
        "due_on": DUE.isoformat(),
        "guardian": lending.guardian.pk,
        "accessories": ["mouthpiece", "case"],
        "more": "mute, spare string",
        "then": "sign",
        **changes,
    }


def action_of(answer):
    """The address the last step posts to, with everything in it."""
    text = answer.content.decode()
    return "?" + text.split('method="post" action="?')[1].split('"')[0].replace("&amp;", "&")


def test_the_first_step_offers_horns_that_may_be_lent_and_none_of_another_school(client, page, lending, elsewhere):
    broken = make.horn(lending.school)
    make.check(broken, lending.teacher, grade=3)
    make.horn(lending.school, build="")

    answer = client.get(page)

    assert answer.context["horns"] == [lending.horn]


def test_a_typed_number_opens_its_horn(client, page, lending):
    answer = client.get(page, {"q": lending.horn.number.lower(), "sent": "yes"})

    assert (answer.status_code, answer.url) == (302, f"{page}?horn={lending.horn.pk}")


@pytest.mark.parametrize("headers", [TYPED, {}])
def test_a_number_that_was_not_sent_yet_narrows_the_list_and_does_so_on_the_way_back(client, page, lending, headers):
    make.horn(lending.school, number="ZZ-1")

    answer = client.get(page, {"q": lending.horn.number}, headers=headers)

    assert answer.context["horns"] == [lending.horn]


def test_a_search_shows_horns_that_cannot_be_lent_too_and_says_so(client, page, lending):
    unknown = make.horn(lending.school, build="", maker="Alder and Sons")

    answer = client.get(page, {"q": "alder"})

    assert answer.context["horns"] == [unknown]
    assert "not identified" in answer.content.decode()


def test_a_horn_that_cannot_be_lent_is_refused_with_the_reason_and_the_way_out(client, page, lending):
    Horn.objects.filter(pk=lending.horn.pk).update(grade=None)

    answer = client.get(page, {"horn": lending.horn.pk})

    assert "has never been checked." in answer.content.decode()
    assert f"/s/{lending.school.slug}/horns/{lending.horn.pk}/check/" in answer.content.decode()


def test_pupils_are_found_while_typing_and_without_script_alike(client, page, lending, elsewhere):
    noor = make.pupil(lending.school, name="Noor Haddad")
    make.pupil(elsewhere.school, name="Noor Elsewhere")
    make.pupil(lending.school, name="Noor Gone", left_on=make.TODAY)
    asked = {"horn": lending.horn.pk, "q": "noor"}

    typed = client.get(page, asked, headers=TYPED)
    sent = client.get(page, asked)

    assert typed.context["pupils"] == sent.context["pupils"] == [noor]
    assert f"?horn={lending.horn.pk}&amp;pupil={noor.pk}" in typed.content.decode()
    assert "<html" not in typed.content.decode()


@pytest.mark.parametrize(("count", "more"), [(20, False), (21, True)])
def test_twenty_horns_and_pupils_are_shown_and_more_of_them_are_to_be_searched_for(client, page, lending, count, more):
    for _ in range(count - 1):
        make.horn(lending.school, grade=1)
        make.pupil(lending.school)

    horns = client.get(page).content.decode()
    pupils = client.get(page, {"horn": lending.horn.pk}).content.decode()

    assert horns.count("?horn=") == pupils.count("&amp;pupil=") == 20
    assert ("the first 20, search for the others" in horns) is more
    assert ("the first 20, search for the others" in pupils) is more


@pytest.mark.parametrize("horns", [1, 3])
def test_the_choice_of_a_horn_takes_as_many_queries_for_three_as_for_one(
    client, page, lending, horns, django_assert_num_queries
):
    for _ in range(horns - 1):
        make.horn(lending.school, build="single-f", stands_in="F", grade=1)

    with django_assert_num_queries(4):  # session, account, seat, horns
        assert len(client.get(page).context["horns"]) == horns


def test_the_pupils_list_takes_as_many_queries_for_three_as_for_one(client, page, lending, django_assert_num_queries):
    asked = {"horn": lending.horn.pk, "q": "pupil"}
    with django_assert_num_queries(
        9
    ):  # session, account, seat, horn, whom it waits for, sheets, who it is, pupils, loans
        client.get(page, asked, headers=TYPED)
    for _ in range(2):
        other = make.pupil(lending.school, lending.guardian)
        make.loan(make.horn(lending.school), other, lending.teacher)
    with django_assert_num_queries(9):
        client.get(page, asked, headers=TYPED)


def test_the_particulars_start_with_the_schools_usual_loan_or_the_school_day_after(client, page, lending):
    lending.school.loan_days = 90
    lending.school.save()

    answer = client.get(page, {"horn": lending.horn.pk, "pupil": lending.pupil.pk})

    form = answer.context["draft"].form
    assert form["due_on"].value() == make.TODAY + timedelta(days=91)
    assert form["guardian"].value() == str(lending.guardian.pk)
    assert "plays well" in answer.content.decode()


def test_a_pupil_without_a_guardian_is_shown_the_way_to_add_one_and_back(client, page, lending):
    alone = make.pupil(lending.school)

    text = client.get(page, {"horn": lending.horn.pk, "pupil": alone.pk}).content.decode()

    assert "nobody can sign" in text
    assert f"/s/{lending.school.slug}/pupils/{alone.pk}/guardians/new/?next=" in text
    assert "Look it over" not in text


def test_a_guardian_of_somebody_else_cannot_be_chosen(client, page, lending):
    other = make.guardian(lending.school)

    answer = client.get(page, whole(lending, guardian=other.pk))

    assert "Only a guardian of this pupil can sign." in answer.content.decode()
    assert not answer.context["draft"].is_whole


def test_a_due_date_in_the_past_is_said_beside_the_field_and_nothing_is_lost(client, page, lending):
    text = client.get(page, whole(lending, due_on="2026-09-13")).content.decode()

    assert "13 September 2026 is in the past." in text
    assert "mute, spare string" in text


@pytest.mark.parametrize("nonsense", ["tomorrow", "2026-02-30", "9999-12-31", "0000-00-00", "🎺"])
def test_nonsense_for_a_date_gets_a_sentence(client, page, lending, nonsense):
    answer = client.get(page, whole(lending, due_on=nonsense))

    assert answer.status_code == 200
    assert answer.context["draft"].form.errors["due_on"]


@pytest.mark.parametrize("nonsense", ["x", "-1", "99999999999999999999", "1;drop", "²"])
def test_nonsense_for_a_horn_or_a_pupil_is_not_found(client, page, nonsense):
    assert client.get(page, {"horn": nonsense}).status_code == 404
    assert client.get(page, {"pupil": nonsense}).status_code == 404


def test_rows_of_another_school_are_not_found(client, page, lending, elsewhere):
    assert client.get(page, {"horn": elsewhere.horn.pk}).status_code == 404
    assert client.get(page, whole(lending, pupil=elsewhere.pupil.pk)).status_code == 404


def test_the_check_now_keeps_everything_typed_in_the_address_to_come_back_to(client, page, lending):
    answer = client.get(page, whole(lending, then="check"))

    there = urlsplit(answer.url)
    back = urlsplit(parse_qs(there.query)["next"][0])
    kept = parse_qs(back.query)
    assert there.path == f"/s/{lending.school.slug}/horns/{lending.horn.pk}/check/"
    assert back.path == page
    assert kept["more"] == ["mute, spare string"]
    assert kept["accessories"] == ["mouthpiece", "case"]
    assert kept["due_on"] == [DUE.isoformat()]


def test_what_will_be_issued_is_shown_before_it_is_and_nothing_is_saved_by_looking(client, page, lending):
    text = client.get(page, whole(lending)).content.decode()

    for said in (lending.horn.number, lending.pupil.name, "23 December 2026", "spare string", "version 1"):
        assert said in text
    assert "sheet-to-sign.pdf?" in text
    assert (Loan.objects.count(), Agreement.objects.count()) == (0, 0)


def test_ticking_the_signature_issues_the_horn(client, page, lending):
    address = action_of(client.get(page, whole(lending)))

    answer = client.post(page + address, {"signed": "on", "signed_on": "2026-09-14"})

    loan = Loan.objects.get()
    assert answer.url == f"/s/{lending.school.slug}/loans/{loan.pk}/"
    assert (loan.pupil, loan.guardian, loan.due_on, loan.issued_by) == (
        lending.pupil,
        lending.guardian,
        DUE,
        lending.teacher,
    )
    assert [thing.name for thing in loan.accessories.all()] == ["mouthpiece", "case", "mute", "spare string"]


def test_without_the_tick_or_signed_on_a_day_to_come_nothing_is_issued(client, page, lending):
    address = action_of(client.get(page, whole(lending)))

    answer = client.post(page + address, {"signed_on": "2026-09-15"})

    assert answer.status_code == 422
    assert answer.context["signed"].errors == {
        "signed": ["The guardian signs before the horn goes out."],
        "signed_on": ["15 September 2026 has not come yet."],
    }
    assert not Loan.objects.exists()


def test_what_was_never_checked_is_refused_though_its_form_is_sent(client, page, lending):
    sent = {**whole(lending, horn=make.horn(lending.school).pk), "signed": "on", "signed_on": "2026-09-14"}
    answer = client.post(f"{page}?{urlencode(sent, doseq=True)}", sent)
    assert answer.status_code == 409
    assert "has never been checked." in answer.content.decode()


def test_the_second_to_issue_reads_who_has_it(client, page, lending):
    address = action_of(client.get(page, whole(lending)))
    lending.issue(pupil=make.pupil(lending.school, lending.guardian, name="Mia Berg"))

    answer = client.post(page + address, {"signed": "on", "signed_on": "2026-09-14"})

    assert answer.status_code == 409
    assert "Mia Berg has it, due back on" in answer.content.decode()
    assert Loan.objects.count() == 1


def test_an_address_that_was_tampered_with_issues_nothing(client, page, lending):
    address = action_of(client.get(page, whole(lending)))
    for old, new in ((f"check={lending.check.pk}", "check=x"), ("agreement=1", "agreement=7")):
        answer = client.post(page + address.replace(old, new), {"signed": "on", "signed_on": "2026-09-14"})
        assert answer.status_code == 409
    assert not Loan.objects.exists()


def test_a_post_without_the_forms_own_token_is_turned_away(page, lending):
    client = Client(enforce_csrf_checks=True)
    client.force_login(lending.teacher)

    answer = client.post(page + "?" + "horn=1", {"signed": "on"})

    assert answer.status_code == 403


def test_a_form_of_ten_megabytes_is_turned_away(client, page, lending):
    address = action_of(client.get(page, whole(lending)))

    answer = client.post(
        page + address,
        "signed=on&signed_on=2026-09-14&more=" + "x" * 10_000_000,
        content_type="application/x-www-form-urlencoded",
    )

    assert answer.status_code in {400, 413}
    assert not Loan.objects.exists()


def test_a_technician_may_not_issue(as_, page, lending):
    assert as_(make.staff(Role.TECHNICIAN, lending.school)).get(page).status_code == 403


def test_the_whole_page_takes_a_fixed_number_of_queries(client, page, lending, django_assert_num_queries):
    with django_assert_num_queries(15):
        client.get(page, whole(lending))
    for _ in range(2):
        lending.pupil.guardians.add(make.guardian(lending.school))
        make.finding(lending.check, fault=["bell-dented", "case-damaged"][_], severity="n")
    with django_assert_num_queries(15):
        client.get(page, whole(lending))
