"""Figures for a monitor, in the text format of Prometheus (its documentation, "Exposition formats", version 0.0.4).

What all machines share is asked of the database. Requests are those of the process that answers, which its label says:
a monitor adds them up. None counts anything of a single person or horn.
"""

from __future__ import annotations

import os
import platform
import shutil
import time
from collections.abc import Iterator

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import DatabaseError
from django.db.models import Count
from django.utils import timezone

from fleet.lending.models import Loan
from fleet.letters.models import Letter
from fleet.mail.models import Outgoing
from fleet.people.models import School, User
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from fleet.watch.numbering import BOUNDS, counted

Sample = tuple[str, float]


def text() -> str:
    return "".join(_lines())


def _lines() -> Iterator[str]:
    statuses, bounds, took = counted()
    me, all_of_them = f'process="{platform.node()}:{os.getpid()}"', sum(statuses.values())
    yield from _metric(
        "requests_total",
        "counter",
        "Requests that this process answered.",
        [(f'{me},status="{status}"', many) for status, many in sorted(statuses.items())],
    )
    yield "# HELP horn_request_seconds How long this process took.\n# TYPE horn_request_seconds histogram\n"
    for bound, many in [*zip(map(str, BOUNDS), bounds, strict=True), ("+Inf", all_of_them)]:
        yield f'horn_request_seconds_bucket{{{me},le="{bound}"}} {many}\n'
    yield f"horn_request_seconds_sum{{{me}}} {took:.6f}\nhorn_request_seconds_count{{{me}}} {all_of_them}\n"
    yield from _gauge("disk_free_bytes", "Room where the data lie.", shutil.disk_usage(settings.DATA_DIR).free)
    try:
        of_the_database = list(_of_the_database())
    except DatabaseError:
        yield from _gauge("database_up", "Whether the database answers.", 0)
        return
    yield from of_the_database


def _of_the_database() -> Iterator[str]:
    yield from _gauge("schools", "Schools of the site.", School.objects.count())
    yield from _gauge("accounts", "Accounts that may sign in.", User.objects.filter(is_active=True).count())
    open_ones = Session.objects.filter(expire_date__gt=timezone.now())
    yield from _gauge("sessions", "Sessions that are not over, signed in or not.", open_ones.count())
    yield from _gauge("horns", "Horns that the schools keep.", Horn.objects.kept().count())
    yield from _gauge("loans_open", "Horns on loan.", Loan.objects.open().count())
    for name, model, what in (
        ("letters", Letter, "Letters to guardians by what became of them."),
        ("mail_queue", Outgoing, "Codes and notices of the queue."),
    ):
        rows = model.objects.order_by().values_list("state").annotate(many=Count("pk"))
        yield from _metric(name, "gauge", what, [(f'state="{state}"', many) for state, many in sorted(rows)])
    last = Act.objects.filter(deed=Deed.BACKED_UP).order_by("-at").values_list("at", flat=True).first()
    yield from _gauge("last_backup_timestamp_seconds", "When it was made.", last.timestamp() if last else 0)
    yield from _gauge("database_up", "Whether the database answers.", 1)
    yield from _gauge("asked_timestamp_seconds", "When these figures were asked for.", int(time.time()))


def _gauge(name: str, what: str, value: float) -> Iterator[str]:
    return _metric(name, "gauge", what, [("", value)])


def _metric(name: str, kind: str, what: str, samples: list[Sample]) -> Iterator[str]:
    yield f"# HELP horn_{name} {what}\n# TYPE horn_{name} {kind}\n"
    for labels, value in samples:
        yield f"horn_{name}{{{labels}}} {value}\n" if labels else f"horn_{name} {value}\n"
