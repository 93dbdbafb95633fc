from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.register.forms.one_by_one import ListedForm
from fleet.register.models import Horn
from tests import make
from tests.workshop.test_check_page import picture

pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]
DAY = timedelta(days=1)


@pytest.fixture
def out(lending):
    return lending.issue(at=make.NOW - 10 * DAY, signed_on=make.TODAY - 10 * DAY)


def address(out, page="return"):
    return f"/s/{out.horn.school.slug}/loans/{out.pk}/{page}/"


def said(out, **changes):
    return {
        "returned_on": "2026-09-14",
        "came_back": [thing.pk for thing in out.accessories.all()],
        "mouthpiece_cleaned_on": "2026-09-14",
        "return_notes": "",
        "occasion": "on-return",
        "finish_grade": "2",
        "notes": "",
        **changes,
    }


def test_the_page_sets_what_went_out_beside_what_came_back(client, lending, out):
    make.finding(lending.check, fault="bell-dented", severity="n")

    text = client.get(address(out)).content.decode()

    assert text.count("mouthpiece") >= 2
    assert "bell dented" in text
    assert "plays well" in text


def test_a_return_with_damage_and_a_missing_thing(client, lending, out):
    case = out.accessories.get(name="case")

    answer = client.post(
        address(out),
        said(out, came_back=[case.pk], **{"found-string-broken": "on", "severity-string-broken": "r"}),
        follow=True,
    )

    loan = Loan.objects.get(pk=out.pk)
    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (loan.returned_on, horn.grade, horn.holder_name) == (make.TODAY, 3, "")
    assert loan.check_at_return == horn.checks.get(occasion="on-return")
    assert horn.jobs.get(closed_at=None).findings.get().fault == "string-broken"
    text = answer.content.decode()
    assert "did not come back" in text
    assert "bench list" in text


def test_a_return_with_something_wrong_in_the_form_keeps_what_was_typed(client, out):
    answer = client.post(
        address(out), said(out, returned_on="2026-09-01", return_notes="Dropped on the stairs.", finish_grade="")
    )

    text = answer.content.decode()
    assert answer.status_code == 422
    assert "It went out on 4 September 2026; it cannot come back before that." in text
    assert "Say how the finish is." in text
    assert "Dropped on the stairs." in text
    assert Loan.objects.get(pk=out.pk).returned_on is None


def test_a_picture_of_a_return_need_not_be_chosen_again_however_often_the_form_comes_back(client, lending, out):
    wrong = said(out, finish_grade="")
    first = client.post(address(out), {**wrong, "picture-3": picture()})
    again = client.post(address(out), {**wrong, "kept": first.context["kept"]})
    client.post(address(out), said(out, kept=again.context["kept"]))

    assert len(again.context["kept"]) == 1
    assert lending.horn.checks.get(occasion="on-return").photographs.get().width == 64


def test_a_horn_that_came_back_already_is_not_taken_back_again(client, lending, out):
    lending.give_back(out)

    assert "It came back on 14 September 2026" in client.get(address(out)).content.decode()
    answer = client.post(address(out), said(out))
    assert answer.status_code == 409
    assert f"taken by {lending.teacher}" in answer.content.decode()


def test_a_horn_that_went_out_in_place_of_another_comes_back_under_its_own_name(client, lending, out):
    older = make.loan(make.horn(lending.school), lending.pupil, lending.teacher, returned_on=make.TODAY)
    Loan.objects.filter(pk=out.pk).update(in_place_of=older)

    page = client.post(address(out), said(out), follow=True).content.decode()

    assert f"{lending.horn} is back from {lending.pupil}." in page


def test_a_return_sent_again_after_a_lost_answer_is_kept_once_and_answered_the_same(client, lending, out):
    whole = said(out, sent_as="6f1c1f8e-6a0e-4d60-9f5c-0f8f3a6f9a11", whole="1", age="3600")

    first = client.post(address(out), whole, headers={"X-Sent-By": "outbox"})
    again = client.post(address(out), whole, headers={"X-Sent-By": "outbox"})

    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json() == {"to": f"/s/{out.horn.school.slug}/loans/{out.pk}/"}
    check = lending.horn.checks.get(occasion="on-return")
    assert (check.at, check.received_at) == (make.NOW - timedelta(hours=1), make.NOW)


def test_a_return_cut_off_half_way_takes_nothing_back(client, out):
    answer = client.post(address(out), said(out, sent_as="6f1c1f8e-6a0e-4d60-9f5c-0f8f3a6f9a11"))

    assert "The check did not arrive whole. Send it again." in answer.content.decode()
    assert Loan.objects.get(pk=out.pk).returned_on is None


def test_who_comes_second_at_taking_a_horn_back_may_save_what_they_found_as_a_check(client, lending, out):
    lending.give_back(out)

    page = client.post(
        address(out), said(out, **{"found-string-broken": "on", "note-string-broken": "third valve"})
    ).content.decode()

    assert f'action="/s/{out.horn.school.slug}/horns/{out.horn_id}/check/"' in page
    assert 'value="third valve"' in page


def test_accessories_of_another_loan_cannot_be_ticked(client, lending, out, elsewhere):
    strange = Loan.objects.get(horn=elsewhere.horn).accessories.get(name="case")

    answer = client.post(address(out), said(out, came_back=[strange.pk]))

    assert answer.status_code == 422
    strange.refresh_from_db()
    assert strange.came_back is None


def test_recording_the_clean_mouthpiece(client, lending, out):
    lending.give_back(out, mouthpiece_cleaned_on=None)

    page = client.get(address(out, "mouthpiece")).content.decode()
    answer = client.post(address(out, "mouthpiece"), {"cleaned_on": "2026-09-14"})

    assert "disinfect" in page
    assert answer.status_code == 302
    assert Loan.objects.get(pk=out.pk).mouthpiece_cleaned_on == make.TODAY


@pytest.mark.parametrize("nonsense", ["", "yesterday", "2026-09-15", "2026-01-01"])
def test_nonsense_for_the_cleaning_day_records_nothing(client, lending, out, nonsense):
    lending.give_back(out, mouthpiece_cleaned_on=None)

    answer = client.post(address(out, "mouthpiece"), {"cleaned_on": nonsense})

    assert answer.status_code in {409, 422}
    assert Loan.objects.get(pk=out.pk).mouthpiece_cleaned_on is None


def test_a_technician_may_record_the_cleaning_but_not_take_a_horn_back(as_, lending, out):
    technician = as_(make.staff(Role.TECHNICIAN, lending.school))

    assert technician.get(address(out)).status_code == 403
    assert technician.get(address(out, "mouthpiece")).status_code == 200


def test_one_loans_page_takes_a_fixed_number_of_queries(client, lending, out, django_assert_num_queries):
    page = f"/s/{lending.school.slug}/loans/{out.pk}/"
    with django_assert_num_queries(11):
        client.get(page)
    for fault in ("bell-dented", "case-damaged"):
        make.finding(lending.check, fault=fault, severity="n")
    make.charge(out, lending.teacher)
    with django_assert_num_queries(11):
        client.get(page)


def test_the_return_page_takes_a_fixed_number_of_queries(client, lending, out, django_assert_num_queries):
    page = address(out)
    with django_assert_num_queries(7):
        client.get(page)
    for fault in ("bell-dented", "case-damaged"):
        make.finding(lending.check, fault=fault, severity="n")
    with django_assert_num_queries(7):
        client.get(page)


def test_what_is_typed_for_the_list_is_cut_where_no_label_is_longer():
    form = ListedForm({"numbers": f"{'x' * 200},{'y' * 201}\n , HN-1"})

    assert form.is_valid()
    assert form.typed() == ["x" * 200, "y" * 200, "HN-1"]


@pytest.mark.parametrize(("on", "status"), [("2026-09-14", 302), ("2026-09-15", 422)])
def test_a_horn_comes_back_today_and_not_tomorrow(client, out, on, status):
    answer = client.post(address(out), said(out, returned_on=on))
    assert answer.status_code == status
    assert ("has not come yet" in answer.content.decode()) is (status == 422)
