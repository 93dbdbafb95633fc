"""Files that were sent to us, given out through a page of ours and never by a bare address."""

from __future__ import annotations

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404
from django.http.response import HttpResponseBase


def guarded(response: HttpResponseBase) -> HttpResponseBase:
    """The answer with a file that somebody sent: it is what it says, and nothing in it may run."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; base-uri 'none'; frame-ancestors 'none'; sandbox"
    # A file never changes under its address; on a shared machine it stays with the one who looked.
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


def paper_answer(file: FieldFile, name: str) -> HttpResponseBase:
    """What `kept_pdf` or `kept_paper` kept: a photograph is shown, a PDF is only saved, under `name`. 404 when the file
    is gone."""
    pdf = str(file.name).endswith(".pdf")
    try:
        opened = file.open("rb")
    except OSError as gone:
        raise Http404("The file is gone.") from gone
    kind, ending = ("application/pdf", "pdf") if pdf else ("image/jpeg", "jpg")
    return guarded(FileResponse(opened, as_attachment=pdf, filename=f"{name}.{ending}", content_type=kind))
