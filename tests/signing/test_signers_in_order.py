"""Who could sign and who has: guardians by family name, as on the pupil's page; what is signed before what waits."""

from __future__ import annotations

from datetime import timedelta

from fleet.desk.queries.pupils import page_of
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.awaited import awaited
from tests import make


def test_guardians_to_choose_from_stand_by_family_name(lending, as_):
    lent = make.horn(lending.school)
    make.check(lent, lending.teacher)
    both = [make.guardian(lending.school, name=name) for name in ("Anna Zorn", "Zoe Abel")]
    pupil = make.pupil(lending.school, *both)
    client, place = as_(lending.teacher), f"/s/{lending.school.slug}/loans"

    alone = client.get(f"{place}/issue/", {"horn": lent.pk, "pupil": pupil.pk}).context["form"]
    batch = client.get(f"{place}/batch/", {"pair": f"{pupil.pk}.{lent.pk}"}).context["batch"]

    told = [one.name for one in page_of(pupil.pk, pupil.school, make.TODAY).guardians]
    assert told == ["Zoe Abel", "Anna Zorn"]
    assert [one.name for one in alone.guardians.values()] == told
    assert [one.name for one in batch.entries[0].guardians] == told


def test_batches_of_which_somebody_signed_stand_first_and_then_those_asked_for_longest(lending):
    def asked(days: int, due: int, **signed):
        horn, pupil = make.horn(lending.school), make.pupil(lending.school, make.guardian(lending.school))
        said = {"asked_at": make.NOW - timedelta(days=days), "due_on": make.TODAY + timedelta(days=due), **signed}
        return make.signature(horn, pupil, lending.teacher, **said)

    new, old = asked(1, 10), asked(3, 20)
    signed = asked(2, 30, signed_at=make.NOW, typed_name="Ada")

    found = awaited(lending.school, OnlineSignature.objects.select_related("agreement"))
    assert [one.signatures for one in found] == [[signed], [old], [new]]
