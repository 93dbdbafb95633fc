"""What a repairer outside is told of a job: the horn, its faults, its photographs, and no name of any family."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache

from django.db.models import Q
from django.utils.translation import gettext as _s

from fleet.ground.wording import day, with_commas
from fleet.people.models import Guardian, Pupil, School
from fleet.workshop.models import CheckPhotograph, FaultReport, Finding, RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.agreed import left_on

# A mail server may turn away what is larger; a job of more is better shown than written of.
MOST_PHOTOGRAPHS = 8


@dataclass(frozen=True, slots=True)
class Order:
    """`clean` takes the names of families out of what else is written to the repairer."""

    job: RepairJob
    findings: list[Finding]
    photographs: list[CheckPhotograph]
    clean: Callable[[str], str]


def order_of(job: RepairJob) -> Order:
    """Of a job with its horn; its rows are for this print only and must not be saved. Five queries."""
    horn = job.horn_id
    reported = FaultReport.objects.filter(horn=horn).values("pupil")
    had_it = Q(loans__horn=horn) | Q(past_loans__horn=horn) | Q(pk__in=reported)
    pupils = Pupil.objects.filter(had_it).distinct()
    guardians = Guardian.objects.filter(Q(loans__horn=horn) | Q(pupils__in=pupils)).distinct()
    clean = without_names(pupils.values_list("name", flat=True), guardians.values_list("name", flat=True))
    findings = left_on(job)
    shown = CheckPhotograph.objects.filter(check_made__in={one.check_made_id for one in findings})
    photographs = list(shown.filter(fault__in=["", *(one.fault for one in findings)]).order_by("pk")[:MOST_PHOTOGRAPHS])
    job.work_ordered = clean(job.work_ordered)
    for finding in findings:
        finding.note = clean(finding.note)
    for photograph in photographs:
        photograph.caption = clean(photograph.caption)
    return Order(job, findings, photographs, clean)


def order_in_words(order: Order, school: School, words: str) -> str:
    """The letter that the order's PDF goes with: what was typed, what is to be done, whom to answer."""
    job, horn = order.job, order.job.horn
    what = " ".join(filter(None, (horn.maker, horn.model, horn.in_full)))
    serial = _s("serial number %(number)s") % {"number": horn.serial_number} if horn.serial_number else ""
    lines = [with_commas((_s("Horn %(number)s") % {"number": horn.number}, what, serial))]
    lines += [f"- {one}" for one in job.works.all()]
    lines += filter(None, [job.work_ordered])
    lines += [f"- {one}{f' ({one.note})' if one.note else ''}" for one in order.findings]
    if job.expected_on:
        lines.append(_s("Wanted back: %(day)s") % {"day": day(job.expected_on)})
    told = [order.clean(words).strip(), "\n".join(lines), _s("The attached order says it in full.")]
    whom = school.contact or _s("the school, not to this address")
    told.append(_s("%(school)s. Please answer to: %(whom)s") % {"school": school.name, "whom": whom})
    return "\n\n".join(filter(None, told)) + "\n"


def last_address(job: RepairJob) -> str:
    """Where the last order to this job's repairer went; "" where none did."""
    before = RepairJob.objects.filter(school=job.horn.school_id, repairer__iexact=job.repairer).exclude(order_to="")
    return before.order_by("-ordered_at").values_list("order_to", flat=True).first() or ""


def without_names(pupils: Iterable[str], guardians: Iterable[str]) -> Callable[[str], str]:
    """What puts `the pupil` or `the family` where such a name stands, whole or one word of it written as a name is.

    A word of the trade stays, though somebody is called so: a Bell has no horn without one.
    """
    instead: dict[str, str] = {}
    for names, words in ((guardians, _s("the family")), (pupils, _s("the pupil"))):
        for name in names:
            instead[name] = words
            parts = (part for part in name.split() if len(part) > 2 and part.lower() not in _of_the_trade())
            instead |= dict.fromkeys(parts, words)
    if not instead:
        return lambda said: said
    longest_first = "|".join(re.escape(name) for name in sorted(instead, key=len, reverse=True))
    found = re.compile(rf"(?<!\w)(?:{longest_first})(?!\w)")
    return lambda said: found.sub(lambda name: instead[name.group()], said)


@cache
def _of_the_trade() -> frozenset[str]:
    said = " ".join(f"{one.part} {one.words} {one.do}" for one in catalogue().by_code.values())
    return frozenset(re.findall(r"\w+", said.lower()))
