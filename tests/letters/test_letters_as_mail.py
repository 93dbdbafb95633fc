"""Letters as a mail program gets them: plain text, each in its language, with one clear way on."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.languages.known import ENGLISH, KNOWN
from fleet.lending.actions import dates
from fleet.letters.actions.reminding import remind
from fleet.letters.models.wording import without_page
from fleet.mail.actions.posting import post
from fleet.people.actions.telling import tell
from fleet.people.queries.addresses import tellings_of_change, tellings_of_joining
from fleet.signing.actions.putting_before import put_before
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
DAY = timedelta(days=1)


def test_letters_are_plain_text_in_each_language_with_one_way_to_the_page(settings, postbox):
    settings.SITE_ORIGIN = "https://horns.example.org"
    school = make.school(name="Alder Row", family_languages=sorted(KNOWN), contact="the music office")
    head = make.staff(Role.HEAD, school)
    loans = {}
    for language in sorted(KNOWN):
        guardian = make.guardian(school, name="Łucja Şen", language=language)
        pupil, horn = make.pupil(school, guardian, name="Žofie"), make.horn(school, number=f"HN-{len(loans)}/2")
        begun = {"issued_on": make.TODAY - 40 * DAY, "signed_on": make.TODAY - 40 * DAY}
        loans[guardian.email] = language, make.loan(horn, pupil, head, due_on=make.TODAY - DAY, **begun)

    remind(schools=[school], now=make.NOW)

    assert sorted(postbox.to()) == sorted(loans)
    for letter in postbox.arrived:
        language, loan = loans[letter["To"]]
        words = letter.get_content()
        assert (letter.get_content_type(), letter.get_content_charset()) == ("text/plain", "utf-8"), language
        assert "Žofie" in letter["Subject"]
        assert loan.horn.number in words
        ways = re.findall(r"https?://[\w./-]+", words)
        assert ways == [f"https://horns.example.org/family/{loan.pk}/"], language
        assert "{" not in words
        assert ("Dear" in words) == (language == "en-gb")


def test_where_there_is_no_page_what_leads_to_it_goes_with_it():
    assert without_page("One.\n\nYour page: {page}\n\nTwo:\nthree") == "One.\n\nTwo:\nthree\n"
    assert without_page("One.\n\nYour page:\n{page} (with a code)\n\nTwo") == "One.\n\nTwo\n"


@pytest.mark.parametrize("language", sorted(KNOWN))
def test_every_other_letter_is_plain_text_in_the_language_too(language, postbox):
    school = make.school(name="Alder Row", family_languages=sorted(KNOWN), contact="07 11")
    head = make.staff(Role.HEAD, school, name="Łucja Şen")
    guardian = make.guardian(school, name="Žofie Öz", language=language)
    pupil = make.pupil(school, guardian, name="Їжак")
    loan = make.loan(make.horn(school, number="07/H"), pupil, head, due_on=make.TODAY + 90 * DAY)
    due = {"due_on": make.TODAY + 20 * DAY, "due_seen": loan.due_on, "reason": "07."}
    dates.recall(loan=loan, **due, by=head, at=make.NOW)
    wanted = make.horn(school, number="08/H")
    asked = {"agreement_version": 1, "check_seen": make.check(wanted, head).pk, "accessories": []}
    due_on = make.TODAY + 90 * DAY
    put_before(horn=wanted, pupil=pupil, guardian=guardian, due_on=due_on, **asked, by=head, at=make.NOW)
    remind(schools=[school], now=make.NOW)
    page = Client(headers={"accept-language": language})
    for address in (guardian.email, "nobody@example.org"):
        page.post("/account/code/", {"email": address})
        page.post("/account/password/reset/", {"email": address})
    other = make.guardian(school, name="Ґава")
    link = "https://horns.example.org/not-me/x/"
    tell(tellings_of_change(guardian, "new@example.org", let_go=[], link=link, by=head, at=make.NOW))
    tell(tellings_of_change(guardian, "", let_go=[pupil.pk], by=head, at=make.NOW))
    tell(tellings_of_joining(pupil, other, by=head, at=make.NOW))
    post(at=timezone.now())

    said = {str(letter["Subject"]): letter for letter in postbox.arrived}
    assert len(said) == 10, sorted(said)
    for subject, letter in said.items():
        words = letter.get_content()
        assert (letter.defects, subject.strip(), letter["Content-Transfer-Encoding"] == "8bit") == ([], subject, False)
        assert (letter.get_content_type(), letter.get_content_charset()) == ("text/plain", "utf-8"), subject
        assert (letter["Auto-Submitted"], letter["Reply-To"]) == ("auto-generated", None), subject
        assert not re.search(r"[{}%]|\n\n\n", words), words
        # The foot names the site; one way leads on.
        assert len(set(re.findall(r"https?://[\w.]+/[\w./-]+", words))) <= 1, words
        if language != ENGLISH:
            assert not re.search(r"\b(the|you|your|is)\b", f"{subject} {words}"), words
