"""Proves that nobody changed, removed or slipped in an act of the record, and says where somebody did."""

from __future__ import annotations

import sys
from typing import Any

from django.apps import apps
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.record.actions.sealing import seal_all
from fleet.record.models import Chain
from fleet.record.queries.proving import Proof, proof_of

SHOWN = 16


class Command(BaseCommand):
    help = (
        "Proves the record of acts of each school and of the site. Exits 1 where an act was changed, removed or put "
        "there. Write the last number and seal down elsewhere, and give them with --known later: that also shows a "
        "record made anew from end to end."
    )
    # Its own check of the data is the check; those of the code would first read every page.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--school", help="the school's part of the address; all of them, and the site, without it")
        parser.add_argument("--known", help="NUMBER:SEAL of an act, as this command printed it; with --school")

    def handle(self, *args: Any, **options: Any) -> None:
        schools: Any = apps.get_model("people", "School").objects.order_by("pk")
        if options["school"]:
            schools = schools.filter(slug=options["school"])
            if not schools:
                raise CommandError(f"There is no school {options['school']!r}.")
        known = _known(options["known"]) if options["known"] else None
        if known and not options["school"]:
            raise CommandError("Say with --school whose act is known.")
        seal_all()
        proofs = [(school.slug, proof_of(school.pk, known=known)) for school in schools]
        if not options["school"] and Chain.objects.filter(school=None).exists():
            proofs.append(("the site", proof_of(None)))
        for name, proof in proofs:
            self._say(name, proof)
        if any(proof.wrong for _, proof in proofs):
            sys.exit(1)

    def _say(self, name: str, proof: Proof) -> None:
        for sentence in proof.wrong:
            self.stdout.write(f"{name}: {sentence}")
        if not proof.wrong:
            emptied = f", {proof.emptied} of them with names taken out" if proof.emptied else ""
            last = f" The last is {proof.acts}:{proof.seal[:SHOWN]}." if proof.acts else ""
            self.stdout.write(f"{name}: all {proof.acts} acts are as they were sealed{emptied}.{last}")


def _known(said: str) -> tuple[int, str]:
    number, _, seal = said.partition(":")
    if not number.isdecimal() or len(seal) < SHOWN:
        raise CommandError("--known takes NUMBER:SEAL as this command printed it.")
    return int(number), seal
