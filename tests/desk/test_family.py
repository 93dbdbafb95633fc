from datetime import timedelta

import pytest
from django.core.files.base import ContentFile

from fleet.ground.access import Role
from fleet.ground.wording import day
from fleet.lending.actions import dates, returning
from fleet.lending.models import Loan
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn, Photograph, Standing
from fleet.workshop.models import FaultReport
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def lent():
    """A loan to the child of a guardian, and a second family with a loan of its own."""
    school = make.school(name="Alder Row", contact="the music office")
    head = make.staff(Role.HEAD, school, name="Ines Head")
    place = make.place(school, room="Secret cellar")
    horn = make.horn(
        school, number="HN-1", build="double-full", stands_in="F", value="3333.00", notes="Dent hidden.", place=place
    )
    earlier = make.pupil(school, make.guardian(school), name="Earlier Borrower")
    make.loan(horn, earlier, head, returned_on=make.TODAY)
    guardian = make.guardian(school, name="Maria")
    loan = make.loan(horn, make.pupil(school, guardian, name="Ada"), head, accessories=("case", "own mouthpiece"))
    make.loan(make.horn(school, number="HN-2"), make.pupil(school, make.guardian(school), name="Other Child"), head)
    return loan, guardian


def test_a_guardian_with_one_horn_comes_straight_to_its_page(as_, lent):
    loan, guardian = lent

    answer = as_(guardian.user).get("/", follow=True)

    assert answer.redirect_chain[-1] == (f"/family/{loan.pk}/", 302)


def test_the_familys_page_shows_their_horn_and_keeps_the_rest_to_itself(as_, lent):
    loan, guardian = lent

    page = as_(guardian.user).get(f"/family/{loan.pk}/").content.decode()

    for shown in (
        "Ada’s horn",
        "A full double horn",
        "This one stands in F",
        "HN-1",
        "own mouthpiece",
        "the music office",
    ):
        assert shown in page, shown
    for hidden in ("3333", "Earlier Borrower", "Other Child", "Dent hidden", "Secret cellar", "HN-2", "Ines Head"):
        assert hidden not in page, hidden
    assert page.index("Due back") < page.index('class="both-sides"')


def test_a_natural_horn_has_no_valves_to_look_after(as_, lent):
    loan, guardian = lent
    loan.horn.build, loan.horn.stands_in = "natural-horn", ""
    loan.horn.save()

    page = as_(guardian.user).get(f"/family/{loan.pk}/").content.decode()

    assert "valve oil" not in page
    assert "crook, slide or mouthpiece sticks" in " ".join(page.split())


def test_cautions_stand_beside_the_care(as_, lent):
    loan, guardian = lent

    page = as_(guardian.user).get(f"/family/{loan.pk}/").content.decode()

    assert "fatal if swallowed" in page
    assert "qualified repairer" in page


def test_a_familys_report_is_kept_and_confirmed(as_, lent):
    loan, guardian = lent
    client = as_(guardian.user)

    answer = client.post(f"/family/{loan.pk}/", {"words": "The third valve sticks.", "still_plays": "no"}, follow=True)

    report = FaultReport.objects.get()
    assert (report.horn, report.pupil, report.by, report.words, report.still_plays) == (
        loan.horn,
        loan.pupil,
        guardian.user,
        "The third valve sticks.",
        False,
    )
    assert "The school has it and will answer here." in folded(answer)


def test_an_empty_report_is_answered_beside_the_field(as_, lent):
    loan, guardian = lent

    page = as_(guardian.user).post(f"/family/{loan.pk}/", {"words": "  ", "still_plays": "yes"}).content.decode()

    assert "Say in a few words what is wrong." in page
    assert not FaultReport.objects.exists()


def test_a_report_that_is_too_long_is_answered_and_kept_in_the_form(as_, lent):
    loan, guardian = lent

    answer = as_(guardian.user).post(f"/family/{loan.pk}/", {"words": "w" * 1001, "still_plays": "perhaps"})

    page = answer.content.decode()
    assert "Say it in at most 1000 characters; this has 1001." in page
    assert "Say yes or no." in page
    assert "w" * 1001 in page
    assert not FaultReport.objects.exists()


def test_the_schools_answer_comes_back_to_the_family(as_, lent):
    loan, guardian = lent
    make.report(loan.horn, guardian.user, pupil=loan.pupil, answered_at=make.NOW, answer="Bring it on Monday.")

    assert "Bring it on Monday." in as_(guardian.user).get(f"/family/{loan.pk}/").content.decode()


def test_a_recall_and_what_is_owed_are_told_and_a_renewal_takes_the_recall_back(as_, lent):
    loan, guardian = lent
    make.charge(loan, loan.issued_by, what="hire")
    make.charge(loan, loan.issued_by, what="a key", state="paid", settled_on=make.TODAY)
    dates.recall(
        loan=loan,
        due_on=loan.due_on - timedelta(days=2),
        due_seen=loan.due_on,
        reason="The orchestra tours.",
        by=loan.issued_by,
        at=make.NOW,
    )
    client = as_(guardian.user)
    page = client.get(f"/family/{loan.pk}/").content.decode()
    assert "The orchestra tours." in page
    assert ("hire, 30.00 EUR" in page, "a key" in page) == (True, False)

    loan.refresh_from_db()
    later = {"due_on": loan.due_on + timedelta(days=9), "due_seen": loan.due_on}
    dates.renew(loan=loan, **later, reason="", by=loan.issued_by, at=make.NOW + timedelta(hours=1))
    assert "The orchestra tours." not in client.get(f"/family/{loan.pk}/").content.decode()


def test_a_fault_of_the_horn_that_was_swapped_is_still_followed(as_, lent):
    loan, guardian = lent
    make.report(loan.horn, guardian.user, words="The string broke.", pupil=loan.pupil, at=make.NOW)
    other = make.horn(loan.horn.school)
    Loan.objects.filter(pk=loan.pk).update(returned_on=make.TODAY)
    again = make.loan(other, loan.pupil, loan.issued_by, in_place_of=loan)

    page = folded(as_(guardian.user).get(f"/family/{again.pk}/"))
    assert "You said: “The string broke.”" in page
    assert f", {loan.horn}" in page


def test_another_family_gets_404_for_everything_of_this_loan(as_, lent):
    loan, _ = lent
    stranger = as_(make.guardian(loan.horn.school).user)
    picture = Photograph.objects.create(
        horn=loan.horn, at=make.NOW, by=loan.issued_by, image=ContentFile(b"x", name="x.jpg"), width=1, height=1
    )

    for address in (f"/family/{loan.pk}/", f"/family/{loan.pk}/sheet.pdf", f"/family/pictures/{picture.pk}/"):
        assert stranger.get(address).status_code == 404, address
    assert stranger.post(f"/family/{loan.pk}/", {"words": "x", "still_plays": "yes"}).status_code == 404
    assert not FaultReport.objects.exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("Left in a tram.", "The school recorded on 14 September 2026 that HN-1 is lost."),
        ("", "HN-1 came back on 14 September 2026."),
    ],
)
def test_of_an_ended_loan_the_family_reads_how_it_ended_and_what_is_to_be_paid(as_, lent, words, sentence):
    loan, guardian = lent
    make.charge(loan, loan.issued_by, what="a lost horn")
    make.ask(loan, guardian.user, kind="lost", answered_at=make.NOW, answer="We have recorded it.")
    Loan.objects.filter(pk=loan.pk).update(returned_on=make.TODAY, returned_to=loan.issued_by, lost_words=words)
    Horn.objects.filter(pk=loan.horn_id).update(not_found_on=make.TODAY if words else None)

    page = folded(as_(guardian.user).get(f"/family/{loan.pk}/"))

    assert sentence in page
    assert "a lost horn, 30.00 EUR" in page
    assert "We have recorded it." in page
    assert ("If it turns up" in page) == bool(words)
    # Nothing more is asked or reported about it, and its prints are the school's again.
    assert "Keep it longer" not in page
    assert "Something is wrong" not in page
    for beyond in ("care.pdf", "renew/", "chart/"):
        assert as_(guardian.user).get(f"/family/{loan.pk}/{beyond}").status_code == 404, beyond


def test_a_swapped_horn_names_the_one_that_went_out_instead(as_, lent):
    loan, guardian = lent
    Loan.objects.filter(pk=loan.pk).update(returned_on=make.TODAY, returned_to=loan.issued_by)
    new = make.loan(make.horn(loan.horn.school, number="HN-9"), loan.pupil, loan.issued_by, in_place_of=loan)

    assert f"HN-1 was swapped for {new.horn} on 14 September 2026." in folded(
        as_(guardian.user).get(f"/family/{loan.pk}/")
    )


def test_what_is_to_be_paid_for_an_ended_loan_stands_before_the_horns(as_, lent):
    loan, guardian = lent
    Loan.objects.filter(pk=loan.pk).update(returned_on=make.TODAY, returned_to=loan.issued_by)
    charge = make.charge(loan, loan.issued_by, what="a lost mute")
    make.loan(make.horn(loan.horn.school), loan.pupil, loan.issued_by)
    browser = as_(guardian.user)

    assert "To pay for HN-1" in folded(browser.get("/family/"))
    charge.state, charge.settled_on = "paid", make.TODAY
    charge.save()
    # One horn and nothing else: straight to its page.
    assert browser.get("/family/").status_code == 302


def lose(loan):
    return returning.lose(loan=loan, words="Left in a tram.", by=loan.issued_by, at=make.NOW)


def test_the_family_reads_of_a_lost_horn_who_recorded_it_when_and_what_happens_next(as_, lent):
    loan, guardian = lent
    make.charge(loan, loan.issued_by, what="the horn")
    client = as_(guardian.user)
    lose(loan)

    assert folded(client.get("/family/")).count(f'href="/family/{loan.pk}/"') == 1
    loan.charges.all().delete()
    assert folded(client.get("/family/")).count(f'href="/family/{loan.pk}/"') == 1
    make.charge(loan, loan.issued_by, what="the horn")
    page = folded(client.get(f"/family/{loan.pk}/"))
    for shown in (
        f"The school recorded on {day(make.TODAY)} that HN-1 is lost.",
        "Left in a tram.",
        "<dd><bdi>Ines Head</bdi></dd>",
        "the horn, 30.00 EUR",
        "tell the police too",
    ):
        assert shown in page, shown
    for hidden in ("3333", "Earlier Borrower", "Dent hidden", "Secret cellar"):
        assert hidden not in page, hidden
    assert as_(make.guardian(loan.horn.school).user).get(f"/family/{loan.pk}/").status_code == 404


def test_what_a_family_sends_about_a_horn_recorded_lost_meanwhile_is_answered_by_that(as_, lent):
    loan, guardian = lent
    client = as_(guardian.user)
    lose(loan)

    told = client.post(f"/family/{loan.pk}/", {"words": "The third valve sticks.", "still_plays": "no"})
    asked = client.post(f"/family/{loan.pk}/lost/", {"words": "It is gone."})

    assert (told.status_code, "that HN-1 is lost" in folded(told)) == (409, True)
    assert asked["Location"] == f"/family/{loan.pk}/"
    assert not FaultReport.objects.exists()


def test_a_lost_horn_that_was_found_is_no_longer_on_the_familys_list_and_its_page_says_so(as_, lent):
    loan, guardian = lent
    client = as_(guardian.user)
    horn = lose(loan).horn
    change_standing(horn=horn, kind=Standing.Kind.FOUND, reason="Brought back.", by=loan.issued_by, at=make.NOW)

    assert f'href="/family/{loan.pk}/"' not in folded(client.get("/family/"))
    assert "The school has it again: it was found." in folded(client.get(f"/family/{loan.pk}/"))


def test_a_guardian_of_two_children_chooses(as_, lent):
    loan, guardian = lent
    second = make.pupil(loan.horn.school, guardian, name="Ben")
    make.loan(make.horn(loan.horn.school, number="HN-3"), second, loan.issued_by)

    page = as_(guardian.user).get("/family/").content.decode()

    assert "Ada" in page
    assert "Ben" in page


def test_the_sheet_is_a_pdf(as_, lent):
    loan, guardian = lent

    answer = as_(guardian.user).get(f"/family/{loan.pk}/sheet.pdf")

    assert answer["Content-Type"] == "application/pdf"
