"""For whoever runs the site: a phone was stolen with somebody signed in, or nobody knows who is."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.people.actions.accounts import end_sessions
from fleet.people.models import User


class Command(BaseCommand):
    help = "End every session of one person, or of everybody; they sign in anew."

    def add_arguments(self, parser: CommandParser) -> None:
        who = parser.add_mutually_exclusive_group(required=True)
        who.add_argument("--of", metavar="EMAIL", help="the address of the account")
        who.add_argument("--everybody", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        people = list(User.objects.order_by("pk") if options["everybody"] else self._of(options["of"]))
        for person in people:
            end_sessions(user=person, by=None, at=timezone.now())
        self.stdout.write(f"Signed out: {'everybody' if options['everybody'] else people[0]}.")

    def _of(self, email: str) -> list[User]:
        found = User.objects.filter(email__iexact=email)[:1]
        if not found:
            raise CommandError(f"--of: there is no account with the address {email}.")
        return list(found)
