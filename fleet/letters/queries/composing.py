"""A letter as the school words it, filled in."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.urls import reverse

from fleet.ground.due import DueDay
from fleet.ground.wording import day, days
from fleet.lending.models import Loan
from fleet.letters.models import LendingRules
from fleet.letters.models.wording import fill, without_page
from fleet.letters.queries.rules import rules_of
from fleet.people.queries.own_words import speaking
from fleet.register.models.kinds import kind_in_words
from fleet.signing.models import OnlineSignature


def composed(
    about: Loan | OnlineSignature,
    occasion: str,
    today: date,
    *,
    rules: LendingRules | None = None,
) -> tuple[str, str]:
    """(subject, words) of a letter as the school words it, filled, in the guardian's language: words that a school
    wrote itself are the same in every language.

    Who has no page is sent to none, and nobody where the site has no public address.
    """
    with speaking(about.horn.school, about.guardian.speaks):
        return _composed(about, occasion, today, rules)


def _composed(about: Loan | OnlineSignature, occasion: str, today: date, rules: LendingRules | None) -> tuple[str, str]:
    school = about.horn.school
    recalled = about.recall if occasion == "recalled" and isinstance(about, Loan) else None
    name = "desk:family-horn" if isinstance(about, Loan) else "desk:family-sign"
    origin = settings.SITE_ORIGIN
    values = {
        "guardian": about.guardian.name,
        "pupil": about.pupil.name,
        "horn": about.horn.number,
        "kind": kind_in_words(about.horn.build),
        "due": day(about.due_on),
        "days": days(DueDay(about.due_on, today).days),
        "reason": recalled.reason if recalled else "",
        "contact": school.contact or school.name,
        "school": school.name,
        "page": origin + reverse(name, args=(about.pk,)) if origin else "",
    }
    # A name that holds a line end would begin a header of its own.
    values = {name: " ".join(said.split()) for name, said in values.items()}
    subject, words = (rules or rules_of(school)).words_for(occasion)
    if about.guardian.user_id is None or not origin:
        words = without_page(words)
    return " ".join(fill(subject, values).split())[:300], fill(words, values)
