"""Piles of tasks that are a head’s alone. One more query where a mail server refused an address."""

from __future__ import annotations

from datetime import date, datetime, time

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.desk.queries.piles import (
    APPROVED_WITHIN,
    ASKED_FOR,
    YEAR_ENDS_WITHIN,
    Day,
    MadeOf,
    Pile,
    Task,
    Waits,
    made_of,
)
from fleet.exchange.models import Closing
from fleet.ground.badges import money
from fleet.ground.due import DueDay
from fleet.ground.wording import day as day_in_words
from fleet.mail.queries import refusals, refused
from fleet.people.models import Guardian, School
from fleet.people.queries.objections import objected
from fleet.register.queries.at_once import AsLists
from fleet.workshop.models import RepairJob, RepairJobQuerySet


def _closings(school: School, today: date) -> QuerySet[Closing]:
    return Closing.objects.filter(school=school).select_related("proposed_by")


@made_of(_closings)
def closing(day: Day, found: MadeOf) -> Pile:
    """That the school is to leave the site: what another head proposed, and what can still be taken back."""
    school, address = day.seat.school, day.seat.here("exchange:closing")
    tasks = []
    for one in found.rows:
        if one.closes_from is not None:
            until = timezone.localtime(one.closes_from)
            why = _s("two agreed: it can be taken back until %(date)s, %(until)s") % {
                "date": day_in_words(until.date()),
                "until": f"{until:%H:%M}",
            }
            tasks.append(Task(_s("%(school)s leaves this site") % {"school": school}, address, why, late=True))
        elif one.proposed_by_id != day.seat.user.pk:
            asked = timezone.localdate(one.proposed_at)
            tasks.append(
                Task(
                    _s("Close %(school)s?") % {"school": school},
                    address,
                    _s("%(proposed_by)s proposes it: %(reason)s")
                    % {"proposed_by": one.proposed_by, "reason": one.reason},
                    asked,
                )
            )
    return Pile(_s("Closing the school"), tasks)


@made_of(lambda school, _: objected(school).order_by("objected_at", "pk"))
def objections(day: Day, found: MadeOf) -> Pile:
    """Changes of a guardian's address of which the address before said that they were not its own."""
    tasks = [
        Task(
            what=_s("%(name)s: the e-mail address") % {"name": one.guardian.name},
            address=day.seat.here("people:guardian-edit", one.guardian_id),
            why=_s("was changed, and whoever had the one before says: not by me"),
            when=timezone.localdate(one.objected_at),
            late=True,
        )
        for one in found.rows
    ]
    return Pile(_s("Addresses that families did not change"), tasks)


@made_of(asks=lambda *_: AsLists(refusals(), "was_for"))
def refusing(day: Day, found: MadeOf) -> Pile:
    """Guardians at whose address the mail server refused a letter in these days: codes for signing in among them. One
    query where the server refused anything, else none."""
    guardians = Guardian.objects.filter(school=day.seat.school).exclude(email="").order_by("name", "pk")
    named = list(guardians.values_list("pk", "name", "email")) if found.told else []
    unreached = refused((email for *_, email in named), (was_for for (was_for,) in found.told))
    tasks = [
        Task(
            what=_s("%(name)s: the e-mail address") % {"name": name},
            address=day.seat.here("people:guardian-edit", key),
            why=_s("takes no letters, nor codes for signing in: ask how it is written"),
        )
        for key, name, email in named
        if email in unreached
    ][:ASKED_FOR]
    return Pile(_s("Addresses that take no letters"), tasks)


@Waits
def school_year(day: Day, found: MadeOf) -> Pile:
    """That the school year is over, or ends soon: until the next one is begun, which has another end."""
    ends = day.seat.school.year_ends
    if ends is None or not (due := DueDay(ends, day.today)).is_near(YEAR_ENDS_WITHIN):
        return Pile(_s("The school year"), [])
    said = {"ends": day_in_words(ends)}
    why = (
        _s("this one ended on %(ends)s: classes go on, loans are renewed") % said
        if due.is_over
        else _s("this one ends on %(ends)s: classes go on, loans are renewed") % said
    )
    task = Task(_s("Begin the next school year"), day.seat.here("loans:new-year"), why, late=due.is_over)
    return Pile(_s("The school year"), [task])


def _asking(school: School, today: date) -> RepairJobQuerySet:
    # A limit set today is not held against what was mended long ago.
    since = datetime.combine(today - APPROVED_WITHIN, time.min, tzinfo=school.zone)
    lately = Q(closed_at=None) | Q(closed_at__gte=since)
    asking = RepairJob.objects.at(school).to_approve(school.approve_above).filter(lately)
    return asking.select_related("horn").order_by("opened_at", "pk")


@made_of(_asking)
def to_approve(day: Day, found: MadeOf) -> Pile:
    """Quotes and costs of repairs that wait for a head's word."""
    currency = day.seat.school.currency
    tasks = [
        Task(
            what=(_s("%(number)s: cost of %(sum)s") if job.asks_with == "cost" else _s("%(number)s: quote of %(sum)s"))
            % {"number": job.horn.number, "sum": money(job.asked, currency)},
            address=day.seat.here("workshop:job", job.pk),
            why=job.repairer or job.get_state_display(),
            when=timezone.localdate(job.opened_at),
        )
        for job in found.rows
    ]
    return Pile(_s("Repairs to approve"), tasks)
