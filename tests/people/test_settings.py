"""The settings, a page a subject: what one saves no other loses."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils.translation import override

from fleet.environment import Issuer
from fleet.ground.access import Role
from fleet.letters.queries.rules import rules_of
from fleet.people.models import School
from tests import make

SUBJECTS = tuple(
    f"people:settings-{one}" for one in ("school", "languages", "year", "lending", "workshop", "staff", "sign-in")
)
ODD = {
    "currency": "CHF",
    "contact": "Ines",
    "loan_days": 77,
    "local_rules": "Wash the hands.",
    "family_languages": ["de", "ar"],
    "rules_in_languages": {"de": "Hände waschen.", "tr": "Ellerinizi yıkayın."},
    "oil_days": 55,
    "year_ends": make.TODAY,
    "bench_rate": 40,
    "second_step_days": 3,
}


def columns(school):
    school.refresh_from_db()
    return {field.name: getattr(school, field.name) for field in school._meta.concrete_fields}


@pytest.mark.parametrize("subject", SUBJECTS)
def test_what_one_subject_saves_no_other_loses(as_, db, subject):
    school = make.school(**ODD)
    client = as_(make.staff(Role.HEAD, school))
    before, page = columns(school), reverse(subject, args=[school.slug])
    filled = {name: value for name, value in client.get(page).context["form"].initial.items() if value is not None}

    assert client.post(page, filled).url == page
    assert columns(school) == before


def test_every_setting_of_a_school_has_one_page(as_, db):
    school = make.school()
    client = as_(make.staff(Role.HEAD, school))
    asked = [name for one in SUBJECTS for name in client.get(reverse(one, args=[school.slug])).context["form"].fields]

    assert sorted(asked) == sorted({*columns(school)} - {"id", "slug", "own_words_mark", "rules_in_languages"})


def test_local_rules_are_read_in_a_familys_language_as_far_as_the_school_wrote_them_in_it(as_, db):
    school = make.school(language="de", family_languages=["fr", "ar"], local_rules="Hände waschen.")
    client, page = as_(make.staff(Role.HEAD, school)), reverse("people:settings-lending", args=[school.slug])
    filled = {"loan_days": 300, "soon_days": 14, "local_rules": "Hände waschen.", "rules-ar": "", "rules-en": ""}

    assert client.post(page, {**filled, "rules-fr": "Lavez-vous les mains."}).url == page

    school.refresh_from_db()
    told = {}
    for code in ("de", "fr", "ar"):
        with override(code):
            told[code] = school.rules
    assert told == {"de": "Hände waschen.", "fr": "Lavez-vous les mains.", "ar": "Hände waschen."}
    assert "Lavez-vous" in client.get(page).content.decode()
    # Switched off and on again, what was written is there.
    school.family_languages = []
    school.save()
    client.post(page, filled)
    school.refresh_from_db()
    assert school.rules_in_languages == {"fr": "Lavez-vous les mains."}


def test_the_settings_lead_to_every_subject_and_save_nothing_themselves(as_, db, settings):
    settings.ISSUERS = [Issuer("county", "County accounts", "https://id.example.org", "us", "x", ("example.org",))]
    school = make.school()
    client = as_(make.staff(Role.HEAD, school))
    page = client.get(f"/s/{school.slug}/settings/").content.decode()

    for name in (*SUBJECTS, "loans:letter-words", "loans:names-kept", "register:places", "register:label-sheet"):
        assert reverse(name, args=[school.slug]) in page
    assert "<form" not in page.split("<main")[1].split("</main>")[0]
    assert client.post(f"/s/{school.slug}/settings/", {"name": "Other"}).status_code == 403


@pytest.mark.parametrize(("said", "status"), [("30", 302), ("29", 422)])
def test_how_long_names_are_kept_is_a_page_of_its_own_and_leaves_the_letters(as_, db, said, status):
    school = make.school()
    client = as_(make.staff(Role.HEAD, school))
    words = reverse("loans:letter-words", args=[school.slug])
    filled = client.get(words).context["form"].initial
    client.post(words, {**filled, "before_subject": "Soon"})

    assert client.post(reverse("loans:names-kept", args=[school.slug]), {"names_kept_days": said}).status_code == status
    rules = rules_of(school)
    assert (rules.before_subject, rules.names_kept_days) == ("Soon", 30 if status == 302 else 730)


@pytest.mark.parametrize(
    ("page", "marked"),
    [(one, "Settings") for one in (*SUBJECTS, "loans:names-kept", "desk:record")] + [("people:pupils", "Pupils")],
)
def test_the_masthead_marks_where_a_page_belongs(as_, db, page, marked):
    school = make.school()
    text = as_(make.staff(Role.HEAD, school)).get(reverse(page, args=[school.slug])).content.decode()

    here = [part.split("</a>")[0].split(">")[-1] for part in text.split('aria-current="page"')[1:]]
    assert here == [marked]


def test_where_a_site_knows_no_issuer_there_is_nothing_to_choose(as_, db):
    head = make.staff(Role.HEAD, make.school())
    page = as_(head).get(f"/s/{head.posts.get().school.slug}/settings/sign-in/").content.decode()

    assert ("This site knows no accounts kept elsewhere." in page, ">Save<" in page) == (True, False)


def test_whoever_runs_the_site_lets_the_staff_of_a_school_in_again(db, capsys):
    school = make.school(sign_in_by="https://accounts.example")

    call_command("sign_in", freely=school.slug)

    school.refresh_from_db()
    assert school.sign_in_by == ""
    assert "sign in as they like again" in capsys.readouterr().out
    for slug, why in ((school.slug, "as they like already"), ("nowhere", "there is no school")):
        with pytest.raises(CommandError, match=why):
            call_command("sign_in", freely=slug)


@pytest.mark.parametrize(
    ("contact", "e_mail"),
    [
        ("Ines Marchetti, 01 555 0100, <office@school.example>.", "office@school.example"),
        ("office@school.example or head@school.example", "office@school.example"),
        ("Room 4 @ the hall, 01 555 0100", ""),
        ("office@nowhere", ""),
        ("", ""),
    ],
)
def test_the_schools_e_mail_is_read_from_whom_families_ask(contact, e_mail):
    assert School(contact=contact).e_mail == e_mail
