"""Of several guardians who could sign, those of the pupil's page stand in its order: by family name."""

from __future__ import annotations

from fleet.desk.queries.pupils import page_of
from tests import make


def test_guardians_to_choose_from_stand_by_family_name(lending, as_):
    lent = make.horn(lending.school)
    make.check(lent, lending.teacher)
    both = [make.guardian(lending.school, name=name) for name in ("Anna Zorn", "Zoe Abel")]
    pupil = make.pupil(lending.school, *both)
    client, place = as_(lending.teacher), f"/s/{lending.school.slug}/loans"

    alone = client.get(f"{place}/issue/", {"horn": lent.pk, "pupil": pupil.pk}).context["form"]
    batch = client.get(f"{place}/batch/", {"pair": f"{pupil.pk}.{lent.pk}"}).context["batch"]

    told = [one.name for one in page_of(pupil, make.TODAY).guardians]
    assert told == ["Zoe Abel", "Anna Zorn"]
    assert [one.name for one in alone.guardians.values()] == told
    assert [one.name for one in batch.entries[0].guardians] == told
