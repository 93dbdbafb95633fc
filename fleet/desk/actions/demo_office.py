"""What the office of the demo school does: lists brought in, horns given up, counts."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO
from typing import Any

from fleet.desk.actions.demo_counts import count_as_told
from fleet.desk.actions.demo_school import DemoSchool
from fleet.exchange.actions.imports import begin_writing, look_over_next, match_columns, take_in, write_next
from fleet.register.actions.disposing import decide, propose


def count(demo: DemoSchool, plan: dict[str, Any]) -> None:
    count_as_told(plan, school=demo.school, horns=demo.horns, began=demo.day(plan["days"]))


def bring_in(demo: DemoSchool, plan: dict[str, Any]) -> None:
    by, at = demo.head, demo.day(plan["days"])
    rows = "\n".join(plan["rows"]).format_map({name: demo.on(days) for name, days in plan["on"].items()})
    file = BytesIO(rows.encode())
    brought = take_in(school=demo.school, kind=plan["kind"], file=file, name=plan["name"], by=by, at=at)
    match_columns(imported=brought, columns=brought.columns, day_first=brought.day_first)
    look_over_next(imported=brought, at=at)
    begin_writing(imported=brought)
    while write_next(imported=brought, by=by, at=at):
        pass


def give_up(demo: DemoSchool, plan: dict[str, Any]) -> None:
    """Proposed; with a `decided` agreed to by the service head."""
    price = Decimal(plan["price"]) if "price" in plan else None
    proposed = propose(
        horn=demo.horns[plan["horn"]],
        method=plan["method"],
        on=demo.on(plan["on"]),
        reason=plan["reason"],
        buyer=plan.get("buyer", ""),
        price=price,
        by=demo.person(plan["by"]),
        at=demo.day(plan["days"]),
    )
    if "decided" in plan:
        second = demo.person("service@demo.example")
        decide(disposal=proposed, approved=True, by=second, at=demo.day(plan["decided"]))
