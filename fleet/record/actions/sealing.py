"""Acts get their place in the chain, in a short transaction of their own.

Not in the transaction of the act: a school's acts would wait for each other from the first to the last, and whoever
holds a horn and waits for the chain could meet whoever holds the chain and waits for the horn.
"""

from __future__ import annotations

from django.db import transaction
from django.db.models import QuerySet

from fleet.record.models import Act, Chain

AT_ONCE = 500


def seal(*, school: int | None) -> None:
    """Seals what is not sealed yet of the chain of this school's key, or of the site's: right after each act, and
    before anybody reads or proves the record, should the site have stopped between the two."""
    while Act.objects.of(school).filter(number=None).exists():
        _seal_some(school)


def seal_all() -> None:
    for school in list(Act.objects.filter(number=None).order_by().values_list("school", flat=True).distinct()):
        seal(school=school)


@transaction.atomic
def _seal_some(school: int | None) -> None:
    chain, _ = Chain.objects.get_or_create(school_id=school)  # type: ignore[misc]
    chain = Chain.objects.select_for_update().get(pk=chain.pk)
    # Read once the chain is held: whoever held it before has sealed some of them.
    acts = list(Act.objects.of(school).filter(number=None).order_by("pk")[:AT_ONCE])
    for act in acts:
        act.number, act.before = chain.number + 1, chain.seal
        act.seal = act.seal_now()
        chain.number, chain.seal = act.number, act.seal
    QuerySet[Act](Act).bulk_update(acts, ["number", "before", "seal"], batch_size=100)
    chain.save(update_fields=["number", "seal"])
