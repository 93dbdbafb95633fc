"""A picture of a check shows the horn, or one fault that was found at it."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.ground.refusal import Refused
from fleet.workshop.actions.checking import Found, PictureTaken, log_check
from fleet.workshop.models import CheckPhotograph, ConditionCheck
from tests import make
from tests.pages import folded


@pytest.fixture(autouse=True)
def apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def picture() -> SimpleUploadedFile:
    file, taken = BytesIO(), Image.new("RGB", (40, 30), "gold")
    exif = taken.getexif()
    exif[0x010F] = "The camera’s name"
    taken.save(file, "JPEG", exif=exif)
    return SimpleUploadedFile("dent.jpg", file.getvalue(), "image/jpeg")


def sent(**more: object) -> dict[str, object]:
    said = {"occasion": "yearly", "finish_grade": "2", "found-bell-dented": "on", "picture-1": picture()}
    return said | {"caption-1": "the rim", "shows-1": "bell-dented"} | more


def test_a_picture_stands_with_its_fault_and_nothing_that_the_camera_hid(world):
    world.browser.post(world.address, sent(**{"picture-2": picture()}))

    check = ConditionCheck.objects.get()
    ours, whole = check.photographs.order_by("pk")
    assert [(ours.fault, ours.shows), (whole.fault, whole.shows)] == [("bell-dented", "bell dented: the rim"), ("", "")]
    with ours.image.open() as file:
        assert b"camera" not in file.read()
    page = folded(world.browser.get(f"/s/{world.school.slug}/checks/{check.pk}/"))
    assert f'href="#picture-{ours.pk}">1 picture</a>' in page
    assert f'id="picture-{ours.pk}"' in page
    assert "Bell dented: the rim" in page


@pytest.mark.parametrize(
    ("shows", "sentence"),
    [("bell-torn", "This fault is not ticked."), ("no-such-fault", "Choose one from the list.")],
)
def test_a_picture_of_a_fault_that_is_not_ticked_is_told_beside_its_field_and_waits(world, shows, sentence):
    answer = world.browser.post(world.address, sent(**{"shows-1": shows}))

    assert (answer.status_code, sentence in folded(answer)) == (422, True)
    assert "1 picture is kept" in folded(answer)
    assert not ConditionCheck.objects.exists()


@pytest.mark.parametrize(("ticked", "shows"), [("on", "bell-dented"), ("", "")])
def test_a_picture_that_waited_keeps_its_fault_while_that_is_ticked(world, ticked, shows):
    answer = world.browser.post(world.address, sent(finish_grade=""))
    [kept] = [line.split('"')[0] for line in answer.content.decode().split('name="kept" value="')[1:]]

    again = sent(kept=kept, **{"found-bell-dented": ticked, "shows-1": ""})
    del again["picture-1"]
    world.browser.post(world.address, {name: value for name, value in again.items() if value})

    assert list(CheckPhotograph.objects.values_list("fault", "caption")) == [(shows, "the rim")]


def test_no_action_keeps_a_picture_of_a_fault_that_was_not_found(world):
    taken = PictureTaken(ContentFile(b"x", name="x.jpg"), 16, 16, fault="bell-torn")
    said = {"horn": world.horn, "by": world.technician, "at": make.NOW, "occasion": "yearly", "finish_grade": 2}

    with pytest.raises(Refused, match="A picture shows a fault that is not ticked"):
        log_check(found=[Found("bell-dented", "n")], pictures=[taken], **said)
