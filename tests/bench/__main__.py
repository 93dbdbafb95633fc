"""Runs one benchmark, `python -m tests.bench identify --walks 300`, or `all`. Says what there is when none is named."""

import os
import subprocess
import sys
import time
from importlib import import_module

BENCHES = {
    "along": "along",
    "cost": "costing",
    "export": "exporting",
    "hear": "hearing.__main__",
    "identify": "identifying",
    "import": "importing",
    "lists": "lists",
    "load": "served.load",
    "paint": "served.paint",
    "match": "matching",
    "memory": "served.memory",
    "pages": "pages",
    "prints": "prints",
    "scale": "served.scale",
    "start": "served.starting",
}

# All in a quarter of an hour; what wants Debian's packages (hear) is run by itself.
ALL = {
    "along": [],
    "lists": ["--horns", "100000", "--rounds", "9"],
    "pages": ["--horns", "1000"],
    "cost": ["--schools", "20"],
    "match": [],
    "prints": [],
    "import": ["--rounds", "1"],
    "export": ["--horns", "500", "--loans", "1700"],
    "identify": ["--walks", "600"],
    "load": ["--seconds", "60"],
    "paint": [],
    "start": [],
    "memory": ["--horns", "1000"],
    "scale": ["--horns", "200000", "--rounds", "15"],
}


def every() -> int:
    """Each by itself, whatever became of the one before."""
    missed = []
    for name, given in ALL.items():
        sys.stdout.write(f"\n— {' '.join([f'bench-{name}', *given])}\n")
        sys.stdout.flush()
        began = time.monotonic()
        if subprocess.run([sys.executable, "-m", "tests.bench", name, *given], check=False).returncode:
            missed.append(name)
        sys.stdout.write(f"({time.monotonic() - began:.0f} s)\n")
    sys.stdout.write(f"\n{'Missed: ' + ', '.join(missed) if missed else 'All reached'}\n")
    return int(bool(missed))


def main(arguments: list[str]) -> int:
    if arguments == ["all"]:
        return every()
    if not arguments or arguments[0] not in BENCHES:
        sys.stderr.write(f"Name a benchmark: {', '.join(BENCHES)}.\n")
        return 2
    import django

    # Modules that name tables can be read only once the site is set up.
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    django.setup()
    bench = import_module(f"tests.bench.{BENCHES[arguments[0]]}")
    bench.Command().run_from_argv(["start.py", f"bench-{arguments[0]}", *arguments[1:]])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
