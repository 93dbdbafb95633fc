"""What happens at the bench of the demo school: jobs with their parts, care, a repairer outside."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from fleet.desk.actions.demo_school import DemoSchool
from fleet.register.models import Horn
from fleet.workshop.actions.care import care_for
from fleet.workshop.actions.jobs import Work, change_job, open_job
from fleet.workshop.actions.outside import Outside, approve, change_outside
from fleet.workshop.actions.parts import save_part, use_part
from fleet.workshop.actions.reports import answer_report, report_fault
from fleet.workshop.models import ConditionCheck, Finding, Part, RepairJob
from fleet.workshop.models.care import Care

BENCH = "technician@demo.example"


def keep_part(demo: DemoSchool, plan: dict[str, Any]) -> None:
    told = {name: value for name, value in plan.items() if name != "days"}
    part = Part(school=demo.school, **{**told, "cost": Decimal(plan["cost"])})
    save_part(part=part, was=None, by=demo.person(BENCH), at=demo.day(plan["days"]))


def find_faults(demo: DemoSchool, plan: dict[str, Any]) -> None:
    demo.check(demo.horns[plan["horn"]], plan["days"], ConditionCheck.Occasion.OTHER, tuple(plan["faults"]))


def mend(demo: DemoSchool, plan: dict[str, Any]) -> None:
    horn, days, bench = demo.horns[plan["horn"]], plan["days"], demo.person(BENCH)
    look = demo.check(horn, days, ConditionCheck.Occasion.OTHER, tuple(plan["faults"]))
    job = _job(demo, horn, days)
    look.findings.update(job=job)
    for name, count in plan.get("parts", {}).items():
        part = Part.objects.get(school=demo.school, name=name)
        use_part(job=job, part=part, count=count, by=bench, at=demo.day(days + 3))
    cost = Decimal(plan["cost"]) if "cost" in plan else None
    work = Work(state=RepairJob.State.DONE, technician=bench, minutes=plan["minutes"], cost=cost)
    change_job(job=job, by=bench, at=demo.day(days + 4), seen=_newest_step(job), work=work)
    demo.check(horn, days + 4, ConditionCheck.Occasion.AFTER_REPAIR)


def begin(demo: DemoSchool, plan: dict[str, Any]) -> None:
    """Work is begun: on a horn of the cupboard, or on one whose family brought it."""
    horn, at, bench = demo.horns[plan["horn"]], demo.day(plan["days"]), demo.person(BENCH)
    job = open_job(horn=horn, by=bench, at=at, work_ordered=plan["ordered"])
    work = Work(state=RepairJob.State.BENCH, technician=bench, work_ordered=plan["ordered"])
    change_job(job=job, by=bench, at=at, seen=_newest_step(job), work=work, brought=True)


def mend_outside(demo: DemoSchool, plan: dict[str, Any]) -> None:
    """A repairer names a price; with a day of sending, a head agrees to it first and then the horn goes."""
    horn, days, bench = demo.horns[plan["horn"]], plan["days"], demo.person(BENCH)
    job = _job(demo, horn, days)
    asked = Outside(repairer=plan["repairer"], quote=Decimal(plan["quote"]))
    change_outside(job=job, by=bench, at=demo.day(days), seen=_newest_step(job), said=asked)
    if "sent" not in plan:
        return
    approve(job=job, by=demo.head, at=demo.day(days + 1), amount=asked.quote or Decimal())
    sent = Outside(asked.repairer, asked.quote, demo.on(plan["sent"]), demo.on(plan["expected"]))
    change_outside(job=job, by=bench, at=demo.day(plan["sent"]), seen=_newest_step(job), said=sent)


def _job(demo: DemoSchool, horn: Horn, days: int) -> RepairJob:
    """A fault that stops a horn has opened its job by itself; the lighter ones are mended with it."""
    found = Finding.objects.filter(check_made__horn=horn, mended_at=None)
    there = horn.jobs.filter(closed_at=None).first()
    return there or open_job(horn=horn, by=demo.person(BENCH), at=demo.day(days), findings=found)


def _newest_step(job: RepairJob) -> int:
    return job.steps.order_by("-pk").values_list("pk", flat=True).first() or 0


def care(demo: DemoSchool, plan: dict[str, Any]) -> None:
    horns = [demo.horns[serial].pk for serial in plan["horns"]]
    kind, bench = Care.Kind(plan["kind"]), demo.person(BENCH)
    care_for(horns=horns, kind=kind, school=demo.school, by=bench, at=demo.day(plan["days"]))


def report(demo: DemoSchool, plan: dict[str, Any]) -> None:
    loan, at = demo.loan(plan["horn"]), demo.day(plan["days"])
    by, said = demo.person(plan["by"]), {"words": plan["words"], "still_plays": plan["still_plays"]}
    made = report_fault(horn=loan.horn, pupil=loan.pupil, by=by, at=at, **said)
    if "answer" in plan:
        answer_report(report=made, by=demo.person(BENCH), at=at, answer=plan["answer"], to_bench=False)
