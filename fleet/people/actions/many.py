"""Many pupils and guardians at once, as a list brings them in: put on record, amended and taken back.

The caller holds the transaction and has looked every value over with the fields of the forms.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.contrib.auth.hashers import make_password
from django.db.models.functions import Lower

from fleet.people.models import Guardian, Opening, Pupil, School, User
from fleet.people.models.searched import Derived
from fleet.record.queries.pointing import pointing_to

Row = TypeVar("Row", bound=Derived)


def enrol_many(*, school: School, pupils: Sequence[Mapping[str, Any]]) -> list[Pupil]:
    return Pupil.objects.bulk_create([Pupil(school=school, **one) for one in pupils])


def amend_many(changes: Mapping[Row, Mapping[str, Any]]) -> None:
    """Writes the changed columns of each row, all of one table, and the columns that follow from them.
    `lending.actions.pupils` tells horns of a pupil's new name."""
    fields: set[str] = set()
    for row, changed in changes.items():
        for name, value in changed.items():
            setattr(row, name, value)
        fields.update(changed)
        row.derive()
    if fields:
        table = type(next(iter(changes)))
        table._default_manager.bulk_update(list(changes), sorted(fields | {*table.DERIVED}), batch_size=100)


def accounts_for(people: Mapping[str, str]) -> tuple[dict[str, User], list[int]]:
    """The account of each e-mail address (small letters) with the name for a new one; and the keys of the new ones."""
    found = User.objects.annotate(same=Lower("email")).filter(same__in=list(people))
    known = {user.email.lower(): user for user in found}
    fresh = [
        User(email=mail, name=name, password=make_password(None)) for mail, name in people.items() if mail not in known
    ]
    made = User.objects.bulk_create(fresh)
    return known | {user.email: user for user in made}, [user.pk for user in made]


def guardians_by_mail(school: School, mails: Iterable[str]) -> dict[str, Guardian]:
    found = Guardian.objects.filter(school=school).annotate(same=Lower("email")).filter(same__in=list(mails))
    return {guardian.email.lower(): guardian for guardian in found}


def guardians_made(
    *, school: School, guardians: Sequence[tuple[str, str, str, str]], accounts: Mapping[str, User]
) -> list[Guardian]:
    """New guardians from (name, e-mail, telephone, language), each tied to the account of its address."""
    return Guardian.objects.bulk_create(
        Guardian(school=school, name=name, email=mail, telephone=telephone, language=language, user=accounts.get(mail))
        for name, mail, telephone, language in guardians
    )


def fill(field: str, known: Mapping[str, Guardian], said: Mapping[Any, str]) -> dict[str, str]:
    """What is said of each e-mail address goes to its guardian of whom none is on record. Returns it by key."""
    bare = [one for mail, one in known.items() if said.get(mail) and not getattr(one, field)]
    for one in bare:
        setattr(one, field, said[one.email.lower()])
    Guardian.objects.bulk_update(bare, [field], batch_size=100)
    return {str(one.pk): getattr(one, field) for one in bare}


def take_back(field: str, filled: Mapping[str, str]) -> None:
    """Takes back what `fill` gave, as far as it is as it was given and an address is left."""
    for key, value in filled.items():
        Guardian.objects.filter(pk=int(key), **{field: value}).exclude(email="").update(**{field: ""})


def tie(pairs: Iterable[tuple[int, int]], *, at: datetime) -> list[list[int]]:
    """Guardians answer for pupils from now on: (pupil, guardian) keys. Returns the ties that were not there before.

    Who comes to a pupil with, or once with, somebody else does not sign for a while (`Guardian.signs_from`).
    """
    wanted = sorted(set(pairs))
    ties = Pupil.guardians.through.objects
    there = set(ties.filter(pupil_id__in=[pupil for pupil, _ in wanted]).values_list("pupil_id", "guardian_id"))
    fresh = [pair for pair in wanted if pair not in there]
    had = Pupil.objects.exclude(guardians=None, guardian_let_go_at=None).filter(pk__in={pupil for pupil, _ in fresh})
    before = set(had.values_list("pk", flat=True))
    joined = Guardian.objects.filter(pk__in={guardian for pupil, guardian in fresh if pupil in before})
    joined.update(address_since=at)
    ties.bulk_create(ties.model(pupil_id=pupil, guardian_id=guardian) for pupil, guardian in fresh)
    return [list(pair) for pair in fresh]


def untie(pairs: Iterable[Sequence[int]]) -> None:
    for pupil, guardian in pairs:
        Pupil.guardians.through.objects.filter(pupil_id=pupil, guardian_id=guardian).delete()


def remove_unused(*, guardians: Sequence[int], accounts: Sequence[int]) -> None:
    """Removes guardians that a list brought in and who answer for nobody and signed nothing, and accounts nobody
    has used: both as far as nothing else has come to hang on them."""
    alone = Guardian.objects.filter(pk__in=guardians, pupils=None)
    alone.exclude(pk__in=_with_loans(guardians)).delete()
    User.objects.filter(pk__in=accounts, last_login=None, posts=None, guardianships=None).delete()


def _with_loans(guardians: Sequence[int]) -> set[int]:
    """Guardians something refers to besides pupils."""
    held: set[int] = set()
    for relation in pointing_to(Guardian):
        if relation.related_model is not Opening:
            name = relation.field.attname
            found = relation.related_model._base_manager.filter(**{f"{name}__in": guardians})
            held.update(found.values_list(name, flat=True))
    return held
