"""Holds what the horns say about their holders against the loans, and says where they differ."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.db.models import F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from fleet.loans.models import Loan
from fleet.register.models import Horn


class Command(BaseCommand):
    help = "Compares each horn's holder and due date with its open loan. Prints the differences; exits 1 if any."

    def handle(self, *args: Any, **options: Any) -> None:
        open_loan = Loan.objects.open().filter(horn=OuterRef("pk"))
        horns = Horn.objects.select_related("school").annotate(
            pupil_name=Coalesce(Subquery(open_loan.values("pupil__name")[:1]), Value("")),
            loan_due=Subquery(open_loan.values("due_on")[:1]),
        )
        differing = horns.filter(
            ~Q(holder_name=F("pupil_name"))
            | Q(due_on__isnull=True, loan_due__isnull=False)
            | Q(due_on__isnull=False, loan_due__isnull=True)
            | ~Q(due_on=F("loan_due"))
        ).order_by("school_id", "number", "pk")
        count = 0
        for horn in differing.iterator():
            count += 1
            self.stdout.write(
                f"{horn.school} {horn}: the horn says {_said(horn.holder_name, horn.due_on)}, "
                f"the loans say {_said(horn.pupil_name, horn.loan_due)}."
            )
        if count:
            self.stdout.write(f"{count} of {Horn.objects.count()} horns differ from their loans.")
            sys.exit(1)
        self.stdout.write(f"{Horn.objects.count()} horns agree with their loans.")


def _said(holder: str, due: object) -> str:
    return f"{holder} until {due}" if holder else "nobody has it"
