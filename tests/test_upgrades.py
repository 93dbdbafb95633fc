"""What is new runs on the database of the last release while that release's code still serves from it.

For the minutes in which a new version is put in place, both write to the same tables. So within one release a column
comes with a value that the database gives by itself, nothing goes and nothing gets another name, and a rule on rows
that were there before allows what the old code writes. What is not needed any more goes one release later.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import migrations, models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ModelState, ProjectState

from tests.kept_dumps import LAST_RELEASE, applied_in

# Rules on old tables and other work of which somebody has made sure that the old code keeps to it, and why it does.
MADE_SURE = {
    "register 0016 walk_sent_once": "the old code gives no id, and of none there may be many",
    "register 0019 photograph_sent_once": "the old code gives no id, and of none there may be many",
    "workshop 0011 job_verdict_with_reason": "the old code gives neither column, and so both are empty",
    "workshop 0014 finding_number_can_be": "the old code gives no number",
    "workshop 0014 finding_measure_not_negative": "the old code gives no measurement",
    "workshop 0016 job_fetched_after_brought": "the old code gives neither column, and so both are empty",
    "workshop 0020 care_kind_known": "one kind more may be; the old code notes those it knows",
    "loans 0014 checked_before_issue": "the old code begins no loan without its check",
    "loans 0014 signed_before_issue": "the old code begins no loan that is not signed, and knows none from a list",
    "loans 0024 one_calendar_address_each": "the old code makes addresses of staff alone, one a person as before",
    "loans 0011 accessory_settled_with_a_day": "the old code gives neither column, and so both are empty",
}
HARMLESS = (
    migrations.AlterModelOptions,
    migrations.AlterModelManagers,
    migrations.AddIndex,
    migrations.RemoveIndex,
    migrations.RenameIndex,
    migrations.RemoveConstraint,
    migrations.RunPython,
)


def _needs_a_value(field: Any) -> bool:
    return not (field.null or field.many_to_many or field.generated or field.has_db_default())


def _narrower(old: Any, new: Any) -> bool:
    longest = getattr(old, "max_length", None), getattr(new, "max_length", None)
    shorter = None not in longest and longest[1] < longest[0]  # type: ignore[operator]
    return shorter or old.get_internal_type() != new.get_internal_type()


def faults(label: str, step: Operation, before: ProjectState, born: set[tuple[str, str]]) -> Iterator[str]:
    """What the old code trips over in one step; `born`: tables it does not know; `label`: `people 0003`."""
    app = label.split()[0]
    table = app, str(getattr(step, "model_name", getattr(step, "name", ""))).lower()
    if isinstance(step, migrations.CreateModel):
        born.add(table)
    elif isinstance(step, migrations.SeparateDatabaseAndState):
        for one in step.database_operations:
            yield from faults(label, one, before, born)
    elif table in born or isinstance(step, HARMLESS):
        return
    elif isinstance(step, migrations.AddField):
        if _needs_a_value(step.field):
            yield f"{label}: {step.model_name}.{step.name} needs a db_default; the old code gives it no value"
    elif isinstance(step, migrations.AlterField):
        old: Any = before.models[table].fields[step.name]
        if old.null and _needs_a_value(step.field):
            yield f"{label}: {step.model_name}.{step.name} needs a db_default; the old code may leave it empty"
        if _narrower(old, step.field):
            yield f"{label}: {step.model_name}.{step.name} takes less than the old code gives"
    elif isinstance(step, migrations.AddConstraint):
        if f"{label} {step.constraint.name}" not in MADE_SURE:
            yield f"{label}: does the old code keep to {step.constraint.name}? Say so in MADE_SURE, and why"
    elif f"{label} {step.describe()}" not in MADE_SURE:
        yield f"{label}: {step.describe()}: not while the old code serves"


def test_nothing_since_the_last_release_trips_its_code():
    released = applied_in(LAST_RELEASE)
    loader = MigrationLoader(None, ignore_no_migrations=True)
    ours = {key for key, one in loader.disk_migrations.items() if type(one).__module__.startswith("fleet.")}
    since = ours - released
    assert ("register", "0008_kept_columns") in since
    assert ("register", "0001_begin") not in since
    found: list[str] = []
    born: set[tuple[str, str]] = set()
    for app, name in sorted(since):
        before = loader.project_state((app, name), at_end=False)
        for step in loader.disk_migrations[app, name].operations:
            found += faults(f"{app} {name[:4]}", step, before, born)
            step.state_forwards(app, before)

    assert not found, "\n".join(found)


TABLE = ModelState(
    "app",
    "Horn",
    [
        ("id", models.BigAutoField(primary_key=True)),
        ("tube", models.CharField(null=True)),
        ("maker", models.CharField(max_length=20)),
    ],
)


@pytest.mark.parametrize(
    ("step", "trips"),
    [
        (migrations.AddField("horn", "bell", models.CharField(default="", max_length=8)), True),
        (migrations.AddField("horn", "bell", models.CharField(default="", db_default="", max_length=8)), False),
        (migrations.AddField("horn", "bell", models.CharField(null=True, max_length=8)), False),
        (migrations.AddField("horn", "groups", models.ManyToManyField("app.horn")), False),
        (
            migrations.AddField(
                "horn",
                "long",
                models.GeneratedField(
                    expression=models.F("id"), output_field=models.BigIntegerField(), db_persist=True
                ),
            ),
            False,
        ),
        (migrations.AlterField("horn", "tube", models.CharField()), True),
        (migrations.AlterField("horn", "tube", models.CharField(db_default="")), False),
        (migrations.AlterField("horn", "maker", models.CharField(max_length=19)), True),
        (migrations.AlterField("horn", "maker", models.CharField(max_length=20)), False),
        (migrations.AlterField("horn", "maker", models.CharField(max_length=21)), False),
        (migrations.AlterField("horn", "maker", models.IntegerField()), True),
        (migrations.RemoveField("horn", "maker"), True),
        (migrations.RenameField("horn", "maker", "made_by"), True),
        (migrations.RenameModel("horn", "instrument"), True),
        (migrations.AlterModelTable("horn", "horns"), True),
        (migrations.DeleteModel("horn"), True),
        (migrations.RunSQL("DROP TABLE app_horn"), True),
        (migrations.SeparateDatabaseAndState([migrations.RemoveField("horn", "maker")], []), True),
        (migrations.AddConstraint("horn", models.UniqueConstraint(fields=["maker"], name="maker_once")), True),
        (migrations.AddIndex("horn", models.Index(fields=["maker"], name="horn_by_maker")), False),
        (migrations.CreateModel("bell", [("id", models.BigAutoField(primary_key=True))]), False),
    ],
    ids=lambda value: value.describe() if isinstance(value, Operation) else "",
)
def test_a_step_that_the_old_code_trips_over_is_told(step, trips):
    before = ProjectState({("app", "horn"): TABLE})

    assert bool(list(faults("app 0002", step, before, set()))) is trips


def test_a_table_that_came_along_with_the_release_is_not_known_to_the_old_code():
    born: set[tuple[str, str]] = set()
    made = migrations.CreateModel("bell", [("id", models.BigAutoField(primary_key=True))])
    grown = migrations.AddField("bell", "size", models.IntegerField())

    assert list(faults("app 0002", grown, ProjectState(), born))
    assert not list(faults("app 0002", made, ProjectState(), born))
    assert not list(faults("app 0002", grown, ProjectState(), born))
