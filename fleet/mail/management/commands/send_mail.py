"""Sends what waits for the mail server. Made for cron: may run at any time, twice, or late."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.mail.actions.posting import post
from fleet.mail.queries import has_server


class Command(BaseCommand):
    help = "Send the codes and notices that the mail server did not take at once."

    def handle(self, *args: Any, **options: Any) -> None:
        if not has_server():
            raise CommandError("No mail server is set, so nothing was sent: name one with HORN_MAIL_HOST.")
        told = post(at=timezone.now())
        # Cron writes a letter of its own about every line.
        if told.given_up or options["verbosity"] > 1:
            self.stdout.write(f"{told.sent} sent, {told.given_up} given up.")
        if told.trouble:
            raise CommandError(f"The mail server is away ({told.trouble}); what waits goes with the next run.")
