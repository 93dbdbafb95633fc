"""A class is issued in one batch: each loan by itself, nothing lost, every refusal beside its pupil."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Loan
from fleet.letters.actions.reminding import plan
from fleet.register.models import Horn
from fleet.signing.models import MOST_IN_A_BATCH, OnlineSignature
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.usefixtures("at_noon")
DUE = make.TODAY + timedelta(days=100)
SIGNED = {"signed_on": make.TODAY.isoformat()}


@pytest.fixture
def page(lending):
    return f"/s/{lending.school.slug}/loans/batch/"


def pair_of(lending, name, *guardians, **horn):
    """A pupil with a horn that may be lent."""
    pupil = make.pupil(lending.school, *guardians, name=name, group="Band")
    lent = make.horn(lending.school, **horn)
    make.check(lent, lending.teacher)
    return pupil, lent


def asked(*pairs, **more):
    return {"pair": [f"{pupil.pk}.{horn.pk}" for pupil, horn in pairs], **more}


def shared(**more):
    return {"due_on": DUE.isoformat(), "accessories": ["case"], "more": "mute", **more}


@pytest.fixture
def three(lending):
    """Three pupils with horns: all in order, no guardian, two guardians."""
    second = make.guardian(lending.school, name="Anna Second")
    return (
        (lending.pupil, lending.horn),
        pair_of(lending, "Xenia Alone"),
        pair_of(lending, "Yara Two", lending.guardian, second),
    )


def test_numbers_from_the_outbox_are_looked_up_at_an_address_of_their_own(client, page, three):
    pupil, horn = three[0]
    address = f"{page}?class={pupil.group}&number-{pupil.pk}={horn}"

    answer = client.post(address, headers={"X-Sent-By": "outbox"})

    assert (answer.status_code, answer.json()) == (201, {"to": address})
    wanted = {one.pupil: one.horn for one in client.get(address).context["pairing"].wanted}
    assert wanted[pupil] == horn


def entries(answer):
    return {entry.pupil.name: entry for entry in answer.context["batch"].entries}


def post_address(answer):
    return "?" + answer.context["whole"]


def test_the_first_step_offers_the_classes_of_this_school(client, page, lending, elsewhere):
    make.pupil(lending.school, group="Band")
    make.pupil(elsewhere.school, group="Secret")

    answer = client.get(page)

    assert [one["name"] for one in answer.context["groups"]] == ["Band", ""]


@pytest.mark.parametrize(("classes", "first"), [(24, 25), (25, 25)])
def test_of_more_than_twenty_five_classes_the_next_page_has_the_rest(client, page, lending, classes, first):
    for n in range(classes):
        make.pupil(lending.school, group=f"Class {n:02}")

    on_first, on_second = ([one["name"] for one in client.get(page, {"page": n}).context["groups"]] for n in (1, 2))

    assert len(on_first) == first
    assert on_second == (on_first if classes == 24 else [""])


def test_numbers_and_labels_are_typed_or_scanned_for_a_class(client, page, lending):
    one, first = pair_of(lending, "Ann", lending.guardian)
    two, second = pair_of(lending, "Ben", lending.guardian)
    three, third = pair_of(lending, "Cleo", lending.guardian)
    said = {
        f"number-{one.pk}": first.number.lower(),
        f"number-{two.pk}": f" https://horns.example.org/h/{second.label_code}/ ",
        f"number-{three.pk}": third.label_code.lower(),
    }

    looked_up = client.get(page, {"class": "Band", **said})
    answer = client.get(page, {"class": "Band", "go": "1", **said})

    wanted = looked_up.context["pairing"].wanted
    assert [one.horn for one in wanted] == [first, second, third]
    assert [one.typed for one in wanted] == [first.number, second.number, third.number]
    assert answer.status_code == 302
    assert client.get(answer.url).context["batch"].entries == entries_of(
        client, page, (one, first), (two, second), (three, third)
    )


def test_a_number_for_a_class_is_known_however_it_is_typed(client, page, lending):
    one, horn = pair_of(lending, "Ann", lending.guardian)

    answer = client.get(page, {"class": "Band", f"number-{one.pk}": horn.number.lower().replace("-", " ")})

    assert [wanted.typed for wanted in answer.context["pairing"].wanted if wanted.horn == horn] == [horn.number]


def entries_of(client, page, *pairs):
    return client.get(page, asked(*pairs)).context["batch"].entries


def test_a_number_that_is_wrong_is_told_beside_its_pupil_and_nothing_typed_is_lost(client, page, lending, elsewhere):
    one, first = pair_of(lending, "Ann", lending.guardian)
    two, _ = pair_of(lending, "Ben", lending.guardian)
    three, _ = pair_of(lending, "Cleo", lending.guardian)
    Horn.objects.filter(pk=elsewhere.horn.pk).update(number="XX-9")
    said = {
        "class": "Band",
        "go": "1",
        f"number-{one.pk}": first.number,
        f"number-{two.pk}": first.number,
        f"number-{three.pk}": "XX-9",
    }

    answer = client.get(page, said)

    wrong = {one.pupil.name: (one.typed, one.wrong) for one in answer.context["pairing"].wanted}
    assert wrong == {
        "Ann": (first.number, ""),
        "Ben": (first.number, f"{first} is given to Ann already."),
        "Cleo": ("XX-9", "No horn has the number XX-9."),
    }


def test_the_reason_why_a_pupil_cannot_be_issued_stands_beside_them(client, page, three):
    _, alone, two = three

    answer = client.get(page, asked(*three))

    found = entries(answer)
    assert found["Xenia Alone"].stop == "Xenia Alone has no guardian on record, so nobody can sign."
    assert f"/pupils/{alone[0].pk}/guardians/new/?next=" in found["Xenia Alone"].way_out
    assert (found["Yara Two"].stop, found["Yara Two"].guardian, len(found["Yara Two"].guardians)) == ("", None, 2)
    assert "2 guardians: choose who signs" in answer.content.decode()
    assert f'name="signs-{two[0].pk}"' in answer.content.decode()


def test_whoever_is_chosen_signs(client, page, lending, three):
    _, _, two = three
    second = two[0].guardians.get(name="Anna Second")
    whole = client.get(page, asked(*three, **shared(**{f"signs-{two[0].pk}": str(second.pk)})))

    client.post(page + post_address(whole), {**SIGNED, "signed": f"{two[0].pk}.{two[1].pk}"})

    assert Loan.objects.get(pupil=two[0]).guardian == second


def test_a_stranger_cannot_be_chosen_to_sign(client, page, three):
    stranger = make.guardian(three[0][0].school)

    whole = client.get(page, asked(*three, **shared(**{f"signs-{three[2][0].pk}": str(stranger.pk)})))

    assert entries(whole)["Yara Two"].guardian is None


def test_those_who_signed_are_issued_and_the_others_stay_in_the_address(client, page, lending, three):
    whole = client.get(page, asked(*three, **shared()))

    answer = client.post(page + post_address(whole), {**SIGNED, "signed": f"{lending.pupil.pk}.{lending.horn.pk}"})

    loan = Loan.objects.get()
    assert (loan.pupil, loan.horn, loan.due_on, loan.signed_on) == (lending.pupil, lending.horn, DUE, make.TODAY)
    assert [thing.name for thing in loan.accessories.all()] == ["case", "mute"]
    after = client.get(answer.url)
    assert set(entries(after)) == {"Xenia Alone", "Yara Two"}
    assert after.context["batch"].form.cleaned_data["due_on"] == DUE
    assert "1 horn is out until 23 December 2026" in after.content.decode()


def test_one_refusal_keeps_no_other_loan_back_and_stands_beside_its_pupil(client, page, lending, three):
    more = pair_of(lending, "Zoe", lending.guardian)
    whole = client.get(page, asked(*three, more, **shared()))
    make.loan(lending.horn, make.pupil(lending.school, name="Quick"), lending.teacher)
    ticked = [f"{pupil.pk}.{horn.pk}" for pupil, horn in (three[0], more)]

    answer = client.post(page + post_address(whole), {**SIGNED, "signed": ticked})

    assert answer.status_code == 409
    assert Loan.objects.filter(pupil=more[0], returned_on=None).exists()
    left = entries(answer)
    assert "Zoe" not in left
    assert left[lending.pupil.name].refused.startswith(f"{lending.horn} is out: Quick has it")
    assert left[lending.pupil.name].ticked


def test_sending_the_same_form_twice_issues_nothing_twice(client, page, lending, three):
    whole = client.get(page, asked(three[0], **shared()))
    sent = {**SIGNED, "signed": f"{lending.pupil.pk}.{lending.horn.pk}"}

    first = client.post(page + post_address(whole), sent)
    second = client.post(page + post_address(whole), sent)

    assert (first.status_code, second.status_code) == (302, 409)
    assert Loan.objects.count() == 1


def test_a_check_after_the_print_stops_that_sheet_until_it_is_printed_again(client, page, lending, three):
    whole = client.get(page, asked(three[0], **shared()))
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=1))
    sent = {**SIGNED, "signed": f"{lending.pupil.pk}.{lending.horn.pk}"}

    stale = client.post(page + post_address(whole), sent)
    again = client.post(page + post_address(stale), sent)
    fresh = client.get(f"{page}?{stale.context['fresh']}")

    assert (stale.status_code, again.status_code) == (409, 409)
    assert "was checked again after the sheet was printed" in stale.content.decode()
    assert client.post(page + post_address(fresh), sent).status_code == 302
    assert Loan.objects.count() == 1


def test_a_new_agreement_stops_all_sheets_until_they_are_printed_again(client, page, lending, three):
    whole = client.get(page, asked(three[0], **shared()))
    write_version(school=lending.school, words="New words.", seen=1, by=lending.teacher, at=make.NOW)
    sent = {**SIGNED, "signed": f"{lending.pupil.pk}.{lending.horn.pk}"}

    stale = client.post(page + post_address(whole), sent)

    assert "The agreement has a newer version than the sheet." in stale.content.decode()
    assert Loan.objects.count() == 0
    fresh = client.get(f"{page}?{stale.context['fresh']}")
    client.post(page + post_address(fresh), sent)
    assert Loan.objects.get().agreement.version == 2


@pytest.mark.parametrize("sent", [{}, {"signed": "9.9"}, {**SIGNED}, {"signed": "x", "signed_on": "2026-13-40"}])
def test_a_form_without_ticks_or_day_changes_nothing(client, page, three, sent):
    whole = client.get(page, asked(*three, **shared()))

    answer = client.post(page + post_address(whole), sent)

    assert answer.status_code in {302, 422}
    assert Loan.objects.count() == 0
    if "signed" not in sent:
        assert "Tick who has signed." in answer.content.decode()


def test_ticking_all_ticks_only_those_who_can_be_issued(client, page, three):
    whole = client.get(page, asked(*three, **shared()))

    ticked = client.post(page + post_address(whole), {"do": "tick", "signed_on": "2026-09-01"})

    text = folded(ticked)
    assert text.count('name="signed"') == text.count('" checked>') == 1
    # The day that was typed stays in the form.
    assert 'value="2026-09-01"' in text
    key = f"{three[0][0].pk}.{three[0][1].pk}"
    untick = client.post(page + post_address(whole), {"do": "tick", "signed": key, "signed_on": "2026-09-01"})
    assert '" checked>' not in untick.content.decode()


def test_a_horn_or_a_pupil_twice_in_a_batch_counts_once(client, page, lending, three):
    (pupil, horn), (alone, other), _ = three

    answer = client.get(page, asked((pupil, horn), (alone, horn), (pupil, other)))

    stops = [entry.stop for entry in answer.context["batch"].entries]
    assert sorted(stops) == sorted(
        [
            "",
            f"{pupil} is in this batch with another horn already.",
            f"{horn} is in this batch for somebody else already.",
        ]
    )


def test_a_full_batch_fits_into_a_request_line(client, page, lending):
    """4,094 characters: the default limit of gunicorn, the server the project names for PostgreSQL."""
    two = make.guardian(lending.school)
    horn = lending.horn
    given = [(make.pupil(lending.school, lending.guardian, two), horn) for _ in range(MOST_IN_A_BATCH)]
    signs = {f"signs-{pupil.pk}": str(two.pk) for pupil, _ in given}

    answer = client.get(page, asked(*given, **shared(accessories=["case", "mouthpiece", "rotor oil"], **signs)))

    # Keys are short here; each may grow to six digits.
    grown = len(answer.context["whole"]) + MOST_IN_A_BATCH * 5 * 5
    assert answer.context["whole"].count("signs-") == MOST_IN_A_BATCH
    assert len(answer.context["look"]) - len(answer.context["whole"]) + grown < 4094


def test_a_horn_that_may_not_be_lent_says_why_and_leads_to_its_page(client, page, lending, three):
    Horn.objects.filter(pk=lending.horn.pk).update(grade=3)

    entry = entries(client.get(page, asked(*three)))[lending.pupil.name]

    assert entry.stop == f"{lending.horn} is graded 3, repair before the next loan."
    assert entry.way_out == f"/s/{lending.school.slug}/horns/{lending.horn.pk}/"


def test_rows_of_another_school_are_not_found(client, page, lending, elsewhere):
    for pair in ((lending.pupil, elsewhere.horn), (elsewhere.pupil, lending.horn)):
        assert client.get(page, asked(pair)).status_code == 404
        assert client.post(f"{page}?pair={pair[0].pk}.{pair[1].pk}").status_code == 404


@pytest.mark.parametrize("nonsense", ["", "x", "1", "1.", "1.x", "-1.2", "²." + "2", "9" * 30 + ".1"])
def test_nonsense_for_a_pair_is_not_found(client, page, nonsense):
    assert client.get(page, {"pair": nonsense}).status_code == 404


def test_a_due_date_in_the_past_is_told_and_the_pairs_are_kept(client, page, three):
    answer = client.get(page, asked(*three, **shared(due_on="2026-01-01")))

    assert "1 January 2026 is in the past." in answer.content.decode()
    assert len(answer.context["batch"].entries) == 3
    assert answer.templates[0].name == "loans/batch_particulars.html"


def test_more_pairs_than_a_batch_has_room_for_are_counted(client, page, lending):
    pairs = [(lending.pupil, lending.horn)]
    pairs += [(make.pupil(lending.school), lending.horn) for _ in range(62)]

    answer = client.get(page, asked(*pairs))

    assert len(answer.context["batch"].entries) == 60
    assert answer.context["batch"].dropped == 3


def sheets(answer):
    return on_paper(answer.content)


def test_all_sheets_to_sign_come_in_one_pdf_in_the_order_of_the_names(client, page, lending, three):
    more = pair_of(lending, "Aaron 0", lending.guardian)
    make.finding(more[1].checks.get(), "bell-dented", "n")
    whole = client.get(page, asked(*three, more, **shared()))

    answer = client.get(whole.context["look"])

    assert answer.headers["content-type"] == "application/pdf"
    first, second = sheets(answer)
    assert "Aaron 0" in first
    assert "bell dented" in first
    assert lending.pupil.name in second
    assert "23 December 2026" in second
    assert "mute" in second
    assert Loan.objects.count() == 0


def test_sheets_of_a_batch_that_is_not_whole_go_back_to_the_page(client, page, lending, three):
    print_page = f"/s/{lending.school.slug}/prints/sheets-to-sign.pdf"

    assert client.get(print_page).url == page
    assert client.get(print_page, asked(*three)).url.startswith(f"{page}?pair=")
    assert client.get(print_page, asked(three[1], **shared())).url.startswith(f"{page}?pair=")


@pytest.mark.parametrize("more", [0, 2, 29])
def test_a_batch_takes_as_many_queries_for_thirty_as_for_one(client, page, lending, more, django_assert_num_queries):
    pairs = [(lending.pupil, lending.horn)]
    pairs += [pair_of(lending, f"Pupil {n:02d}", lending.guardian) for n in range(more)]

    with django_assert_num_queries(14):
        client.get(page, asked(*pairs))
    with django_assert_num_queries(14):
        whole = client.get(page, asked(*pairs, **shared()))
    with django_assert_num_queries(17):
        answer = client.get(whole.context["look"])
    assert len(PdfReader(io.BytesIO(answer.content)).pages) == more + 1


@pytest.mark.parametrize("more", [0, 2, 29])
def test_typing_numbers_takes_as_many_queries_for_thirty_as_for_one(
    client, page, lending, more, django_assert_num_queries
):
    pairs = [pair_of(lending, f"Pupil {n:02d}", lending.guardian) for n in range(more + 1)]
    said = {f"number-{pupil.pk}": horn.number for pupil, horn in pairs}

    with django_assert_num_queries(7):
        answer = client.get(page, {"class": "Band", **said})
    assert not answer.context["pairing"].wrong


def test_a_class_signs_at_home_and_is_issued_from_today(client, page, lending, three, as_):
    other = pair_of(lending, "Zed Two", make.guardian(lending.school, name="Zora"))
    alone, silent = pair_of(lending, "Paper Only", make.guardian(lending.school, email="", telephone="012"))
    pairs = ((lending.pupil, lending.horn), other, (alone, silent))
    whole = client.get(page, asked(*pairs, **shared()))
    assert "Or let 2 sign on their pages" in whole.content.decode()

    client.post(page + post_address(whole), {"do": "ask"})
    again = client.post(page + post_address(whole), {"do": "ask"})
    assert again.status_code == 302
    assert [one.occasion for one in plan(lending.school, make.NOW)] == ["to-sign", "to-sign"]

    one, two = OnlineSignature.objects.order_by("pk")
    guardian = as_(one.guardian.user)
    assert "mute" in guardian.get(f"/family/sign/{one.pk}/").content.decode()
    guardian.post(f"/family/sign/{one.pk}/", {"typed_name": "Maria", "agreed": "on"})

    task = next(
        task
        for pile in client.get(f"/s/{lending.school.slug}/").context["piles"]
        if pile.title == "Agreements to be signed"
        for task in pile.tasks
    )
    assert task.why == "1 signed, 1 not yet"
    waiting = client.get(task.address)
    # The one on paper was not asked, so it is no part of what waits.
    ticked = {name: (entry.ticked, entry.signed_online) for name, entry in entries(waiting).items()}
    assert ticked == {str(one.pupil): (True, True), str(two.pupil): (False, False)}
    assert "Print all sheets" in waiting.content.decode()

    issued = client.post(page + post_address(waiting), {"signed": f"{one.pupil_id}.{one.horn_id}"})
    assert issued.status_code == 302
    loan = Loan.objects.get()
    assert (loan.online_signature, loan.signed_on) == (one, make.TODAY)
    assert [thing.name for thing in loan.accessories.all()] == ["case", "mute"]


def test_who_was_asked_may_still_sign_on_paper_and_is_then_asked_no_more(client, page, lending, three):
    whole = client.get(page, asked(three[0], **shared()))
    client.post(page + post_address(whole), {"do": "ask"})

    client.post(page + post_address(whole), {"signed": f"{lending.pupil.pk}.{lending.horn.pk}", **SIGNED})

    assert Loan.objects.count() == 1
    assert OnlineSignature.objects.get().withdrawn_at == make.NOW


def test_what_is_not_signed_yet_can_be_taken_back_and_what_is_signed_stays(client, page, lending, three):
    other = pair_of(lending, "Zed Two", make.guardian(lending.school))
    whole = client.get(page, asked(three[0], other, **shared()))
    client.post(page + post_address(whole), {"do": "ask"})
    first = OnlineSignature.objects.order_by("pk")[0]
    OnlineSignature.objects.filter(pk=first.pk).update(signed_at=make.NOW, typed_name="M", signed_by=lending.teacher)

    client.post(page + post_address(whole), {"do": "take-back"})

    assert list(OnlineSignature.objects.unused()) == [first]


def test_a_check_since_makes_no_loan_of_what_was_signed(client, page, lending, three):
    whole = client.get(page, asked(three[0], **shared()))
    client.post(page + post_address(whole), {"do": "ask"})
    OnlineSignature.objects.update(signed_at=make.NOW, typed_name="M", signed_by=lending.teacher)
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=1))

    answer = client.post(page + post_address(whole), {"signed": f"{lending.pupil.pk}.{lending.horn.pk}"})

    assert answer.status_code == 409
    assert "Print it again" in answer.content.decode()
    assert not Loan.objects.exists()


def test_the_day_that_stands_on_the_paper_is_kept(client, page, lending, three):
    make.check(lending.horn, lending.teacher, at=make.NOW - timedelta(days=9))
    whole = client.get(page, asked(three[0], **shared()))
    yesterday = make.TODAY - timedelta(days=1)

    client.post(
        page + post_address(whole),
        {"signed": f"{lending.pupil.pk}.{lending.horn.pk}", "signed_on": yesterday.isoformat()},
    )

    assert Loan.objects.get().signed_on == yesterday


def test_nobody_ticked_is_the_only_mistake_told(client, page, three):
    whole = client.get(page, asked(*three, **shared()))

    said = client.post(page + post_address(whole), {"signed_on": "not a day"}).content.decode()

    assert "Tick who has signed." in said
