"""Measures the hearing: pitch on rendered notes beside other finders, the tube from open notes, claims
checked.
"""

import argparse
import os
import tempfile
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from identify.core.hearing.open_notes import SCHOOL_MIX
from identify.core.hearing.weights import WEIGHTS
from tests.bench.chance import short
from tests.bench.hearing import clips, others, players, render, report
from tests.bench.hearing.tune import tune

ENOUGH = 500  # clips or trials from which a target can be called missed


class Command(BaseCommand):
    help = "Measures how well notes are heard. Needs fluidsynth and sound fonts from Debian's packages."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--clips", type=int, default=100, help="steady notes a font (default: %(default)s)")
        parser.add_argument("--seed", type=int, default=2026)
        parser.add_argument(
            "--shortest", type=float, default=0.4, help="shortest clip in seconds (default: %(default)s)"
        )
        parser.add_argument("--trials", type=int, default=200, help="horns played in the open-notes part")
        parser.add_argument("--only", choices=["pitch", "tubes"], help="leave the other part out")
        parser.add_argument("--ours-only", action="store_true", help="leave the other finders out")
        parser.add_argument("--also-tuned-on", action="store_true", help="score the font that was tuned on as well")
        parser.add_argument("--tune", action="store_true", help="fit the weights again and write them; long")
        store = Path(tempfile.gettempdir()) / "rendered-notes"
        parser.add_argument("--store", type=Path, default=store, help="where rendered notes are kept (%(default)s)")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["clips"] < 1 or options["trials"] < 1 or not 0.15 <= options["shortest"] <= 3:
            raise CommandError("Ask for at least one clip and one trial, and clips from 0.15 to 3 seconds.")
        for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
            if os.environ.get(variable) != "1":
                self.stderr.write(f"For times of one core, start this with {variable}=1.")
        self.missed: list[str] = []
        if options["only"] != "tubes":
            self._needs()
            if options["tune"]:
                self.stdout.write(tune(options["store"], WEIGHTS))
                return
            self._pitch(options)
        if options["only"] != "pitch":
            self._tubes(options["seed"], options["trials"])
        for line in self.missed:
            self.stdout.write(f"MISSED: {line}")
        if self.missed:
            raise SystemExit(1)

    def _needs(self) -> None:
        if absent := render.missing():
            raise CommandError(f"Install first: apt-get install {' '.join(absent)}")
        if not clips.speech_files(held_out=True) or not clips.speech_files(held_out=False):
            raise CommandError(f"Install first: apt-get install {' '.join(clips.SPEECH_PACKAGES)}")

    def _pitch(self, options: dict[str, Any]) -> None:
        finders, absent = others.finders()
        if options["ours_only"]:
            finders, absent = finders[:1], []
        if absent:
            self.stdout.write(f"Not installed, so not compared: {', '.join(absent)} (requirements/bench.in).")
        without = max(len(clips.NOT_NOTES), round(0.7 * options["clips"]))
        for font in render.FONTS:
            if font.note == "tuned on" and not options["also_tuned_on"]:
                continue
            drawn = clips.draw(font, options["store"], options["seed"], options["clips"], without, options["shortest"])
            self.stdout.write(
                f"\n{font.path.name} ({font.note}): {options['clips']} notes, {without} clips without "
                f"a steady note, seed {options['seed']}, from {options['shortest']} s"
            )
            tallies = report.score(finders, drawn)
            self.stdout.write(report.table(tallies))
            if options["clips"] >= ENOUGH:
                self.missed += [f"{font.name}: {line}" for line in report.missed(tallies[0])]

    def _tubes(self, seed: int, trials: int) -> None:
        self.stdout.write(f"\nTube from open notes, {trials} horns each: right / wrong / left open, %")
        rows = (
            ("five tubes equally often, scorer weighs them alike", players.FIVE, players.FIVE),
            ("five tubes equally often, scorer weighs all eight as a school has them", players.FIVE, SCHOOL_MIX),
            ("a school's mix of eight", SCHOOL_MIX, SCHOOL_MIX),
        )
        judged_here = trials >= ENOUGH
        for player in players.PLAYERS:
            least, most = players.TARGETS[player.name]
            for words, mix, prior in rows:
                for count in (2, 3, 4, 5):
                    shares = players.tubes_found(seed, trials, count, player, mix, prior)
                    right, wrong = round(shares[0] * trials), round(shares[1] * trials)
                    worse = short(right, trials, least) or short(trials - wrong, trials, 1 - most)
                    if judged_here and count == 4 and worse:
                        self.missed.append(
                            f"{player.name}, {words}: {100 * least:g} % right and {100 * most:g} % wrong at most"
                        )
                    figures = " / ".join(f"{100 * share:5.1f}" for share in shares)
                    self.stdout.write(f"  {player.name:<9} {count} notes, {words}: {figures}")
        self.stdout.write(f"A record's claim against four open notes, {trials} true and {trials} false claims, %")
        for player in players.PLAYERS:
            judged = players.claims_checked(seed, trials, 4, player)
            figures = ", ".join(f"{name} {100 * share:.1f}" for name, share in judged.items())
            alarms, overlooked = round(judged["false alarms"] * trials), round(judged["missed"] * trials)
            if judged_here and (short(trials - alarms, trials, 0.995) or short(trials - overlooked, trials, 0.97)):
                self.missed.append(f"{player.name} claims: 0.5 % false alarms and 3 % missed at most")
            self.stdout.write(f"  {player.name:<9} {figures}")
