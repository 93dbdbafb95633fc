"""The site's lists as files: narrowed and in the order as the page shows them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import Model, QuerySet
from django.db.models.functions import Lower
from django.http.response import HttpResponseBase
from django.utils import timezone

from fleet.exchange.actions.lists.horns import acquired_as_listed
from fleet.exchange.pages.as_files import Out, as_file
from fleet.ground.access import HEADS, TEACHING
from fleet.ground.languages.known import KNOWN
from fleet.lending.models import Charge, PastLoan
from fleet.lending.queries.listing import in_order as loans_in_order
from fleet.lending.queries.listing import loans_asked, sort_of
from fleet.people.models import Guardian, Pupil
from fleet.people.pages.openings import note_opening
from fleet.people.pages.pupil_table import PupilTable
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.models.kinds import NOT_LOOKED_AT, stand_in_words
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.listing import in_order
from fleet.workshop.forms.bench import BenchFilter
from fleet.workshop.models import Part, RepairJob
from fleet.workshop.queries.in_turn import in_turn
from fleet.workshop.queries.parts import by_supplier

CHUNK = 500


def _chosen(model: type[Model], field: str) -> Callable[[Any], str]:
    """The word of a choice. Django's own `get_…_display` speaks each choice of the field to find one."""
    column: Any = model._meta.get_field(field)
    words = dict(column.flatchoices)
    return lambda row: str(words.get(value := getattr(row, field), value))


WRAP, GRADE = _chosen(Horn, "wrap"), _chosen(Horn, "grade")
# The headings are those an import of the same kind knows, so that a list that went out comes back in.
HORNS = (
    Out("Register number", lambda horn: horn.number),
    Out("What it is", lambda horn: horn.kind or horn.described_as),
    Out("Identified", lambda horn: "yes" if horn.build else "no"),
    Out("Stands in", lambda horn: stand_in_words(horn.stands_in)),
    Out("Maker", lambda horn: horn.maker),
    Out("Model", lambda horn: horn.model),
    Out("Serial number", lambda horn: horn.serial_number),
    Out("Finish", _chosen(Horn, "finish")),
    Out("Bell", _chosen(Horn, "bell")),
    Out("Wrap", lambda horn: WRAP(horn) or str(NOT_LOOKED_AT)),
    Out("Room", lambda horn: horn.place.room if horn.place else ""),
    Out("Shelf", lambda horn: horn.place.shelf if horn.place else ""),
    Out("Where it is", lambda horn: horn.whereabouts.state),
    Out("Who has it", lambda horn: horn.holder_name or horn.repairer),
    Out("Due back", lambda horn: horn.due_on),
    Out("Plays", lambda horn: GRADE(horn) if horn.grade else ""),
    Out("Checked on", lambda horn: horn.checked_on),
    Out("Acquired on", lambda horn: acquired_as_listed(horn) if horn.acquired_within else horn.acquired_on),
    Out("Notes", lambda horn: horn.notes),
)
MONEY = (Out("Price paid", lambda horn: horn.price), Out("Value today", lambda horn: horn.value))


def _adult(place: int, part: Callable[[Guardian], str]) -> Callable[[Pupil], str]:
    def of(pupil: Pupil) -> str:
        adults = sorted(pupil.guardians.all(), key=lambda one: (one.name, one.pk))
        return part(adults[place]) if place < len(adults) else ""

    return of


def _speaks(one: Guardian) -> str:
    return KNOWN[one.language].english if one.language in KNOWN else ""


PUPILS = (
    Out("Name", lambda pupil: pupil.name),
    Out("Year", lambda pupil: pupil.year),
    Out("Class or ensemble", lambda pupil: pupil.group),
    Out("Pupil id", lambda pupil: pupil.pupil_id),
    Out("Guardian", _adult(0, lambda one: one.name)),
    Out("Guardian’s e-mail", _adult(0, lambda one: one.email)),
    Out("Guardian’s telephone", _adult(0, lambda one: one.telephone)),
    Out("Guardian’s language", _adult(0, _speaks)),
    Out("Second guardian", _adult(1, lambda one: one.name)),
    Out("Second guardian’s e-mail", _adult(1, lambda one: one.email)),
    Out("Second guardian’s telephone", _adult(1, lambda one: one.telephone)),
    Out("Second guardian’s language", _adult(1, _speaks)),
)
LOANS = (
    Out("Register number", lambda loan: loan.horn.number),
    Out("What it is", lambda loan: loan.horn.kind),
    Out("Pupil", lambda loan: loan.pupil.name),
    Out("Year", lambda loan: loan.pupil.year),
    Out("Class or ensemble", lambda loan: loan.pupil.group),
    Out("Guardian", lambda loan: loan.guardian.name if loan.guardian else ""),
    Out("Out since", lambda loan: loan.issued_on),
    Out("Due back", lambda loan: loan.due_on),
    Out("Ended on", lambda loan: loan.returned_on),
    Out("How it ended", lambda loan: loan.ended_as.label if loan.ended_as else ""),
)
# Whoever may not see the pupils' pages is not told how to reach their families.
REACHED = (
    Out("Guardian’s e-mail", lambda loan: loan.guardian.email if loan.guardian else ""),
    Out("Guardian’s telephone", lambda loan: loan.guardian.telephone if loan.guardian else ""),
)
PAST_LOANS = (
    Out("Register number", lambda past: past.horn.number),
    Out("Pupil", lambda past: past.pupil.name),
    Out("Pupil id", lambda past: past.pupil.pupil_id),
    Out("Out since", lambda past: past.issued_on),
    Out("Came back", lambda past: past.returned_on),
    Out("Notes", lambda past: past.notes),
)
CHARGES = (
    Out("For", lambda charge: charge.what),
    Out("Pupil", lambda charge: charge.loan.pupil.name),
    Out("Class or ensemble", lambda charge: charge.loan.pupil.group),
    Out("Guardian", lambda charge: charge.loan.guardian.name if charge.loan.guardian else ""),
    Out("Register number", lambda charge: charge.loan.horn.number),
    Out("Amount", lambda charge: charge.amount),
    Out("Currency", lambda charge: charge.currency),
    Out("To be paid by", lambda charge: charge.due_on),
    Out("State", lambda charge: charge.get_state_display()),
    Out("Settled on", lambda charge: charge.settled_on),
)
JOBS = (
    Out("Register number", lambda job: job.horn.number),
    Out("What it is", lambda job: job.horn.kind),
    Out("Where it is", lambda job: job.horn.whereabouts.words),
    Out("To mend", lambda job: ", ".join(str(one) for one in job.findings.all())),
    Out("State", lambda job: job.get_state_display()),
    Out("Technician", lambda job: job.technician.name if job.technician else ""),
    Out("Outside repairer", lambda job: job.repairer),
    Out("Noted on", lambda job: timezone.localdate(job.opened_at)),
    Out("Closed on", lambda job: timezone.localdate(job.closed_at) if job.closed_at else None),
    Out("Minutes", lambda job: job.minutes),
    Out("Parts", lambda job: job.parts),
    Out("Cost", lambda job: job.cost),
    Out("Work ordered", lambda job: job.work_ordered),
    Out("Notes", lambda job: job.notes),
)
PARTS = (
    Out("Part", lambda part: part.name),
    Out("There", lambda part: part.on_hand),
    Out("At least", lambda part: part.minimum),
    Out("To order", lambda part: part.short),
    Out("Cost of one", lambda part: part.cost),
    Out("Supplier", lambda part: part.supplier),
    Out("Their number", lambda part: part.order_number),
    Out("Where it lies", lambda part: part.shelf),
    Out("Ordered on", lambda part: part.ordered_on),
    Out("Arrived on", lambda part: part.arrived_on),
)
ORDERS = (
    Out("Supplier", lambda part: part.supplier),
    Out("Their number", lambda part: part.order_number),
    Out("Part", lambda part: part.name),
    Out("Pieces", lambda part: part.short),
    Out("Cost of one", lambda part: part.cost),
    Out("In all", lambda part: part.order_cost),
)


def horns_out(request: SeatedRequest) -> HttpResponseBase:
    """What the list of horns shows; with prices only for heads, and only when they ask (`money=yes`)."""
    filters = HornFilters(request.GET, school=request.seat.school, request=request)
    horns = filters.found(walk=True).select_related("place")
    horns = horns.order_by(*in_order(request.GET.get("sort", "")))
    note_opening(request)
    money = request.seat.role in HEADS and request.GET.get("money") == "yes"
    return _answer(request, "horns", (*HORNS, *MONEY) if money else HORNS, horns)


def pupils_out(request: SeatedRequest) -> HttpResponseBase:
    found = Pupil.objects.listed(request.seat.school, request.GET.get("q", ""))
    note_opening(request)
    order = PupilTable.in_order(request.GET.get("sort", ""))
    return _answer(request, "pupils", PUPILS, found.prefetch_related("guardians").order_by(*order))


def loans_out(request: SeatedRequest) -> HttpResponseBase:
    filters = loans_asked(request.GET, request.seat.school, request.today)
    note_opening(request)
    order = loans_in_order(sort_of(str(request.GET.get("sort", "")), state=str(filters.data["state"])))
    rows = filters.qs.select_related("horn", "pupil", "guardian", "replaced_by").order_by(*order)
    return _answer(request, "loans", (*LOANS, *REACHED) if request.seat.role in TEACHING else LOANS, rows)


def past_loans_out(request: SeatedRequest) -> HttpResponseBase:
    """The loans that older lists told of, under headings that bring them in again."""
    found = PastLoan.objects.filter(horn__school=request.seat.school).select_related("horn", "pupil")
    note_opening(request)
    order = ("horn__number_stem", "horn__number_tail", "issued_on", "pk")
    return _answer(request, "past-loans", PAST_LOANS, found.order_by(*order))


def charges_out(request: SeatedRequest) -> HttpResponseBase:
    """Charges that are due, as their list shows them; with `state=all` those that were paid or remitted too."""
    found = Charge.objects.at(request.seat.school)
    if request.GET.get("state") != "all":
        found = found.due()
    note_opening(request)
    rows = found.select_related("loan__horn", "loan__pupil", "loan__guardian").order_by("due_on", "pk")
    return _answer(request, "charges", CHARGES, rows)


def jobs_out(request: SeatedRequest) -> HttpResponseBase:
    """Repair jobs as the bench shows them: open ones in their turn, closed ones the newest first."""
    school = request.seat.school
    state, technician = BenchFilter(request.GET).asked(request.user)
    jobs = RepairJob.objects.at(school).select_related("horn__place", "technician").prefetch_related("findings")
    rows: Iterable[RepairJob]
    if state in RepairJob.OPEN or not state:
        keys = in_turn(school, state=state, technician_id=technician)
        found = jobs.in_bulk(keys)
        rows = [found[key] for key in keys if key in found]
    else:
        jobs = jobs.filter(state=state).order_by("-closed_at", "-pk")
        if technician is not None:
            jobs = jobs.filter(technician_id=technician or None)
        rows = jobs.iterator(chunk_size=CHUNK)
    return _named(request, "jobs", JOBS, rows)


def parts_out(request: SeatedRequest) -> HttpResponseBase:
    return _answer(request, "parts", PARTS, Part.objects.at(request.seat.school).order_by(Lower("name"), "pk"))


def orders_out(request: SeatedRequest) -> HttpResponseBase:
    """What is to be ordered, supplier by supplier."""
    rows = (part for _, parts in by_supplier(Part.objects.at(request.seat.school).to_order()) for part in parts)
    return _named(request, "orders", ORDERS, rows)


def _answer(request: SeatedRequest, name: str, columns: Iterable[Out], rows: QuerySet[Any]) -> HttpResponseBase:
    return _named(request, name, columns, rows.iterator(chunk_size=CHUNK))


def _named(request: SeatedRequest, name: str, columns: Iterable[Out], rows: Iterable[Any]) -> HttpResponseBase:
    file = f"{name}-{request.seat.school.slug}-{request.today:%Y-%m-%d}"
    return as_file(request.GET.get("as", "xlsx"), file, name, columns, rows)
