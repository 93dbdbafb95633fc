"""What is left out on the way: indentation, comments; and how much a page has a phone wait for."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles.finders import find
from django.core.files.base import ContentFile
from django.template import Engine

from fleet.ground.access import Role
from fleet.lighter import COMMENT, Gathered
from tests import make
from tests.ground.test_scripts import SCRIPTS
from tests.test_look import SHEETS, style
from tests.test_templates import PAGES, TEMPLATES, whole

WRITTEN = "<p>\n  {% if one %}\n\t\tof\n  {% endif %}\n\n  two\n</p>\n"
SCRIPT = """/* Why
 * so. */
"use strict";
  // And this.
const at = "https://one"; // behind code
/* one */ const kept = "/* words */";
const words = `/* a */`;
"""


@pytest.mark.parametrize(
    ("name", "told"),
    [("page.html", "<p>\n\nof\n\n\ntwo\n</p>\n"), ("letter.txt", "<p>\n  \n\t\tof\n  \n\n  two\n</p>\n")],
)
def test_a_page_has_no_indentation_and_a_letter_keeps_its_own(tmp_path, name, told):
    (tmp_path / name).write_text(WRITTEN, encoding="utf-8")
    engine = Engine([tmp_path], loaders=["fleet.lighter.Loader"])

    assert engine.render_to_string(name, {"one": True}) == told


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("fleet/one.js", '"use strict";\nconst at = "https://one"; // behind code\n' + SCRIPT.split("code\n")[1]),
        ("elsewhere/one.js", SCRIPT),
        ("fleet/one.txt", SCRIPT),
    ],
)
def test_our_styles_and_scripts_are_gathered_without_the_comments_on_lines_of_their_own(tmp_path, name, told):
    content = ContentFile(SCRIPT.encode())
    content.read()  # as the library does, for its hash

    Gathered(location=tmp_path, base_url="/static/").save(name, content)

    assert (tmp_path / name).read_text(encoding="utf-8") == told


def test_no_rule_and_no_line_of_a_script_is_taken_for_a_comment():
    def in_one(text: str) -> str:
        return re.sub(r"\s+", " ", text).strip()

    for sheet in SHEETS:
        assert in_one(COMMENT.sub("", sheet.read_text(encoding="utf-8"))) == in_one(style(sheet))
    # Words of several lines may begin one as a comment does: our scripts have none.
    several = [(one.name, line) for one in SCRIPTS for line in bare(one).splitlines() if line.count("`") % 2]
    assert several == []


def bare(path: Path) -> str:
    return COMMENT.sub("", path.read_text(encoding="utf-8"))


def packed(text: str) -> int:
    return len(gzip.compress(text.encode(), 9, mtime=0))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("path", "most"),
    # Packed: what the page waits for before it is painted, its scripts, and the page itself.
    [("identify/?valves=3", (8_600, 8_000, 5_500)), ("horns/", (9_200, 20_400, 5_100))],
)
def test_a_page_is_painted_after_few_bytes_and_its_styles_come_before_its_scripts(as_, path, most):
    school = make.school()
    for _ in range(30):
        make.horn(school)

    page = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/{path}").content.decode()

    linked = re.findall(r'<(link rel="stylesheet"|script)[^>]* (?:href|src)="/static/([^"]+)"', page)
    styles, scripts = ([name for kind, name in linked if ("link" in kind) is is_style] for is_style in (True, False))
    assert [name for _, name in linked] == styles + scripts
    assert "<script" not in page[: page.index("</head>")]
    weights = [sum(packed(bare(Path(str(find(name))))) for name in names) for names in (styles, scripts)]
    weights.append(packed(page))
    assert [weight <= top for weight, top in zip(weights, most, strict=True)] == [True] * 3, weights


@pytest.mark.django_db
def test_today_fetches_ahead_what_the_walk_and_the_lists_are_painted_with(as_):
    school = make.school()
    make.horn(school)
    head = as_(make.staff(Role.HEAD, school))

    def linked(path: str, rel: str) -> set[str]:
        page = head.get(f"/s/{school.slug}/{path}").content.decode()
        return set(re.findall(rf'<link rel="{rel}"[^>]* href="([^"]+)"', page))

    later = linked("identify/?valves=3", "stylesheet") | linked("horns/", "stylesheet")
    assert linked("", "prefetch") == later - linked("", "stylesheet")


def test_a_page_that_draws_a_list_links_the_styles_of_lists_and_no_page_has_a_script_in_its_head():
    names = [str(page.relative_to(TEMPLATES)) for page in PAGES if not page.name.startswith("_")]
    pages = {name: whole(name) for name in names}
    drawing = {name for name, words in pages.items() if "{% render_table" in words}
    heads = re.compile(r"{% block head %}(?:(?!{% endblock).)*(?:{% script|<script|scripts\.html)", re.DOTALL)

    assert "register/horns.html" in drawing
    assert [name for name in drawing if "fleet/lists.css" not in pages[name]] == []
    assert [name for name, words in pages.items() if heads.search(words)] == []
