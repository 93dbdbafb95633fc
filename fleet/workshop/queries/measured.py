"""How what was measured at a horn moved from check to check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from fleet.register.models import Horn
from fleet.workshop.models import Finding


def with_measured_before(horn: Horn, findings: Iterable[Finding], *, until: datetime) -> None:
    """Gives each finding `measured_before`: what was measured of it until then at one of the same places, the newest
    first. A figure that checks took over as before stands once, with the day of the first. One query, none where
    nothing can be measured."""
    measurable = [one for one in findings if one.entry.measure]
    if not measurable:
        return
    asked = {one.fault: set(one.places) for one in measurable}
    moved: dict[str, list[Finding]] = defaultdict(list)
    then = Finding.objects.filter(
        check_made__horn=horn, check_made__at__lt=until, fault__in=asked, measured__isnull=False
    ).select_related("check_made")
    for one in then.order_by("-check_made__at", "-pk"):
        here = asked[one.fault]
        if not here or not one.places or here & set(one.places):
            moved[one.fault].append(one)
    for one in measurable:
        one.measured_before = _changes(one, moved[one.fault])  # type: ignore[attr-defined]


def _changes(now: Finding, before: list[Finding]) -> list[Finding]:
    changes = [now]
    for one in before:
        if one.measured != changes[-1].measured:
            changes.append(one)
        elif len(changes) > 1:
            changes[-1] = one
    return changes[1:]
