"""Letters about who signs for a pupil: queued in the transaction that changes it, so that both are done or neither."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string

from fleet.people.queries.addresses import Telling


def tell(letters: Sequence[Telling]) -> None:
    for letter in letters:
        said = {**letter.said, "origin": f"{settings.SITE_ORIGIN}{settings.SITE_PATH}"}
        words = render_to_string(f"people/letters/{letter.name}.txt", said).strip()
        subject, _, body = words.partition("\n")
        # A name that holds a line end would begin a header of its own.
        subject = " ".join(subject.split())[:200]
        send_mail(subject, body.strip() + "\n", None, [letter.address])
