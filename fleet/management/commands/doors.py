"""Prints the table of doors: each page, who reads it and who changes something through it."""

from typing import Any

from django.core.management.base import BaseCommand

from fleet.ground.access import DOORS, OPEN, OWN_ACCOUNT, Role

ORDER = (Role.HEAD, Role.SERVICE, Role.TEACHER, Role.TECHNICIAN, Role.GUARDIAN)


def _words(roles: frozenset[Role]) -> str:
    return ", ".join(role.value for role in ORDER if role in roles) or "nobody"


class Command(BaseCommand):
    help = "Print who may read each page and who may change something through it, as a table in Markdown."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        rows = [("page", "reads", "changes")]
        rows += [(f"`{name}`", _words(door.read), _words(door.write)) for name, door in DOORS.items()]
        rows += [(f"`{name}`", "everybody", "everybody") for name in sorted(OPEN)]
        rows += [(f"`{name}`", "who has signed in, for themselves", "the same") for name in sorted(OWN_ACCOUNT)]
        widths = [max(len(row[place]) for row in rows) for place in range(3)]
        rows.insert(1, ("-" * widths[0], "-" * widths[1], "-" * widths[2]))
        for row in rows:
            self.stdout.write(f"| {' | '.join(word.ljust(wide) for word, wide in zip(row, widths, strict=True))} |")
