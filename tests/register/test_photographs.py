"""Photographs: what is taken, what is refused, what is left of the file, and who sees it."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from django.conf import settings as live
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from fleet.ground.access import Role
from fleet.ground.pictures import redrawn
from fleet.ground.refusal import Refused
from fleet.register.actions import photographs
from fleet.register.models import Photograph
from tests import make

DAMAGED = "This picture is damaged or cut off. Send it again."
UNREADABLE = "This is not a picture we can read. Send a JPEG, PNG or WebP file."


def picture(width=200, height=100, *, kind="JPEG", mode="RGB", colour=(200, 30, 30), **saved):
    image = Image.new(mode, (width, height), colour)
    buffer = io.BytesIO()
    image.save(buffer, kind, **saved)
    return buffer.getvalue()


def upload(content, name="horn.jpg"):
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def pixels(content):
    """The picture that `redrawn` gives for a file, opened again."""
    fresh, width, height = redrawn(upload(content))
    image = Image.open(io.BytesIO(fresh.read()))
    assert (image.format, image.size) == ("JPEG", (width, height))
    return image


def near(found, wanted):
    return all(abs(a - b) < 12 for a, b in zip(found, wanted, strict=True))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_kinds_are_taken_and_become_a_jpeg(kind):
    image = pixels(picture(kind=kind))

    assert image.size == (200, 100)
    assert near(image.getpixel((100, 50)), (200, 30, 30))


def test_a_large_picture_is_made_smaller():
    assert pixels(picture(4000, 3000)).size == (1600, 1200)


def test_place_and_camera_are_gone():
    exif = Image.Exif()
    exif[0x010F] = "Camera of somebody"
    exif.get_ifd(0x8825)[2] = (53.0, 20.0, 59.0)
    content = picture(exif=exif, comment=b"taken by somebody", icc_profile=b"x" * 200)
    assert b"somebody" in content

    fresh, _, _ = redrawn(upload(content))

    kept = fresh.read()
    assert b"somebody" not in kept
    image = Image.open(io.BytesIO(kept))
    assert dict(image.getexif()) == {}
    assert not {"comment", "icc_profile", "exif"} & set(image.info)


def test_the_cameras_turn_is_applied():
    exif = Image.Exif()
    exif[0x0112] = 6  # turned a quarter to the right
    image = Image.new("RGB", (200, 100), "white")
    image.paste((200, 30, 30), (0, 0, 40, 100))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", exif=exif)

    turned = pixels(buffer.getvalue())

    assert turned.size == (100, 200)
    assert near(turned.getpixel((50, 10)), (200, 30, 30))
    assert near(turned.getpixel((50, 150)), (255, 255, 255))


def test_a_large_turned_picture_is_turned_and_made_smaller():
    exif = Image.Exif()
    exif[0x0112] = 8
    assert pixels(picture(4000, 3000, exif=exif)).size == (1200, 1600)


def test_an_animation_gives_its_first_picture():
    frames = [Image.new("RGB", (60, 60), colour) for colour in ("red", "green", "blue")]
    for kind in ("WEBP", "PNG"):
        buffer = io.BytesIO()
        frames[0].save(buffer, kind, save_all=True, append_images=frames[1:], duration=50)

        assert near(pixels(buffer.getvalue()).getpixel((30, 30)), (255, 0, 0))


@pytest.mark.parametrize(
    ("mode", "colour", "kind", "wanted"),
    [
        ("CMYK", (0, 255, 255, 0), "JPEG", (255, 0, 0)),
        ("L", 128, "JPEG", (128, 128, 128)),
        ("1", 1, "PNG", (255, 255, 255)),
        ("RGBA", (0, 0, 255, 0), "PNG", (255, 255, 255)),
        ("RGBA", (0, 0, 255, 255), "WEBP", (0, 0, 255)),
        ("LA", (0, 0), "PNG", (255, 255, 255)),
        ("P", 0, "PNG", (0, 0, 0)),
        ("I;16", 65535, "PNG", (255, 255, 255)),
    ],
)
def test_every_way_of_keeping_colour_becomes_plain_colour(mode, colour, kind, wanted):
    image = pixels(picture(mode=mode, colour=colour, kind=kind))

    assert image.mode == "RGB"
    assert near(image.getpixel((50, 50)), wanted)


def test_see_through_colours_of_a_palette_become_white():
    image = Image.new("P", (50, 50), 0)
    image.putpalette([10, 20, 30] * 256)
    buffer = io.BytesIO()
    image.save(buffer, "PNG", transparency=0)

    assert near(pixels(buffer.getvalue()).getpixel((20, 20)), (255, 255, 255))


def chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_that_claims(width, height):
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", UNREADABLE),
        (b"<html><script>alert(1)</script></html>", UNREADABLE),
        (b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>', UNREADABLE),
        (b"\xff\xd8\xff\xe0 and then nothing", DAMAGED),
        (picture(kind="GIF", mode="P", colour=0), UNREADABLE),
        (picture(kind="BMP"), UNREADABLE),
        (picture(kind="TIFF"), UNREADABLE),
        (b"%PDF-1.7 a paper", UNREADABLE),
        (picture(400, 400)[:1500], DAMAGED),
        (picture(400, 400, kind="PNG")[:-40], DAMAGED),
        (picture(400, 400, kind="WEBP")[:60], DAMAGED),
        (png_that_claims(100, 100), DAMAGED),
        (png_that_claims(30000, 30000), "This picture has too many pixels. Send one of at most 40 million."),
        (png_that_claims(2**31 - 1, 2**31 - 1), "This picture has too many pixels. Send one of at most 40 million."),
        (picture(8000, 6000), "This picture has too many pixels. Send one of at most 40 million."),
        (picture(8, 8), "This picture is too small to show anything."),
        (picture(4000, 17), None),
    ],
    ids=lambda value: None if isinstance(value, bytes) else str(value)[:20],
)
def test_what_is_no_picture_is_refused_with_a_sentence(content, sentence):
    if sentence is None:
        assert pixels(content).size == (1600, 7)
        return
    with pytest.raises(ValidationError) as refused:
        redrawn(upload(content))
    assert refused.value.messages == [sentence]


def test_a_huge_file_is_refused_before_it_is_looked_at():
    too_large = upload(b"x")
    too_large.size = live.PHOTOGRAPH_MAX_BYTES + 1

    with pytest.raises(ValidationError, match="Send one of at most 12 MB"):
        redrawn(too_large)


def test_text_packed_into_a_picture_does_not_unpack_without_end():
    # A small file whose text would unpack to 50 MB.
    bomb = chunk(b"zTXt", b"c\0\0" + zlib.compress(b"x" * 50_000_000))
    plain = picture(kind="PNG")
    content = plain[:33] + bomb + plain[33:]

    with pytest.raises(ValidationError):
        redrawn(upload(content))


def add(client, school, horn, content, **fields):
    address = f"/s/{school.slug}/horns/{horn.pk}/photographs/new/"
    return client.post(address, {"picture": upload(content, **fields), "caption": "The bell"})


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_staff_add_see_and_remove_a_photograph(as_, school, role, settings, django_capture_on_commit_callbacks):
    horn = make.horn(school)
    client = as_(make.staff(role, school))

    answer = add(client, school, horn, picture())
    assert (answer.status_code, answer.url) == (302, f"/s/{school.slug}/horns/{horn.pk}/")
    photograph = Photograph.objects.get(horn=horn)
    assert (photograph.caption, photograph.width, photograph.height) == ("The bell", 200, 100)

    shown = client.get(f"/s/{school.slug}/photographs/{photograph.pk}/")
    assert Image.open(io.BytesIO(b"".join(shown.streaming_content))).size == (200, 100)
    assert shown.headers["Content-Type"] == "image/jpeg"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.headers["Content-Security-Policy"] == (
        "default-src 'none'; base-uri 'none'; frame-ancestors 'none'; sandbox"
    )
    assert shown.headers["Cache-Control"] == "private, max-age=3600"

    removal = f"/s/{school.slug}/photographs/{photograph.pk}/remove/"
    assert client.get(removal).status_code == 200
    assert Photograph.objects.filter(pk=photograph.pk).exists()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(removal)
    assert not Photograph.objects.filter(pk=photograph.pk).exists()
    assert [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()] == []


def test_the_name_that_was_sent_is_not_kept(as_, school, settings):
    horn = make.horn(school)

    add(as_(make.staff(Role.HEAD, school)), school, horn, picture(), name="../../etc/Ada Lin.html")

    [kept] = [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()]
    assert kept.suffix == ".jpg"
    assert "Ada" not in str(kept)


def test_a_page_named_as_a_picture_is_refused_and_nothing_is_kept(as_, school, settings):
    horn = make.horn(school)

    answer = add(as_(make.staff(Role.HEAD, school)), school, horn, b"<html><script>alert(1)</script>")

    assert answer.context["form"].errors == {"picture": [UNREADABLE]}
    assert not Photograph.objects.exists()
    assert not settings.MEDIA_ROOT.exists()


def test_another_schools_photograph_is_404(as_, school):
    other = make.school()
    theirs = make.horn(other)
    add(as_(make.staff(Role.HEAD, other)), other, theirs, picture())
    photograph = Photograph.objects.get()
    client = as_(make.staff(Role.HEAD, school))

    for slug in (school.slug, other.slug):
        assert client.get(f"/s/{slug}/photographs/{photograph.pk}/").status_code == 404
        assert client.post(f"/s/{slug}/photographs/{photograph.pk}/remove/").status_code == 404
    assert Photograph.objects.exists()


def test_a_photograph_whose_file_is_gone_is_404(as_, school):
    horn = make.horn(school)
    client = as_(make.staff(Role.HEAD, school))
    add(client, school, horn, picture())
    photograph = Photograph.objects.get()
    photograph.image.storage.delete(photograph.image.name)

    assert client.get(f"/s/{school.slug}/photographs/{photograph.pk}/").status_code == 404


def test_a_horn_has_a_limited_number_of_photographs(school, now):
    horn, head = make.horn(school), make.user()

    def one_more():
        image, width, height = redrawn(upload(picture(20, 20)))
        photographs.add_photograph(horn=horn, image=image, width=width, height=height, by=head, at=now)

    for _ in range(photographs.MOST_PHOTOGRAPHS):
        one_more()
    with pytest.raises(Refused, match="at most 24 photographs"):
        one_more()


def test_a_photograph_is_shown_with_four_queries(as_, school):
    horn = make.horn(school)
    client = as_(make.staff(Role.HEAD, school))
    add(client, school, horn, picture())
    photograph = Photograph.objects.get()

    with CaptureQueriesContext(connection) as queries:
        client.get(f"/s/{school.slug}/photographs/{photograph.pk}/")

    assert len(queries) == 4
