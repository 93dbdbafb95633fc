"""Acts that a phone kept for want of a connection: each is there once, tells when it was done, and moves nothing that
somebody else moved meanwhile."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.translation import override
from PIL import Image

from fleet.ground.access import Role
from fleet.lending.models import ReturnNote
from fleet.people.models import School
from fleet.record.models import Act
from fleet.register.models import Photograph
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck, RepairJob
from tests import make

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def world(as_, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)

    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        other = make.staff(Role.TEACHER, school)
        here, there = make.place(school, room="Cellar", shelf=""), make.place(school, room="Attic", shelf="")
        horn = make.horn(school, build="double-full", stands_in="F", place=here)
        client = as_(teacher)

        def found(self, *faults, by=None, at=make.NOW - 3 * HOUR):
            found = [Found(fault, severity, note) for fault, severity, note in faults]
            return log_check(
                horn=self.horn, by=by or self.teacher, at=at, occasion="other", finish_grade=2, found=found
            )

        def send(self, page, **said):
            sent = {"age": "3600", **said, "whole": "1"}
            address = f"/s/{self.school.slug}/horns/{self.horn.pk}/{page}"
            return self.client.post(address, sent, headers={"X-Sent-By": "kept"})

        def check(self, *faults, **said):
            ticked = {f"found-{fault}": "on" for fault in faults}
            given = {"occasion": "other", "finish_grade": "2", "sent_as": uuid4(), "seen": "0"}
            return self.send("check/", **{**given, **ticked, **said})

    return World()


def picture() -> SimpleUploadedFile:
    drawn = BytesIO()
    Image.new("RGB", (40, 30), "white").save(drawn, "JPEG")
    return SimpleUploadedFile("horn.jpg", drawn.getvalue(), "image/jpeg")


def test_a_photograph_sent_again_is_one_and_tells_when_it_was_taken(world):
    one = uuid4()

    answers = [world.send("photographs/new/", picture=picture(), sent_as=one) for _ in range(2)]

    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json()["said"] == "The photograph is kept."
    assert Photograph.objects.get().at == make.NOW - HOUR
    assert Act.objects.get(deed="horns.photograph-added").at == make.NOW


def test_a_photograph_under_the_id_of_somebody_elses_is_refused_and_one_cut_off_is_not_kept(world, as_):
    one = uuid4()
    world.send("photographs/new/", picture=picture(), sent_as=one)
    world.client = as_(world.other)

    answer = world.send("photographs/new/", picture=picture(), sent_as=one)

    assert (answer.status_code, answer.json()["sentence"]) == (
        409,
        "Take the photograph again: it cannot be kept from here.",
    )
    cut = {"picture": picture(), "sent_as": uuid4()}
    address = f"/s/{world.school.slug}/horns/{world.horn.pk}/photographs/new/"
    answer = world.client.post(address, cut, headers={"X-Sent-By": "kept"})
    assert (answer.status_code, answer.json()["sentence"]) == (
        422,
        "The photograph did not arrive whole. Send it again.",
    )
    assert Photograph.objects.count() == 1


def test_a_place_said_twice_is_set_once_and_the_record_tells_when(world):
    said = {"place": world.there.pk, "seen": world.here.pk}

    answers = [world.send("place/", **said) for _ in range(2)]

    world.horn.refresh_from_db()
    assert [answer.status_code for answer in answers] == [201, 201]
    assert world.horn.place == world.there
    act = Act.objects.get(deed="horns.changed")
    assert act.at == make.NOW
    assert (make.NOW - HOUR).isoformat() in act.told


def test_a_place_is_refused_where_somebody_put_the_horn_elsewhere_meanwhile(world):
    third = make.place(world.school, room="Hall", shelf="")
    world.horn.place = third
    world.horn.save()

    answer = world.send("place/", place=world.there.pk, seen=world.here.pk)

    assert answer.status_code == 409
    assert "belongs to Hall by now: somebody changed it since you looked." in answer.json()["sentence"]
    world.horn.refresh_from_db()
    assert world.horn.place == third


def test_a_place_of_another_school_is_none(world):
    answer = world.send("place/", place=make.place(make.school()).pk, seen=world.here.pk)

    assert answer.status_code == 422


def test_a_horns_place_is_set_on_its_own_page_too(world):
    address = f"/s/{world.school.slug}/horns/{world.horn.pk}/place/"
    assert "Cellar" in world.client.get(address).content.decode()

    world.client.post(address, {"place": "", "seen": world.here.pk})

    world.horn.refresh_from_db()
    assert world.horn.place is None


def test_a_check_with_faults_tells_when_it_was_looked_over_and_when_the_site_had_it(world):
    answer = world.check("rotor-leaking", **{"at-rotor-leaking": ["1", "3"], "severity-rotor-leaking": "w"})

    check = ConditionCheck.objects.get()
    assert answer.status_code == 201
    assert (check.at, check.received_at) == (make.NOW - HOUR, make.NOW)
    assert check.findings.get().places == ["1", "3"]
    page = world.client.get(f"/s/{world.school.slug}/checks/{check.pk}/").content.decode()
    assert "It waited for a connection until" in " ".join(page.split())


def test_a_note_that_the_phone_does_not_know_stays_and_one_typed_anew_replaces_it(world):
    last = world.found(("rotor-leaking", "w", "since the concert"))
    world.check("rotor-leaking", seen=last.pk, age="7200")
    kept = ConditionCheck.objects.latest("at")

    world.check("rotor-leaking", seen=kept.pk, **{"note-rotor-leaking": "worse"})

    notes = [check.findings.get().note for check in ConditionCheck.objects.order_by("at")]
    assert notes == ["since the concert", "since the concert", "worse"]


def test_a_check_is_refused_where_somebody_looked_since_and_kept_once_it_is_looked_through(world):
    last = world.found()
    world.found(("rotor-frozen", "r", ""), by=world.other, at=make.NOW - 2 * HOUR)

    answer = world.check("rotor-leaking", seen=last.pk)

    assert answer.status_code == 409
    assert "what it was like before is not what you saw" in answer.json()["sentence"]
    assert world.check("rotor-leaking", "rotor-frozen", seen="").status_code == 201


def test_two_checks_of_one_afternoon_follow_each_other_whatever_the_clocks_say(world):
    first = uuid4()
    world.check("rotor-leaking", sent_as=first, age="0")

    answer = world.check(sent_as=uuid4(), seen=first, age="60")

    assert answer.status_code == 201
    world.horn.refresh_from_db()
    assert world.horn.grade == 1


@pytest.mark.parametrize("seen", ["None", "nonsense", "0", "00"])
def test_nonsense_for_what_was_seen_keeps_nothing(world, seen):
    world.found()

    assert world.check(seen=seen).status_code == 409
    assert ConditionCheck.objects.count() == 1


def test_mended_now_is_done_once_however_often_it_is_sent(world):
    last = world.found(("string-broken", "r", ""))
    said = {"seen": last.pk, "sent_as": uuid4(), "minutes": "5"}

    answers = [world.send("mended/?fault=string-broken", **said) for _ in range(3)]

    assert [answer.status_code for answer in answers] == [201] * 3
    check = ConditionCheck.objects.latest("at")
    assert (check.at, check.received_at, check.grade) == (make.NOW - HOUR, make.NOW, 1)
    assert RepairJob.objects.get().state == "done"


def test_what_somebody_else_mended_meanwhile_is_refused_with_a_sentence(world):
    last = world.found(("string-broken", "r", ""))
    world.send("mended/?fault=string-broken", seen=last.pk, sent_as=uuid4())

    answer = world.send("mended/?fault=string-broken", seen=last.pk, sent_as=uuid4())

    assert (answer.status_code, answer.json()["sentence"]) == (
        409,
        "This is mended already, or was not found. Look at what is wrong with it now.",
    )

    School.objects.filter(pk=world.school.pk).update(language="de", staff_languages=["de"])
    answer = world.send("mended/?fault=string-broken", seen=last.pk, sent_as=uuid4())
    assert "Das ist schon repariert" in answer.json()["sentence"]


def out(world, **fields):
    pupil = make.pupil(world.school, make.guardian(world.school))
    return make.loan(world.horn, pupil, world.teacher, issued_on=make.TODAY - timedelta(days=9), **fields)


def note(world, **said):
    given = {"came_back": ["case", "music stand"], "finish_grade": "3", "words": " Strap torn ", "sent_as": uuid4()}
    return world.send("noted/", **{**given, **said})


def test_a_return_noted_twice_is_one_note_and_fills_in_the_return_that_ends_it(world):
    loan, one = out(world), uuid4()

    assert [note(world, sent_as=one).status_code for _ in range(2)] == [201, 201]

    noted = ReturnNote.objects.get()
    assert (noted.at, noted.received_at, noted.by) == (make.NOW - HOUR, make.NOW, world.teacher)
    said = "with case, music stand, finish heavy wear: Strap torn"
    assert str(noted) == said
    with override("de"):
        assert str(noted) == "mit Koffer, Notenständer; Oberfläche: stark abgenutzt: Strap torn"
    home = f"/s/{world.school.slug}/"
    for page in ("", f"horns/{world.horn.pk}/", f"loans/{loan.pk}/return/"):
        assert said in " ".join(world.client.get(home + page).content.decode().split())
    shown = world.client.get(f"{home}loans/{loan.pk}/return/").context
    form = shown["form"]
    assert form["came_back"].value() == [loan.accessories.get(name="case").pk]
    assert (form["return_notes"].value(), shown["check"]["finish_grade"].value()) == ("Strap torn", 3)

    filled = {"came_back": form["came_back"].value(), "finish_grade": "3", "return_notes": "Strap torn"}
    filled |= {"returned_on": form["returned_on"].value(), "occasion": "on-return"}
    world.client.post(f"{home}loans/{loan.pk}/return/", filled)
    loan.refresh_from_db()
    assert (loan.returned_on, loan.return_notes) == (make.TODAY, "Strap torn")
    assert not ReturnNote.objects.standing().exists()


@pytest.mark.parametrize(
    ("said", "status", "sentence"),
    [
        ({"finish_grade": ""}, 422, "Say how the finish is."),
        ({"came_back": ["kettle"]}, 422, "Choose from the list."),
        ({"age": str(10 * 24 * 3600), "finish_grade": "9"}, 422, "Choose one from the list."),
        ({"words": "x" * 301}, 422, "300"),
    ],
)
def test_a_note_of_a_return_that_cannot_be_is_refused_with_its_reason(world, said, status, sentence):
    out(world)

    answer = note(world, **said)

    assert (answer.status_code, sentence in answer.json()["sentence"]) == (status, True), answer.json()
    assert not ReturnNote.objects.exists()


def test_a_note_is_refused_where_the_horn_is_in_out_again_or_noted_by_somebody_else(world, as_):
    assert "is not out: Cellar." in note(world).json()["sentence"]
    loan = out(world)
    again = {"age": str(24 * 3600)}
    for on, before, status in [(0, 3, 409), (1, 3, 201), (1, 1, 409), (9, 9, 201)]:
        ReturnNote.objects.all().delete()
        loan.horn.loans.exclude(pk=loan.pk).delete()
        loan.issued_on = make.TODAY - timedelta(days=on)
        loan.save()
        if before != on or before == 1:
            ended = make.TODAY - timedelta(days=before)
            make.loan(world.horn, loan.pupil, world.teacher, issued_on=ended, returned_on=ended)
        assert note(world, **again).status_code == status, (on, before)
    one = ReturnNote.objects.get().sent_as
    world.client = as_(world.other)
    assert "noted already that" in note(world).json()["sentence"]
    assert note(world, sent_as=one).json()["sentence"] == "Note the return again: it cannot be kept from here."


def test_a_horn_noted_as_back_is_not_taken_with_many_others_unseen(world):
    loan = out(world)
    note(world)
    address = f"/s/{world.school.slug}/loans/back/"
    world.client.post(address, {"do": "add", "numbers": world.horn.number})

    answer = world.client.post(address, {"do": "take", "looked": "yes"})

    assert "noted how" in answer.content.decode()
    loan.refresh_from_db()
    assert loan.is_open
