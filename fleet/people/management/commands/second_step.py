"""For whoever runs the site: somebody's phone is lost, and the recovery codes with it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.people.actions.accounts import second_step_off
from fleet.people.models import User


class Command(BaseCommand):
    help = "Switch somebody's second step off and end their sessions, once you are sure who asks for it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--off", required=True, metavar="EMAIL", help="the address of the account")

    def handle(self, *args: Any, **options: Any) -> None:
        person = User.objects.of_address(options["off"])
        if person is None:
            raise CommandError(f"--off: there is no account with the address {options['off']}.")
        if not second_step_off(user=person, at=timezone.now()):
            raise CommandError(f"--off: {person} has no second step.")
        self.stdout.write(f"The second step of {person} is off; their sessions are over. Tell them.")
