"""Who has to be told when the address that signs for a pupil becomes another."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from fleet.ground.access import HEADS
from fleet.people.models import AddressChange, Guardian, Post, Pupil, User
from fleet.people.models.families import SIGNS_AFTER


@dataclass(frozen=True, slots=True)
class Telling:
    """A letter that tells of it: `name` of its template, and what fills it."""

    name: str
    address: str
    said: dict[str, Any]


def is_new_to(pupil: Pupil, guardian: Guardian) -> bool:
    """Whether this guardian comes to a pupil who has, or had, somebody else. Parents who answer for another child
    together are not new to each other's."""
    if guardian.pk is not None and pupil.guardians.filter(pk=guardian.pk).exists():
        return False
    others = pupil.guardians.all()
    if not others.exists():
        return pupil.guardian_let_go_at is not None
    return guardian.pk is None or not Pupil.objects.filter(guardians=guardian).filter(guardians__in=others).exists()


def tellings_of_change(
    before: Guardian, email: str, *, let_go: Collection[int], link: str = "", by: User, at: datetime
) -> list[Telling]:
    """Letters to the old and the new address of a guardian, and of pupils the guardian no longer answers for. By the
    `link` the old one objects. One that has no other in its place is told as well: the next might come a step later."""
    names = dict(before.pupils.order_by("name", "pk").values_list("pk", "name"))
    kept = [name for key, name in names.items() if key not in let_go]
    said = _said(before, by, at)
    letters = []
    if email.lower() != before.email.lower():
        if email:
            letters.append(Telling("address_new", email.lower(), {**said, "pupils": kept}))
        if before.email:
            said_before = {**said, "pupils": kept, "link": link, "another": bool(email)}
            letters.append(Telling("address_before", before.email, said_before))
    gone = [names[key] for key in let_go if key in names]
    if gone and before.email:
        letters.append(Telling("let_go", before.email, {**said, "pupils": gone}))
    return letters


def tellings_of_joining(pupil: Pupil, guardian: Guardian, *, by: User, at: datetime) -> list[Telling]:
    """Letters to the guardians a pupil has, when somebody comes to them."""
    email = guardian.email.lower()
    known = Guardian.objects.filter(school=pupil.school, email__iexact=email).exclude(email="").first()
    if not is_new_to(pupil, known or guardian):
        return []
    others = pupil.guardians.exclude(email="").order_by("pk")
    return [
        Telling("joined", one.email, {**_said(one, by, at), "joined": guardian.name, "pupils": [pupil.name]})
        for one in others
    ]


def telling_of_objection(change: AddressChange, *, at: datetime) -> list[Telling]:
    """A letter to the address that is taken off the record again; `change` as it was read before."""
    gone = change.guardian
    if gone.email.lower() in {"", change.before.lower()}:
        return []
    return [Telling("address_back", gone.email, _said(gone, None, at))]


def _said(guardian: Guardian, by: User | None, at: datetime) -> dict[str, Any]:
    heads = Post.objects.filter(school=guardian.school, role__in=HEADS)
    return {
        "language": guardian.speaks,
        "guardian": guardian.name,
        "school": guardian.school,
        "by": by,
        "on": timezone.localdate(at),
        "signs_from": timezone.localdate(at + SIGNS_AFTER),
        "heads": [post.user for post in heads.select_related("user").order_by("pk")],
    }
