"""Every address of the site, and a school with one of everything that a page can be about."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.files.base import ContentFile
from django.urls import URLResolver, get_resolver, reverse

from fleet.counting.actions.counts import begin
from fleet.counting.actions.finds import keep_find
from fleet.counting.actions.sightings import see
from fleet.counting.models import Sighting
from fleet.ground.access import DOORS, Reach, Role
from fleet.people.queries.own_words import key_of
from fleet.register.actions.disposing import propose
from fleet.register.models import Photograph
from fleet.workshop.models import CheckPhotograph, Invoice
from tests import make

STAFF_ROLES = (Role.HEAD, Role.TEACHER, Role.TECHNICIAN, Role.SERVICE)


def every_address() -> Iterator[tuple[str, set[str]]]:
    """(view name, names of the parameters in its address) of the whole real URL map."""

    def below(entries: list[Any], namespace: str, parameters: set[str]) -> Iterator[tuple[str, set[str]]]:
        for entry in entries:
            inside = parameters | set(entry.pattern.regex.groupindex)
            if isinstance(entry, URLResolver):
                within = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
                yield from below(entry.url_patterns, within, inside)
            else:
                yield f"{namespace}{entry.name}", inside

    return below(get_resolver().url_patterns, "", set())


ADDRESSES = dict(every_address())
SCHOOL_PAGES = sorted(name for name, door in DOORS.items() if door.reach is Reach.SCHOOL)
FAMILY_PAGES = sorted(name for name, door in DOORS.items() if door.reach is Reach.FAMILY)


def reverse_parts(name: str) -> set[str]:
    return ADDRESSES[name]


class World:
    """One school with one of everything a page can be about."""

    def __init__(self) -> None:
        self.school = make.school()
        self.people = {role: make.staff(role, self.school) for role in STAFF_ROLES}
        head = self.people[Role.HEAD]
        self.guardian = make.guardian(self.school)
        answers = self.guardian.user
        assert answers is not None
        self.pupil = make.pupil(self.school, self.guardian)
        self.horn = make.horn(self.school, build="double-full", stands_in="F")
        own = ContentFile(make.pdf(), name="own.pdf")
        self.agreement = make.agreement(self.school, own=own, own_pages=1)
        self.loan = make.loan(self.horn, self.pupil, head)
        self.check = self.loan.check_at_issue
        assert self.check is not None
        self.place = make.place(self.school)
        spare = make.horn(self.school, place=self.place)
        self.job = make.job(spare, head)
        paper = ContentFile(make.pdf(), name="invoice.pdf")
        self.invoice = Invoice.objects.create(job=self.job, amount=90, file=paper, at=make.NOW, by=head)
        self.part = make.part(self.school)
        self.report = make.report(self.horn, answers, pupil=self.pupil)
        picture = ContentFile(b"not looked at here", name="x.jpg")
        size = {"width": 20, "height": 20}
        self.photograph = Photograph.objects.create(horn=self.horn, at=make.NOW, by=head, image=picture, **size)
        self.check_photograph = CheckPhotograph.objects.create(check_made=self.check, image=picture, **size)
        self.charge = make.charge(self.loan, head)
        self.ask = make.ask(self.loan, answers)
        self.letter = make.letter(self.loan, subject="Your horn", words="Dear")
        self.sheet = make.sheet(spare, self.pupil, head)
        self.signed_sheet = make.signed_sheet(self.loan, head)
        self.count = begin(school=self.school, places=[self.place], by=head, at=make.NOW)
        seen = see(count=self.count, horn=spare, place=self.place, key="a-tap-of-the-head", by=head, at=make.NOW)
        assert isinstance(seen, Sighting)
        self.sighting = seen
        self.find = keep_find(
            count=self.count, words="no label", place=self.place, key="a-find-of-the-head", by=head, at=make.NOW
        )
        self.disposal = propose(
            horn=make.horn(self.school),
            method="scrapped",
            on=make.TODAY,
            reason="Cracked",
            # Who proposed it is not asked to decide.
            by=self.people[Role.TEACHER],
            at=make.NOW,
        )
        self.wish = make.wish(self.pupil, head)
        self.holiday = make.holiday(self.school, name=f"Winter of {self.pupil}")
        self.list = make.a_list(self.school, head)
        self.ended = make.loan(spare, self.pupil, head, returned_on=make.TODAY)
        self.ended.accessories.update(came_back=False)
        self.missing = self.ended.accessories.latest("pk")
        self.signature = make.signature(make.horn(self.school), self.pupil, head)

    def subject(self, name: str) -> Any:
        """The row that a page with a `pk` in its address is about."""
        subjects = {
            "people:holiday-edit": self.holiday,
            "register:photograph": self.photograph,
            "register:photograph-remove": self.photograph,
            "register:place-edit": self.place,
            "register:place-twice": self.place,
            "workshop:check": self.check,
            "workshop:check-photograph": self.check_photograph,
            "workshop:job": self.job,
            "workshop:job-outside": self.job,
            "workshop:job-approve": self.job,
            "workshop:job-part": self.job,
            "workshop:job-fault": self.job,
            "workshop:job-quote": self.job,
            **dict.fromkeys(
                ("workshop:job-invoice", "workshop:job-work", "workshop:job-clock", "reports:job-order"), self.job
            ),
            "workshop:invoice": self.invoice,
            **dict.fromkeys(("workshop:job-family", "workshop:job-fetched"), self.job),
            "reports:job-ticket": self.job,
            "reports:condition-report": self.job,
            "workshop:part-edit": self.part,
            "workshop:part-came": self.part,
            "workshop:report": self.report,
            "counting:count": self.count,
            "counting:shelf": self.count,
            "counting:sent": self.count,
            "counting:end": self.count,
            "counting:sign": self.count,
            "counting:line": self.sighting.line,
            "counting:undo": self.sighting,
            "counting:find": self.find,
            "counting:find-undo": self.find,
            "reports:count-sheet": self.count,
            "reports:count-report": self.count,
            "register:disposal-decide": self.disposal,
            "reports:disposal-record": self.disposal,
            "loans:charge": self.charge,
            **{f"loans:{page}": self.loan for page in ("loan", "return", "renew", "recall", "swap", "lost", "signed")},
            **dict.fromkeys(("loans:charge-new", "loans:note-away"), self.loan),
            "loans:accessory": self.missing,
            "loans:ask": self.ask,
            **dict.fromkeys(("loans:letter", "desk:family-letter"), self.letter),
            "loans:mouthpiece": self.ended,
            "reports:loan-sheet": self.loan,
            **dict.fromkeys(("loans:sheet-out", "loans:sheets-together"), self.sheet),
            "loans:signed-sheet-new": self.loan,
            **dict.fromkeys(("loans:signed-sheet", "loans:signed-sheet-remove"), self.signed_sheet),
            "desk:family-signed-sheet": self.signed_sheet,
            "loans:wish-new": self.pupil,
            "loans:wish-end": self.wish,
            "exchange:import": self.list,
            "exchange:columns": self.list,
            "exchange:refused": self.list,
            "exchange:rows": self.list,
            "people:pupil": self.pupil,
            "people:pupil-edit": self.pupil,
            "people:pupil-strike-out": self.pupil,
            "people:pupil-twice": self.pupil,
            "desk:pupil-data": self.pupil,
            "desk:pupil-forget": self.pupil,
            "loans:of-pupil": self.pupil,
            "people:guardian-new": self.pupil,
            **dict.fromkeys(("people:guardian-edit", "people:guardian-twice", "people:guardian-looked"), self.guardian),
            "people:staff-edit": self.people[Role.TEACHER].posts.get(),
            "desk:family-horn": self.loan,
            "desk:family-care": self.loan,
            **dict.fromkeys(("desk:family-bring", "desk:family-renew", "desk:family-taken-back"), self.loan),
            "desk:family-lost": self.loan,
            **dict.fromkeys(("desk:family-sign", "desk:family-agreement"), self.signature),
            "loans:agreement-own": self.agreement,
            "desk:family-sheet": self.loan,
            "desk:family-chart": self.loan,
            "desk:family-picture": self.photograph,
        }
        return subjects.get(name, self.horn)

    def address(self, name: str, *, of: World | None = None) -> str:
        """The page's address at this school, about a row of this school (or of another one)."""
        values: dict[str, Any] = {}
        for parameter in reverse_parts(name):
            if parameter == "school":
                values["school"] = self.school.slug
            elif parameter == "pk":
                values["pk"] = (of or self).subject(name).pk
            elif parameter == "code":
                world = of or self
                values["code"] = world.loan.sheet_code if name == "desk:sheet" else world.horn.label_code
            elif parameter == "build":
                values["build"] = self.horn.build
            elif parameter == "language":
                values["language"] = "de"
            elif parameter == "key":
                values["key"] = key_of("Questions")
            else:
                raise AssertionError(f"{name} has a parameter {parameter!r} this test knows nothing of")
        return reverse(name, kwargs=values)
