"""What is done every night: names taken out after their time, schools closed, things tidied; or said, without --do."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.desk.actions.forgetting import forget, to_forget, would
from fleet.desk.actions.tidying import litter, tidy
from fleet.exchange.actions.closing import close_school, to_close
from fleet.exchange.actions.old_lists import forget_old, would_forget
from fleet.ground.refusal import Refused
from fleet.people.models import School
from fleet.record.actions.emptying import empty_old


class Command(BaseCommand):
    help = (
        "Replaces names of pupils who left long ago by tags, and removes what nobody needs any more: lists brought in, "
        "ended sessions, old counters, files half written, pictures without a record. "
        "Closes the schools that two heads agreed to close. Without --do it only says what it would do."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--do", action="store_true", help="do it; it cannot be undone")
        parser.add_argument("--school", help="the school's part of the address; all schools without it")

    def handle(self, *args: Any, **options: Any) -> None:
        schools = School.objects.order_by("pk")
        if options["school"]:
            schools = schools.filter(slug=options["school"])
            if not schools:
                raise CommandError(f"There is no school {options['school']!r}.")
        now = timezone.now()
        count = 0
        for school in to_close(at=now):
            if options["do"]:
                self._close(school, now)
            else:
                self.stdout.write(f"{school.slug}: would be closed")
        for school in schools:
            for pupil in to_forget(school, timezone.localdate(now, school.zone)):
                told = f"{school.slug}: pupil {pupil.pk}, left {pupil.left_on}"
                try:
                    what = forget(pupil=pupil, by=None, at=now) if options["do"] else would(pupil)
                except Refused as no:
                    self.stdout.write(f"{told}: kept. {no.sentence}")
                    continue
                count += 1
                self.stdout.write(f"{told}, {what.loans} loans, {len(what.guardians)} guardians with no other pupil")
                if what.photographs:
                    self.stdout.write(f"  look for a name in {what.photographs} photographs of their horns")
            lists, rows = (forget_old if options["do"] else would_forget)(school=school, at=now)
            if lists or rows:
                done = "removed" if options["do"] else "would be removed"
                self.stdout.write(
                    f"{school.slug}: {lists} lists brought in and never written, and the rows of {rows} written ones, "
                    f"{done}"
                )
        if not options["school"] and (lying := str((tidy if options["do"] else litter)(at=now))):
            self.stdout.write(f"{lying}: {'removed' if options['do'] else 'would be removed'}")
        if options["do"] and (acts := empty_old(at=now)):
            self.stdout.write(f"{acts} acts of the record are older than names are kept there: names taken out.")
        verb = "forgotten" if options["do"] else "would be forgotten; run with --do to do it"
        self.stdout.write(f"{count} pupils {verb}." if count or options["do"] else "Nobody is due to be forgotten.")
        if count:
            self.stdout.write("Left as they are: photographs of the horns, printed sheets, backups, exported files.")

    def _close(self, school: School, now: datetime) -> None:
        try:
            file = close_school(school=school, at=now)
        except (Refused, OSError) as trouble:
            self.stdout.write(f"{school.slug}: not closed. {trouble}")
            return
        self.stdout.write(f"{school.slug}: closed. All it had is in {file}: hand it over, then delete it.")
