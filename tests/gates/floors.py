"""No slice falls below the share of its lines that the tests ran when the floor was set: `start.py coverage`.

With `--write` today's shares become the floors in floors.toml.
"""

from __future__ import annotations

import sys
import tomllib
from collections import defaultdict
from pathlib import Path

import coverage

from tests.gates.measuring import KEPT, measured, slice_of, sources

FLOORS = Path(__file__).with_name("floors.toml")


def shares() -> dict[str, float]:
    """Per cent of its statements that the tests run, by slice, rounded down to a tenth."""
    measured()
    reader = coverage.Coverage(data_file=str(KEPT / "data"), config_file=str(KEPT / "settings.ini"))
    reader.load()
    run, all_of_them = defaultdict[str, int](int), defaultdict[str, int](int)
    for path in sources():
        _, statements, _, missing, _ = reader.analysis2(str(path))
        run[slice_of(path)] += len(statements) - len(missing)
        all_of_them[slice_of(path)] += len(statements)
    return {name: run[name] * 1000 // total / 10 for name, total in sorted(all_of_them.items()) if total}


def main() -> int:
    found = shares()
    if "--write" in sys.argv:
        lines = [f'"{name}" = {share}' for name, share in found.items()]
        heading = "# Per cent of its lines that the tests run, by slice. Written by: start.py coverage --write\n\n"
        FLOORS.write_text(heading + "\n".join(lines) + "\n", encoding="utf-8")
    floors = tomllib.loads(FLOORS.read_text(encoding="utf-8")) if FLOORS.exists() else {}
    wrong = [f"{name} has a floor and is no slice" for name in floors if name not in found]
    for name, share in found.items():
        floor = floors.get(name)
        print(f"{name:24} {share:5.1f} %   floor {floor if floor is not None else '—'}")
        if floor is None:
            wrong.append(f"{name} has no floor in {FLOORS.name}")
        elif share < floor:
            wrong.append(f"{name} has fallen from {floor} % to {share} %")
    for sentence in wrong:
        print(f"— {sentence}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
