"""What families meet in their language: whose it is, where it is asked and kept, and nothing left in another."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core import mail

from fleet.ground.access import Role
from fleet.lending.models import Agreement, FamilyAsk
from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.letters.models import LendingRules
from fleet.letters.queries.composing import composed
from fleet.people.actions.telling import tell
from fleet.people.models import Guardian
from fleet.people.queries.addresses import tellings_of_change
from fleet.record.models import Act
from fleet.signing.actions.putting_before import put_before
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.fixture
def lent():
    """A loan at a school that has switched German on, to a family of which no language is known."""
    school = make.school(name="Alder Row", family_languages=["de"])
    head = make.staff(Role.HEAD, school)
    guardian = make.guardian(school, name="Maria")
    horn = make.horn(school, build="double-full", stands_in="F")
    return make.loan(horn, make.pupil(school, guardian, name="Ada"), head), guardian, head


def speak(guardian: Guardian, language: str) -> None:
    Guardian.objects.filter(pk=guardian.pk).update(language=language)
    guardian.refresh_from_db()


def language_of(answer: Any) -> str:
    found = re.search(r'<html lang="([^"]+)"', answer.content.decode())
    return found[1] if found else ""


def test_a_familys_own_language_goes_before_the_browsers(as_, lent):
    loan, guardian, _ = lent
    address, family = f"/family/{loan.pk}/", as_(guardian.user)

    before = [language_of(family.get(address, headers={"accept-language": one})) for one in ("xx, de-AT;q=0.8", "en")]
    speak(guardian, "de")
    after = [language_of(family.get(address, headers={"accept-language": one})) for one in ("xx, de-AT;q=0.8", "en")]

    assert (before, after) == (["de", "en-gb"], ["de", "de"])


def test_a_language_that_no_head_switched_on_is_spoken_to_nobody(as_, lent):
    loan, guardian, _ = lent
    speak(guardian, "de")
    guardian.school.family_languages = []
    guardian.school.save()

    answer = as_(guardian.user).get(f"/family/{loan.pk}/", headers={"accept-language": "de"})

    assert (language_of(answer), guardian.speaks) == ("en-gb", "en-gb")


def test_where_nothing_else_is_known_the_school_speaks_its_own(as_, lent):
    loan, guardian, _ = lent
    guardian.school.language, guardian.school.family_languages = "de", []
    guardian.school.save()

    assert language_of(as_(guardian.user).get(f"/family/{loan.pk}/")) == "de"
    assert language_of(as_(None).get("/account/code/")) == "de"
    assert language_of(as_(None).get("/account/code/", headers={"accept-language": "en"})) == "en-gb"


def test_staff_read_english_whatever_their_browser_asks_for(as_, lent):
    _, _, head = lent

    answer = as_(head).get(f"/s/{head.posts.get().school.slug}/", headers={"accept-language": "de"})

    assert language_of(answer) == "en-gb"


def test_a_family_is_asked_once_and_reads_on_in_the_language_it_chose(as_, lent):
    loan, guardian, _ = lent
    address, family = f"/family/{loan.pk}/", as_(guardian.user)
    asked = folded(family.get(address))

    answer = family.post("/language/", {"language": "de", "next": address})
    page = folded(family.get(address))

    assert "In which language shall the school write to you?" in asked
    assert (answer.status_code, answer.url) == (302, address)
    assert Guardian.objects.get(pk=guardian.pk).language == "de"
    assert "In welcher Sprache" not in page
    assert "Das Horn von Ada" in page
    assert Act.objects.filter(deed="people.guardian-changed", by=guardian.user).exists()


def test_nobody_is_asked_where_there_is_one_language(as_, lent):
    loan, guardian, _ = lent
    guardian.school.family_languages = []
    guardian.school.save()

    page = folded(as_(guardian.user).get(f"/family/{loan.pk}/"))

    assert ("In which language" in page, 'action="/language/"' in page) == (False, False)


@pytest.mark.parametrize("language", ["xx", "", "en-gb\r\nSet-Cookie: x"])
def test_a_language_that_is_none_of_ours_is_not_kept(as_, lent, language):
    _, guardian, _ = lent

    answer = as_(guardian.user).post("/language/", {"language": language, "next": "https://elsewhere.example/"})

    assert (answer.status_code, answer.url, answer.cookies.get("language")) == (302, "/", None)
    assert Guardian.objects.get(pk=guardian.pk).language == ""


def test_a_stranger_chooses_before_signing_in_and_the_browser_keeps_it(as_, lent):
    stranger = as_(None)

    stranger.post("/language/", {"language": "de", "next": "/account/code/"})
    answer = stranger.get("/account/code/", headers={"accept-language": "en"})

    assert "Code schicken" in folded(answer)
    assert "Accept-Language" in answer.headers["Vary"]


def test_a_page_in_a_language_nobody_has_read_says_so(as_, lent):
    loan, guardian, head = lent
    speak(guardian, "de")

    page = folded(as_(guardian.user).get(f"/family/{loan.pk}/"))
    settings = folded(as_(head).get(f"/s/{guardian.school.slug}/settings/languages/"))

    assert "Diese Übersetzung hat noch niemand gelesen" in page
    assert "German (Deutsch), not yet read by a native speaker" in settings


def test_a_head_switches_a_language_on(as_, lent):
    _, guardian, head = lent
    address = f"/s/{guardian.school.slug}/settings/languages/"

    as_(head).post(address, {"language": "de"})
    guardian.school.refresh_from_db()

    assert (guardian.school.language, guardian.school.languages) == ("de", ["en-gb", "de"])


def test_the_code_and_its_subject_come_in_the_language_of_the_page(as_, lent, settings):
    _, guardian, _ = lent

    as_(None).post("/account/code/", {"email": guardian.email}, headers={"accept-language": "de"})

    assert "Ihr Code zum Anmelden" in mail.outbox[0].subject
    assert "Niemand von der Schule wird Sie je danach fragen." in mail.outbox[0].body


def test_a_letter_is_in_the_guardians_language_as_far_as_its_words_are_ours(lent):
    loan, guardian, _ = lent
    speak(guardian, "de")
    loan.refresh_from_db()

    subject, words = composed(loan, "before-3", make.TODAY)

    assert subject.startswith("Das Horn von Ada soll bis ")
    assert words.startswith("Guten Tag Maria,\n\ndas Horn ")
    own = LendingRules(school=loan.horn.school, before_words="Bring it, {guardian}.")
    assert composed(loan, "before-3", make.TODAY, rules=own)[1] == "Bring it, Maria.\n"


def test_who_is_told_of_an_address_is_told_in_their_language(lent):
    _, guardian, head = lent
    speak(guardian, "de")

    tell(tellings_of_change(guardian, "new@example.org", let_go=(), link="https://x.example/", by=head, at=make.NOW))

    subjects = [letter.subject for letter in mail.outbox]
    assert "Alder Row: Für Sie ist eine andere E-Mail-Adresse eingetragen" in subjects
    assert all("14. September 2026" in letter.body for letter in mail.outbox)


def test_what_is_signed_is_kept_in_the_language_in_which_it_was_shown(as_, lent):
    loan, guardian, head = lent
    speak(guardian, "de")
    horn, pupil = make.horn(guardian.school, build="double-full", stands_in="F"), loan.pupil
    check = make.check(horn, head)
    make.finding(check, "string-frayed", "w")

    Agreement.objects.filter(school=guardian.school).update(words=FIRST_WORDS)
    made = put_before(
        horn=horn, pupil=pupil, guardian=guardian, agreement_version=1, check_seen=check.pk, due_on=loan.due_on,
        accessories=["case"], by=head, at=make.NOW,
    )  # fmt: skip
    speak(guardian, "en-gb")
    page = as_(guardian.user).get(f"/family/sign/{made.pk}/").content.decode()

    assert made.language == "de"
    assert "voll ausgebautes Doppelhorn in F und B, steht in F" in made.shown
    assert "Schnur ausgefranst" in made.shown
    assert "Die Schule leiht dieses Horn" in made.shown
    assert 'lang="de"' in page.split("<main")[1].split("</main")[0]
    assert "Die Schule leiht dieses Horn" in page


def test_a_family_reads_in_its_language_why_something_is_refused(as_, lent):
    loan, guardian, _ = lent
    speak(guardian, "de")
    family, address = as_(guardian.user), f"/family/{loan.pk}/"

    empty = folded(family.post(address, {"words": "", "still_plays": ""}))
    family.post(f"{address}lost/", {"words": "Im Bus"})
    again = folded(family.post(f"{address}lost/", {"words": "Im Bus"}))

    assert FamilyAsk.objects.count() == 1
    assert "Sagen Sie in ein paar Worten, was nicht stimmt." in empty
    assert "Noch nicht gespeichert: Bitte sehen Sie unten nach den Feldern mit ✗." in empty
    assert "Die Schule hat das schon und antwortet hier." in again


def test_an_arabic_page_runs_from_right_to_left_and_keeps_apart_what_does_not(as_, lent):
    loan, guardian, head = lent
    guardian.school.family_languages = ["ar"]
    guardian.school.save()
    loan.horn.number = "07/H"
    loan.horn.save()
    speak(guardian, "ar")
    wanted = make.horn(loan.horn.school, number="08/H", build="double-full")
    made = put_before(
        horn=wanted, pupil=make.pupil(loan.horn.school, guardian, name="Bea"), guardian=guardian, agreement_version=1,
        check_seen=make.check(wanted, head).pk, due_on=loan.due_on, accessories=[], by=head, at=make.NOW,
    )  # fmt: skip
    family = as_(guardian.user)

    page, overview, sign = (folded(family.get(f"/family/{one}")) for one in (f"{loan.pk}/", "", f"sign/{made.pk}/"))

    assert '<html lang="ar" dir="rtl">' in page
    assert "<dd><bdi>07/H</bdi></dd>" in page
    assert "\u206808/H\u2069" in overview
    # Its first words are the school's name, whatever letters that is in.
    assert '<p class="prose" lang="ar" dir="rtl">' in sign


def test_what_usually_goes_along_is_named_in_the_familys_language(as_, lent):
    loan, guardian, _ = lent
    speak(guardian, "de")
    loan.accessories.create(name="Handpuppe")

    page = folded(as_(guardian.user).get(f"/family/{loan.pk}/"))

    assert re.findall("<dt>Mitgegeben</dt> <dd>(.*?)</dd>", page) == ["<bdi>Koffer, Mundstück, Handpuppe</bdi>"]
