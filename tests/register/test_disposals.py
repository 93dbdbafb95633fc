"""A horn given up for good by two people."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions import horns, whereabouts
from fleet.register.actions.disposing import decide, propose
from fleet.register.models import Disposal, Horn
from fleet.register.queries.numbers import next_free
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(db: None):
    class World:
        school = make.school(number_prefix="HN-")
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        head = make.staff(Role.HEAD, school, name="Hana Head")
        horn = make.horn(school, number="HN-0099", build="double-full", stands_in="Bb", serial_number="4711")

        def propose(self, by=None, reason="Cracked branch, dearer to mend than it is worth"):
            return propose(
                horn=self.horn,
                method="scrapped",
                on=make.TODAY,
                reason=reason,
                by=by or self.technician,
                at=make.NOW,
            )

    return World()


def test_one_proposes_and_another_approves_and_the_horn_is_withdrawn(as_, world):
    address = f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/"
    told = {"method": "scrapped", "on": timezone.localdate().isoformat(), "reason": "Cracked\r\nbranch"}
    as_(world.technician).post(address, told)
    made = Disposal.objects.get()
    assert Horn.objects.get(pk=world.horn.pk).where == "cupboard"

    today = as_(world.head).get(f"/s/{world.school.slug}/").content.decode()
    assert "HN-0099: give it up?" in today
    as_(world.head).post(f"/s/{world.school.slug}/disposals/{made.pk}/decide/", {"approve": "yes", "answer": "Agreed"})

    made.refresh_from_db()
    horn = Horn.objects.get(pk=world.horn.pk)
    assert (made.approved, made.proposed_by, made.decided_by) == (True, world.technician, world.head)
    assert (horn.where, horn.withdrawn_on) == ("withdrawn", timezone.localdate())
    assert horn.standings.get().reason == "Cracked branch"


def test_turned_down_it_stays_and_may_be_proposed_again(world):
    decided = decide(disposal=world.propose(), approved=False, answer="Mend it", by=world.head, at=make.NOW)

    assert (decided.approved, Horn.objects.get(pk=world.horn.pk).where) == (False, "cupboard")
    assert world.propose().pk != decided.pk


def test_nobody_decides_what_they_proposed_themselves(as_, world):
    made = world.propose(by=world.head)

    page = as_(world.head).post(f"/s/{world.school.slug}/disposals/{made.pk}/decide/", {"approve": "yes"})

    assert "You proposed it yourself. Somebody else decides." in page.content.decode()
    assert Horn.objects.get(pk=world.horn.pk).where == "cupboard"
    with pytest.raises(IntegrityError, match="disposal_by_two_people"), transaction.atomic():
        Disposal.objects.filter(pk=made.pk).update(decided_by=world.head, decided_at=make.NOW, approved=True)


def test_it_is_decided_once(world):
    made = world.propose()
    decide(disposal=made, approved=True, by=world.head, at=make.NOW)

    with pytest.raises(Refused, match="decided already: approved"):
        decide(disposal=made, approved=False, by=make.staff(Role.HEAD, world.school), at=make.NOW)


def test_a_horn_has_one_proposal_at_a_time_and_a_button_tapped_twice_makes_one(world):
    first = world.propose()

    assert world.propose() == first
    with pytest.raises(Refused, match="is proposed already"):
        world.propose(by=world.head)
    with pytest.raises(IntegrityError), transaction.atomic():
        Disposal.objects.create(
            horn=world.horn, method="sold", on=make.TODAY, reason="x", proposed_at=make.NOW, proposed_by=world.head
        )


def test_a_horn_on_loan_is_not_given_up(world):
    made = world.propose()
    world.horn.holder_name = "Bo Li"
    world.horn.save(update_fields=["holder_name"])

    with pytest.raises(Refused, match="out with Bo Li"):
        decide(disposal=made, approved=True, by=world.head, at=make.NOW)

    assert Disposal.objects.get().decided_at is None


def test_a_horn_given_up_cannot_be_kept_again_and_its_number_stays_its_own(world):
    decide(disposal=world.propose(), approved=True, by=world.head, at=make.NOW)

    with pytest.raises(Refused, match="given up for good by two people"):
        whereabouts.change_standing(horn=world.horn, kind="kept-again", reason="x", by=world.head, at=make.NOW)
    assert next_free(world.school) == "HN-0100"
    with pytest.raises(Refused, match="This register number is taken"):
        horns.register_horn(
            school=world.school, particulars={"number": "hn-0099"}, by=world.head, at=make.NOW + timedelta(hours=1)
        )


def test_no_page_offers_to_keep_a_horn_again_that_was_given_up(as_, world):
    school = world.school.slug
    decide(disposal=world.propose(), approved=True, by=world.head, at=make.NOW)
    browser = as_(world.head)
    kept = make.horn(world.school, withdrawn_on=make.TODAY)

    at = [f"/s/{school}/horns/{world.horn.pk}/", f"/s/{school}/loans/issue/?horn={world.horn.pk}"]
    pages = [folded(browser.get(address)) for address in [*at, f"{at[0]}standing/"]]
    other = folded(browser.get(f"/s/{school}/horns/{kept.pk}/standing/"))

    assert ["Keep it again" in page for page in (*pages, other)] == [False, False, False, True]
    assert ["See what became of it" in page for page in pages] == [True, True, False]
    assert "Given up for good: scrapped, 14 September 2026. It cannot be kept again" in pages[-1]
    assert f"/s/{school}/horns/{world.horn.pk}/disposal/" in pages[-1]


def test_a_horn_that_leaves_later_is_lent_no_more_from_now_on(world):
    made = propose(horn=world.horn, method="sold", on=date(2026, 12, 1), reason="x", by=world.technician, at=make.NOW)
    decide(disposal=made, approved=True, by=world.head, at=make.NOW)

    assert Horn.objects.get(pk=world.horn.pk).withdrawn_on == make.TODAY


def test_the_record_names_the_horn_the_reason_the_way_the_day_and_the_two(as_, world):
    made = world.propose()
    address = f"/s/{world.school.slug}/prints/disposals/{made.pk}/record.pdf"
    browser = as_(world.head)

    def read() -> str:
        answer = browser.get(address)
        return on_paper(answer.content)[0]

    assert "not approved yet: a proposal only" in read()
    decide(disposal=made, approved=True, answer="Agreed", by=world.head, at=make.NOW)
    said = read()

    for words in (
        "HN-0099",
        "full double horn in F and B♭, stands in B♭",
        "4711",
        "scrapped",
        "14 September 2026",
        "Cracked branch, dearer to mend than it is worth",
        "proposed by Ann Reed",
        "approved by Hana Head",
        "never used again",
    ):
        assert words in said


def test_nothing_is_recorded_of_a_proposal_turned_down(as_, world):
    made = decide(disposal=world.propose(), approved=False, by=world.head, at=make.NOW)

    assert as_(world.head).get(f"/s/{world.school.slug}/prints/disposals/{made.pk}/record.pdf").status_code == 404


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"method": "burnt", "on": "2026-09-14", "reason": "x"}, "method"),
        ({"method": "sold", "on": "1066-10-14", "reason": "x"}, "on"),
        ({"method": "sold", "on": "2026-09-14", "reason": " "}, "reason"),
    ],
)
def test_a_proposal_without_sense_is_refused_and_what_was_typed_stays(as_, world, told, field):
    answer = as_(world.head).post(f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/", told)

    assert list(answer.context["form"].errors) == [field]
    assert not Disposal.objects.exists()


def test_the_horns_story_tells_of_it(as_, world):
    decide(disposal=world.propose(), approved=True, answer="Agreed", by=world.head, at=make.NOW)

    page = as_(world.head).get(f"/s/{world.school.slug}/horns/{world.horn.pk}/").content.decode()

    assert "Giving it up proposed, scrapped: Cracked branch" in page
    assert "Giving it up approved: Agreed." in page


def test_the_page_of_a_horn_shows_what_is_proposed_and_what_was_decided_but_nothing_turned_down(as_, world):
    def shown():
        return as_(world.head).get(f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/").context["disposal"]

    turned_down = world.propose()
    decide(disposal=turned_down, approved=False, answer="Mend it", by=world.head, at=make.NOW)
    assert shown() is None
    proposed = world.propose()
    assert shown() == proposed
    decide(disposal=proposed, approved=True, answer="", by=world.head, at=make.NOW)
    assert shown() == proposed


def test_who_gets_it_for_how_much_and_what_it_was_worth_then_are_kept_and_printed_for_heads(as_, world):
    world.horn.price = Decimal("640.00")
    world.horn.save()
    told = {"method": "sold", "on": "2026-09-14", "reason": "Spare", "buyer": "A museum", "price": "150.5"}
    as_(world.head).post(f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/", told)
    made = Disposal.objects.get()
    assert (made.buyer, made.price, made.value) == ("A museum", Decimal("150.50"), Decimal("640.00"))
    Horn.objects.filter(pk=world.horn.pk).update(value=Decimal("1.00"))

    def read(who) -> str:
        content = as_(who).get(f"/s/{world.school.slug}/prints/disposals/{made.pk}/record.pdf").content
        page = as_(who).get(f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/").content.decode()
        return page + on_paper(content)[0]

    assert read(world.head).count("150.50 EUR") == read(world.head).count("640.00 EUR") == 2
    assert read(world.technician).count("A museum") == 2
    assert "150.50" not in read(world.technician)
    assert "640.00" not in read(world.technician)


def test_a_price_is_asked_of_heads_and_the_one_who_decides_has_the_last_word(as_, world):
    told = {"method": "sold", "on": "2026-09-14", "reason": "Spare", "price": "150"}
    address = f"/s/{world.school.slug}/horns/{world.horn.pk}/disposal/"
    assert "price" not in as_(world.technician).get(address).context["form"].fields
    as_(world.technician).post(address, told)
    made = Disposal.objects.get()
    assert made.price is None
    assert "Price, EUR" in as_(world.head).get(address).content.decode()

    decided = f"/s/{world.school.slug}/disposals/{made.pk}/decide/"
    assert as_(world.head).post(decided, {"approve": "yes", "price": "-1"}).status_code == 422
    as_(world.head).post(decided, {"approve": "yes", "price": "90"})
    made.refresh_from_db()
    assert made.price == 90


def test_who_decides_without_a_price_leaves_the_one_proposed(world):
    made = world.propose()
    made.price = Decimal(20)
    made.save()

    assert decide(disposal=made, approved=True, by=world.head, at=make.NOW).price == 20


def test_a_horn_struck_out_is_not_given_up(as_, world):
    told = {"reason": "Twice in the list", "by": world.head, "at": make.NOW}
    whereabouts.change_standing(horn=world.horn, kind="struck-out", **told)

    with pytest.raises(Refused, match="HN-0099 was struck out"):
        world.propose()

    assert not Disposal.objects.exists()
