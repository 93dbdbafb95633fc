from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.lending.models import Charge, Loan
from tests import make

DAY = timedelta(days=1)

pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]


def to(name, lending, *args):
    return reverse(f"loans:{name}", args=(lending.school.slug, *args))


def checked(client, loan):
    """What the swap and return forms send for a horn with nothing wrong."""
    return {"occasion": "on-return", "finish_grade": "2", "came_back": [str(one.pk) for one in loan.accessories.all()]}


def test_a_loan_is_renewed_from_its_page(client, lending, out):
    page = client.get(to("renew", lending, out.pk))
    sent = {"due_on": "2027-12-01", "reason": "", "due_seen": out.due_on.isoformat()}
    answer = client.post(to("renew", lending, out.pk), sent, follow=True)

    assert page.context["form"]["due_on"].value() == out.due_on + lending.school.loan_days * DAY
    assert f"{out.horn} is due back on 1 December 2027 now." in answer.content.decode()
    assert "Renewed until 1 December 2027." in answer.content.decode()


@pytest.mark.parametrize("typed", ["2026-09-13", "nonsense", "2999-01-01", ""])
def test_a_due_date_that_cannot_be_is_said_at_its_field_and_what_was_written_stays(client, lending, out, typed):
    sent = {"due_on": typed, "reason": "for the concert", "due_seen": out.due_on.isoformat()}
    answer = client.post(to("renew", lending, out.pk), sent)
    assert answer.status_code == 422
    assert "for the concert" in answer.content.decode()
    assert answer.context["form"].errors.keys() == {"due_on"}


@pytest.mark.parametrize(("letters", "status"), [(300, 302), (301, 422)])
def test_the_reason_of_a_new_due_date_is_as_long_as_its_column(client, lending, out, letters, status):
    sent = {"due_on": "2027-12-01", "reason": "x" * letters, "due_seen": out.due_on.isoformat()}
    assert client.post(to("renew", lending, out.pk), sent).status_code == status


@pytest.mark.parametrize("left_on", [None, make.TODAY])
def test_the_loan_of_a_pupil_who_left_says_so(client, lending, out, left_on):
    lending.pupil.left_on = left_on
    lending.pupil.save()
    page = client.get(to("loan", lending, out.pk)).content.decode()
    assert ("Left the school on" in page) is bool(left_on)


def test_a_loan_that_ended_meanwhile_refuses_in_a_sentence(client, lending, out):
    lending.give_back(out)
    sent = {"due_on": "2027-12-01", "reason": "x", "due_seen": out.due_on.isoformat()}
    answer = client.post(to("renew", lending, out.pk), sent)
    assert answer.status_code == 409
    assert "This loan ended on 14 September 2026." in answer.content.decode()


def test_a_swap_from_the_page_offers_the_nearest_horns_and_its_sheet_names_both(client, lending, out):
    far = make.horn(lending.school, number="HN-0001", build="double-full", stands_in="Bb")
    near = make.horn(lending.school, number="HN-9999")
    marching = make.horn(lending.school, number="HN-0000", build="mellophone-f", stands_in="F")
    for horn in (far, near, marching):
        make.check(horn, lending.teacher)
    make.check(make.horn(lending.school, number="HN-5555"), lending.teacher, grade=3)

    page = client.get(to("swap", lending, out.pk))
    assert "HN-0001: full double horn in F and B♭, stands in B♭" in page.content.decode()
    offered = [key for key, _ in page.context["form"].fields["to"].choices if key]
    sent = {**checked(client, out), "to": near.pk, "goes_along": ["case"]}
    answer = client.post(to("swap", lending, out.pk), sent, follow=True)

    # A mellophone stands in F too, but is no French horn.
    assert offered == [near.pk, far.pk, marching.pk]
    new = Loan.objects.get(horn=near)
    assert "case" in [thing.name for thing in new.accessories.all()]
    assert answer.redirect_chain[-1][0] == to("loan", lending, new.pk)
    assert f"HN-9999 goes out in place of {lending.horn}" in answer.content.decode()
    sheet = client.get(reverse("reports:loan-sheet", args=(lending.school.slug, new.pk)))
    assert sheet.status_code == 200


@pytest.mark.parametrize("signed", [True, False])
def test_a_swap_says_of_what_nobody_signed_yet_that_its_new_sheet_is_to_be_signed(client, lending, out, signed):
    if not signed:
        Loan.objects.filter(pk=out.pk).update(from_list=True, signed_on=None)

    page = " ".join(client.get(to("swap", lending, out.pk)).content.decode().split())

    assert ("under the agreement that is signed already" in page) is signed
    assert ("goes home with it, to be signed" in page) is not signed


def test_a_swap_sent_again_after_a_lost_answer_is_made_once_and_answered_the_same(client, lending, out):
    near = make.horn(lending.school, number="HN-9999")
    make.check(near, lending.teacher)
    sent = {
        **checked(client, out),
        "to": near.pk,
        "sent_as": "6f1c1f8e-6a0e-4d60-9f5c-0f8f3a6f9a11",
        "whole": "1",
    }

    answers = [client.post(to("swap", lending, out.pk), sent, headers={"X-Sent-By": "outbox"}).json() for _ in range(2)]

    new = Loan.objects.get(horn=near)
    assert answers == [{"to": to("loan", lending, new.pk)}] * 2


def test_a_swap_notes_on_the_repair_job_which_horn_the_pupil_plays_meanwhile(client, lending, out):
    near = make.horn(lending.school, number="HN-9999")
    make.check(near, lending.teacher)

    client.post(
        to("swap", lending, out.pk),
        {**checked(client, out), "to": near.pk, "found-string-broken": "on", "severity-string-broken": "r"},
    )

    job = out.horn.jobs.get()
    assert (job.stand_in, job.steps.last().words) == (near, "HN-9999 went out in its place")


def test_a_swap_without_a_horn_chosen_keeps_what_was_filled_in(client, lending, out):
    sent = {**checked(client, out), "return_notes": "string broke at the concert"}
    answer = client.post(to("swap", lending, out.pk), sent)
    assert answer.status_code == 422
    assert "Choose a horn." in answer.content.decode()
    assert "string broke at the concert" in answer.content.decode()


def test_a_lost_horn_is_recorded_and_the_list_says_so(client, lending, out):
    client.post(to("lost", lending, out.pk), {"words": "Left on the bus."})
    page = client.get(to("loan", lending, out.pk)).content.decode()
    assert "Left on the bus." in page
    assert "Record the mouthpiece" not in page
    assert "lost" in client.get(to("loans", lending) + "?state=ended").content.decode()


def test_a_teacher_adds_a_charge_and_only_a_head_settles_it(client, lending, out, as_):
    client.post(to("charge-new", lending, out.pk), {"what": "hire", "amount": "35.5", "due_on": "2026-10-01"})
    charge = Charge.objects.get()
    assert client.post(to("charge", lending, charge.pk), {"state": "paid"}).status_code == 403

    head = make.staff(Role.HEAD, lending.school)
    assert as_(head).post(to("charge", lending, charge.pk), {"state": "remitted"}).status_code == 302
    charge.refresh_from_db()
    assert (charge.state, charge.settled_by) == ("remitted", head)


@pytest.mark.parametrize("amount", ["0", "-3", "1e9", "NaN", "3.999", "ten"])
def test_an_amount_that_is_none_is_refused_and_nothing_is_kept(client, lending, out, amount):
    answer = client.post(to("charge-new", lending, out.pk), {"what": "hire", "amount": amount, "due_on": "2026-10-01"})
    assert answer.status_code in {409, 422}
    assert not Charge.objects.exists()


def several_out(lending, count=3):
    loans = []
    for number in range(count):
        horn = make.horn(lending.school, number=f"HN-70{number}")
        make.check(horn, lending.teacher)
        loans.append(make.loan(horn, make.pupil(lending.school, lending.guardian, group="7B"), lending.teacher))
    return loans


def test_horns_are_taken_back_one_after_another_by_number_and_by_label_address(client, lending):
    first, second, third = several_out(lending)
    label = f"https://horns.example.org/h/{second.horn.label_code.lower()}/"

    client.post(to("back", lending), {"do": "add", "numbers": f"hn-700, {label}"})
    # The phone's own camera opens the label's address itself.
    camera = client.get(reverse("desk:label", args=(third.horn.label_code,)), follow=True)
    assert [loan for loan, *_ in camera.context["rows"]] == [first, second, third]
    answer = client.post(to("back", lending), {"do": "take", "looked": "yes", "cleaned": "yes"}, follow=True)

    assert "3 horns taken back." in answer.content.decode()
    for loan in (first, second, third):
        loan.refresh_from_db()
        assert (loan.returned_on, loan.mouthpiece_cleaned_on) == (make.TODAY, make.TODAY)
    label_again = client.get(reverse("desk:label", args=(third.horn.label_code,)))
    assert "/loans/issue/" in label_again.url


def test_numbers_from_the_outbox_are_listed_once_and_answered_with_where_the_list_stands(client, lending):
    several_out(lending)
    sent = {"do": "add", "numbers": "HN-700\nHN-701"}

    answers = [client.post(to("back", lending), sent, headers={"X-Sent-By": "outbox"}) for _ in range(2)]

    assert [(one.status_code, one.json()) for one in answers] == [(201, {"to": to("back", lending)})] * 2
    assert [loan.horn.number for loan, *_ in client.get(to("back", lending)).context["rows"]] == ["HN-700", "HN-701"]


def test_nothing_is_taken_back_before_each_horn_was_looked_over(client, lending):
    loan = several_out(lending, 1)[0]
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700"})
    answer = client.post(to("back", lending), {"do": "take", "cleaned": "yes"})
    loan.refresh_from_db()
    assert (answer.status_code, loan.is_open) == (422, True)
    # The other tick stays as it was set.
    assert answer.context["cleaned"] is True


def test_a_label_leads_to_its_horn_again_hours_after_somebody_walked_off(client, lending, monkeypatch):
    loan = several_out(lending, 1)[0]
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700"})
    label = reverse("desk:label", args=(loan.horn.label_code,))
    assert client.get(label).url.endswith("/loans/back/")
    later, session = make.NOW + timedelta(hours=4), client.session
    session["last_used"] = int(later.timestamp())
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: later)
    # Somebody who went on working is still signed in.
    session.save()
    assert client.get(label).url.endswith(f"/horns/{loan.horn_id}/")


def test_a_horn_that_is_refused_stays_on_the_list_with_the_reason_and_the_others_are_back(client, lending):
    fine, early = several_out(lending, 2)
    Loan.objects.filter(pk=early.pk).update(issued_on=make.TODAY + DAY)
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700, HN-701"})
    answer = client.post(to("back", lending), {"do": "take", "looked": "yes"})
    assert answer.status_code == 409
    assert [loan for loan, *_ in answer.context["rows"]] == [early]
    assert "1 horn taken back." in answer.content.decode()
    assert "it cannot have come back before that" in answer.content.decode()
    fine.refresh_from_db()
    assert not fine.is_open


def test_a_fault_known_before_is_not_lost_by_a_quick_return(client, lending):
    loan = several_out(lending, 1)[0]
    make.finding(loan.check_at_issue, "bell-dented", "w")
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700"})
    client.post(to("back", lending), {"do": "take", "looked": "yes"})
    loan.refresh_from_db()
    assert [finding.fault for finding in loan.check_at_return.findings.all()] == ["bell-dented"]


def test_a_number_nobody_knows_one_not_out_and_one_listed_already_are_each_said(client, lending, elsewhere):
    several_out(lending, 1)
    lending.horn.place = make.place(lending.school, room="Practice room 2")
    lending.horn.save()
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700"})
    other = f"/h/{elsewhere.horn.label_code}/"
    answer = client.post(
        to("back", lending), {"do": "add", "numbers": f"HN-700, X-1, {lending.horn}, {other}"}, follow=True
    )
    page = answer.content.decode()
    for words in ("HN-700 is on the list already", "“X-1”", "is not out: Practice room 2", f"“{other}”"):
        assert words in page
    assert len(answer.context["rows"]) == 1


def test_a_whole_class_is_listed_and_a_horn_leaves_the_list(client, lending):
    loans = several_out(lending)
    make.loan(lending.horn, make.pupil(lending.school, lending.guardian, group="8A"), lending.teacher)
    client.post(to("back", lending), {"do": "class", "group": "7B"})
    client.post(to("back", lending), {"do": f"leave-{loans[1].horn_id}"})
    page = client.get(to("back", lending))
    assert [loan.pk for loan, *_ in page.context["rows"]] == [loans[0].pk, loans[2].pk]


def test_the_list_of_several_takes_as_many_queries_for_three_as_for_one(client, lending, django_assert_num_queries):
    several_out(lending)
    client.post(to("back", lending), {"do": "add", "numbers": "HN-700"})
    # Three of them keep in the session that this list was opened last: it gets what is scanned.
    with django_assert_num_queries(11):
        client.get(to("back", lending))
    client.post(to("back", lending), {"do": "add", "numbers": "HN-701, HN-702"}, follow=True)
    with django_assert_num_queries(11):
        client.get(to("back", lending))
