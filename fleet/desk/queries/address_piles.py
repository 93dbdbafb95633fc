"""What a head has to look into about the addresses of families: changed by nobody of theirs, or taken by no server."""

from __future__ import annotations

from django.utils import timezone

from fleet.desk.queries.piles import ASKED_FOR, Day, Pile, Task
from fleet.mail.queries import refused
from fleet.people.models import Guardian
from fleet.people.queries.objections import objected


def objections(day: Day) -> Pile:
    """Changes of a guardian's address of which the address before said that they were not its own."""
    tasks = [
        Task(
            what=f"{one.guardian.name}: the e-mail address",
            address=day.seat.here("people:guardian-edit", one.guardian_id),
            why="was changed, and whoever had the one before says: not by me",
            when=timezone.localdate(one.objected_at),
            late=True,
        )
        for one in objected(day.seat.school).order_by("objected_at", "pk")[:ASKED_FOR]
    ]
    return Pile("Addresses that families did not change", tasks)


def refusing(day: Day) -> Pile:
    """Guardians at whose address the mail server refused a letter in these days: codes for signing in among them.

    Their addresses are looked at only where the server refused anything, else it is one query.
    """
    guardians = Guardian.objects.filter(school=day.seat.school).exclude(email="")
    found = refused(guardians.values_list("email", flat=True))
    tasks = [
        Task(
            what=f"{one.name}: the e-mail address",
            address=day.seat.here("people:guardian-edit", one.pk),
            why="takes no letters, nor codes for signing in: ask how it is written",
        )
        for one in (guardians.filter(email__in=found).order_by("name", "pk")[:ASKED_FOR] if found else ())
    ]
    return Pile("Addresses that take no letters", tasks)
