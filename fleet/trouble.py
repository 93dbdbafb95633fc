"""The pages for when something broke. They stand in this file and ask nothing of session, database, templates or the
list of static files, so that they appear when none of these works."""

from __future__ import annotations

import errno
import sqlite3
import sys
from collections.abc import Iterator
from dataclasses import dataclass

from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse

SAFE = "What was saved before is safe. Your last step was not saved, or not all of it."
KEPT = (
    "Go back in the browser: what you wrote should still be there. Later, look whether it was saved before you send it "
    "again. Checks, returns and taps of a count that wait in this browser go by themselves once the site works again."
)


@dataclass(frozen=True, slots=True)
class Trouble:
    status: int
    title: str
    words: tuple[str, ...]


BROKE = Trouble(
    500,
    "Something broke on our side",
    (
        "It is not your doing. What was saved before is safe; the last step may not have been saved.",
        "Go back and try once more. If it breaks again, tell whoever looks after this site what you did and when.",
    ),
)
UNREAD = Trouble(
    400,
    "That could not be read",
    (
        "The form was too large, or part of the address was damaged. Nothing was changed.",
        "Go back in the browser: what you wrote should still be there. Photographs may need to be smaller or fewer.",
    ),
)
FULL = Trouble(
    507,
    "The disk is full",
    (
        "The computer this site runs on has no room left, so nothing new can be saved. It is not your doing.",
        SAFE,
        KEPT,
        "Tell whoever looks after this site: room has to be made on the disk of its database and pictures.",
    ),
)
READ_ONLY = Trouble(
    503,
    "Nothing can be saved at the moment",
    (
        "The site may read its records and not write them. It is not your doing.",
        SAFE,
        KEPT,
        "Tell whoever looks after this site: its database or its folder is read-only.",
    ),
)
AWAY = Trouble(
    503,
    "The records cannot be reached",
    (
        "The site runs, but its database does not answer. It is not your doing.",
        SAFE,
        KEPT,
        "Try again in a few minutes. If it lasts, tell whoever looks after this site: the database does not answer.",
    ),
)
STORE = Trouble(
    503,
    "The pictures cannot be reached",
    (
        "The store that keeps the pictures does not answer. It is not your doing.",
        SAFE,
        KEPT,
        "Try again in a few minutes. If it lasts, tell whoever looks after this site: the store of pictures is away.",
    ),
)
BUSY = Trouble(
    503,
    "Too many are saving at once",
    ("Others were saving at the same moment, and it took too long. It is not your doing.", SAFE, KEPT),
)

# Primary result codes of SQLite (sqlite.org/rescode.html). The others are faults of ours.
_SQLITE = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_PERM: AWAY,
    sqlite3.SQLITE_IOERR: AWAY,
    sqlite3.SQLITE_CANTOPEN: AWAY,
    sqlite3.SQLITE_NOTADB: AWAY,
    sqlite3.SQLITE_CORRUPT: AWAY,
}
# SQLSTATE of PostgreSQL, whole or its class of two letters (postgresql.org/docs, appendix A).
_POSTGRES = {
    "53100": FULL,
    "25006": READ_ONLY,
    "55P03": BUSY,
    "40": BUSY,
    "08": AWAY,
    "53": AWAY,
    "57": AWAY,
    "58": AWAY,
}
_FILES = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EHOSTUNREACH: STORE,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
}


def trouble_of(error: BaseException | None, otherwise: Trouble = BROKE) -> Trouble:
    """What is behind an error, as far as whoever looks after the site can do something about it; else `otherwise`."""
    return next(filter(None, map(_of_one, chain(error))), otherwise)


def chain(error: BaseException | None) -> Iterator[BaseException]:
    """The error and what led to it, each once."""
    met: set[int] = set()
    while error is not None and id(error) not in met:
        met.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def _of_one(error: BaseException) -> Trouble | None:
    code, state = getattr(error, "sqlite_errorcode", None), getattr(error, "sqlstate", None)
    if code is not None:
        return _SQLITE.get(code & 0xFF)
    if state is not None:
        return _POSTGRES.get(state, _POSTGRES.get(state[:2]))
    if isinstance(error, OSError):
        return _FILES.get(error.errno or 0)
    # A connection that was never made, or was closed, has no code.
    told = error.__cause__
    if isinstance(error, (OperationalError, InterfaceError)) and not (
        hasattr(told, "sqlite_errorcode") or getattr(told, "sqlstate", None)
    ):
        return AWAY
    return None


def broke(request: HttpRequest) -> HttpResponse:
    """The answer to an error that nothing else answers; Django calls it while it holds the error."""
    return page(request, trouble_of(sys.exception()))


def unread(request: HttpRequest, exception: BaseException) -> HttpResponse:
    return page(request, trouble_of(exception, otherwise=UNREAD))


def page(request: HttpRequest, trouble: Trouble) -> HttpResponse:
    session = getattr(request, "session", None)
    if session is not None:
        # Saving it would ask once more for what has just failed.
        session.modified = False
    answer = HttpResponse(drawn(trouble), status=trouble.status)
    answer.headers["Cache-Control"] = "no-store"
    if trouble.status == 503:
        answer.headers["Retry-After"] = "60"
    return answer


def drawn(trouble: Trouble) -> str:
    words = "\n".join(f"      <p>{one}</p>" for one in trouble.words)
    return PAGE.format(title=trouble.title, words=words, below=settings.SITE_PATH)


# The style sheets by their own names, which need no list; without them the page still reads well.
PAGE = """<!DOCTYPE html>
<html lang="en">
  <head>
    <meta charset="utf-8">
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <meta name="color-scheme" content="light dark">
    <title>{title} · Horn Cupboard</title>
    <link rel="stylesheet" href="{below}/static/fleet/cupboard.css">
    <link rel="stylesheet" href="{below}/static/fleet/pieces.css">
    <link rel="icon" href="{below}/static/fleet/icon.svg" type="image/svg+xml">
  </head>
  <body>
    <header class="masthead">
      <div class="masthead-line">
        <a class="home" href="{below}/"><span class="wordmark">Horn Cupboard</span></a>
      </div>
    </header>
    <main id="main" class="narrow">
      <h1>{title}</h1>
{words}
      <p><a class="button" href="{below}/">To the first page</a></p>
    </main>
  </body>
</html>
"""
