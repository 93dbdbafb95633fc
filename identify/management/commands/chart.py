from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from identify.core.drawing.notation import musicxml
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.remarks import remarks
from identify.core.fingering.teaching import HIGH_FROM, LAYERS, USUAL, asked
from identify.core.fingering.words import (
    NotInCatalogue,
    build_named,
    label,
    legend,
    rows,
    stand_named,
    title,
    trill_label,
)


class Command(BaseCommand):
    help = "Print the fingering chart of a build as it stands."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("build", help="the build's code, such as double-full")
        parser.add_argument("--stands-in", default="", help="F, Bb, high F …; may be left out where there is one")
        parser.add_argument("--form", default="", help="a rarer form of the build, such as 'fourth valve'")
        parser.add_argument("--thumb", choices=["taught", "never"], default="taught", help="never: no thumb lever")
        parser.add_argument("--high", choices=HIGH_FROM, default=USUAL.high_from, help="the high side from there up")
        parser.add_argument("--with", default="", help=f"what to show besides, of: {', '.join(LAYERS)}")
        parser.add_argument("--clef", choices=["bass"], default="", help="bass: a baritone's part in the bass clef")
        form = parser.add_mutually_exclusive_group()
        form.add_argument("--json", action="store_true", help="for machines")
        form.add_argument("--musicxml", action="store_true", help="for notation programs")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            build = build_named(options["build"], options["form"])
            stand = stand_named(build, options["stands_in"])
        except NotInCatalogue as trouble:
            raise CommandError(str(trouble), returncode=2) from trouble
        wanted = chart(build, stand, asked(options))
        if options["json"]:
            self.stdout.write(json.dumps(rows(wanted), indent=1))
        elif options["musicxml"]:
            self.stdout.write(musicxml(wanted))
        else:
            self.stdout.write(as_table(wanted))


def as_table(wanted: Chart) -> str:
    """The chart in columns for a terminal."""
    lines = [title(wanted), "", "written  sounds  usual   partial  cents  also"]
    for note in reversed(wanted.notes):
        way = note.usual
        if way is None:
            lines.append(f"{note.written.display:<8} {note.sounding.display:<7} not on this horn")
            continue
        also = "  ".join(
            [label(wanted, other) for other in (*note.alternatives, *note.stopped)]
            + [trill_label(wanted, trill) for trill in note.trills]
        )
        cents = f"{way.cents:+5.0f}" if not way.hand else "     "
        lines.append(
            f"{note.written.display:<8} {note.sounding.display:<7} {label(wanted, way):<7} "
            f"{way.partial:>7}  {cents}  {also}".rstrip()
        )
    lines += ["", *(f"{sign} {words}" for sign, words in legend(wanted)), "", *remarks(wanted)]
    return "\n".join(lines)
