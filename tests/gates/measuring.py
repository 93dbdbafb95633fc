"""Which test runs which line: one run of the tests under coverage, kept while nothing has changed.

As a plugin of that run (`-p tests.gates.measuring`) this module names the test that is running and notes its time.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / ".measured"
PRODUCT = ("fleet", "identify")


def sources() -> Iterator[Path]:
    """The product's modules, without migrations and benchmarks."""
    for room in PRODUCT:
        for path in sorted((ROOT / room).rglob("*.py")):
            rest = path.relative_to(ROOT)
            if not {"migrations", "bench"} & set(rest.parts) and not rest.stem.startswith("bench_"):
                yield path


def slice_of(path: Path) -> str:
    """The folder that answers for a module: `fleet/people`, `identify/core`; `fleet` for what lies loose in it."""
    parts = path.relative_to(ROOT).parts
    loose = len(parts) < 3 or parts[1] in {"management", "templatetags"}
    return parts[0] if loose else "/".join(parts[:2])


def state() -> str:
    """A digest of everything that could change which test runs which line."""
    found = hashlib.sha256()
    for path in sorted([*sources(), *(ROOT / "tests").rglob("*.py"), *(ROOT / "templates").rglob("*.html")]):
        found.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def measured(keep: bool = False) -> coverage.CoverageData:
    """What each test runs; by running all tests but the browser's, on SQLite, unless that is known already.

    `keep` takes what is known although something has changed since.
    """
    stamp = KEPT / "state"
    if not stamp.exists() or not (keep or stamp.read_text(encoding="utf-8") == state()):
        now = state()
        _measure()
        stamp.write_text(now, encoding="utf-8")
    data = coverage.CoverageData(str(KEPT / "data"))
    data.read()
    return data


def times() -> dict[str, float]:
    """Seconds of the processor that a test took, by its address."""
    return {
        test: seconds
        for path in KEPT.glob("times-*.json")
        for test, seconds in json.loads(path.read_text(encoding="utf-8")).items()
    }


def _measure() -> None:
    KEPT.mkdir(exist_ok=True)
    for old in KEPT.iterdir():
        old.unlink()
    settings = KEPT / "settings.ini"
    settings.write_text(
        f"[run]\nsource = {','.join(str(ROOT / room) for room in PRODUCT)}\ndata_file = {KEPT / 'data'}\n"
        "parallel = true\npatch = subprocess\ncore = ctrace\n",
        encoding="utf-8",
    )
    kept_out = {"DATABASE_URL", "HORN_DATA", "HORN_SITE"}
    given = {name: value for name, value in os.environ.items() if name not in kept_out}
    given |= {"HORN_MEASURED": str(KEPT), "COVERAGE_RCFILE": str(settings)}
    python = [sys.executable, "-m", "coverage"]
    run = ["-m", "pytest", "-p", "tests.gates.measuring", "-m", "not browser", "-n", "auto", "--dist", "worksteal"]
    failed = subprocess.run([*python, "run", *run], cwd=ROOT, env=given, check=False).returncode
    subprocess.run([*python, "combine", "--quiet"], cwd=ROOT, env=given, check=True)
    if failed:
        sys.exit("Some tests fail as it is, so nothing can be measured.")


if folder := os.environ.get("HORN_MEASURED"):
    took: dict[str, float] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
        running = coverage.Coverage.current()
        if running is not None:
            running.switch_context(item.nodeid)
        # The processor's seconds: those of a clock say how busy the machine was.
        began = time.process_time()
        answer = yield
        took[item.nodeid] = time.process_time() - began
        if running is not None:
            running.switch_context("")
        return answer

    def pytest_sessionfinish() -> None:
        (Path(os.environ["HORN_MEASURED"]) / f"times-{os.getpid()}.json").write_text(json.dumps(took), encoding="utf-8")
