"""What a horn's page shows, gathered from the slices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.safestring import mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.desk.queries.next_step import NextStep
from fleet.ground.badges import money
from fleet.ground.wording import shortened, with_article
from fleet.lending.models import Loan, Wish
from fleet.lending.queries.wishes import asked_for, in_force, waiting_for
from fleet.matching.queries.fit import measure_of, measures, misfits
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn, Identification, Photograph
from fleet.register.models.kinds import build_of, kind_in_words, stand_in_words
from fleet.register.queries.charted import form_of, stand_of
from fleet.register.queries.horns_now import HornNow, horns_now
from fleet.register.queries.identifying import disagreement
from fleet.register.queries.story import Story, story_from, told_of
from fleet.signing.queries.fitting import Misfit
from fleet.workshop.models import ConditionCheck, FaultReport, RepairJob
from fleet.workshop.queries.condition import Condition, condition_of
from identify.core.drawing.layout import about_layout
from identify.core.drawing.unrolled import about_sets, drawing
from identify.core.drawing.whole import BACK
from identify.core.horns.builds import Build, Stand
from identify.drawings import whole_drawn

# Of those who wait for such a horn, so many are named.
FIRST = 6


def plain_sentence(horn: Horn) -> str:
    """What the horn is, for somebody who has never held one. Empty when nobody knows yet."""
    build = build_of(horn.build)
    if build is None:
        return ""
    parts = [gettext(said_first(build)), gettext(build.about)]
    if build.reversible and horn.stands_in:
        stands = gettext("This one stands in %(key)s: that is the horn it is while the thumb does nothing.")
        parts.append(stands % {"key": gettext(stand_in_words(horn.stands_in))})
    return " ".join(parts)


def said_first(build: Build) -> str:
    """`A full double horn in F and B♭.`: a sentence of its own, since other languages have other articles."""
    return f"{capfirst(with_article(build.name))}."


def pictured(horn: Horn) -> dict[str, object]:
    """The horn's tubes unrolled, drawn, with the sentences that go with them; empty while its kind or stand is open."""
    build = form_of(horn)
    stand = stand_of(horn, build) if build else None
    if build is None or stand is None:
        return {}
    return unrolled_of(build, stand)


def pictured_plainly(horn: Horn) -> dict[str, object]:
    """The horn from both sides, for those who read beside it what it is; empty while its kind is open."""
    build = form_of(horn)
    if build is None:
        return {}
    return {"front": whole_drawn(build, beside_words=True), "back": whole_drawn(build, BACK, beside_words=True)}


def unrolled_of(build: Build, stand: Stand) -> dict[str, object]:
    """A build from both sides and its tubes in a stand, unrolled, with the sentences that go with them."""
    return {
        "front": whole_drawn(build),
        "back": whole_drawn(build, BACK),
        "unrolled": mark_safe(drawing(build, stand)),  # noqa: S308 - our drawing
        "about_sets": [*about_layout(build), *about_sets(build)],
    }


@dataclass(frozen=True, slots=True)
class HornPage:
    """What a horn's page shows besides its particulars."""

    now: HornNow
    story: Story
    loan: Loan | None
    condition: Condition
    reports: list[FaultReport]
    question: str
    misfit: Misfit | None
    wishes: list[Wish]
    photographs: list[Photograph]


def _beside(school: School, today: date) -> dict[str, QuerySet[Any]]:
    """What is told of a horn beside what is owed about it."""
    return told_of() | {"open job": RepairJob.objects.open().filter(horn=OuterRef("pk")).select_related("technician")}


def _for_teaching(school: School, today: date) -> dict[str, QuerySet[Any]]:
    """The same for those who see who waits, and whether it suits who has it."""
    measured = measures(school, [OuterRef(OuterRef("holder_group"))])
    out = Loan.objects.open().filter(horn=OuterRef(OuterRef("pk")))
    return _beside(school, today) | {
        # Whether it suits who has it goes by what anybody waits for by its number, and by what they wait for.
        "asked for": asked_for(school, today).filter(Exists(out)),
        "wishes": in_force(school, today).filter(pupil__in=out.values("pupil")),
        "measure": measured,
    }


def page_of(key: int, seat: Seat, today: date) -> HornPage | None:
    """The page of the horn of the school with that key as this person sees it, None where there is none."""
    beside = _for_teaching if seat.may("people:pupil") else _beside
    now = horns_now([key], school=seat.school, today=today, beside=beside).get(key)
    return _page_of(now, seat, today) if now else None


def _page_of(now: HornNow, seat: Seat, today: date) -> HornPage:
    horn, story = now.horn, story_from(now.horn, now.rows)
    loan = next((one for one in story.rows(Loan) if one.returned_on is None), None)
    if loan is not None:
        # Whether it is awaited stands on the horn.
        loan.horn = horn
    against = {}
    if loan is not None and seat.may("people:pupil"):
        measure = measure_of(now.rows["measure"][0])
        wishes = [*now.rows["asked for"], *now.rows["wishes"]]
        against = misfits(horn.school, [(loan.pupil, horn)], today=today, wishes=wishes, measure=measure)
    return HornPage(
        now=now,
        story=story,
        loan=loan,
        condition=condition_of(horn, story.rows(ConditionCheck), next(iter(now.rows["open job"]), None)),
        reports=now.rows["report"],
        question=disagreement(horn, story.rows(Identification)) or "",
        misfit=next(iter(against.values()), None),
        wishes=waiting_for(horn, today, FIRST) if seat.may("people:pupil") and horn.withdrawn_on is None else [],
        photographs=story.rows(Photograph),
    )


def told_beside(reports: list[FaultReport], step: NextStep) -> list[FaultReport]:
    """The reports of a horn's page that its next step does not say whole: the step is about the first, in few words."""
    first = reports[0] if reports and step.code == "report" else None
    is_told = first is not None and shortened(first.words) == first.words
    return reports[is_told:]


def particulars(horn: Horn, *, with_value: bool) -> list[tuple[str, str]]:
    """(label, words) of what the register holds of the horn; value and price only for those who need to know."""
    build = build_of(horn.build)
    currency = horn.school.currency
    rows = [
        (_s("Kind"), kind_in_words(horn.build) if build else _s("not identified yet")),
        (_s("Stands in"), stand_in_words(horn.stands_in)),
        (_s("Wrap"), horn.wrap_told),
        (_s("Fourth valve"), horn.get_fourth_valve_display()),
        (_s("Fifth valve"), horn.get_fifth_valve_display()),
        (_s("Maker"), horn.made),
        (_s("Serial number"), horn.serial_number),
        (_s("Finish"), horn.get_finish_display()),
        (_s("Bell"), horn.get_bell_display()),
        (_s("Place"), str(horn.place or "")),
        (_s("Acquired"), horn.acquired()),
    ]
    if with_value:
        rows += [
            (_s("Price paid"), money(horn.price, currency)),
            (_s("Value today"), money(horn.value, currency)),
        ]
    if build is not None and build.certainty != "sure":
        rows.append((_s("How sure the description is"), _s(build.certainty)))
    return [(label, words) for label, words in rows if words]
