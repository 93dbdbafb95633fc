"""In which language a request is answered: the person's own, else the browser's, else the school's."""

from __future__ import annotations

from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpRequest
from django.utils.translation.trans_real import parse_accept_lang_header

from fleet.ground.languages.known import ENGLISH, KNOWN, Language, known
from fleet.ground.languages.own import NONE, Words
from fleet.people.models import Guardian, School, User
from fleet.people.queries.own_words import words_of


@dataclass(frozen=True, slots=True)
class Speech:
    """The language a page is in, and those it could be in instead. `asks` says that the person was never asked."""

    language: Language
    offered: tuple[Language, ...] = ()
    asks: bool = False

    # The clock of a family’s school; of several the first.
    zone: ZoneInfo | None = None
    # In whose words: of a family with children at several schools nobody's, but where a page is about one.
    words: Words = field(default_factory=lambda: NONE)
    # What schools have on record of a family's person.
    records: tuple[Guardian, ...] = ()


def speech_of_staff(user: User, school: School) -> Speech:
    """At a school’s own pages: what they chose, else the school’s language, as far as a head switched it on."""
    offered = school.languages_of_staff
    spoken = user.language if user.language in offered else school.language_of_staff
    return Speech(KNOWN[spoken], tuple(known(offered)))


def speech_for(request: HttpRequest) -> Speech:
    """One query."""
    if request.user.is_authenticated:
        records = list(Guardian.objects.filter(user=request.user.pk).select_related("school").order_by("pk"))
        schools = [one.school for one in records]
    else:
        records = []
        # Nobody knows yet whose family it is: what any school speaks is offered.
        spoken_at = School.objects.order_by().values("language", "family_languages").distinct()
        schools = [School(**said) for said in spoken_at]
    offered = {code: KNOWN[code] for school in schools for code in school.languages}
    said = [one.language for one in records if one.language in one.school.languages]
    if not records and (of_staff := getattr(request.user, "language", "")):
        # The pages of their own account are in the language in which they read a school's.
        offered, said = {code: KNOWN[code] for code in (ENGLISH, of_staff)}, [of_staff]
    wished = [*said, request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME, ""), *_of_browser(request)]
    own = {school.language for school in schools}
    wished += own if len(own) == 1 else ()
    spoken = next((code for code in wished if code in offered), ENGLISH)
    asks = len(offered) > 1 and any(not one.language for one in records)
    zone = records[0].school.zone if records else None
    words = words_of(schools[0]) if records and len(set(schools)) == 1 else NONE
    return Speech(KNOWN[spoken], tuple(known(offered)), asks, zone, words, tuple(records))


def _of_browser(request: HttpRequest) -> list[str]:
    """What the browser asks for, the most wished for first, as far as we know it: `de-at` is our `de`."""
    asked = [code for code, _ in parse_accept_lang_header(request.headers.get("Accept-Language", "").lower())]
    ours = {code.split("-")[0]: code for code in KNOWN}
    return [ours[code.split("-")[0]] for code in asked if code.split("-")[0] in ours]
