"""A horn that was entered by mistake is struck out: no list tells of it, and its number stays used."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.exchange.actions.lists.horns import HORNS
from fleet.exchange.reading.columns import Reading
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.record.models import Act, Deed
from fleet.register.actions import horns, identifying
from fleet.register.actions.identifying import SAME_WALK
from fleet.register.actions.locking import TWICE_WITHIN
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.reports.queries.figures import condition
from identify.core.reasoning.evidence import read_observations
from tests import make
from tests.pages import folded
from tests.reading import story_of
from tests.register.test_identified import FULL_DOUBLE_IN_F, MELLOPHONE

pytestmark = pytest.mark.django_db


def struck_out(school, head, **fields) -> Horn:
    horn = make.horn(school, **fields)
    change_standing(horn=horn, kind="struck-out", reason="Registered twice", by=head, at=make.NOW)
    horn.refresh_from_db()
    return horn


def test_a_horn_entered_by_mistake_leaves_the_lists_and_its_number_stays_used(as_, school, head):
    kept, gone = make.horn(school, number="HN-0001"), make.horn(school, number="HN-0002")
    sold = make.horn(school, number="HN-0003", withdrawn_on=make.TODAY)
    client, slug = as_(head), school.slug
    client.post(
        reverse("register:standing", args=[slug, gone.pk]),
        {"kind": "struck-out", "on": str(make.TODAY), "reason": "Registered twice"},
    )

    def listed(**asked: str) -> list[str]:
        page = client.get(reverse("register:horns", args=[slug]), asked)
        return [horn.number for horn in page.context["page"].rows]

    assert listed() == [kept.number]
    assert listed(where="withdrawn") == [sold.number]
    assert client.get(reverse("register:horns", args=[slug])).context["withdrawn"] == "1"
    gone.refresh_from_db()
    assert (gone.struck_out, gone.where, gone.whereabouts.words) == (True, "withdrawn", "struck out")
    assert [one.sentence for one in gone.kept_back][:1] == ["HN-0002 was struck out on 14 September 2026."]
    assert "It is struck out, entered by mistake." in folded(client.get(reverse("desk:horn", args=[slug, gone.pk])))
    assert "Struck out, entered by mistake: Registered twice." in [line.sentence for line in story_of(gone).whole()]
    assert Act.objects.filter(deed=Deed.HORN_STRUCK_OUT, horn=gone).exists()
    said: horns.Particulars = {"number": "HN-0002"}
    with pytest.raises(Refused, match="This register number is taken"):
        horns.register_horn(school=school, particulars=said, by=head, at=make.NOW + timedelta(days=1))


def test_a_horn_that_was_struck_out_is_in_no_figure_and_no_list_brings_it_back(school, head):
    struck_out(school, head, number="HN-0001", created=make.NOW - timedelta(days=900))
    assert sum(on.horns for on in condition(school, make.TODAY)) == 0

    row = {"line": 2, "wrong": [], "noted": []}
    HORNS.check([row], Reading(school, True, make.TODAY), [{"number": "hn-0001", "maker": "Bell"}], {})
    assert row["verdict"] == "refused"
    assert row["wrong"][0][2] == "The horn of this number was struck out. It stays used."


def test_what_was_struck_out_by_mistake_is_kept_again(school, head):
    horn = struck_out(school, head)
    change_standing(horn=horn, kind="kept-again", reason="It is there", by=head, at=make.NOW)
    horn.refresh_from_db()
    assert (horn.struck_out, horn.withdrawn_on) == (False, None)
    change_standing(horn=horn, kind="withdrawn", reason="Crushed", by=head, at=make.NOW)
    horn.refresh_from_db()
    assert (horn.struck_out, horn.whereabouts.words) == (False, "withdrawn")


def test_a_horn_that_was_lent_or_mended_was_no_mistake(school, head):
    lent, mended, sounded = (make.horn(school) for _ in range(3))
    make.loan(lent, make.pupil(school), head, returned_on=make.TODAY)
    make.job(mended, head, state="done")
    make.check(sounded, head)

    for horn, word in ((lent, "loan"), (mended, "repair job")):
        with pytest.raises(Refused, match=f"has a {word} on record, so it was no mistake. Withdraw it instead."):
            change_standing(horn=horn, kind="struck-out", reason="Twice", by=head, at=make.NOW)
    assert change_standing(horn=sounded, kind="struck-out", reason="Twice", by=head, at=make.NOW).kind == "struck-out"


def walked(school, by, answers, at, **more):
    how = {"build": "double-full", "stands_in": "F"} if answers is FULL_DOUBLE_IN_F else {"build": "mellophone-f"}
    given = {"observations": read_observations(answers)[0], "stands_in": "F", **how, "by": by, "at": at, **more}
    return identifying.register_as_found(school=school, particulars={"number": ""}, suggested="", **given)


def test_back_and_register_again_says_which_horn_this_walk_is_already(school, head):
    first = walked(school, head, FULL_DOUBLE_IN_F, make.NOW)
    after = TWICE_WITHIN + timedelta(seconds=1)

    with pytest.raises(Refused) as no:
        walked(school, head, FULL_DOUBLE_IN_F, make.NOW + after)
    assert no.value.sentence == f"This walk is {first} already."
    assert no.value.way_out.args == (first.pk,)
    with pytest.raises(Refused):
        walked(school, head, FULL_DOUBLE_IN_F, make.NOW + SAME_WALK)

    walked(school, head, MELLOPHONE, make.NOW + after)
    walked(school, make.staff(Role.TEACHER, school), FULL_DOUBLE_IN_F, make.NOW + after)
    walked(school, head, FULL_DOUBLE_IN_F, make.NOW + after, another=True)
    other = make.school()
    walked(other, head, FULL_DOUBLE_IN_F, make.NOW + after)
    assert Horn.objects.at(school).count() == 4


@pytest.mark.parametrize(
    ("number", "seconds", "one"),
    [("HN-0001", 15, True), ("HN-0001", 16, False), ("HN-0002", 0, False), ("HN-0002", 1, False)],
)
def test_back_at_once_is_told_too_and_a_button_tapped_twice_is_one_horn(school, head, number, seconds, one):
    sent = {
        "school": school,
        "observations": read_observations(FULL_DOUBLE_IN_F)[0],
        "build": "double-full",
        "stands_in": "F",
        "by": head,
    }
    first = identifying.register_as_found(particulars={"number": "HN-0001"}, suggested="", at=make.NOW, **sent)
    again = {"particulars": {"number": number}, "suggested": number, "at": make.NOW + timedelta(seconds=seconds)}

    if one:
        assert identifying.register_as_found(**again, **sent) == first
    else:
        with pytest.raises(Refused, match=f"This walk is {first} already."):
            identifying.register_as_found(**again, **sent)
    assert [horn.number for horn in Horn.objects.at(school)] == ["HN-0001"]


def test_the_same_answers_after_an_hour_are_another_horn(school, head):
    walked(school, head, FULL_DOUBLE_IN_F, make.NOW)
    walked(school, head, FULL_DOUBLE_IN_F, make.NOW + SAME_WALK + timedelta(seconds=1))
    assert Horn.objects.at(school).count() == 2


def test_the_page_lets_somebody_say_that_it_is_another_horn_with_the_same_answers(as_, school, head):
    walked(school, head, FULL_DOUBLE_IN_F, make.NOW)
    Horn.objects.at(school).update(created=timezone.now() - timedelta(minutes=5))
    found = Horn.objects.at(school).get()
    found.identifications.update(at=found.created)
    page = reverse("register:identified", args=[school.slug])
    address = f"{page}?{urlencode(FULL_DOUBLE_IN_F)}"
    sent = {"kind": "double-full|F", "act": "as-new", "number": "HN-0002", "suggested": "HN-0002"}
    client = as_(head)

    assert 'name="another"' not in client.get(address).content.decode()
    again = client.post(address, sent)
    assert again.status_code == 409
    assert f"This walk is {found} already." in folded(again)
    assert 'name="another"' in again.content.decode()
    client.post(address, {**sent, "another": "on"})
    assert Horn.objects.at(school).count() == 2
