"""Runs one benchmark: `python -m tests.bench identify --walks 12000`. Says which there are when none is named."""

import os
import sys
from importlib import import_module

BENCHES = {
    "export": "exporting",
    "hear": "hearing.__main__",
    "identify": "identifying",
    "import": "importing",
    "lists": "lists",
    "match": "matching",
    "pages": "pages",
    "prints": "prints",
}


def main(arguments: list[str]) -> int:
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
