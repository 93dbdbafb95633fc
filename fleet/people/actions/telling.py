"""Letters about who signs for a pupil, sent at once and before anything is changed."""

from __future__ import annotations

import smtplib
from collections.abc import Sequence

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.template.loader import render_to_string

from fleet.ground.refusal import Refused
from fleet.people.queries.addresses import Telling


def tell(letters: Sequence[Telling]) -> None:
    """Sends them. An old address may be dead, which keeps nobody from having a new one. Raises Refused when the mail
    server cannot be reached, or does not take the new address."""
    if not letters:
        return
    server = get_connection()
    try:
        server.open()
        for letter in letters:
            try:
                _letter(letter, server).send()
            except smtplib.SMTPRecipientsRefused:
                if letter.name == "address_new":
                    raise Refused(f"The mail server does not take letters to {letter.address}.") from None
    except (OSError, smtplib.SMTPException):
        raise Refused(
            "The letters that tell of this could not be sent, so nothing was changed. Try again later."
        ) from None
    finally:
        server.close()


def _letter(letter: Telling, server: BaseEmailBackend) -> EmailMessage:
    words = render_to_string(f"people/letters/{letter.name}.txt", {**letter.said, "origin": settings.SITE_ORIGIN})
    subject, _, body = words.strip().partition("\n")
    # A name that holds a line end would begin a header of its own.
    subject = " ".join(subject.split())[:200]
    return EmailMessage(subject, body.strip() + "\n", None, [letter.address], connection=server)
