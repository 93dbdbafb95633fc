"""Letters about who signs for a pupil: queued in the transaction that changes it, so that both are done or neither."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string

from fleet.ground.wording import day
from fleet.people.queries.addresses import Telling
from fleet.people.queries.own_words import speaking


def tell(letters: Sequence[Telling]) -> None:
    for letter in letters:
        with speaking(letter.said["school"], letter.said["language"]):
            said = {name: day(value) if isinstance(value, date) else value for name, value in letter.said.items()}
            template = f"people/letters/{letter.name}.txt"
            origin = f"{settings.SITE_ORIGIN}{settings.SITE_PATH}"
            words = render_to_string(template, {**said, "origin": origin}).strip()
        subject, _, body = words.partition("\n")
        # A name that holds a line end would begin a header of its own.
        subject = " ".join(subject.split())[:200]
        send_mail(subject, body.strip() + "\n", None, [letter.address])
