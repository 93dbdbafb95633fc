from __future__ import annotations

import gc
import inspect
import itertools
import os
import pickle
import random
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import weblate_fonts
from django.conf import settings as django_settings
from django.contrib.contenttypes.management import create_contenttypes
from django.core.cache import cache
from django.core.signals import setting_changed
from django.db import connection, connections, transaction
from django.db.models.signals import post_migrate
from django.dispatch import receiver
from django.test import Client, override_settings
from django.urls import URLResolver, get_resolver
from django.utils import timezone

from fleet.ground.access import Role
from fleet.people.models import School, User
from fleet.templatetags.fleet_tags import static
from tests import make
from tests.browser_client import Browser, let_go

pytest_plugins = ["tests.writers"]


@receiver(setting_changed)
def forget_addresses_of_files(*, setting: str, **_: Any) -> None:
    if setting in {"STORAGES", "STATIC_URL"}:
        static.cache_clear()


# No test of ours is about milliseconds; a busy machine must not fail one. Speed is what the benchmarks measure.
hypothesis.settings.register_profile("house", deadline=None)
hypothesis.settings.load_profile("house")

HERE = Path(__file__).resolve().parent
ON_EITHER_ENGINE = re.compile(r"^pytestmark = .*\bpytest\.mark\.either_engine\b", re.M)
WITHOUT_ROWS = {HERE / "identify" / "core", HERE / "outside", HERE / "bench", HERE / "gates"}


_numbers = itertools.count()


@pytest.fixture(autouse=True)
def own_pictures_and_counters(tmp_path_factory: pytest.TempPathFactory, settings: Any) -> Iterator[None]:
    """Every test has its own folder of pictures, made where one is kept, and starts with the throttles at rest."""
    settings.MEDIA_ROOT = tmp_path_factory.getbasetemp() / "pictures" / str(next(_numbers))
    yield
    let_go()
    cache.clear()


@pytest.fixture
def day_as_read(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """For modules that say today when they are read: a run that goes on past midnight stays in that day."""
    past = timezone.localdate() - getattr(request.module, "NOWADAYS", request.module.TODAY)
    now = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: now() - past)


@pytest.fixture(scope="session", autouse=True)
def no_permissions() -> None:
    """After a test whose rows were really written all tables are emptied, and Django makes its permissions and its list
    of models anew: nine tenths of the time, for what nothing of ours asks."""
    post_migrate.disconnect(dispatch_uid="django.contrib.auth.management.create_permissions")
    post_migrate.disconnect(create_contenttypes)


@pytest.fixture(scope="session", autouse=True)
def few_rows_to_empty() -> Iterator[None]:
    """The few rows of a test are soon deleted; cut short, PostgreSQL makes the files of all 75 tables anew."""

    def deleted(self: Any, style: Any, tables: list[str], **_asked: Any) -> list[str]:
        return [f"DELETE FROM {self.quote_name(table)};" for table in tables]  # noqa: S608

    with pytest.MonkeyPatch.context() as patched:
        if connection.vendor == "postgresql":
            patched.setattr(type(connection.ops), "sql_flush", deleted)
        yield


@pytest.fixture
def school(db: None) -> School:
    return make.school()


@pytest.fixture
def teacher(school: School) -> User:
    return make.staff(Role.TEACHER, school)


@pytest.fixture
def head(school: School) -> User:
    return make.staff(Role.HEAD, school)


@pytest.fixture
def at_ten(monkeypatch: pytest.MonkeyPatch) -> None:
    """The site's clock stands at the moment from which `make` counts its days: no row falls due as years go by."""
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)


@pytest.fixture(scope="module")
def built_once(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[[Callable[[], Any]], Callable[[], Any]]]:
    """Rows that are dear to make, made once for a module; what a test does to them is taken back with it.

    `built_once(build)()` is a copy of what `build` gave, with its pictures put where the test looks for them.
    """
    pictures = tmp_path_factory.mktemp("pictures")

    def once(build: Callable[[], Any]) -> Callable[[], Any]:
        with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=pictures):
            # Copied so in a seventh of the time that copying deeply takes.
            made = pickle.dumps(build())

        def copied() -> Any:
            shutil.copytree(pictures, django_settings.MEDIA_ROOT, dirs_exist_ok=True)
            return pickle.loads(made)  # noqa: S301

        return copied

    with django_db_blocker.unblock():
        all_of_it = transaction.atomic()
        all_of_it.__enter__()
    yield once
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        all_of_it.__exit__(None, None, None)


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 9, 14, 10, 30, tzinfo=UTC)


@pytest.fixture
def as_() -> Callable[[User | None], Client]:
    """A browser in which the given person has signed in; None for a stranger."""

    def enter(user: User | None) -> Client:
        client = Browser()
        if user is not None:
            client.come_as(user)
        return client

    return enter


# Letters as wide here as on every other machine. The sheets for Chinese, Japanese and Korean are large and not needed.
FONTS = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>
<dir>{ours}</dir><cachedir>{cache}</cachedir>
<selectfont><rejectfont><glob>*.woff2</glob></rejectfont><rejectfont><glob>*KurintoSans??-*</glob></rejectfont></selectfont>
<match target="pattern"><edit name="family" mode="append_last"><string>Source Sans 3</string></edit></match>
</fontconfig>"""


def chromium_path() -> str | None:
    # Chromium without windows of its own draws the same pages for a third of the work: it is taken where it is there.
    named = os.environ.get("HORN_CHROMIUM", "")
    for name in (named, "chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name) if name else None
        if found:
            return found
    return None


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A real Chromium driven through Playwright, with the pinned fonts and none of the machine's.

    Where there is none, tests skip; with CI set, they fail.
    """
    path = chromium_path()
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("CI is set, but no Chromium was found.")
        pytest.skip("no Chromium found")
    from playwright.sync_api import sync_playwright

    fonts = tmp_path_factory.mktemp("fonts")
    (fonts / "fonts.conf").write_text(
        FONTS.format(ours=Path(weblate_fonts.__file__).parent, cache=fonts), encoding="utf-8"
    )
    # The driver keeps an event loop in this thread, which Django would take for asynchronous code of ours.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    flags = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=path, args=flags, env={**os.environ, "FONTCONFIG_FILE": str(fonts / "fonts.conf")}
        )
        yield browser
        browser.close()
        # Where a loop runs in this thread, Django opens connections of their own, which nobody else would close.
        connections.close_all()


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """One seed for the order of the tests and for what hypothesis tries, so that one number repeats a run."""
    # The collector need not come by as often as in a program that is short of memory, least while all tests are read.
    gc.set_threshold(50_000, 20, 100)
    given = config.getoption("randomly_seed", None)
    if given == "default":
        config.option.randomly_seed = given = random.SystemRandom().getrandbits(32)
    if given is not None and config.option.hypothesis_seed is None:
        config.option.hypothesis_seed = str(given)


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """Making the tests' files ready to be run is dear and kept beside them. So that each worker need not do so for all,
    each begins at another file, and finds most of them ready."""
    name, count = os.environ.get("PYTEST_XDIST_WORKER", ""), int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    config = session.config
    if count < 2 or config.args_source is not pytest.Config.ArgsSource.TESTPATHS or config.getoption("--engine-only"):
        return
    files = sorted(HERE.rglob("test_*.py"))
    first = len(files) * int(name.removeprefix("gw")) // count
    for file in files[first:] + files[:first]:
        # Whatever is wrong with a file is said where it is collected.
        with suppress(Exception, pytest.skip.Exception):
            import_module(".".join(file.relative_to(HERE.parent).with_suffix("").parts))


def read_pages(addresses: list[Any]) -> None:
    for one in addresses:
        read_pages(one.url_patterns) if isinstance(one, URLResolver) else inspect.unwrap(one.callback)


def pytest_collection_finish() -> None:
    """What has been read to begin with stays to the end: the collector need not go through it again and again. Pages
    are read with it, late as they otherwise are: what a test puts into a module has to find it."""
    read_pages(get_resolver().url_patterns)
    gc.freeze()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    terminalreporter.write_line(f"The order was that of --randomly-seed={config.getoption('randomly_seed', 'none')}")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--engine-only",
        action="store_true",
        help="for the second run, on another engine: leave out what hangs on none, and browsers but for journeys",
    )


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """In the second run not even read: folders whose tests touch no database, as a test of the house holds them to, and
    modules that say of all their tests that they hang on no engine."""
    if not config.getoption("--engine-only"):
        return None
    module = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    wholly = module and ON_EITHER_ENGINE.search(collection_path.read_text(encoding="utf-8"))
    return True if wholly or collection_path in WITHOUT_ROWS else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--engine-only"):
        return
    touching = {"db", "transactional_db", "live_server"}

    def touches(item: pytest.Item) -> bool:
        named = set(getattr(item, "fixturenames", ()))
        # How a page looks and what its script does depend on no engine; of whole journeys two are made on both.
        if "chromium" in named and not item.get_closest_marker("journey"):
            return False
        if item.get_closest_marker("either_engine"):
            return False
        # What a page says hangs on no engine either: histories, odd requests and every page's text are read on both.
        if "as_" in named and not item.get_closest_marker("both_engines"):
            return False
        return bool(named & touching) or item.get_closest_marker("django_db") is not None

    items[:] = [item for item in items if touches(item)]
