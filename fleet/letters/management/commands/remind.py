"""Sends the letters of the day. Made for cron: may run at any time, twice, or late."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.letters.actions.reminding import remind
from fleet.letters.models import Letter
from fleet.letters.models.letters import occasion_in_words
from fleet.letters.models.rules import TO_SIGN
from fleet.letters.queries.due import due_letters, unwritten, written
from fleet.letters.queries.rules import rules_of
from fleet.mail.queries import has_server
from fleet.people.models import School


class Command(BaseCommand):
    help = "Sends guardians the letters that are due: before and after the due date, and for recalled horns."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--school", help="the school's part of the address; all schools without it")
        parser.add_argument("--show", action="store_true", help="only say which letters would be due")

    def handle(self, *args: Any, **options: Any) -> None:
        schools = list(School.objects.order_by("pk"))
        if options["school"]:
            schools = [one for one in schools if one.slug == options["school"]]
            if not schools:
                raise CommandError(f"There is no school {options['school']!r}.")
        now = timezone.now()
        if options["show"]:
            for school in schools:
                with timezone.override(school.zone):
                    self._show(school, timezone.localdate(now))
            return
        if not has_server():
            raise CommandError("No mail server is set, so nothing was sent: name one with HORN_MAIL_HOST.")
        told = remind(schools=schools, now=now)
        said = [f"{count} {what}" for what, count in told.in_words]
        if said or not told.server_trouble:
            self.stdout.write("; ".join(said) + "." if said else "No letter was due.")
        if told.server_trouble:
            left = Letter.objects.filter(state=Letter.State.WAITING, guardian__school__in=schools).count()
            wait = "1 letter waits" if left == 1 else f"{left} letters wait"
            raise CommandError(f"The mail server is away ({told.server_trouble}); {wait} for the next run.")

    def _show(self, school: School, today: Any) -> None:
        for loan, occasion in due_letters(school, rules_of(school), today):
            if written(loan, occasion) is None:
                self.stdout.write(f"{school.slug}, loan {loan.pk}: {occasion_in_words(occasion)}")
        for one in unwritten(school, today):
            self.stdout.write(f"{school.slug}, agreement {one.pk}: {occasion_in_words(TO_SIGN)}")
