"""The condition check on its page: ticks, grade, pictures, and the way back."""

from __future__ import annotations

import io
import os
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from fleet.ground.access import Role
from fleet.workshop.models import CheckPhotograph, ConditionCheck, RepairJob
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.either_engine


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school)
        browser = as_(technician)
        address = f"/s/{school.slug}/horns/{horn.pk}/check/"

    return World


def ticked(*faults: str, **changed) -> dict[str, object]:
    return {
        "occasion": "yearly",
        "finish_grade": "2",
        "notes": "",
        **{f"found-{one}": "on" for one in faults},
        **changed,
    }


def picture(name: str = "bell.jpg", colour: str = "gold") -> SimpleUploadedFile:
    from PIL import Image

    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "Camera of a person"
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", exif=exif)
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def waiting(media: str) -> list[str]:
    folder = Path(media) / "checks-unsaved"
    return sorted(file.name for file in folder.iterdir()) if folder.exists() else []


def test_nothing_ticked_is_a_horn_that_plays_well(world):
    answer = world.browser.post(world.address, ticked(), follow=True)

    check = ConditionCheck.objects.get()
    assert (check.grade, check.by, check.occasion, check.finish_grade) == (1, world.technician, "yearly", 2)
    assert answer.redirect_chain == [(f"/s/{world.school.slug}/horns/{world.horn.pk}/", 302)]
    assert f"{world.horn} is checked: plays well." in answer.content.decode()


def test_a_tick_takes_the_catalogues_severity_unless_another_is_chosen(world):
    world.browser.post(
        world.address,
        ticked("string-broken", "bell-dented", **{"severity-bell-dented": "w", "note-bell-dented": "at the rim"}),
    )

    found = ConditionCheck.objects.get().findings.values_list("fault", "severity", "note")
    assert set(found) == {("string-broken", "r", ""), ("bell-dented", "w", "at the rim")}


def test_a_horn_that_must_not_be_played_is_asked_back_from_whoever_has_it(world):
    make.loan(world.horn, make.pupil(world.school, name="Mia Vale"), world.technician)

    page = world.browser.post(world.address, ticked("rotor-frozen"), follow=True).content.decode()

    assert "must not be played until it is mended" in page
    assert "it is with Mia Vale: ask for it back today" in page
    assert RepairJob.objects.get().horn == world.horn


def test_what_was_found_before_comes_ticked(world):
    world.browser.post(world.address, ticked("string-frayed", **{"note-string-frayed": "first valve"}))

    form = world.browser.get(world.address).context["form"]

    assert list(form.known) == ["string-frayed"]
    assert (form["found-string-frayed"].value(), form["note-string-frayed"].value()) == (True, "first valve")
    assert [row.entry.code for row in form.ticked()] == ["string-frayed"]


def test_the_grade_so_far_is_shown_and_nothing_is_saved(world):
    page = world.browser.post(
        world.address,
        ticked("slide-loose", "bell-dented"),
        headers={"HX-Request": "true", "HX-Target": "so-far"},
    )

    said = page.content.decode()
    assert "repair before the next loan" in said
    assert "2 findings" in said
    assert "<html" not in said
    assert not ConditionCheck.objects.exists()


@pytest.mark.parametrize(
    "back",
    ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "bench", "/\\elsewhere.example"],
)
def test_the_way_back_never_leaves_the_site(world, back):
    answer = world.browser.post(world.address, ticked(next=back))

    assert answer.url == f"/s/{world.school.slug}/horns/{world.horn.pk}/"


def test_the_way_back_is_where_it_was_asked_from(world):
    page = world.browser.get(world.address, {"next": "/s/x/bench/", "occasion": "on-return"})
    assert 'name="next" value="/s/x/bench/"' in page.content.decode()
    assert page.context["form"]["occasion"].value() == "on-return"

    assert world.browser.post(world.address, ticked(next="/s/x/bench/")).url == "/s/x/bench/"


def test_pictures_are_drawn_anew_and_shown_to_this_school_only(world, as_):
    world.browser.post(world.address, ticked(**{"picture-1": picture(), "caption-1": "the rim"}))

    kept = CheckPhotograph.objects.get()
    address = f"/s/{world.school.slug}/checks/pictures/{kept.pk}.jpg"
    shown = world.browser.get(address)
    content = b"".join(shown.streaming_content)
    assert (kept.width, kept.height, kept.caption, shown["Content-Type"]) == (64, 48, "the rim", "image/jpeg")
    assert b"Camera of a person" not in content
    assert content.startswith(b"\xff\xd8")
    page = folded(world.browser.get(f"/s/{world.school.slug}/checks/{kept.check_made_id}/"))
    assert 'alt="the rim" width="64" height="48"' in page
    other = make.school()
    stranger = as_(make.staff(Role.HEAD, other))
    assert stranger.get(address).status_code == 404
    assert stranger.get(f"/s/{other.slug}/checks/pictures/{kept.pk}.jpg").status_code == 404


def test_a_picture_whose_file_is_gone_is_not_there(world):
    check = make.check(world.horn, world.technician)
    lost = CheckPhotograph.objects.create(check_made=check, image="checks/lost.jpg", width=1, height=1)

    assert world.browser.get(f"/s/{world.school.slug}/checks/pictures/{lost.pk}.jpg").status_code == 404


def test_a_file_that_is_no_picture_loses_nothing_else(world, settings):
    fake = SimpleUploadedFile("valve.jpg", b"GIF89a not a picture", "image/jpeg")
    answer = world.browser.post(
        world.address,
        ticked(
            "slide-loose",
            notes="Main slide 🎺",
            **{"note-slide-loose": "main", "picture-1": picture(), "caption-1": "rim", "picture-3": fake},
        ),
    )

    assert answer.status_code == 422
    assert "valve.jpg: This is not a picture we can read." in str(answer.context["form"].errors["picture-3"])
    page = answer.content.decode()
    assert "Main slide 🎺" in page
    assert 'value="main"' in page
    assert "1 picture is kept" in page
    assert not ConditionCheck.objects.exists()
    assert len(waiting(settings.MEDIA_ROOT)) == 1

    world.browser.post(world.address, ticked("slide-loose", kept=answer.context["kept"]))
    saved = CheckPhotograph.objects.get()
    assert (saved.caption, saved.width) == ("rim", 64)
    with saved.image.open() as file:
        assert file.read().startswith(b"\xff\xd8")
    assert waiting(settings.MEDIA_ROOT) == []


def test_a_kept_picture_is_of_use_to_nobody_else_and_for_no_other_horn(world, as_):
    answer = world.browser.post(world.address, ticked(finish_grade="", **{"picture-1": picture()}))
    [name] = answer.context["kept"]
    colleague = as_(make.staff(Role.TEACHER, world.school))
    another = make.horn(world.school)

    colleague.post(world.address, ticked(kept=[name]))
    world.browser.post(f"/s/{world.school.slug}/horns/{another.pk}/check/", ticked(kept=[name, "nonsense"]))

    assert ConditionCheck.objects.count() == 2
    assert not CheckPhotograph.objects.exists()


def test_pictures_nobody_came_back_for_are_thrown_away_after_a_day(world, settings):
    def send() -> None:
        world.browser.post(world.address, ticked(finish_grade="", **{"picture-1": picture()}))

    send()
    [old] = waiting(settings.MEDIA_ROOT)
    two_days_ago = time.time() - 2 * 24 * 3600
    os.utime(Path(settings.MEDIA_ROOT) / "checks-unsaved" / old, (two_days_ago, two_days_ago))
    send()

    assert len(waiting(settings.MEDIA_ROOT)) == 1
    assert waiting(settings.MEDIA_ROOT) != [old]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"finish_grade": ""}, "finish_grade"),
        ({"finish_grade": "9"}, "finish_grade"),
        ({"occasion": "never"}, "occasion"),
        ({"found-bell-torn": "on", "severity-bell-torn": "fatal"}, "severity-bell-torn"),
        ({"found-bell-torn": "on", "note-bell-torn": "x" * 301}, "note-bell-torn"),
        ({"notes": "x" * 2001}, "notes"),
    ],
)
def test_nonsense_in_a_check_is_answered_beside_its_field(world, changed, field):
    answer = world.browser.post(world.address, ticked(**changed))

    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert not ConditionCheck.objects.exists()


def test_faults_the_catalogue_does_not_know_are_not_taken(world):
    world.browser.post(world.address, ticked("wings-missing", "bell-dented"))

    assert [one.fault for one in ConditionCheck.objects.get().findings.all()] == ["bell-dented"]


def test_a_withdrawn_horn_is_refused_with_everything_typed_still_there(world):
    type(world.horn).objects.filter(pk=world.horn.pk).update(withdrawn_on=make.TODAY)

    answer = world.browser.post(world.address, ticked("bell-dented", notes="Found in the attic."))

    assert answer.status_code == 409
    assert "Found in the attic." in answer.content.decode()
    # Only a head may keep a horn again: a technician reads the reason and gets no way that is closed to them.
    assert f"/horns/{world.horn.pk}/standing/" not in answer.content.decode()


def test_a_check_takes_as_many_queries_for_three_findings_as_for_one(world, django_assert_num_queries):
    one, three = make.check(world.horn, world.technician), make.check(world.horn, world.technician)
    for fault in ("case-mouldy", "brace-missing", "water-key-leaking"):
        make.finding(three, fault)
    make.finding(one)
    world.browser.get(world.address)

    for check in (one, three):
        with django_assert_num_queries(6):
            world.browser.get(f"/s/{world.school.slug}/checks/{check.pk}/")
    with django_assert_num_queries(6):
        world.browser.get(world.address)


def test_a_check_asked_for_after_a_repair_knows_its_occasion(world):
    make.check(world.horn, world.technician, grade=3)
    make.job(world.horn, world.technician, state="done", at=make.NOW + timedelta(hours=1))

    assert world.browser.get(world.address).context["form"]["occasion"].value() == "after-repair"


def test_cautions_stand_where_the_work_is_done(world):
    # Mouthpiece hygiene: NFHS, NAfME and NAMM guidelines, April 2020; H304: Regulation (EC) No 1272/2008.
    page = world.browser.get(world.address).content.decode()

    assert "disinfect the mouthpiece" in page
    assert "H304" in page
    assert "a qualified repairer come first" in page


# As before, in one tap


def test_one_tap_keeps_a_check_with_what_was_found_before(world):
    world.browser.post(world.address, ticked("string-frayed", **{"note-string-frayed": "first valve"}))
    first = ConditionCheck.objects.get()
    page = folded(world.browser.get(world.address))
    assert "string frayed (first valve)" in page

    answer = world.browser.post(world.address, {"as_before": "1", "seen": first.pk, "occasion": "yearly"})

    again = ConditionCheck.objects.exclude(pk=first.pk).get()
    assert answer.url == f"/s/{world.school.slug}/horns/{world.horn.pk}/"
    assert (again.grade, again.finish_grade, again.occasion, again.by) == (2, 2, "yearly", world.technician)
    assert [(one.fault, one.severity, one.note) for one in again.findings.all()] == [
        ("string-frayed", "w", "first valve")
    ]


def test_as_before_is_refused_once_somebody_else_has_looked(world):
    old = make.check(world.horn, world.technician)
    colleague = make.staff(Role.TEACHER, world.school, name="Bo Lund")
    newer = make.check(world.horn, colleague, grade=2, at=make.NOW + timedelta(hours=1))

    answer = world.browser.post(world.address, {"as_before": "1", "seen": old.pk, "occasion": "yearly"})

    assert answer.status_code == 409
    assert answer.context["refused"].sentence.startswith(f"Bo Lund checked {world.horn} at ")
    assert set(ConditionCheck.objects.all()) == {old, newer}


@pytest.mark.parametrize("seen", ["", "x", "-1", "9" * 30])
def test_as_before_with_nonsense_or_with_no_check_before_keeps_nothing(world, seen):
    page = world.browser.get(world.address).content.decode()
    assert "As before" not in page

    answer = world.browser.post(world.address, {"as_before": "1", "seen": seen, "occasion": "never"})

    assert answer.status_code == 409
    assert "has never been checked" in answer.content.decode()
    assert not ConditionCheck.objects.exists()


def test_the_camera_is_offered_and_one_picture_may_come_from_the_device(world):
    page = world.browser.get(world.address).content.decode()

    assert page.count('capture="environment"') == 2
    assert page.count('type="file"') == 3


# Sent once, however often it is sent

SENT_AS = "3f1c2b1e-6a6f-4f0e-9a51-0d6d1c0a7b11"


def sent(*faults: str, **changed) -> dict[str, object]:
    return ticked(*faults, **{"sent_as": SENT_AS, "whole": "1", **changed})


def test_a_check_sent_again_after_a_lost_answer_is_kept_once(world):
    first = world.browser.post(world.address, sent("slide-loose", **{"picture-1": picture()}))
    again = world.browser.post(world.address, sent("slide-loose", **{"picture-1": picture()}))

    assert first.url == again.url
    assert str(ConditionCheck.objects.get().sent_as) == SENT_AS
    assert CheckPhotograph.objects.count() == RepairJob.objects.count() == 1


def test_what_was_changed_after_it_was_saved_is_asked_about_and_not_lost(world):
    world.browser.post(world.address, sent("slide-loose"))

    answer = world.browser.post(world.address, sent("slide-loose", notes="And a dent."))

    assert answer.status_code == 409
    assert "was saved from this page at" in answer.context["refused"].sentence
    assert "And a dent." in answer.content.decode()
    fresh = str(answer.context["sent_as"])
    assert fresh != SENT_AS
    world.browser.post(world.address, sent("slide-loose", notes="And a dent.", sent_as=fresh))
    assert sorted(ConditionCheck.objects.values_list("notes", flat=True)) == ["", "And a dent."]


def test_an_id_that_another_person_used_gives_nothing_of_their_check_away(world, as_):
    world.browser.post(world.address, sent("slide-loose"))
    elsewhere = make.school()
    horn = make.horn(elsewhere)
    stranger = as_(make.staff(Role.TECHNICIAN, elsewhere))

    answer = stranger.post(f"/s/{elsewhere.slug}/horns/{horn.pk}/check/", sent("slide-loose"))

    assert answer.status_code == 409
    assert str(world.horn) not in answer.content.decode()
    assert ConditionCheck.objects.get().horn == world.horn


def test_a_check_cut_off_half_way_through_its_picture_is_not_kept(world):
    from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

    last = {"picture-1": picture(), "whole": "1"}
    body = encode_multipart(BOUNDARY, {**ticked("slide-loose", sent_as=SENT_AS), **last})

    half = body[: body.index(b"\xff\xd8") + 200]

    answer = world.browser.generic("POST", world.address, half, MULTIPART_CONTENT)

    assert answer.status_code == 422
    assert "The check did not arrive whole. Send it again." in answer.content.decode()
    assert not ConditionCheck.objects.exists()
    world.browser.generic("POST", world.address, body, MULTIPART_CONTENT)
    assert CheckPhotograph.objects.get().check_made == ConditionCheck.objects.get()


@pytest.mark.parametrize(
    ("age", "hours"), [("7200", 2), ("", 0), ("0", 0), (str(10**9), 24 * 7)], ids=["two hours", "none", "now", "years"]
)
def test_a_check_that_waited_carries_the_time_of_the_look_and_no_more_than_a_week(world, age, hours):
    before = timezone.now()

    world.browser.post(world.address, sent(age=age))

    said = ConditionCheck.objects.get().at + timedelta(hours=hours)
    assert before <= said <= timezone.now()


@pytest.mark.parametrize("age", ["-5", "later"])
def test_a_clock_that_cannot_be_is_refused_with_the_check_still_there(world, age):
    answer = world.browser.post(world.address, sent(age=age, notes="Kept."))

    assert answer.status_code == 422
    assert "Kept." in answer.content.decode()
    assert not ConditionCheck.objects.exists()


def test_script_is_told_where_to_go_and_gets_the_refusal_as_a_page(world):
    by_script = {"X-Sent-By": "outbox"}
    good = world.browser.post(world.address, sent(), headers=by_script)
    bad = world.browser.post(world.address, sent(finish_grade=""), headers=by_script)

    assert (good.status_code, good.json()) == (201, {"to": f"/s/{world.school.slug}/horns/{world.horn.pk}/"})
    assert (bad.status_code, bad["Content-Type"]) == (422, "text/html; charset=utf-8")


def test_as_before_tapped_twice_is_kept_once(world):
    first = make.check(world.horn, world.technician)
    tap = {"as_before": "1", "seen": first.pk, "occasion": "yearly", "sent_as": SENT_AS}

    for _ in range(2):
        assert world.browser.post(world.address, tap).status_code == 302

    assert ConditionCheck.objects.count() == 2


def test_what_was_found_before_stands_above_the_parts_and_in_none_of_them(world):
    world.browser.post(world.address, ticked("bell-dented"))

    form = world.browser.get(world.address).context["form"]

    assert [row.entry.code for row in form.ticked()] == ["bell-dented"]
    in_parts = [row.entry.code for _, rows in form.parts() for row in rows]
    assert "bell-torn" in in_parts
    assert "bell-dented" not in in_parts


def test_what_must_be_put_right_stands_above_the_parts(world):
    answer = world.browser.post(world.address, ticked("bell-torn", **{"severity-string-frayed": "loud"}))

    assert [row.entry.code for row in answer.context["form"].ticked()] == ["string-frayed", "bell-torn"]


def test_what_nothing_was_said_of_is_drawn_once_and_as_on_the_page_that_comes_back(world):
    first = world.browser.get(world.address)
    again = world.browser.get(world.address)
    as_chosen = {f"severity-{code}": one.severity for code, one in first.context["form"].asked.items()}
    back = world.browser.post(world.address, {"occasion": "yearly", **as_chosen})

    opened, reopened, came_back = (folded(one).split('<div class="fault">')[1:-1] for one in (first, again, back))
    assert len(opened) > 40
    assert opened == reopened == came_back
