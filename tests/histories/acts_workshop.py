"""What is done at the bench and with the repairer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from functools import partial

from hypothesis import strategies as st

from fleet.workshop.actions import agreed, billing, brought, care, checking, jobs, labour, outside, parts, reports
from fleet.workshop.actions import mended_now as on_the_spot
from fleet.workshop.actions.checking import Found
from fleet.workshop.actions.jobs import Work
from fleet.workshop.actions.outside import Outside
from fleet.workshop.models import FaultReport, Finding, RepairJob
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.agreed import beside
from fleet.workshop.queries.condition import latest_check
from tests.histories.world import DAYS, WHICH, Deed, World, act, as_family, guardian_of

# A fault after which the test note is sounded, one to be mended first, one that stops the horn, one to watch.
FAULTS = [
    ("strung-for-other-stand", "r"),
    ("string-broken", "r"),
    ("thumb-string-slipped", "x"),
    ("rotor-leaking", "w"),
]
SEEN = st.lists(st.sampled_from(FAULTS), max_size=2, unique=True) | st.just([])


@act(4, horn=WHICH, found=SEEN, hours_ago=st.sampled_from([0, 0, 0, 2, 30]))
def check(world: World, horn: int, found: Sequence[tuple[str, str]], hours_ago: int) -> Deed:
    return partial(
        checking.log_check,
        horn=world.horn(horn),
        by=world.technician,
        at=world.tick() - timedelta(hours=hours_ago),
        occasion="other",
        finish_grade=2,
        found=[Found(fault, severity) for fault, severity in found],
    )


@act(horn=WHICH)
def check_as_before(world: World, horn: int) -> Deed | None:
    of = world.horn(horn)
    last = latest_check(of)
    if last is None:
        return None
    return partial(checking.check_as_before, horn=of, by=world.teacher, at=world.tick(), occasion="other", seen=last.pk)


@act(horn=WHICH)
def check_all_fine(world: World, horn: int) -> Deed:
    of = world.horn(horn)
    last = latest_check(of)
    said = {"seen": last.pk if last else 0, "finish_grade": None if last else 2, "occasion": "other"}
    return partial(checking.check_all_fine, horn=of, by=world.teacher, at=world.tick(), **said)


@act(2, horn=WHICH, fault=st.sampled_from(["string-broken", "strung-for-other-stand"]))
def mended_now(world: World, horn: int, fault: str) -> Deed | None:
    of = world.horn(horn)
    last = latest_check(of)
    said = {"fault": fault, "seen": last.pk if last else 0, "by": world.teacher, "at": world.tick()}
    return partial(on_the_spot.mended_now, horn=of, minutes=15, **said)


@act(horn=WHICH, with_faults=st.booleans())
def open_a_job(world: World, horn: int, with_faults: bool) -> Deed:
    of = world.horn(horn)
    known = list(Finding.objects.filter(check_made__horn=of, mended_at=None)) if with_faults else []
    return partial(jobs.open_job, horn=of, by=world.technician, at=world.tick(), findings=known, notes="Look at it")


@act(4, horn=WHICH, state=st.sampled_from([*RepairJob.State.values, "done"]), cost=st.sampled_from([None, 20, 200]))
def change_the_job(world: World, horn: int, state: str, cost: int | None) -> Deed | None:
    job = world.job(horn)
    if job is None:
        return None
    work = Work(state=state, technician=world.technician, cost=None if cost is None else Decimal(cost))
    return partial(jobs.change_job, job=job, by=world.technician, at=world.tick(), seen=_newest_step(job), work=work)


@act(2, horn=WHICH, state=st.sampled_from(["bench", "parts", "done", "brought", "brought"]))
def tap_the_job(world: World, horn: int, state: str) -> Deed | None:
    job = world.job(horn)
    if job is None:
        return None
    return partial(jobs.move_job, job=job, by=world.technician, at=world.tick(), seen=_newest_step(job), state=state)


@act(horn=WHICH, days=st.sampled_from([None, 2]), fetch=st.booleans())
def tell_the_family(world: World, horn: int, days: int | None, fetch: bool) -> Deed | None:
    job = world.job(horn)
    if job is None:
        return None
    asked = None if days is None else world.today + timedelta(days=days)
    said = brought.ForTheFamily(bring_on=asked, fetch_on=world.today + timedelta(days=5) if fetch else None)
    return partial(brought.tell_family, job=job, said=said, by=world.technician, at=world.tick())


@act(2, horn=WHICH)
def fetch_it(world: World, horn: int) -> Deed | None:
    job = world.horn(horn).jobs.order_by("-pk").first()
    return partial(brought.fetched, job=job, by=world.teacher, at=world.tick()) if job else None


@act(
    4,
    horn=WHICH,
    repairer=st.sampled_from(["Vale Workshop", "Hill Workshop"]),
    quote=st.sampled_from([None, 50, 150]),
    went=st.booleans(),
    came_back=st.booleans(),
    days_ago=DAYS,
)
def say_of_the_repairer(
    world: World, horn: int, repairer: str, quote: int | None, went: bool, came_back: bool, days_ago: int
) -> Deed | None:
    job = world.job(horn)
    if job is None:
        return None
    sent_on = (job.sent_on or world.today - timedelta(days=days_ago)) if went else None
    said = Outside(
        repairer=repairer,
        quote=None if quote is None else Decimal(quote),
        sent_on=sent_on,
        back_on=world.today if sent_on and came_back else None,
    )
    return partial(
        outside.change_outside, job=job, by=world.technician, at=world.tick(), seen=_newest_step(job), said=said
    )


@act(1, horn=WHICH, work=st.sampled_from(["overhaul", "restring-all"]), drop=st.booleans())
def a_work(world: World, horn: int, work: str, drop: bool) -> Deed | None:
    job = world.job(horn)
    do = labour.drop_work if drop else labour.order_work
    return partial(do, job=job, work=work, by=world.technician, at=world.tick()) if job else None


@act(2, horn=WHICH, start=st.booleans())
def the_clock(world: World, horn: int, start: bool) -> Deed | None:
    job = world.job(horn)
    do = labour.start_clock if start else labour.stop_clock
    return partial(do, job=job, by=world.technician, at=world.tick()) if job else None


@act(2, horn=WHICH, back=st.booleans())
def a_part(world: World, horn: int, back: bool) -> Deed | None:
    job, part = world.job(horn), world.school.parts.get()
    who = {"job": job, "by": world.technician, "at": world.tick()}
    there = job.parts_used.first() if job else None
    if back:
        return partial(parts.put_back, used=there.pk, **who) if there else None
    return partial(parts.use_part, part=part, count=1, **who) if job else None


@act(2, pieces=st.integers(0, 2), mends=st.sampled_from([["string-broken"], ["rotor-leaking", "string-broken"], []]))
def the_stock(world: World, pieces: int, mends: list[str]) -> Deed:
    part = world.school.parts.get()
    was, part.on_hand, part.mends = part.on_hand, pieces, mends
    return partial(parts.save_part, part=part, was=was, by=world.technician, at=world.tick())


@act(1, price=st.sampled_from([None, 20, 200]))
def a_price(world: World, price: int | None) -> Deed:
    prices = {"overhaul": (None, None if price is None else Decimal(price))}
    return partial(labour.set_prices, school=world.school, prices=prices, by=world.technician, at=world.tick())


@act(1, horn=WHICH, amount=st.sampled_from([20, 200]), remove=st.booleans(), number=st.sampled_from(["", "R-1"]))
def an_invoice(world: World, horn: int, amount: int, remove: bool, number: str) -> Deed | None:
    job = world.horn(horn).jobs.order_by("-pk").first()
    there = job.invoices.first() if job else None
    who = {"job": job, "by": world.technician, "at": world.tick()}
    if remove:
        return partial(billing.remove_invoice, invoice=there.pk, **who) if there else None
    return partial(billing.keep_invoice, amount=Decimal(amount), number=number, **who) if job else None


@act(2, horn=WHICH, said=st.sampled_from(["done", "not-done", "open"]), of=st.integers(0, 2))
def settle_a_fault(world: World, horn: int, said: str, of: int) -> Deed | None:
    job = world.job(horn)
    faults = sorted({one.fault for one in job.findings.all()}) if job else []
    if job is None or not faults:
        return None
    who = {"by": world.technician, "at": world.tick()}
    return partial(agreed.settle, job=job, fault=faults[of % len(faults)], said=said, why="Not worth it", **who)


@act(1, horn=WHICH, first=st.booleans())
def take_in_what_else_is_wrong(world: World, horn: int, first: bool) -> Deed | None:
    job = world.job(horn)
    faults = [one.fault for one in beside(job)] if job else []
    who = {"by": world.technician, "at": world.tick()}
    return partial(agreed.take_in, job=job, faults=faults[:1] if first else faults, **who) if faults else None


@act(1, horn=WHICH, take=st.booleans())
def another_quote(world: World, horn: int, take: bool) -> Deed | None:
    job = world.job(horn)
    if job is None:
        return None
    who = {"job": job, "by": world.technician, "at": world.tick()}
    there = job.other_quotes.first()
    if there is None:
        return partial(agreed.add_quote, repairer="Mill Workshop", amount=Decimal(70), **who)
    return partial(agreed.take_quote if take else agreed.drop_quote, quote=there.pk, **who)


@act(horn=WHICH)
def approve(world: World, horn: int) -> Deed | None:
    job = world.job(horn)
    if job is None or job.asked is None:
        return None
    return partial(outside.approve, job=job, by=world.heads[0], at=world.tick(), amount=job.asked)


@act(horn=WHICH)
def report_a_fault(world: World, horn: int) -> Deed | None:
    loan = world.loan(horn)
    adult = guardian_of(loan.pupil) if loan is not None and loan.returned_on is None else None
    if loan is None or adult is None or adult.user is None:
        return None
    said = {"words": "The third valve sticks.", "still_plays": True, "by": adult.user, "at": world.tick()}
    return as_family(adult.user, partial(reports.report_fault, horn=loan.horn, pupil=loan.pupil, **said))


@act(horn=WHICH, to_bench=st.booleans())
def answer_the_report(world: World, horn: int, to_bench: bool) -> Deed | None:
    report = FaultReport.objects.filter(horn=world.horn(horn)).order_by("-pk").first()
    if report is None:
        return None
    return partial(
        reports.answer_report,
        report=report,
        by=world.technician,
        at=world.tick(),
        answer="" if to_bench else "Bring it along.",
        to_bench=to_bench,
    )


@act(1, horn=WHICH)
def take_back_the_report(world: World, horn: int) -> Deed | None:
    report = FaultReport.objects.filter(horn=world.horn(horn)).order_by("-pk").first()
    if report is None:
        return None
    return as_family(report.by, partial(reports.take_back_report, report=report, by=report.by, at=world.tick()))


@act(1, horn=WHICH, kind=st.sampled_from(list(Kind)))
def care_for(world: World, horn: int, kind: Kind) -> Deed:
    return partial(
        care.care_for,
        horns=[world.horn(horn).pk],
        kind=kind,
        school=world.school,
        by=world.technician,
        at=world.tick(),
    )


@act(1, kind=st.sampled_from(list(Kind)))
def take_care_back(world: World, kind: Kind) -> Deed:
    return partial(care.take_back_care, of=kind, school=world.school, by=world.technician, at=world.tick())


def _newest_step(job: RepairJob) -> int:
    return job.steps.order_by("-pk").values_list("pk", flat=True).first() or 0
