"""Who writes: the few that may beside the actions, and a watch over every row that is written while tests run."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from django.apps import apps
from django.db.backends.signals import connection_created

from tests.house import ROOT

# What writes outside the actions, as file and the expression, with the reason.
MAY_WRITE = {
    ("fleet/counters.py", "transaction.atomic"): "the counters of the throttles, which are Django's",
    ("fleet/exchange/queries/one_moment.py", "transaction.atomic"): "one moment for all that is read",
    ("fleet/ground/answering.py", "transaction.atomic"): "the one place where a form meets its action",
    ("fleet/ground/pictures.py", "flat.save"): "a picture drawn anew",
    ("fleet/middleware.py", "session.save"): "when the session was last used",
    ("fleet/people/models/accounts.py", "user.save"): "Django asks the manager itself for create_user",
    ("fleet/reports/sheet/page.py", "self.canvas.save"): "a canvas",
    ("fleet/reports/sheet/photographs.py", "save"): "a picture made smaller",
    ("fleet/management/commands/doctor.py", "default_storage.save"): "a file that is no row’s, to try the store",
    ("fleet/management/commands/doctor.py", "default_storage.delete"): "the same file",
}
# These stand around everything: the nearest of ours where a library's own page writes, as sign-in does.
AROUND_ALL = {"fleet/middleware.py", "fleet/late.py"}

# Who alone moves kept columns, by table.
KEEPERS = {
    "register_horn": "fleet/register/actions/keeping.py",
    "workshop_repairjob": "fleet/workshop/actions/mending.py",
}
WRITTEN = re.compile(r'(?:INSERT (?:OR \w+ )?INTO|UPDATE|DELETE FROM) "?(\w+)')

_seen: list[str] = []


@cache
def _place(filename: str) -> str:
    """`may`, `no`, or `` where the next frame out has to be asked: a library, a model, a manager."""
    if not filename.startswith(str(ROOT)) or ".venv" in filename:
        return ""
    path = filename[len(str(ROOT)) + 1 :].replace("\\", "/")
    top, _, rest = path.partition("/")
    if top not in {"fleet", "identify"}:
        return "may"
    layer = rest.split("/")[1] if rest.count("/") else ""
    if layer in {"actions", "actions.py", "migrations"} or path in AROUND_ALL | {file for file, _ in MAY_WRITE}:
        return "may"
    return "" if layer in {"models", "models.py"} else "no"


@cache
def _ours() -> frozenset[str]:
    models = apps.get_models(include_auto_created=True)
    return frozenset(model._meta.db_table for model in models if model.__module__.startswith("fleet."))


def _watched(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
    written = WRITTEN.match(sql)
    if written is not None and written[1] in _ours():
        frame = sys._getframe(1)
        while frame is not None and not _place(frame.f_code.co_filename):
            frame = frame.f_back  # type: ignore[assignment]
        if frame is not None:
            path = frame.f_code.co_filename[len(str(ROOT)) + 1 :].replace("\\", "/")
            if _place(frame.f_code.co_filename) == "no" or _moves_what_is_kept(path, written[1], sql):
                _seen.append(f"{path}:{frame.f_lineno}: {sql[:80]}")
    return execute(sql, params, many, context)


def _moves_what_is_kept(path: str, table: str, sql: str) -> bool:
    """Whether kept columns of a horn or a job are changed elsewhere than where they are reckoned from the rows."""
    if not sql.startswith("UPDATE") or KEEPERS.get(table, path) == path or path.startswith("tests/"):
        return False
    from fleet.register.queries.kept import KEPT  # once there are models

    columns = KEPT if table == "register_horn" else ("turn", "wants")
    return "/migrations/" not in path and any(f'"{column}" = ' in sql.split(" WHERE ")[0] for column in columns)


def _watch(connection: Any, **kwargs: Any) -> None:
    if _watched not in connection.execute_wrappers:
        connection.execute_wrappers.append(_watched)


def taken_note_of() -> list[str]:
    """File, line and words of each row that no action wrote since this was asked last."""
    seen, _seen[:] = list(_seen), []
    return seen


def pytest_configure(config: pytest.Config) -> None:
    connection_created.connect(_watch)


@pytest.fixture(autouse=True)
def only_actions_wrote() -> Iterator[None]:
    """Fails a test in which something of the product wrote a row that is no action."""
    yield
    seen = taken_note_of()
    assert not seen, "written by no action:\n" + "\n".join(seen)
