"""Takes in one message from the mail server: a report that a letter came back (RFC 3464). Made for a pipe."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from fleet.letters.actions.bounces import take

# A report returns at most the letter, and ours are short.
MOST = 5_000_000
# By this code (EX_TEMPFAIL of sysexits.h) a mail server keeps the report and tries again.
KEEP_IT = 75


class Command(BaseCommand):
    help = "Reads a message from standard input. Letters it reports as not delivered then stand on Today."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            marked = take(raw=sys.stdin.buffer.read(MOST), at=timezone.now())
        except DatabaseError as trouble:
            raise CommandError(f"The database does not answer: {trouble}".strip(), returncode=KEEP_IT) from trouble
        # A pipe that fails would itself bounce, so whatever else comes in is only said to be none of ours.
        self.stdout.write(f"{len(marked)} letter{'' if len(marked) == 1 else 's'} came back.")
