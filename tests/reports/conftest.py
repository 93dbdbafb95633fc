from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from io import BytesIO

import pytest
from django.urls import reverse
from PIL import Image

from tests import make


@pytest.fixture
def pdftoppm() -> str:
    """The renderer's program. Without it tests skip, in CI they fail."""
    program = shutil.which("pdftoppm")
    if program is None:
        if os.environ.get("CI"):
            pytest.fail("CI is set, but pdftoppm (Debian's poppler-utils) was not found.")
        pytest.skip("no pdftoppm found")
    return program


@pytest.fixture
def rendered(pdftoppm) -> Callable[[bytes], bytes]:
    """The first page of a PDF as a PNG at 150 dots an inch."""

    def render(content: bytes) -> bytes:
        return subprocess.run(
            [pdftoppm, "-png", "-r", "150", "-singlefile", "-"], input=content, capture_output=True, check=True
        ).stdout

    return render


@pytest.fixture
def rastered(pdftoppm, tmp_path) -> Callable[..., list[Image.Image]]:
    """The pages of a PDF as pictures of so many dots an inch."""

    def raster(content: bytes, dots: int = 50) -> list[Image.Image]:
        for old in tmp_path.glob("page*"):
            old.unlink()
        subprocess.run([pdftoppm, "-r", str(dots), "-", str(tmp_path / "page")], input=content, check=True)
        return [Image.open(BytesIO(page.read_bytes())) for page in sorted(tmp_path.glob("page*"))]

    return raster


@pytest.fixture
def school(db):
    return make.school(name="Hill Road School", contact="the music office")


@pytest.fixture
def get(school, head, as_, monkeypatch):
    """The bytes of a print of `school` that its head asked for, by the name of its page."""
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    client = as_(head)

    def fetch(name, *args, **query):
        answer = client.get(reverse(f"reports:{name}", args=(school.slug, *args)), query)
        assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
        return answer.content

    return fetch
