"""A recording on its way in: bounded before it is read, heard in memory, and gone when the answer is sent.

Nothing of it is stored, written to a temporary file by this code, or logged; what remains are a few numbers in
the address. The length is looked at before the body is read; so the check that the form is ours is made by the page
and not by the middleware, which would read it first. `serve` keeps a request of up to 7 MB in memory, so no recording
meets a disk; what gunicorn's proxy must do stands in README.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from threading import BoundedSemaphore
from typing import Any

from django.core.cache import cache
from django.core.files.uploadhandler import MemoryFileUploadHandler
from django.http import HttpRequest, HttpResponse
from django.utils.text import format_lazy
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from identify.asked import _s_lazy
from identify.core.hearing.notes import HeardNote

FIELD = "recording"
MOST_BYTES = 6 * 1024 * 1024
FRAMING_BYTES = 64 * 1024  # what a form adds around a file
A_MINUTE = 60
# Listening to half a minute takes some 50 MB for half a second: two at once leave the site's other threads alone.
_AT_ONCE = BoundedSemaphore(2)

TOO_BIG, TOO_OFTEN, NOTHING = "too-big", "too-often", "nothing"
SENTENCES = {
    TOO_BIG: format_lazy(
        _s_lazy("The file is larger than {most} MB, so it was not read. One to five seconds are enough."),
        most=MOST_BYTES // 2**20,
    ),
    TOO_OFTEN: format_lazy(
        _s_lazy("That was more than {most} recordings in a minute. Wait a minute, then play again."), most=A_MINUTE
    ),
    NOTHING: _s_lazy("No recording arrived. Record the note, or choose a file first."),
}
STATUS = {TOO_BIG: 413, TOO_OFTEN: 429}


class _InMemory(MemoryFileUploadHandler):
    """Takes every file into memory, however the site treats its other uploads: never into a temporary file."""

    def handle_raw_input(self, *args: Any, **kwargs: Any) -> None:
        self.activated = True


def refused(code: str) -> HeardNote:
    return HeardNote(None, 0.0, code, str(SENTENCES[code]))


def status_of(heard: HeardNote) -> int:
    """200 for what could be listened to, whatever was heard; else that the request was at fault."""
    if heard.hz is not None or heard.seconds:
        return 200
    return STATUS.get(heard.code or "", 422)


def takes_recording(page: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For a page that is sent a recording: refuses what is too large before reading any of it.

    The page is called with `too_big=True` then. The proof that the form is ours is part of what is read, so it
    is asked for after that, and not by the middleware, which would read everything first.
    """
    proven = csrf_protect(page)

    @csrf_exempt
    @wraps(page)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method == "POST":
            if _length(request) > MOST_BYTES + FRAMING_BYTES:
                return page(request, *args, too_big=True, **kwargs)
            request.upload_handlers = [_InMemory(request)]
        return proven(request, *args, **kwargs)

    return guarded


def heard_in(request: HttpRequest, *, at: datetime) -> HeardNote:
    """The note in the recording that a request carries; whatever is wrong with it becomes the reason."""
    from identify.core.hearing.listening import listen
    from identify.core.hearing.sound import UnreadableSound, read_sound

    if _too_often(request, at):
        return refused(TOO_OFTEN)
    upload = request.FILES.get(FIELD)
    if upload is None or isinstance(upload, list):
        return refused(NOTHING)
    try:
        with _AT_ONCE:
            return listen(read_sound(upload.read()))
    except UnreadableSound as wrong:
        return HeardNote(None, 0.0, wrong.code, str(wrong))


def _length(request: HttpRequest) -> int:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


def _too_often(request: HttpRequest, at: datetime) -> bool:
    """Counts a person's recordings in each minute. The counter is all that is kept."""
    key = f"listened:{request.user.pk}:{int(at.timestamp() // 60)}"
    cache.add(key, 0, 120)
    try:
        return cache.incr(key) > A_MINUTE
    except ValueError:  # it was swept away between the two
        return False
