"""Letters as a mail program gets them: plain text, each in its language, with one clear way on."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.ground.languages.known import KNOWN
from fleet.letters.actions.reminding import remind
from fleet.letters.models.wording import without_page
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
