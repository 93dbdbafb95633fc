"""Horns scanned or typed one after another, kept until something is done with all of them.

They are kept in the session, since a phone's own camera opens a label's bare address and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

from django.contrib import messages
from django.http import HttpRequest
from django.utils.translation import gettext as _s

from fleet.ground.answering import posted
from fleet.people.models import School
from fleet.register.forms.one_by_one import ListedForm, OffForm
from fleet.register.models import Horn
from fleet.register.queries.asked_for import horn_told, horns_told

MOST = 200
AT_IT = timedelta(hours=3)


class OneByOne:
    """The horns that one person has scanned for one purpose, `kept` its name in the session; of one school at a time.

    `no` says why a horn is none for this list, or "", and `yes` what is said of one that is.
    """

    def __init__(self, kept: str, *, no: Callable[[Horn], str], yes: Callable[[Horn], str]) -> None:
        self.kept, self.no, self.yes = kept, no, yes

    def is_on(self, request: HttpRequest, school: School) -> bool:
        """Whether this person is in the middle of it."""
        kept = request.session.get(self.kept)
        if not isinstance(kept, dict) or kept.get("school") != school.pk:
            return False
        # Somebody who walked off without stopping gets a horn's own page from its label again.
        now: datetime = request.now  # type: ignore[attr-defined]
        return now - datetime.fromtimestamp(kept.get("at", 0), UTC) < AT_IT

    def begin(self, request: HttpRequest, school: School) -> None:
        """Begins it, or goes on with it: of several the last one begun gets what is scanned."""
        self.keep(request, school, self.listed(request, school))

    def begun(self, request: HttpRequest) -> float:
        """The moment when it was last begun or added to, where it `is_on`."""
        return float(request.session[self.kept]["at"])

    def listed(self, request: HttpRequest, school: School) -> list[int]:
        """Keys of the horns scanned so far, in their order."""
        return list(request.session[self.kept]["horns"]) if self.is_on(request, school) else []

    def scanned(self, request: HttpRequest, school: School, horn: Horn) -> None:
        """One more horn for the list, with a word about it on the next page."""
        keys = self.listed(request, school)
        if horn.pk in keys:
            messages.info(request, _s("%(horn)s is on the list already.") % {"horn": horn})
        elif no := self.no(horn):
            messages.warning(request, no)
        elif len(keys) >= MOST:
            messages.warning(request, _s("The list is full. Do these %(most)s first.") % {"most": MOST})
        else:
            self.keep(request, school, [*keys, horn.pk])
            messages.success(request, self.yes(horn))

    def add_or_leave(self, request: HttpRequest, school: School) -> None:
        """Takes what was sent: numbers for the list, or the button that takes one horn off it."""
        off, form = OffForm(posted(request)), ListedForm(posted(request))
        if off.is_valid():
            self.keep(request, school, [key for key in self.listed(request, school) if key != off.horn])
        elif form.is_valid():
            typed = form.typed()[:MOST]
            told = horns_told(school, typed)
            for one in typed:
                horn = told.get(one) or horn_told(school, one)
                if horn is None:
                    messages.warning(request, _s("No horn has the number or label “%(one)s”.") % {"one": one[:60]})
                else:
                    self.scanned(request, school, horn)

    def keep(self, request: HttpRequest, school: School, keys: Iterable[int]) -> None:
        at = request.now.timestamp()  # type: ignore[attr-defined]
        request.session[self.kept] = {"school": school.pk, "horns": list(keys)[:MOST], "at": at}

    def stop(self, request: HttpRequest) -> None:
        request.session.pop(self.kept, None)
