"""How templates are read."""

from __future__ import annotations

import pytest
from django.template import Engine

WRITTEN = "<p>\n  {% if one %}\n\t\tof\n  {% endif %}\n\n  two\n</p>\n"


@pytest.mark.parametrize(
    ("name", "told"),
    [("page.html", "<p>\n\nof\n\n\ntwo\n</p>\n"), ("letter.txt", "<p>\n  \n\t\tof\n  \n\n  two\n</p>\n")],
)
def test_a_page_has_no_indentation_and_a_letter_keeps_its_own(tmp_path, name, told):
    (tmp_path / name).write_text(WRITTEN, encoding="utf-8")
    engine = Engine([tmp_path], loaders=["fleet.unindented.Loader"])

    assert engine.render_to_string(name, {"one": True}) == told
