"""Holds what the horns say about their holders against the loans, and says where they differ."""

from __future__ import annotations

import sys
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand
from django.db.models import Exists, OuterRef, Q

from fleet.lending.models import Loan
from fleet.register.models import Horn


class Command(BaseCommand):
    help = "Compares each horn's holder and due date with its open loan. Prints the differences; exits 1 if any."

    def handle(self, *args: Any, **options: Any) -> None:
        told = {
            horn: (name, due) for horn, name, due in Loan.objects.open().values_list("horn_id", "pupil__name", "due_on")
        }
        out = Exists(Loan.objects.open().filter(horn=OuterRef("pk")))
        horns = Horn.objects.filter(~Q(holder_name="") | Q(due_on__isnull=False) | out)
        count = 0
        for horn in horns.select_related("school").order_by("school_id", "number", "pk").iterator():
            says, loans_say = (horn.holder_name, horn.due_on), told.get(horn.pk, ("", None))
            if says != loans_say:
                count += 1
                self.stdout.write(
                    f"{horn.school}, {horn}: the horn says {_said(*says)}; the loans say {_said(*loans_say)}."
                )
        if count:
            self.stdout.write(f"{count} of {Horn.objects.count()} horns differ from their loans.")
            sys.exit(1)
        self.stdout.write(f"All {Horn.objects.count()} horns agree with their loans.")


def _said(holder: str, due: date | None) -> str:
    if not holder:
        return "nobody has it" + (f", due {due}" if due else "")
    return f"{holder} has it until {due}"
