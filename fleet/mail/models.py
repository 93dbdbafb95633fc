"""What waits for the mail server."""

from __future__ import annotations

from django.db import models
from django.utils.crypto import salted_hmac


def mark_of(address: str) -> str:
    return salted_hmac("refused", address.lower(), algorithm="sha256").hexdigest()


class Outgoing(models.Model):
    """One letter to one address. Its row goes when it is sent; one that did not go keeps neither address nor words."""

    class State(models.TextChoices):
        WAITING = "waiting", "waits for the mail server"
        GOING = "going", "is being handed over"
        REFUSED = "refused", "refused by the mail server"
        UNSURE = "unsure", "may have arrived"
        LATE = "late", "waited until it was of no use"

    # What its Message-ID is made of, the same each time it is tried.
    name = models.CharField(max_length=32, unique=True)
    # As long as a form lets one be.
    address = models.CharField(max_length=320, blank=True)
    subject = models.CharField(max_length=200, blank=True)
    words = models.TextField(blank=True)
    # Where an answer goes, when not to the site.
    answers_to = models.CharField(max_length=320, blank=True, default="", db_default="")
    # A PDF that goes with it, and under which name.
    paper = models.BinaryField(null=True)
    paper_name = models.CharField(max_length=120, blank=True, default="", db_default="")
    # Of one that the server refused: whose it was can be asked for, and not be read from it.
    was_for = models.CharField(max_length=64, blank=True, default="", db_default="")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    queued_at = models.DateTimeField()
    # Not before, and not after.
    next_at = models.DateTimeField(db_index=True)
    good_until = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"queued {self.queued_at:%Y-%m-%d %H:%M}, {self.get_state_display()}"
