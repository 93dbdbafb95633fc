"""No form of the site answers with one of the framework's own sentences."""

from __future__ import annotations

import pytest
from django import forms
from django.core.validators import MinValueValidator
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.sentences import PlainSentences
from fleet.letters.models import LendingRules
from fleet.letters.models.wording import AFTER
from fleet.letters.queries.rules import rules_of
from fleet.workshop.models import LabourPrice
from tests import make

pytestmark = pytest.mark.either_engine

STIFF = ("This field is required", "Enter a valid", "Enter a whole", "Enter a number", "Ensure ", "Select a valid")
LONG = "x" * 5000
WRONG = {
    "pupils/new/": [{}, {"name": LONG, "year": LONG, "group": LONG, "needs_wrap": "?", "needs_kind": "?"}],
    "pupils/{pupil}/change/": [{"name": "", "left_on": "yesterday"}],
    "pupils/{pupil}/guardians/new/": [{}, {"name": LONG, "email": "nobody", "telephone": LONG}],
    "guardians/{guardian}/": [{"name": "", "email": "nobody", "pupils": "9999"}],
    "settings/school/": [{}, {"paper": "?", "contact": LONG, "currency": "EURO"}],
    "settings/year/": [{"year_ends": "soon"}, {"year_ends": "2026-09-13"}, {"year_ends": "2999-01-01"}],
    "settings/year/holidays/new/": [
        {},
        {"name": LONG, "first": "soon"},
        {"name": "A", "first": "0001-01-01"},
    ],
    "settings/lending/": [{}, {"loan_days": "many", "soon_days": "0", "local_rules": LONG}],
    "settings/workshop/": [
        {},
        {"check_days": "1501", "approve_above": "x"},
        {"bench_rate": "-1", "approve_above": "123456789012"},
        {"approve_above": "1.005"},
    ],
    "settings/data-protection/": [{}, {"names_kept_days": "1"}],
    "settings/staff/new/": [{}, {"name": LONG, "email": "nobody", "role": "emperor"}],
    "horns/new/": [{}, {"number": LONG, "acquired_on": "long ago", "price": "much", "place": "99", "build": "kazoo"}],
    "horns/{horn}/edit/": [{}, {"number": LONG, "wrap": "?", "value": "1.001", "notes": LONG}],
    "counts/new/": [{}, {"kind": "places", "places": "99"}, {"kind": "sample", "confidence": "7", "margin": "x"}],
    "places/new/": [{}, {"room": LONG, "shelf": LONG}],
    "loans/letters/words/": [{"before_subject": "{who}"}, {"before_subject": LONG, "after_words": LONG}],
    "loans/agreement/": [{}, {"words": LONG}],
    "loans/{loan}/renew/": [{}, {"due_on": "soon"}],
    "loans/{loan}/recall/": [{}, {"due_on": "soon", "reason": LONG}],
    "loans/{loan}/lost/": [{}, {"words": LONG}],
    "loans/{loan}/charge/": [{}, {"amount": "much", "what": LONG, "due_on": "x"}, {"amount": "1.005"}],
    "loans/{loan}/swap/": [{}],
    "horns/{horn}/repair/": [{"minutes": "many", "technician": "99"}, {"minutes": "-1", "notes": LONG}],
    "jobs/{job}/": [
        {"state": "?", "minutes": "many", "cost": "much", "seen": "0"},
        {"state": "waiting", "cost": "1.005"},
    ],
    "jobs/{job}/outside/": [{"repairer": LONG, "quote": "much", "sent_on": "x", "seen": "0"}],
    "parts/new/": [{}, {"name": LONG, "on_hand": "x", "minimum": "-1", "cost": "much", "mends": "?"}],
    "parts/{part}/": [{"name": "", "on_hand": "x", "was": "x"}],
    "horns/{horn}/care/": [{}, {"kind": "?", "on": "soon"}],
    "exchange/": [{}, {"kind": "?"}],
    "exchange/{list}/columns/": [{"match": "1"}, {"match": "1", "day_first": "?", "column-0": "?"}],
    "matching/rules/": [{}, {"keep": "?", "wrap": "99"}],
    "loans/{loan}/return/": [{}, {"returned_on": "x", "came_back": "no", "return_notes": LONG}],
}


@pytest.mark.parametrize("address", WRONG)
def test_what_a_form_cannot_take_is_answered_in_plain_words(db, as_, address):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    guardian = make.guardian(school)
    pupil = make.pupil(school, guardian)
    horn = make.horn(school)
    loan = make.loan(horn, pupil, head)
    keys = {"pupil": pupil, "guardian": guardian, "horn": horn, "loan": loan}
    keys |= {"job": make.job(horn, head), "part": make.part(school), "list": make.a_list(school, head)}
    page = f"/s/{school.slug}/" + address.format(**{name: row.pk for name, row in keys.items()})
    client = as_(head)
    for sent in WRONG[address]:
        # A browser sends at least the token.
        answer = client.post(page, {"csrfmiddlewaretoken": "x", **sent})
        assert answer.status_code in {200, 409, 422}, answer.status_code
        said = answer.content.decode()
        assert 'class="errorlist"' in said or 'class="box refusal"' in said
        assert [words for words in STIFF if words in said] == []


@pytest.mark.parametrize("sent", [{"part": "99", "count": "x"}, {"count": "12"}])
def test_a_part_that_cannot_be_taken_is_answered_in_plain_words_on_the_page_of_the_job(db, as_, sent):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    job = make.job(make.horn(school), head)
    said = as_(head).post(f"/s/{school.slug}/jobs/{job.pk}/part/", sent, follow=True).content.decode()
    assert "message error" in said
    assert [words for words in STIFF if words in said] == []


class OwnWords(PlainSentences, forms.Form):
    name = forms.CharField(error_messages={"required": "Who is it?"})
    age = forms.IntegerField(validators=[MinValueValidator(7, message="Horns come at seven.")])


def test_a_sentence_that_a_field_was_given_stays():
    form = OwnWords({"age": "3"})
    assert form.errors == {"name": ["Who is it?"], "age": ["Horns come at seven."]}


def test_what_a_form_does_not_send_stays_and_what_it_sends_empty_is_emptied(db, as_):
    school = make.school()
    head, pupil = as_(make.staff(Role.HEAD, school)), make.pupil(school, year="5", group="Band")
    rules = LendingRules.objects.create(school=school, before_subject="About {horn}", after_subject="Late: {horn}")
    price = LabourPrice.objects.create(school=school, work="overhaul", minutes=900, price=90)

    for name, row, sent in (
        ("loans:letter-words", [], {"after_subject": ""}),
        ("workshop:labour", [], {"minutes-overhaul": ""}),
        ("people:pupil-edit", [pupil.pk], {"name": "Ada", "group": ""}),
    ):
        assert head.post(reverse(name, args=[school.slug, *row]), sent).status_code == 302

    for one in (rules, price, pupil):
        one.refresh_from_db()
    assert (rules.before_subject, rules.after_subject) == ("About {horn}", AFTER[0])
    assert (price.minutes, price.price) == (None, 90)
    assert (pupil.name, pupil.year, pupil.group) == ("Ada", "5", "")


@pytest.mark.parametrize(
    ("sent", "reminds"),
    [({}, True), ({"before_subject": "Soon"}, False), ({"before_subject": "Soon", "reminds": "on"}, True)],
)
def test_a_tick_stays_where_nothing_of_its_form_is_sent(db, as_, sent, reminds):
    """A browser says nothing of a tick that is not set; the fields beside it say that the form was sent."""
    school = make.school()
    head = as_(make.staff(Role.HEAD, school))

    assert head.post(reverse("loans:letter-words", args=[school.slug]), sent).status_code == 302

    assert rules_of(school).reminds is reminds


class Ticks(PlainSentences, forms.Form):
    loud = forms.BooleanField(required=False, initial=True)
    how = forms.ChoiceField(required=False, choices=[("open", "stopped")], widget=forms.RadioSelect)


def test_a_form_of_ticks_and_choices_alone_is_sent_with_none_of_them_set():
    form = Ticks({})
    assert form.is_valid()
    assert form.cleaned_data == {"loud": False, "how": ""}
