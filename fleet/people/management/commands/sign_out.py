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
        one = None if options["everybody"] else User.objects.of_address(options["of"])
        if one is None and not options["everybody"]:
            raise CommandError(f"--of: there is no account with the address {options['of']}.")
        for person in [one] if one else User.objects.order_by("pk"):
            end_sessions(user=person, by=None, at=timezone.now())
        self.stdout.write(f"Signed out: {one or 'everybody'}.")
