"""Django's `migrate`, but a database with nothing in it is made at once: its steps are for those who took them."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.core.management.commands import migrate
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

from fleet.people.models.trigrams import found_by, make_trigrams
from fleet.register.models.searching import make_order


class Command(migrate.Command):
    def handle(self, *args: Any, **options: Any) -> None:
        connection = connections[options["database"]]
        otherwise = options["app_label"] or options["plan"] or options["check_unapplied"]
        if not otherwise and not connection.introspection.table_names():
            make(connection)
        super().handle(*args, **options)


def make(connection: BaseDatabaseWrapper) -> None:
    """Every table as the models are, and every step put down as taken; all of it or nothing."""
    recorder = MigrationRecorder(connection)
    with connection.schema_editor() as editor:
        models: list[type[Model]] = [*apps.get_models(), recorder.Migration]
        for model in models:
            if not model._meta.proxy:
                editor.create_model(model)
        make_trigrams(connection, *found_by())
        make_order(connection)
        for app, name in sorted(MigrationLoader(None).disk_migrations):
            recorder.record_applied(app, name)
