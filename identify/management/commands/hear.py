"""Hears the note in recordings, or with --open the tube from open notes played upwards."""

import argparse
import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from identify.core.hearing.claim import check_claim
from identify.core.hearing.listening import listen
from identify.core.hearing.notes import HeardNote, Played
from identify.core.hearing.open_notes import OPEN_TUBES, find_tube
from identify.core.hearing.sound import UnreadableSound, read_sound

Line = dict[str, object]


class Command(BaseCommand):
    help = (
        "Says which single steady note each WAV recording holds. With --open, which tube they come from: "
        "open notes, no valve pressed, from the lowest that speaks easily upwards, skipping none. "
        "Exit status: 0 when all was heard, 1 when something was not, 2 when called wrongly."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", metavar="FILE", help="WAV recordings")
        parser.add_argument("--json", action="store_true", help="one JSON object a line")
        parser.add_argument("--open", action="store_true", help="find the tube from two or more open notes")
        parser.add_argument("--claim", choices=OPEN_TUBES, help="with --open: the tube that a record claims")
        parser.add_argument("--pedal", action="store_true", help="allow pedal notes, under 70 Hz")

    def handle(self, *args: Any, **options: Any) -> None:
        files: list[str] = options["files"]
        if options["open"] and len(files) < 2:
            raise CommandError("One note fits many tubes: give two open notes or more, four are best.", returncode=2)
        if options["claim"] and not options["open"]:
            raise CommandError("--claim is judged from open notes: give --open as well.", returncode=2)
        heard = [_heard(Path(name), options["pedal"]) for name in files]
        if options["open"]:
            line, well = _tube(files, heard, options["claim"])
            self._say(line, options["json"])
        else:
            well = all(note.hz is not None for note in heard)
            for name, note in zip(files, heard, strict=True):
                self._say(_note(name, note), options["json"])
        if not well:
            raise SystemExit(1)

    def _say(self, line: Line, as_json: bool) -> None:
        said = str(line.pop("said"))
        self.stdout.write(json.dumps(line, ensure_ascii=False) if as_json else said)


def _heard(path: Path, pedal: bool) -> HeardNote:
    """What a file holds; whatever is wrong with it becomes the reason."""
    try:
        with path.open("rb") as stream:
            return listen(read_sound(stream), pedal=pedal)
    except UnreadableSound as refusal:
        return HeardNote(None, 0.0, refusal.code, str(refusal))
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        return HeardNote(None, 0.0, "unreadable", f"The file could not be read: {why}.")


def _note(name: str, note: HeardNote) -> Line:
    line: Line = {
        "file": name,
        "hz": None if note.hz is None else round(note.hz, 2),
        "note": note.note,
        "written": note.written,
        "cents": None if note.cents is None else round(note.cents, 1),
        "confidence": round(note.confidence, 3),
    }
    if note.hz is None:
        line["reason"] = note.reason
        line["said"] = f"{name}: {note.reason}"
    else:
        line["said"] = (
            f"{name}: {note.note} (written {note.written} for a part in F), {note.hz:.1f} Hz, "
            f"{note.cents:+.0f} cents, {note.confidence:.0%} sure"
        )
    if note.remarks:
        line["remarks"] = list(note.remarks)
    return line


def _tube(files: list[str], heard: list[HeardNote], claim: str | None) -> tuple[Line, bool]:
    played = [Played(note.hz, note.confidence) for note in heard if note.hz is not None]
    found = find_tube(played)
    said = [found.sentence]
    line: Line = {
        "tube": found.tube,
        "candidates": [{"tube": tube, "probability": round(share, 4)} for tube, share in found.candidates],
        "settled": found.settled,
        "partials": list(found.partials),
        "tuning_cents": found.tuning_cents,
        "files": files,
        "notes": [note.note for note in heard],
    }
    not_heard = {name: note.reason for name, note in zip(files, heard, strict=True) if note.hz is None}
    if not_heard:
        line["not_heard"] = not_heard
        said += [f"{name}: {reason}" for name, reason in not_heard.items()]
    if found.deciding:
        line["deciding_midi"] = found.deciding.midi
    if claim:
        checked = check_claim(played, claim)
        line["claim"] = {
            "tube": claim,
            "verdict": checked.verdict,
            "probability": round(checked.probability, 4),
        }
        said.append(checked.sentence)
    line["reason"] = None if found.settled else found.sentence
    line["said"] = "\n".join(said)
    return line, found.settled and not not_heard
