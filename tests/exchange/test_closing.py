"""A school leaves the site by the word of two people: all it had is one file, and nothing of it stays."""

from __future__ import annotations

import re
from datetime import timedelta
from io import StringIO

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from fleet.exchange.actions import closing as closings
from fleet.exchange.actions.closing import (
    agree_to_closing,
    close_school,
    propose_closing,
    take_closing_back,
    to_close,
)
from fleet.exchange.actions.school_in import import_school
from fleet.exchange.models import Closing
from fleet.exchange.queries.whole_school import _way
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.letters.actions.calendar import make_key
from fleet.letters.models import CalendarKey
from fleet.people.models import Guardian, School, User
from fleet.record.models import Act, Deed
from fleet.register.models import Photograph
from tests import make
from tests.exchange.whole import furnish, rows_of

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]
LATER = make.NOW + Closing.WAITS


@pytest.fixture
def world(db, tmp_path, settings):
    settings.DATA_DIR = tmp_path

    class World:
        school = furnish()
        other = make.school(slug="vale", name="Vale")
        service = make.staff(Role.SERVICE, school, name="Sam Service", email="sam@example.org")
        head = User.objects.get(posts__school=school, posts__role="head")
        address = f"/s/{school.slug}/exchange/closing/"

        def agreed(self, at=make.NOW):
            propose_closing(school=self.school, reason="Merged", by=self.service, at=at)
            agree_to_closing(school=self.school, by=self.head, at=at)
            return self.school

    return World()


def test_a_service_head_proposes_another_head_agrees_and_either_may_take_it_back(world, as_):
    assert as_(world.head).post(world.address, {"reason": "Merged"}).status_code == 403
    as_(world.service).post(world.address, {"reason": "Merged"})
    page = as_(world.service).get(world.address).content.decode()
    assert "Another head of this school has to agree: " in page
    assert "Agree to close it" not in page
    as_(world.service).post(world.address + "agree/", {"do": "agree"})
    assert Closing.objects.get().agreed_by is None

    assert "Agree to close it" in as_(world.head).get(world.address).content.decode()
    as_(world.head).post(world.address + "agree/", {"do": "agree"})
    made = Closing.objects.get()
    assert (made.proposed_by, made.agreed_by) == (world.service, world.head)
    page = " ".join(as_(world.head).get(world.address).content.decode().split())
    assert re.search(r"It is closed the first night after \d[^.<]*\. Until then it can be taken back\.", page)

    as_(world.service).post(world.address + "agree/", {"do": "stays"})
    assert not Closing.objects.exists()


def closing_on_today(as_, person, world):
    page = as_(person).get(f"/s/{world.school.slug}/").content.decode()
    return re.findall(r'<a href="([^"]*/closing/)">([^<]*)</a>\s*<span class="why">([^<]*)</span>', page)


def test_today_of_every_head_who_can_answer_it_leads_to_what_is_proposed(world, as_):
    propose_closing(school=world.school, reason="Merged", by=world.service, at=make.NOW)
    second, teacher = make.staff(Role.SERVICE, world.school), make.staff(Role.TEACHER, world.school)

    asked = [(world.address, "Close Hill Road?", "Sam Service proposes it: Merged")]
    assert [closing_on_today(as_, one, world) for one in (world.head, second)] == [asked, asked]
    assert closing_on_today(as_, world.service, world) == closing_on_today(as_, teacher, world) == []

    agree_to_closing(school=world.school, by=world.head, at=make.NOW)
    why = "two agreed: it can be taken back until 15 September 2026, 10:30"
    leaves = [(world.address, "Hill Road leaves this site", why)]
    assert [closing_on_today(as_, one, world) for one in (world.head, world.service)] == [leaves, leaves]
    assert closing_on_today(as_, teacher, world) == []

    take_closing_back(school=world.school, by=world.head, at=make.NOW)
    assert closing_on_today(as_, world.head, world) == []


def test_the_page_says_what_is_out_and_due(world, as_):
    page = as_(world.head).get(world.address).content.decode()

    facts = re.findall(r"<dt>([^<]*)</dt>\s*<dd><bdi>(\d+)</bdi></dd>", page)
    assert facts == [("Horns", "3"), ("Out on loan", "1"), ("Charges due", "1")]


def test_the_rows_themselves_hold_that_two_people_say_so(world):
    facts = {"school": world.school, "proposed_by": world.head, "proposed_at": make.NOW, "agreed_at": make.NOW}
    with pytest.raises(IntegrityError), transaction.atomic():
        Closing.objects.create(**facts, agreed_by=world.head)
    with pytest.raises(IntegrityError), transaction.atomic():
        Closing.objects.create(**facts)


@pytest.mark.parametrize("again", [propose_closing, agree_to_closing])
def test_what_is_said_already_is_refused(world, again):
    world.agreed()
    words = {"reason": "Again"} if again is propose_closing else {}

    with pytest.raises(Refused, match="already"):
        again(school=world.school, by=world.service, at=make.NOW, **words)


def test_a_school_is_closed_a_day_after_it_was_agreed_and_not_before(world):
    world.agreed()

    assert to_close(at=LATER - timedelta(seconds=1)) == []
    assert to_close(at=LATER) == [world.school]
    with pytest.raises(Refused, match="was taken back"):
        close_school(school=world.school, at=LATER - timedelta(seconds=1))
    assert School.objects.filter(pk=world.school.pk).exists()


def test_nothing_of_a_closed_school_stays_but_its_file_from_which_it_comes_back(
    world, django_capture_on_commit_callbacks
):
    make_key(school=world.school, user=world.head, at=make.NOW)
    make_key(school=world.other, user=(there := make.staff(Role.HEAD, world.other)), at=make.NOW)
    make.a_list(world.school, world.head)
    make.horn(world.other, number="H-1")
    was, world.name = rows_of(world.school), str(world.head)
    pictures = [one.image.name for one in Photograph.objects.all()]
    with django_capture_on_commit_callbacks(execute=True):
        file = close_school(school=world.agreed(), at=LATER)

    left = [
        model._meta.label
        for model in apps.get_models(include_auto_created=True)
        # What is of no school is the site's own.
        if (way := _way(model)) and model._base_manager.exclude(**{way: None}).exclude(**{way: world.other.pk}).exists()
    ]
    assert left == []
    assert world.other.horns.count() == 1
    assert pictures
    assert not any(default_storage.exists(name) for name in pictures)
    assert not Guardian.objects.exists()
    assert list(User.objects.all()) == [there]
    assert CalendarKey.objects.get().school == world.other
    assert (file.name, file.parent.name) == ("hill-road-2026-09-15.zip", "closed")
    act = Act.objects.get(school=None, deed=Deed.SCHOOL_CLOSED)
    assert act.lines == [
        ["school", "Hill Road, hill-road"],
        ["proposed by", "Sam Service"],
        ["agreed to by", world.name],
    ]
    back = rows_of(import_school(file=file, at=make.NOW))
    # The record has more by then: that it was to be closed.
    assert {name for name in was if back[name] != was[name]} <= {"record-act"}
    assert back["record-act"][: len(was["record-act"])] == was["record-act"]


def test_who_is_also_at_another_school_or_did_something_there_keeps_their_account(world):
    world.other.posts.create(user=world.head, role="head")
    reader = User.objects.get(posts__school=world.school, posts__role="technician")
    make.loan(make.horn(world.other), make.pupil(world.other), reader)

    there = set(User.objects.filter(posts__school=world.school)) | {world.school.guardians.first().user}

    close_school(school=world.agreed(), at=LATER)

    assert there & set(User.objects.all()) == {world.head, reader}


def test_where_somebody_writes_while_the_file_is_made_the_school_stays(world, monkeypatch):
    def written_meanwhile(**told):
        counts = exported(**told)
        make.horn(world.school)
        return counts

    exported = closings.export_school
    monkeypatch.setattr(closings, "export_school", written_meanwhile)

    with pytest.raises(Refused, match="Somebody wrote"):
        close_school(school=world.agreed(), at=LATER)
    assert world.school.horns.count() == 4


def test_the_nightly_command_says_which_school_it_would_close_and_closes_it_when_told(world, monkeypatch):
    world.agreed()
    monkeypatch.setattr("django.utils.timezone.now", lambda: LATER)

    def said(*words: str) -> str:
        out = StringIO()
        call_command("forget", *words, stdout=out)
        return out.getvalue()

    assert "hill-road: would be closed" in said()
    assert School.objects.count() == 2
    assert "hill-road: closed. All it had is in " in said("--do")
    assert [one.slug for one in School.objects.all()] == ["vale"]
    assert "hill-road" not in said("--do")


def test_a_closing_that_was_taken_back_is_no_more(world):
    world.agreed()
    take_closing_back(school=world.school, by=world.service, at=make.NOW)

    assert to_close(at=LATER) == []
    with pytest.raises(Refused, match="taken back"):
        take_closing_back(school=world.school, by=world.service, at=make.NOW)


def test_deleted_from_a_shell_a_school_stays_whole(world):
    before = rows_of(world.school)

    with pytest.raises(ProtectedError), transaction.atomic():
        world.school.delete()

    assert rows_of(School.objects.get(pk=world.school.pk)) == before
