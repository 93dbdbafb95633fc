"""Asks the package registry that this computer has set whether every pinned package comes ready built for a machine.

    python3 start.py wheels       what a site needs, for each sort of machine and each Python

It asks by uv, as `make pins` does. A package that lacks one would have to be built on the machine, with a compiler. The
table says what this registry holds: one that mirrors a part of another may lack what that has.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

RUN = Path(__file__).resolve().parents[2] / "requirements/run.txt"
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
MACHINES = {
    "Linux": "x86_64-unknown-linux-gnu",
    "Linux, ARM": "aarch64-unknown-linux-gnu",
    "Linux with musl": "x86_64-unknown-linux-musl",
    "Mac, Apple chip": "aarch64-apple-darwin",
    "Mac, Intel chip": "x86_64-apple-darwin",
    "Windows": "x86_64-pc-windows-msvc",
    "Windows, ARM": "aarch64-pc-windows-msvc",
}
# What uv says of a package, whether it has none for any machine or none for this one.
LACKS = re.compile(r"([\w.-]+)(?:\{[^}]*\})?==\S+ has no (?:usable )?wheels")

# Takes the pins, a machine and a Python; gives what was said where not all of them can be had, else "".
Ask = Callable[[str, str, str], str]


def asked(pins: str, machine: str, python: str) -> str:
    words = ["--quiet", "--no-deps", "--only-binary", ":all:", "--python-platform", machine, "--python-version", python]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "pins.txt"
        file.write_text(pins, encoding="utf-8")
        done = subprocess.run(["uv", "pip", "compile", *words, str(file)], capture_output=True, text=True, check=False)
    return done.stderr if done.returncode else ""


def lacking(pins: str, machine: str, python: str, ask: Ask = asked) -> list[str]:
    """The packages without a wheel there, one after another: the resolver names the first alone."""
    found: list[str] = []
    while said := ask(pins, machine, python):
        named = LACKS.search(said)
        rest = named and re.sub(rf"^{re.escape(named[1])}==.*\n(?:[ \t].*\n)*", "", pins, flags=re.M)
        if not named or rest == pins:
            sys.exit(said)
        found.append(named[1])
        pins = str(rest)
    return found


def main() -> None:
    if not shutil.which("uv"):
        sys.exit("This needs uv, as make pins does.")
    pins = RUN.read_text(encoding="utf-8")
    print(f"| machine | {' | '.join(PYTHONS)} |\n| --- |{' --- |' * len(PYTHONS)}")
    for name, machine in MACHINES.items():
        told = [", ".join(lacking(pins, machine, python)) or "all" for python in PYTHONS]
        print(f"| {name} | {' | '.join(told)} |", flush=True)


if __name__ == "__main__":
    main()
