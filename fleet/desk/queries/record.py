"""The acts of a school, narrowed to what a head asks for."""

from __future__ import annotations

import json

from django.db.models import Q
from django.http import QueryDict

from fleet.ground.addresses import whole
from fleet.people.models import School, User
from fleet.record.models import Act, ActQuerySet, Deed, Kind

ABOUT = ("horn", "pupil", "guardian", "account")


def acts_asked_for(school: School, asked: QueryDict) -> ActQuerySet:
    """The newest first: `q` words, `kind`, `by` whom, about which `horn`, `pupil`, `guardian` or `account` (keys).

    What makes no sense narrows nothing.
    """
    acts = Act.objects.of(school.pk)
    if (kind := asked.get("kind", "")) in Kind.values:
        acts = acts.filter(deed__startswith=f"{kind}.")
    for name in ("by", *ABOUT):
        if (key := whole(asked.get(name))) is not None:
            acts = acts.filter(**{f"{name}_id": key})
    for word in asked.get("q", "")[:80].replace("\0", "").split()[:6]:
        deeds = [deed for deed in Deed if word.casefold() in deed.label.casefold()]
        # As it stands in what is told, where quotes are written with a stroke.
        written = json.dumps(word, ensure_ascii=False)[1:-1]
        acts = acts.filter(
            Q(by_name__icontains=word) | Q(told__icontains=written) | Q(page__icontains=word) | Q(deed__in=deeds)
        )
    return acts.select_related(*ABOUT)


def who_acted(school: School) -> list[User]:
    """Everybody of whom the school's record has an act."""
    keys = Act.objects.of(school.pk).exclude(by=None).order_by().values("by").distinct()
    return list(User.objects.filter(pk__in=keys).order_by("name", "pk"))
