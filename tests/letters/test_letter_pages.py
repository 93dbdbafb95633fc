import re

import pytest
from django.urls import reverse
from django.utils.translation import override
from hypothesis import given
from hypothesis import strategies as st

from fleet.ground.access import Role
from fleet.letters.models import LendingRules, Letter
from fleet.letters.models.wording import BEFORE, PLACES, RECALLED, fill, without_page
from tests import make


def to(name, lending, *args):
    return reverse(f"loans:{name}", args=(lending.school.slug, *args))


def rules(**changes):
    said = {
        "reminds": "on",
        "days_before": "10",
        "days_after": "",
        **{f"{one}_subject": "About {horn}" for one in ("before", "after", "recall", "sign")},
        **{f"{one}_words": "Due {due}" for one in ("before", "after", "recall", "sign")},
    }
    return {**said, **changes}


def test_a_head_changes_days_and_words(lending, as_):
    head = as_(make.staff(Role.HEAD, lending.school))
    assert head.post(to("letter-words", lending), rules()).status_code == 302
    assert head.post(to("letter-words", lending), rules(days_before="5, 2")).status_code == 302
    kept = LendingRules.objects.get()
    assert (kept.days_before, kept.days_after, kept.before_words) == ("5, 2", "", "Due {due}")


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("The horn is back.", "Das Horn ist zurück."),
        ("Ann Reed recorded that it came back.", "Ann Reed hat vermerkt, dass er zurückkam."),
        ("550 no such mailbox", "550 no such mailbox"),
        ("", ""),
    ],
)
def test_why_a_letter_did_not_arrive_is_told_in_the_readers_language(kept, told):
    with override("de"):
        assert Letter(trouble=kept).why == told


def test_words_that_a_head_empties_are_ours_again(lending, as_):
    head = as_(make.staff(Role.HEAD, lending.school))
    head.post(to("letter-words", lending), rules())

    head.post(to("letter-words", lending), rules(before_subject="", recall_words=" "))

    kept = LendingRules.objects.get()
    assert (kept.before_subject, kept.recall_words) == (BEFORE[0], RECALLED[1])
    assert (kept.after_subject, kept.before_words) == ("About {horn}", "Due {due}")


def test_what_was_not_taken_is_not_told_as_the_schools_own_words(lending, as_):
    lending.school.family_languages = ["de"]
    lending.school.save()

    page = as_(make.staff(Role.HEAD, lending.school)).post(to("letter-words", lending), rules(days_before="two"))

    assert page.status_code == 422
    assert "as you wrote them" not in page.content.decode()


def test_the_page_asks_when_they_go_out_beside_the_schools_own_words_alone(lending, as_):
    lending.school.family_languages = ["de"]
    lending.school.save()
    head, page = as_(make.staff(Role.HEAD, lending.school)), to("letter-words", lending)

    own, german = head.get(page).content.decode(), head.get(page, {"language": "de"}).content.decode()

    assert ('name="days_before"' in own, 'name="days_before"' in german) == (True, False)
    assert "What they say in German (Deutsch)" in german


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("before_words", "Dear {mother}", "{mother} stands for nothing"),
        ("after_subject", "{pupil.guardians}", "{pupil.guardians} stands for nothing"),
        ("recall_words", "{0}", "{0} stands for nothing"),
        ("days_before", "two", "numbers of days"),
        ("days_after", "0", "numbers of days"),
        ("days_after", "1,2,3,4,5,6,7", "Six letters are enough"),
    ],
)
def test_words_that_cannot_be_filled_and_days_that_are_none_are_refused(lending, as_, field, typed, said):
    head = as_(make.staff(Role.HEAD, lending.school))
    answer = head.post(to("letter-words", lending), rules(**{field: typed}))
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    assert not LendingRules.objects.exists()


def test_a_bounce_is_on_today_and_can_be_sent_again(lending, out, as_):
    letter = make.letter(out, state="refused", trouble="550 no such mailbox", address="x@example.org")
    teacher = as_(lending.teacher)

    today = teacher.get(reverse("desk:today", args=(lending.school.slug,))).content.decode()
    assert f"{lending.guardian.name} was not reached" in today
    # Of the day of its list, not of that on which the horn is due.
    [day] = re.findall(r"was not reached.*?class=\"when\">([^<]+)<", today, re.DOTALL)
    assert f"{day}, " in teacher.get(to("letters", lending)).content.decode()
    assert "550 no such mailbox" in teacher.get(to("letter", lending, letter.pk)).content.decode()
    teacher.post(to("letter", lending, letter.pk))
    letter.refresh_from_db()
    assert letter.state == "waiting"


def test_a_letter_that_was_sent_is_not_put_back(lending, out, as_):
    letter = make.letter(out, state="sent")
    as_(lending.teacher).post(to("letter", lending, letter.pk))
    assert Letter.objects.get().state == "sent"


def test_the_log_narrows_to_what_did_not_arrive(lending, out, as_, elsewhere):
    make.letter(out, state="sent", occasion="before-3")
    bounce = make.letter(out, state="refused")
    make.letter(elsewhere.horn.loans.get(), state="refused")
    page = as_(lending.teacher).get(to("letters", lending) + "?state=undelivered")
    assert [row.record for row in page.context["table"].paginated_rows] == [bounce]


@pytest.mark.usefixtures("at_ten")
def test_the_log_takes_as_many_queries_for_three_letters_as_for_one(lending, out, as_, django_assert_num_queries):
    client = as_(lending.teacher)
    for occasions in (["before-14"], ["before-3", "after-1"]):
        for occasion in occasions:
            make.letter(out, occasion=occasion)
        with django_assert_num_queries(14):
            client.get(to("letters", lending))


@given(st.text(max_size=60), st.text(max_size=20))
def test_what_is_filled_in_is_never_read_as_a_placeholder(words, value):
    filled = fill("<{pupil}>" + words.replace("{", "").replace("}", ""), {"pupil": value + "{school}", "school": "X"})
    assert filled.startswith(f"<{value}{{school}}>")


def test_for_who_has_no_page_the_line_about_it_is_left_out_and_nothing_else():
    words = "Dear {guardian},\n\nPlease bring it.\n\nYour page: { page }\n\nQuestions: {contact}\n"
    assert without_page(words) == "Dear {guardian},\n\nPlease bring it.\n\nQuestions: {contact}\n"


def test_a_schools_own_words_lose_the_line_that_sends_a_family_without_a_page_there():
    words = "Dear {guardian},\n\nsee {page} for more.\n\nTell us on your page: {page}\n\nBye"
    assert without_page(words) == "Dear {guardian},\n\nTell us.\n\nBye\n"


def test_every_placeholder_of_the_first_words_is_known():
    from fleet.letters.models import wording

    for subject, words in (wording.BEFORE, wording.AFTER, wording.RECALLED, wording.MOVED, wording.TO_SIGN):
        assert "{" not in fill(subject + words, dict.fromkeys(PLACES, "x"))
