"""Puts small faults into a copy of the site, one at a time, and says which of them no test notices.

    start.py mutants [--seed 1] [--count 200] [--jobs 2] [--slice fleet/people] [--seconds 60] [--keep-map]
                     [--at fleet/wsgi.py:12 …]

The faults are spread evenly over the slices, by a seed. Each is tried with the tests that run its line, as one run of
all tests under coverage has shown, and as the time allows with those that run most of its module. Exits 1 where fewer
than 85 % are noticed. With --keep-map that one run is not made anew although something has changed since.
"""

from __future__ import annotations

import argparse
import difflib
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

from coverage import CoverageData

from tests.gates.changes import Change, changes
from tests.gates.measuring import KEPT, PRODUCT, ROOT, measured, slice_of, sources, times

LEAST_NOTICED = 85
# These see what stands in a module though it ran on import, before any test.
ALWAYS = (
    "tests/test_site.py::test_models_and_migrations_agree",
    "tests/test_telling.py::test_every_page_tells_what_it_told",
)
# And these run it in a process of its own, where no line is put down to a test.
APART = {
    "fleet/settings.py": (
        "tests/people/test_sessions.py",
        "tests/people/test_sign_in.py",
        "tests/test_policies.py",
        "tests/test_settings.py",
    ),
    "fleet/management/commands/serve.py": ("tests/test_serving.py",),
    "fleet/management/daily.py": ("tests/test_serving.py",),
    "fleet/environment.py": ("tests/test_settings.py",),
    "fleet/management/commands/prepare.py": ("tests/test_settings.py",),
}


@dataclass(frozen=True)
class Mutant:
    path: Path
    change: Change
    was: bytes
    tests: tuple[str, ...]

    @property
    def place(self) -> str:
        return f"{self.path.relative_to(ROOT).as_posix()}:{self.change.line}"

    def difference(self) -> str:
        now = self.change.made_in(self.was)
        lines = difflib.unified_diff(self.was.decode().splitlines(), now.decode().splitlines(), lineterm="", n=0)
        return "\n".join(f"    {line}" for line in list(lines)[3:])


def chosen(count: int, seed: int, only: str) -> list[tuple[Path, Change]]:
    """Faults by a seed: each slice in turn gives one, of a sort by lot, in a place by lot."""
    dice = random.Random(seed)
    stock: dict[str, dict[str, list[tuple[Path, Change]]]] = defaultdict(lambda: defaultdict(list))
    for path in sources():
        if not only or slice_of(path) == only:
            for change in changes(path.read_bytes()):
                stock[slice_of(path)][change.kind].append((path, change))
    found: list[tuple[Path, Change]] = []
    while stock and len(found) < count:
        for name in sorted(stock):
            kind = dice.choice(sorted(stock[name]))
            places = stock[name][kind]
            found.append(places.pop(dice.randrange(len(places))))
            if not places:
                del stock[name][kind]
            if not stock[name]:
                del stock[name]
    return found[:count]


def tests_for(path: Path, line: int, data: CoverageData, took: dict[str, float], seconds: float) -> tuple[str, ...]:
    """The tests that run a line, as many as the time allows: of each file in turn the one that runs fewest lines of the
    module, those of its own slice first; then others of the module, else of its neighbours."""

    def lines_run(paths: Iterable[Path]) -> Counter[str]:
        by_lines = (data.contexts_by_lineno(str(path)) for path in paths)
        return Counter(test for lines in by_lines for tests in lines.values() for test in tests if test)

    in_module = lines_run([path]) or lines_run(sorted(path.parent.glob("*.py")))
    on_line = {test for test in data.contexts_by_lineno(str(path)).get(line, ()) if test}
    own = slice_of(path).removeprefix("fleet/").partition("/")[0]
    by_file: defaultdict[str, list[str]] = defaultdict(list)
    for test in sorted(on_line, key=lambda test: (in_module[test], took.get(test, 1), test)):
        by_file[test.partition("::")[0]].append(test)
    turn = {test: number for tests in by_file.values() for number, test in enumerate(tests)}
    order = sorted(on_line, key=lambda test: (turn[test], f"tests/{own}/" not in test, in_module[test], test))
    # What runs on import belongs to no test, and what is kept once it is known to the first that asked: those that
    # know the module best are tried as well.
    others = sorted(in_module, key=lambda test: (f"tests/{own}/" not in test, -in_module[test]))
    order += [test for test in others if test not in on_line]
    few: list[str] = []
    left = seconds
    for test in order:
        left -= took.get(test, 1)
        if left < 0 and few:
            break
        few.append(test)
    if not on_line:
        few += ALWAYS
    return (*few, *APART.get(path.relative_to(ROOT).as_posix(), ()))


class Copy:
    """A copy of the site in which faults are tried one after another, with a database that is ready."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.data, self.clean = folder / "site", folder / "data", folder / "clean.sqlite3"
        kept_out = shutil.ignore_patterns(".*", "__pycache__", "data", "node_modules")
        shutil.copytree(ROOT, self.folder, ignore=kept_out)
        for inner in (*PRODUCT, "tests"):  # `data` holds a running site's rows, but also the core's tables
            for path in (ROOT / inner).rglob("data"):
                shutil.copytree(path, self.folder / path.relative_to(ROOT), dirs_exist_ok=True)
        self.data.mkdir()
        # By content and not by time, since a fault may have the size of what it replaces.
        hashed = [sys.executable, "-m", "compileall", "-q", "--invalidation-mode", "checked-hash", *PRODUCT, "tests"]
        subprocess.run(hashed, cwd=self.folder, check=False)
        code, said = self.run([ALWAYS[0], "--create-db"], 900)
        if code:
            sys.exit(said)
        shutil.copy(self.data / "test.sqlite3", self.clean)

    def run(self, words: list[str], seconds: float) -> tuple[int, str]:
        given = {**os.environ, "HORN_DATA": str(self.data), "PYTHONDONTWRITEBYTECODE": "1"}
        given.pop("DATABASE_URL", None)
        command = [sys.executable, "-m", "pytest", "-x", "-q", "--reuse-db", "--tb=no", "-p", "no:randomly", *words]
        with subprocess.Popen(
            command, cwd=self.folder, env=given, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        ) as running:
            try:
                said, _ = running.communicate(timeout=seconds)
            except subprocess.TimeoutExpired:
                running.kill()
                return -1, "took too long"
        return running.returncode, said

    def notices(self, mutant: Mutant, seconds: float) -> bool:
        path = self.folder / mutant.path.relative_to(ROOT)
        sound = path.read_bytes()
        shutil.copy(self.clean, self.data / "test.sqlite3")
        path.write_bytes(mutant.change.made_in(sound))
        try:
            code, said = self.run(list(mutant.tests), seconds)
        finally:
            path.write_bytes(sound)
        if code == 4 and "not found" in said:
            sys.exit(f"The map of the tests is old: run this without --keep-map.\n{said}")
        return code != 0


def main() -> int:
    asked = argparse.ArgumentParser(prog="start.py mutants", description=__doc__)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--jobs", type=int, default=2)
    asked.add_argument("--slice", default="", help="faults of this slice only")
    asked.add_argument("--seconds", type=float, default=60, help="as long as the tests of one fault may take as a rule")
    asked.add_argument("--keep-map", action="store_true")
    asked.add_argument("--at", action="append", default=[], help="of the seed's faults those of this line only")
    given = asked.parse_args()

    data, took = measured(keep=given.keep_map), times()
    mutants = [
        Mutant(path, change, path.read_bytes(), tests_for(path, change.line, data, took, given.seconds))
        for path, change in chosen(given.count, given.seed, given.slice)
        if not given.at or f"{path.relative_to(ROOT).as_posix()}:{change.line}" in given.at
    ]
    survivors: list[Mutant] = []
    with tempfile.TemporaryDirectory(prefix="horn-mutants-") as folder, ThreadPoolExecutor(given.jobs) as hands:
        copies: SimpleQueue[Copy] = SimpleQueue()
        for copy in hands.map(Copy, [Path(folder) / str(number) for number in range(given.jobs)]):
            copies.put(copy)

        def survives(mutant: Mutant) -> bool:
            copy = copies.get()
            try:
                return not copy.notices(mutant, 120 + 4 * given.seconds)
            finally:
                copies.put(copy)

        for number, (mutant, survived) in enumerate(zip(mutants, hands.map(survives, mutants), strict=True), 1):
            if survived:
                survivors.append(mutant)
                told = f"{mutant.place}  {mutant.change.kind}: no one of {len(mutant.tests)} tests"
                print(f"{told}\n{mutant.difference()}", flush=True)
            elif number % 20 == 0:
                print(f"… {number} of {len(mutants)}", flush=True)

    print(f"\nSeed {given.seed}, {len(mutants)} faults:")
    tried, missed = (Counter(slice_of(mutant.path) for mutant in some) for some in (mutants, survivors))
    for name in sorted(tried):
        print(f"  {name:24} {tried[name] - missed[name]:3} of {tried[name]:3} noticed")
    share = 100 * (len(mutants) - len(survivors)) / max(len(mutants), 1)
    print(f"{share:.0f} % noticed; at least {LEAST_NOTICED} % is asked. What each test runs is kept in {KEPT.name}/.")
    return 0 if share >= LEAST_NOTICED else 1


if __name__ == "__main__":
    sys.exit(main())
