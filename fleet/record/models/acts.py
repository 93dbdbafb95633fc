"""One act, and the end of a chain of acts."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC
from typing import Any, NoReturn

from django.db import models
from django.db.models.functions import Coalesce

from fleet.record.models.deeds import Deed

ADDED_TO_ONLY = "The record is only added to."
# What an act is about. The rows may go: the act outlives them.
POINTERS = ("by", "account", "guardian", "pupil", "horn")


def loose(to: str) -> Any:
    """A reference without a constraint: nothing is kept from going because an act names it."""
    return models.ForeignKey(to, models.DO_NOTHING, null=True, db_constraint=False, related_name="+", editable=False)


def sum_of(salt: str, words: str) -> str:
    """What is left of words once they are taken out, with their salt, by whoever forgets."""
    return hashlib.sha256(f"{salt}\n{words}".encode()).hexdigest()


class ActQuerySet(models.QuerySet["Act"]):
    def of(self, school: int | None) -> ActQuerySet:
        """The acts of one chain: of the school with that key, or of the site where there is none."""
        return self.filter(school=school)

    def update(self, **fields: Any) -> NoReturn:
        raise TypeError(ADDED_TO_ONLY)

    def delete(self) -> NoReturn:
        raise TypeError(ADDED_TO_ONLY)


class Act(models.Model):
    """Somebody did something. Added by `fleet.record.actions.recording.record` and never changed by anybody else.

    `number`, `before` and `seal` come with the sealing. `keys` says in words what the pointers say, for good.
    `told` is a list in JSON, of `[what, who or which]` and `[what, from, to]`; with `by_name` it is all that may be
    taken out, each with its salt. Their hashes stay, since the seal covers them.
    """

    school = models.ForeignKey("people.School", models.CASCADE, null=True, related_name="+")
    number = models.PositiveBigIntegerField(null=True)
    at = models.DateTimeField()
    deed = models.CharField(max_length=40)
    page = models.CharField(max_length=60, blank=True)
    keys = models.CharField(max_length=200, blank=True)
    by = loose("people.User")
    account = loose("people.User")
    guardian = loose("people.Guardian")
    pupil = loose("people.Pupil")
    horn = loose("register.Horn")
    by_name = models.CharField(max_length=254, blank=True)
    by_salt = models.CharField(max_length=32, blank=True)
    by_sum = models.CharField(max_length=64)
    told = models.TextField(blank=True)
    told_salt = models.CharField(max_length=32, blank=True)
    told_sum = models.CharField(max_length=64)
    before = models.CharField(max_length=64, blank=True)
    seal = models.CharField(max_length=64, blank=True)

    objects = ActQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["school", "number"], name="act_number_once"),
            models.UniqueConstraint(
                fields=["number"], condition=models.Q(school=None), name="act_number_of_the_site_once"
            ),
        ]
        indexes = [models.Index(fields=["school", "-id"], name="act_newest_first")]
        ordering = ["-pk"]

    def save(self, **options: Any) -> None:
        if not self._state.adding:
            raise TypeError(ADDED_TO_ONLY)
        super().save(**options)

    def delete(self, using: Any = None, keep_parents: bool = False) -> NoReturn:
        raise TypeError(ADDED_TO_ONLY)

    @property
    def what(self) -> str:
        """The deed in words."""
        return str(Deed(self.deed).label) if self.deed in Deed.values else self.deed

    @property
    def lines(self) -> list[list[str]]:
        """What is told; nothing where it was taken out."""
        return list(json.loads(self.told)) if self.told else []

    def keys_now(self) -> str:
        """What the pointers say, in words."""
        keys = ((name, getattr(self, f"{name}_id")) for name in ("school", *POINTERS))
        return " ".join(f"{name} {key}" for name, key in keys if key is not None)

    def seal_now(self) -> str:
        """The hash over this act and, by `before`, over all those before it."""
        at = self.at.astimezone(UTC).isoformat(timespec="microseconds")
        covered = [self.number, self.before, at, self.deed, self.page, self.keys, self.by_sum, self.told_sum]
        return hashlib.sha256(json.dumps(covered).encode()).hexdigest()


class Chain(models.Model):
    """Where the chain of a school, or of the site, ends: number and seal of its last act. Its row is the lock."""

    school = models.ForeignKey("people.School", models.CASCADE, null=True, related_name="+")
    number = models.PositiveBigIntegerField(default=0)
    seal = models.CharField(max_length=64, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(Coalesce("school", 0), name="one_chain_each")]
