"""Letters to guardians. A letter's row is its log and what keeps it from going twice."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, ClassVar

from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.utils import timezone
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.languages.marks import _s_lazy
from fleet.letters.models.rules import TO_SIGN
from fleet.people.models import Guardian, Pupil, School
from fleet.people.models.searched import few_of, words_of
from fleet.people.models.trigrams import GUARDIANS, PUPILS, having, looked_up
from fleet.register.models.numbers import numbered
from fleet.register.models.searching import ways_by_number

if TYPE_CHECKING:
    from fleet.lending.models import Loan
    from fleet.signing.models import OnlineSignature


ABOUT = ("loan__", "signature__")
# As the trigrams name it.
ADDRESSES = "loans_letter.address"
# Behind the name of who wrote down that a letter came back, as it is kept.
BY_HAND = " recorded that it came back."


def _ways(word: str, school: School) -> list[LetterQuerySet]:
    """The letters of a school that a word finds, by whom and what it may mean: each way along an index of its own, and
    to be limited."""
    # Of the school is what they are looked up by: asked of the letters, too, SQLite may go through all of them.
    every = Letter.objects.all()
    ways = [
        looked_up(every, GUARDIANS, [word], school, way="guardian"),
        looked_up(every, ADDRESSES, [word], school),
    ]
    for about in ABOUT:
        ways += (
            looked_up(every, PUPILS, [word], school, way=f"{about}pupil"),
            *ways_by_number(every, f"{about}horn", word, school),
        )
    return ways


class LetterQuerySet(models.QuerySet["Letter"]):
    def at(self, school: School) -> LetterQuerySet:
        return self.filter(school=school)

    def having_words(self, query: str, *, school: School) -> LetterQuerySet:
        """Letters of this school about a pupil or a horn, or to a guardian or an address, with every word of the query.
        Beside it a query for each word, until one of them few letters have."""
        asked = words_of(query)
        found = self.at(school)
        for word in asked:
            said = having(word, "guardian__search") | having(word, "address")
            for about in ABOUT:
                said |= having(word, f"{about}pupil__search") | numbered(word, f"{about}horn__")
            found = found.filter(said)
        # The longest word first: the others are looked for in what it finds, unless too many have it.
        for word in sorted(asked, key=len, reverse=True):
            few = few_of(*_ways(word, school))
            if few is not None:
                return found.filter(pk__in=few)
        return found

    def of_pupil(self, pupil: Pupil) -> LetterQuerySet:
        """Those about what a pupil borrowed or was to sign for.

        Each way goes along its index; asked for as one or the other, the letters of every school are looked through.
        """
        borrowed, to_sign = (Letter.objects.filter(**{f"{about}pupil": pupil}).order_by() for about in ABOUT)
        return self.filter(pk__in=borrowed.values("pk").union(to_sign.values("pk")))

    def undelivered(self) -> LetterQuerySet:
        """The newest letters that did not arrive, or may not have, while what they are about still stands."""
        newer = Letter.objects.filter(loan=OuterRef("loan"), pk__gt=OuterRef("pk"))
        out = Q(loan__isnull=False, loan__returned_on=None, loan__due_on=F("due_on"))
        to_sign = Q(signature__isnull=False, signature__signed_at=None, signature__withdrawn_at=None)
        return self.filter(out | to_sign, ~Exists(newer), state__in=Letter.FAILED)


class Letter(models.Model):
    """One letter for one occasion of one due date of a loan, or about one agreement to be signed."""

    FOUND_BY = ("address",)

    class State(models.TextChoices):
        WAITING = "waiting", _s_lazy("waits for the mail server")
        GOING = "going", _s_lazy("is being sent")
        SENT = "sent", _s_lazy("sent")
        REFUSED = "refused", _s_lazy("refused by the mail server")
        BOUNCED = "bounced", _s_lazy("came back")
        NO_ADDRESS = "no-address", _s_lazy("no e-mail address")
        UNSURE = "unsure", _s_lazy("may not have arrived")
        DROPPED = "dropped", _s_lazy("not needed any more")

    FAILED: ClassVar = (State.REFUSED, State.BOUNCED, State.NO_ADDRESS, State.UNSURE)

    # Its guardian's; empty only of what the version before wrote while this one was put in place, for a night.
    school = models.ForeignKey(School, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, null=True, blank=True, related_name="letters")
    signature = models.ForeignKey(
        "loans.OnlineSignature", on_delete=models.CASCADE, null=True, blank=True, related_name="letters"
    )
    occasion = models.CharField(max_length=16)
    due_on = models.DateField()
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    made_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    address = models.CharField(max_length=254, blank=True)
    subject = models.CharField(max_length=300, blank=True)
    words = models.TextField(blank=True)
    trouble = models.CharField(max_length=300, blank=True)

    objects = LetterQuerySet.as_manager()

    class Meta:
        app_label = "loans"
        constraints = [
            models.UniqueConstraint(fields=["loan", "occasion", "due_on"], name="one_letter_an_occasion"),
            models.UniqueConstraint(fields=["signature"], name="one_letter_a_signature"),
            models.CheckConstraint(
                condition=Q(loan__isnull=False, signature=None) | Q(loan=None, signature__isnull=False),
                name="letter_about_one_thing",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "id"], name="letter_by_state"),
            models.Index(fields=["school", "-made_at", "-id"], name="letter_newest"),
            models.Index(fields=["school", "state", "-made_at", "-id"], name="letter_newest_by_state"),
            models.Index(fields=["school", "sent_at"], name="letter_sent"),
            models.Index(fields=["school", "address"], name="letter_to"),
            # Of the index of all, nearly all without one, SQLite takes it that it narrows nothing.
            models.Index(fields=["signature"], condition=Q(signature__isnull=False), name="letter_to_sign"),
        ]
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return occasion_in_words(self.occasion)

    @property
    def why(self) -> str:
        """What came in its way: in a mail server's words, or in ours, which are kept in English, as the reader's
        language says them."""
        who, by_hand, _ = self.trouble.partition(BY_HAND)
        if by_hand:
            return _s("%(user)s recorded that it came back.") % {"user": who}
        return _s(self.trouble) if self.trouble else ""

    @property
    def on(self) -> datetime:
        """When it was sent, or written where it was not, by the clock of whoever asks."""
        return timezone.localtime(self.sent_at or self.made_at)

    @property
    def about(self) -> Loan | OnlineSignature:
        """What it is about: either knows its horn, its pupil and the due date."""
        return self.loan or self.signature  # type: ignore[return-value]


def occasion_in_words(occasion: str) -> str:
    """`before-14` as `14 days before`."""
    when, _, days = occasion.partition("-")
    if days.isdigit():
        count = {"count": int(days)}
        if when == "before":
            return _s_many("%(count)d day before the due date", "%(count)d days before the due date", int(days)) % count
        return _s_many("%(count)d day after the due date", "%(count)d days after the due date", int(days)) % count
    words = {"recalled": _s("recalled"), "moved": _s("the due date moved"), TO_SIGN: _s("to be signed")}
    return words.get(occasion, occasion)
