#!/usr/bin/env python3
"""Makes the environment Horn Cupboard needs and runs, tests or checks it. Works without make, on any system.

    python3 start.py run      serve the site on http://127.0.0.1:8000
    python3 start.py test     every test, on SQLite and, where found, on PostgreSQL and in a real Chromium
    python3 start.py check    format, lint, types, templates, borders, migrations; --quick: without types, migrations
    python3 start.py coverage the share of its lines that the tests run, slice by slice, held against its floor
    python3 start.py mutants  puts 200 small faults into a copy, one at a time, and lists those no test notices
    python3 start.py histories 10000   random histories of a small school, on both engines; a second number is the seed
    python3 start.py fuzz 100000       random requests to every address, on both engines; a second number is the seed
    python3 start.py wheels   which pinned packages come ready built for which machine, asked of the registry by uv
    python3 start.py catalogues writes what is newly marked into the translations of locale/ and compiles them
    python3 start.py pictures takes the pictures of README anew, from the demo school in a real Chromium
    python3 start.py bench    all benchmarks, each with its peer; one: bench-identify, bench-lists, …

Only the standard library is used here, since this is what runs before anything is installed.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
# What pytest answers where it was asked for tests and none was left to run.
NOTHING_LEFT = 5
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def stop(sentence: str) -> None:
    print(sentence, file=sys.stderr)
    sys.exit(1)


def environment(pins: str) -> None:
    """A virtual environment with exactly the pinned packages; kept while the pins stay the same."""
    wanted = hashlib.sha256((HERE / "requirements" / pins).read_bytes()).hexdigest()
    stamp = VENV / f"installed-{pins}"
    if PYTHON.exists() and stamp.exists() and stamp.read_text(encoding="utf-8") == wanted:
        return
    if not os.access(HERE, os.W_OK):
        stop(f"The folder {HERE} cannot be written to, so no environment can be made in it.")
    if not PYTHON.exists():
        print("Making the environment (once, about a minute) …", flush=True)
        try:
            import ensurepip  # noqa: F401
            import venv
        except ImportError:
            stop(
                "Python's venv module is missing. On Debian and Ubuntu: apt install python3-venv; then run this again."
            )
        try:
            venv.EnvBuilder(with_pip=True, clear=VENV.exists() and not VENV.is_symlink()).create(VENV)
        except (OSError, subprocess.CalledProcessError) as trouble:
            shutil.rmtree(VENV, ignore_errors=True)
            stop(f"The environment could not be made in {VENV}: {trouble}")
    print(f"Installing the packages of requirements/{pins} …", flush=True)
    install = [
        str(PYTHON),
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--require-hashes",
    ]
    if subprocess.run([*install, "-r", str(HERE / "requirements" / pins)], check=False).returncode:
        stop("The packages could not be installed; the lines above say why. Is there a network?")
    stamp.write_text(wanted, encoding="utf-8")


def manage(*words: str, **more: str) -> int:
    command = [str(PYTHON), str(HERE / "manage.py"), *words]
    return subprocess.run(command, cwd=HERE, env={**os.environ, **more}, check=False).returncode


def run(arguments: list[str]) -> int:
    environment("run.txt")
    command = [str(PYTHON), str(HERE / "manage.py"), "serve", *arguments]
    if os.name == "nt":
        try:
            return subprocess.run(command, cwd=HERE, check=False).returncode
        except KeyboardInterrupt:
            return 0
    os.chdir(HERE)
    return os.execv(command[0], command)


def postgres_address() -> str | None:
    """Where tests find a PostgreSQL they may make databases on: HORN_TEST_POSTGRES, else a local server."""
    given = os.environ.get("HORN_TEST_POSTGRES", "")
    candidates = [given] if given else ["postgres:///postgres", "postgres://postgres@127.0.0.1:5432/postgres"]
    probe = (
        "import sys, psycopg\n"
        "with psycopg.connect(sys.argv[1].replace('postgres://', 'postgresql://', 1), connect_timeout=3) as c:\n"
        "    ok = c.execute('select rolcreatedb or rolsuper from pg_roles where rolname = current_user').fetchone()\n"
        "sys.exit(0 if ok and ok[0] else 1)\n"
    )
    for address in candidates:
        if subprocess.run([str(PYTHON), "-c", probe, address], capture_output=True, check=False).returncode == 0:
            return address
    if given:
        stop("HORN_TEST_POSTGRES is set, but no PostgreSQL that allows making databases answers there.")
    return None


def test(arguments: list[str]) -> int:
    environment("dev.txt")
    # One more than there are processors: whoever waits for a browser leaves one free.
    workers = str((os.cpu_count() or 1) + 1)
    pytest = [str(PYTHON), "-m", "pytest", *(arguments or ["-n", workers, "--dist", "worksteal"])]
    # The workers of both runs, and the sites some tests start, read the same files: they are compiled once.
    ours = {"DATABASE_URL", "HORN_DATA", "HORN_SITE", "PYTHONDONTWRITEBYTECODE"}
    clean = {name: value for name, value in os.environ.items() if name not in ours}
    address = postgres_address()
    if address is None and os.environ.get("CI"):
        stop("CI is set, but no PostgreSQL was found: set HORN_TEST_POSTGRES.")
    print("— on SQLite", flush=True)
    worst = subprocess.run(pytest, cwd=HERE, env=clean, check=False).returncode
    failed = ["SQLite"] if worst else []
    if address is None:
        print("— no PostgreSQL found: its half of the tests was left out (HORN_TEST_POSTGRES names one)")
    else:
        print("— on PostgreSQL", flush=True)
        # What hangs on no engine gives the same answer on both, so the second run leaves it out, and of the browser's
        # tests all but the journeys.
        second = subprocess.run(
            [*pytest, "--engine-only"], cwd=HERE, env={**clean, "DATABASE_URL": address}, check=False
        ).returncode
        if second not in (0, NOTHING_LEFT):
            failed.append("PostgreSQL")
            worst = worst or second
    if failed:
        print(f"— failed on {' and on '.join(failed)}", flush=True)
    return worst


def histories(arguments: list[str]) -> int:
    """So many random histories, 10,000 where no number is given; every part of them is repeated by the seed printed."""
    return many("histories", "HORN_HISTORIES", "tests/histories", 10_000, arguments)


def fuzz(arguments: list[str]) -> int:
    """So many random requests, 100,000 where no number is given, repeated by the seed printed."""
    return many("requests", "HORN_FUZZ", "tests/test_fuzz.py", 100_000, arguments)


def many(what: str, name: str, tests: str, usual: int, arguments: list[str]) -> int:
    how_many, given = [*arguments, str(usual)][0], [*arguments[1:], str(secrets.randbelow(2**31))][0]
    if not (how_many.isdigit() and given.isdigit()):
        stop(f"Say how many {what}, and the seed of a run that is to be repeated: {usual} 7")
    print(f"— {how_many} {what} with the seed {given}", flush=True)
    os.environ.update({name: how_many, f"{name}_SEED": given})
    return test([tests, "-n", "auto", "--dist", "worksteal"])


def check(arguments: list[str]) -> int:
    environment("dev.txt")
    worst = 0
    quick = "--quick" in arguments
    types = ["mypy", "manage.py", "start.py", "fleet", "identify", "tests/bench"]
    for words in (["ruff", "format", "--check", "."], ["ruff", "check", "."], *([] if quick else [types])):
        print("—", " ".join(words), flush=True)
        worst |= subprocess.run([str(PYTHON), "-m", *words], cwd=HERE, check=False).returncode
    for what, program, *words in (
        ("how the templates are set", "djangofmt", "--check", "templates"),
        ("what the templates say", "djangofmt", "check", "templates"),
        ("borders between the packages", "lint-imports", "--no-cache"),
    ):
        print("—", what, flush=True)
        path = PYTHON.with_name(f"{program}.exe" if os.name == "nt" else program)
        worst |= subprocess.run([str(path), *words], cwd=HERE, check=False).returncode
    if quick:
        return 1 if worst else 0
    print("— the texts in other languages", flush=True)
    worst |= subprocess.run([str(PYTHON), "-m", "tests.gates.catalogues", "--check"], cwd=HERE, check=False).returncode
    print("— migrations and the set-up for a server", flush=True)
    worst |= manage("makemigrations", "--check", "--dry-run")
    worst |= manage("check", "--deploy", "--fail-level", "WARNING", HORN_SITE="https://horns.example.org")
    return 1 if worst else 0


def main() -> int:
    if sys.version_info < (3, 11):  # noqa: UP036 (this file runs before any version is promised)
        stop(f"Horn Cupboard needs Python 3.11 or newer; this is {sys.version.split()[0]}.")
    word, arguments = (sys.argv[1] if len(sys.argv) > 1 else "help"), sys.argv[2:]
    if word in (ours := {"run": run, "test": test, "check": check, "histories": histories, "fuzz": fuzz}):
        return ours[word](arguments)
    if word == "pictures":
        environment("dev.txt")
        words = [str(PYTHON), "-m", "pytest", "tests/browser/pictures.py"]
        return subprocess.run(words, cwd=HERE, env={**os.environ, "CI": "1"}, check=False).returncode
    if word in {"coverage", "mutants", "catalogues", "wheels"}:
        environment("dev.txt")
        tool = {"coverage": "floors"}.get(word, word)
        return subprocess.run([str(PYTHON), "-m", f"tests.gates.{tool}", *arguments], cwd=HERE, check=False).returncode
    if word == "bench" or word.startswith("bench-"):
        environment("bench.txt" if word == "bench-hear" else "dev.txt")
        name = "all" if word == "bench" else word.removeprefix("bench-")
        words = [str(PYTHON), "-m", "tests.bench", name, *arguments]
        return subprocess.run(words, cwd=HERE, check=False).returncode
    print(__doc__)
    return 0 if word == "help" else 2


if __name__ == "__main__":
    sys.exit(main())
