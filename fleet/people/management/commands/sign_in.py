"""For whoever runs the site: the accounts a school comes in with are gone, or let nobody in."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.people.actions.schools import change_sign_in
from fleet.people.models import School


class Command(BaseCommand):
    help = "Let the staff of a school sign in as they like again, once you are sure who asks for it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--freely", required=True, metavar="SCHOOL", help="the school’s part of the address")

    def handle(self, *args: Any, **options: Any) -> None:
        school = School.objects.filter(slug=options["freely"]).first()
        if school is None:
            raise CommandError(f"--freely: there is no school at /s/{options['freely']}/.")
        if not school.sign_in_by:
            raise CommandError(f"--freely: the staff of {school} sign in as they like already.")
        change_sign_in(school=school, issuer="", came_by=(), by=None, at=timezone.now())
        self.stdout.write(f"The staff of {school} sign in as they like again. Tell them.")
