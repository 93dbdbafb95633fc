"""What did not come back with a horn is owed until somebody says what became of it."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.html import strip_tags
from django.utils.translation import override

from fleet.desk.queries.personal import of_pupil
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions import returning
from fleet.lending.actions.accessories import settle
from fleet.lending.models import Loan, LoanAccessory
from fleet.lending.queries.told import STORY
from fleet.reports.queries.loan_ends import returned
from tests import make
from tests.pages import folded, on_paper
from tests.reading import horn_now, story_of

DAY = timedelta(days=1)
LATER = make.NOW + 3 * DAY
pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.fixture
def missing(lending):
    """The case of a horn that came back with its mouthpiece alone."""
    loan = lending.issue()
    lending.give_back(loan, came_back=[loan.accessories.get(name="mouthpiece").pk])
    return loan.accessories.get(name="case")


def to(page, lending, thing):
    return reverse(f"loans:{page}", args=(lending.school.slug, thing.pk))


def owed(horn):
    return [one.what for one in horn_now(horn, today=make.TODAY).owed if one.code == "accessory"]


def settled(lending, thing, how="replaced", at=LATER):
    return settle(accessory=thing, settled_as=how, by=lending.teacher, at=at)


@pytest.mark.parametrize("how", LoanAccessory.Settled.values)
def test_what_did_not_come_back_is_owed_until_it_is_settled(lending, missing, how):
    assert owed(lending.horn) == [f"{lending.horn}: case, from {lending.pupil}"]

    settled(lending, missing, how)

    assert owed(lending.horn) == []
    missing.refresh_from_db()
    assert (missing.settled_as, missing.settled_on, missing.settled_by) == (how, LATER.date(), lending.teacher)
    assert missing.came_back is False


def test_one_thing_settled_leaves_the_other_owed(lending):
    loan = lending.give_back(lending.issue(), came_back=())
    case, mouthpiece = (loan.accessories.get(name=name) for name in ("case", "mouthpiece"))

    settled(lending, case)

    assert owed(lending.horn) == [f"{lending.horn}: {mouthpiece}, from {lending.pupil}"]


def test_today_leads_to_the_form_and_the_form_settles_it(as_, lending, missing):
    browser = as_(lending.teacher)
    today = reverse("desk:today", args=(lending.school.slug,))
    pile = next(one for one in browser.get(today).context["piles"] if one.title == "Did not come back with the horn")
    assert [task.address for task in pile.tasks] == [to("accessory", lending, missing)]

    answer = browser.post(pile.tasks[0].address, {"settled_as": "let-go"}, follow=True)

    assert answer.redirect_chain[-1][0] == to("loan", lending, missing.loan)
    assert "The case was let go." in folded(answer)
    assert f"did not come back was let go on 14 September 2026, {lending.teacher}" in words_of(answer)
    assert "Did not come back with the horn" not in [one.title for one in browser.get(today).context["piles"]]


def words_of(answer):
    """What a page says, without its tags."""
    return " ".join(strip_tags(answer.content.decode()).split())


@pytest.mark.parametrize("sent", [{}, {"settled_as": ""}, {"settled_as": "eaten"}])
def test_who_does_not_say_what_became_of_it_reads_what_to_do(as_, lending, missing, sent):
    answer = as_(lending.teacher).post(to("accessory", lending, missing), sent)

    assert answer.status_code == 422
    assert answer.context["form"].errors["settled_as"] == [
        "Choose one from the list." if sent.get("settled_as") else "Choose one."
    ]
    assert owed(lending.horn) != []


def test_it_is_settled_once_and_the_second_reads_who_did_it(as_, lending, missing):
    settled(lending, missing)

    answer = as_(lending.teacher).post(to("accessory", lending, missing), {"settled_as": "let-go"})

    assert answer.status_code == 409
    assert f"The case was replaced on 17 September 2026, recorded by {lending.teacher}." in folded(answer)
    assert LoanAccessory.objects.get(pk=missing.pk).settled_as == "replaced"


def test_nothing_is_settled_that_came_back_or_is_still_out(lending):
    loan = lending.issue()
    with pytest.raises(Refused, match="The case is not missing"):
        settled(lending, loan.accessories.get(name="case"))
    lending.give_back(loan)
    with pytest.raises(Refused, match="The case is not missing"):
        settled(lending, loan.accessories.get(name="case"))


def test_an_action_without_a_choice_of_ours_is_refused(lending, missing):
    with pytest.raises(Refused, match="Say what became of it"):
        settled(lending, missing, "")


def test_what_went_with_a_lost_horn_is_not_owed_by_itself(lending):
    loan = lending.issue()
    returning.lose(loan=loan, words="On the bus", by=lending.teacher, at=make.NOW)

    assert owed(lending.horn) == []


def test_a_missing_thing_of_another_school_is_not_found(as_, lending, elsewhere, missing):
    browser = as_(elsewhere.teacher)
    for slug in (lending.school.slug, elsewhere.school.slug):
        address = reverse("loans:accessory", args=(slug, missing.pk))
        assert browser.get(address).status_code == 404
        assert browser.post(address, {"settled_as": "let-go"}).status_code == 404
    assert owed(lending.horn) != []


def test_a_technician_reads_that_it_is_missing_and_finds_no_form(as_, lending, missing):
    page = as_(make.staff(Role.TECHNICIAN, lending.school)).get(to("loan", lending, missing.loan)).content.decode()

    assert "did not come back" in page
    assert "Say what became of it" not in page


def test_the_horns_story_the_sheet_and_what_is_kept_of_the_pupil_say_what_became_of_it(as_, lending, missing):
    settled(lending, missing, "came-later")

    told = [(one.sentence, one.by) for one in story_of(lending.horn, STORY).told() if one.kind == "settled"]
    sheet = as_(lending.teacher).get(reverse("reports:loan-sheet", args=(lending.school.slug, missing.loan_id)))
    kept = of_pupil(lending.pupil)["loans"][0]["accessories"]

    assert told == [("Missing case came back later.", str(lending.teacher))]
    printed = on_paper(sheet.content)[0]
    assert "Missing case (came back later)" in printed
    assert {"name": "case", "came_back": False, "settled": "came-later", "settled_on": LATER.date()} in kept


@pytest.mark.parametrize(
    "wrong",
    [
        {"settled_on": make.TODAY},
        {"settled_as": "replaced"},
        {"settled_as": "replaced", "settled_on": make.TODAY, "came_back": True},
        {"settled_as": "replaced", "settled_on": make.TODAY, "came_back": None},
    ],
)
def test_no_row_is_settled_by_halves(lending, missing, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        LoanAccessory.objects.filter(pk=missing.pk).update(**wrong)


def test_what_went_along_is_named_in_the_readers_language(as_, lending, missing):
    settled(lending, missing)
    type(lending.school).objects.filter(pk=lending.school.pk).update(language="de", staff_languages=["de"])
    with override("de"):
        told = [one.sentence for one in story_of(lending.horn, STORY).told() if one.kind in ("settled", "return")]
        ended = returned(Loan.objects.get(pk=missing.loan_id))

    page = folded(as_(lending.teacher).get(to("loan", lending, missing.loan)))

    assert "Koffer" in page
    assert "wurde ersetzt am 17. September 2026" in page
    assert ">case" not in page
    assert " case " not in page
    assert "Fehlte: Koffer; wurde ersetzt." in told
    assert ended.missing == ("Koffer (wurde ersetzt)",)
