"""What a horn's page shows, gathered from the slices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists
from django.utils.safestring import mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.desk.queries.next_step import NextStep
from fleet.ground.badges import money
from fleet.ground.wording import shortened, with_article
from fleet.lending.models import Loan, Wish
from fleet.lending.queries.wishes import in_force, waiting_for
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn, HornQuerySet, Identification, Photograph
from fleet.register.models.kinds import build_of, kind_in_words, stand_in_words
from fleet.register.queries.charted import form_of, stand_of
from fleet.register.queries.horns_now import HornNow
from fleet.register.queries.identifying import disagreement
from fleet.register.queries.story import Story, story_of, told_of
from fleet.signing.queries.fitting import Misfit, misfits
from fleet.workshop.models import ConditionCheck, FaultReport, RepairJob
from fleet.workshop.queries.condition import Condition, condition_of
from identify.core.drawing.layout import about_layout
from identify.core.drawing.unrolled import about_sets, drawing
from identify.core.drawing.whole import BACK
from identify.core.horns.builds import Build, Stand
from identify.drawings import whole_drawn


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


def shown_of(horns: HornQuerySet, school: School, today: date) -> HornQuerySet:
    """The horns as `horns_now` is to read them for `page_of`, which then asks only for what there is."""
    waited_for = Exists(Wish.objects.at(school).in_force(today).order_by())
    return told_of(horns).select_related("created_by", "school__matching_rules").annotate(waited_for=waited_for)


def page_of(now: HornNow, today: date, seat: Seat) -> HornPage:
    """A horn's page as this person sees it. What its story and what is owed have read is not asked for again."""
    horn, story = now.horn, story_of(now.horn)
    waits = horn.withdrawn_on is None and seat.may("loans:wishes") and getattr(horn, "waited_for", True)
    loan = next((one for one in story.rows(Loan) if one.returned_on is None), None)
    if loan is not None:
        # Whether it is awaited stands on the horn.
        loan.horn = horn
    in_hand = [(loan.pupil, horn)] if loan and seat.may("people:pupil") else []
    wishes = in_force(horn.school, today) if waits else []
    against = misfits(horn.school, in_hand, today=today, wishes=wishes)
    return HornPage(
        now=now,
        story=story,
        loan=loan,
        condition=condition_of(horn, story.rows(ConditionCheck), _open_job(now)),
        reports=now.rows.get("report", []),
        question=disagreement(horn, story.rows(Identification)) or "",
        misfit=next(iter(against.values()), None),
        wishes=waiting_for(horn, wishes),
        photographs=story.rows(Photograph),
    )


def _open_job(now: HornNow) -> RepairJob | None:
    """The horn's open job. Of a horn that is not there it is owed to nobody, and asked for."""
    if now.horn.withdrawn_on or now.horn.not_found_on:
        return now.horn.jobs.open().select_related("technician").first()
    return next(iter(now.rows.get("job", [])), None)


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
