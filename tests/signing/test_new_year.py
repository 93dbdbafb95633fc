"""A new school year begins while agreements wait to be signed."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from fleet.signing.models import OnlineSignature
from tests import make
from tests.lending.test_new_year import DAY, ENDS, here, sent

pytestmark = pytest.mark.usefixtures("at_noon")


def test_what_waits_to_be_signed_is_asked_for_until_the_new_end(db, as_):
    school = make.school(year_ends=ENDS)
    head = make.staff(Role.HEAD, school)

    def asked(group, where=school, **said):
        pupil = make.pupil(where, make.guardian(where), group=group, year="")
        return make.signature(make.horn(where), pupil, head, **{"due_on": ENDS, **said})

    waits, later, leaves = asked("5a", accessories=["case"]), asked("5a", due_on=ENDS + 900 * DAY), asked("6a")
    signed, stays = asked("5a", signed_at=make.NOW, typed_name="Ada"), asked("5b")
    seen_since = asked("5a")
    make.check(seen_since.horn, head, at=make.NOW + DAY)
    elsewhere = asked("5a", make.school(slug="other", year_ends=ENDS))

    client = as_(head)
    chosen = sent(client.get(here(school)))
    loans = {name: "as-is" for name in chosen if name == "c1-loans"}
    look = client.post(here(school), {**chosen, **loans, "do": "look"})
    assert look.context["asked"] == 1
    proof = look.context["plan"].proof
    done = client.post(here(school), {**sent(look), "do": "begin", "seen": proof}, follow=True).content.decode()

    assert "Asked for anew until the new end: 1." in done
    now = OnlineSignature.objects.unused()
    for one in (later, leaves, signed, stays, seen_since, elsewhere):
        assert now.get(horn=one.horn).pk == one.pk
    anew = now.get(horn=waits.horn)
    assert (anew.pupil, anew.guardian, anew.accessories) == (waits.pupil, waits.guardian, ["case"])
    assert (anew.due_on, anew.asked_by, anew.signed_at) == (look.context["plan"].until, head, None)
    assert "Due back on 28 July 2028" in anew.shown
