from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable

import pytest


@pytest.fixture
def rendered() -> Callable[[bytes], bytes]:
    """The first page of a PDF as a PNG at 150 dots an inch. Without a renderer tests skip, in CI fail."""
    program = shutil.which("pdftoppm")
    if program is None:
        if os.environ.get("CI"):
            pytest.fail("CI is set, but pdftoppm (Debian's poppler-utils) was not found.")
        pytest.skip("no pdftoppm found")

    def render(content: bytes) -> bytes:
        return subprocess.run(
            [program, "-png", "-r", "150", "-singlefile", "-"], input=content, capture_output=True, check=True
        ).stdout

    return render
