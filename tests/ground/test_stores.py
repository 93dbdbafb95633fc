"""Pictures lie in a folder or in a store that is shared: what the site asks of either, and what it says of one away."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.core.exceptions import SuspiciousFileOperation
from django.core.files.base import ContentFile
from django.utils import timezone

from fleet import environment as env
from fleet.ground.files.folder import Folder, all_kept
from fleet.ground.files.shared import Shared
from fleet.management.commands.doctor import of_pictures
from tests.ports import free_port
from tests.stores import KEY, REGION, SECRET, bucket, far_end


def shared(address: str, name: str) -> Shared:
    return Shared(endpoint_url=address, bucket_name=name, access_key=KEY, secret_key=SECRET, region_name=REGION)


@pytest.fixture(scope="module")
def there() -> Iterator[str]:
    with far_end() as address:
        yield address


@pytest.fixture(params=["folder", "shared"])
def store(request, tmp_path, there):
    return Folder(location=tmp_path / "pictures") if request.param == "folder" else shared(there, bucket(there))


def test_what_is_put_into_a_store_is_found_read_and_taken_out_again_and_nothing_is_written_over(store):
    assert list(all_kept(store=store)) == []
    names = [store.save("horns/2026/x.jpg", ContentFile(one)) for one in (b"a picture", b"another")]

    assert names[0] == "horns/2026/x.jpg" != names[1]
    with store.open(names[0]) as first, store.open(names[1]) as second:
        assert (first.size, first.read(), second.read()) == (9, b"a picture", b"another")
    store.save("sheets/y.pdf", ContentFile(b"%PDF-"))
    assert list(all_kept(store=store)) == [*sorted(names), "sheets/y.pdf"]
    assert abs(store.get_modified_time(names[0]) - timezone.now()) < timedelta(minutes=1)
    for name in names:
        store.delete(name)
    assert list(all_kept(store=store)) == ["sheets/y.pdf"]
    with pytest.raises(FileNotFoundError):
        store.open(names[0])
    with pytest.raises(SuspiciousFileOperation):
        store.save("../secret", ContentFile(b"x"))


def test_a_picture_that_was_cut_off_does_not_stand_under_its_name(tmp_path):
    class CutOff(ContentFile):
        def chunks(self, chunk_size=None):
            yield b"half"
            raise OSError(errno.ENOSPC, "no room")

    with pytest.raises(OSError, match="no room"):
        Folder(location=tmp_path).save("horns/x.jpg", CutOff(b"half a picture"))

    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_of_a_shared_store_that_is_away_an_error_is_told_as_of_a_disk_and_no_address_is_given_out():
    away = shared(f"http://127.0.0.1:{free_port()}", "pictures")

    with pytest.raises(OSError) as told:
        away.exists("horns/x.jpg")
    assert told.value.errno == errno.EHOSTUNREACH
    with pytest.raises(ValueError, match="behind their doors"):
        away.url("horns/x.jpg")


@pytest.mark.parametrize(("bucket_is_there", "words"), [(True, "come back as they were"), (False, "cannot be kept in")])
def test_the_doctor_tries_the_store(settings, there, bucket_is_there, words):
    name = bucket(there) if bucket_is_there else "nowhere"
    known = {"access_key": KEY, "secret_key": SECRET, "region_name": REGION}
    options = {"endpoint_url": there, "bucket_name": name, **known}
    ours = {"BACKEND": "fleet.ground.files.shared.Shared", "OPTIONS": options}
    settings.STORAGES = {**settings.STORAGES, "default": ours}

    ((well, sentence),) = of_pictures()
    assert (well, words in sentence, name in sentence) == (bucket_is_there, True, True)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"ADDRESS": "store.example.org"}, "must be an address like https://store.example.org"),
        ({"ADDRESS": "https://store.example.org/pictures"}, "must be an address like https://store.example.org"),
        ({"KEY": "a-key"}, "go together"),
        ({"SECRET": "a-secret"}, "go together"),
    ],
)
def test_a_store_that_cannot_be_meant_is_refused_with_a_sentence(monkeypatch, said, sentence):
    for name, value in {"BUCKET": "pictures", **said}.items():
        monkeypatch.setenv(f"HORN_S3_{name}", value)

    with pytest.raises(env.Nonsense, match=sentence):
        env.store("HORN_S3")


def test_a_store_whose_packages_are_not_here_is_refused_with_the_file_that_names_them(monkeypatch):
    monkeypatch.setenv("HORN_S3_BUCKET", "pictures")
    assert env.store("HORN_S3")["BACKEND"] == "fleet.ground.files.shared.Shared"
    monkeypatch.setattr(env, "find_spec", lambda name: None)

    with pytest.raises(env.Nonsense, match=r"requirements/s3\.txt"):
        env.store("HORN_S3")
