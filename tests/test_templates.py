"""How the templates are set. The formatter does most of it; these are the rules it does not hold by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES = ROOT / "templates"
PAGES = sorted(TEMPLATES.rglob("*.html"))
BLOCKS = (
    "html|head|body|header|main|nav|section|article|aside|footer|div|p|h[1-6]|ul|ol|li|dl|dt|dd|table|thead|tbody|tfoot"
    "|tr|th|td|form|fieldset|legend|figure|figcaption|details|summary"
)
OPENS_A_BLOCK = re.compile(rf"<(?:{BLOCKS})(?=[\s>])")


def lines() -> Iterator[tuple[str, str]]:
    """(where it stands, the line) of every template."""
    for page in PAGES:
        for number, line in enumerate(page.read_text(encoding="utf-8").split("\n"), start=1):
            yield f"{page.relative_to(TEMPLATES)}:{number}", line


def two_blocks(line: str) -> bool:
    return len(OPENS_A_BLOCK.findall(line)) > 1


def open_tag(line: str) -> bool:
    """Whether a tag of the template language begins here and ends further down, where Django would print it."""
    return line.rfind("{%") > line.rfind("%}") or line.rfind("{{") > line.rfind("}}")


def test_there_are_templates_to_look_at():
    assert len(PAGES) > 100


def test_no_line_of_a_template_is_longer_than_120_signs():
    assert [where for where, line in lines() if len(line) > 120] == []


def test_what_asks_the_site_while_one_types_brings_along_what_it_asks_with():
    brings = {"_partials/as_typed.html": "form", "exchange/_import.html": "page"}
    asking = {str(page.relative_to(TEMPLATES)): page.read_text(encoding="utf-8") for page in PAGES}
    asking = {
        name: words for name, words in asking.items() if re.search(r"\bhx-|_partials/as_typed|exchange/_imp", words)
    }

    assert len(asking) > 5
    assert [name for name, words in asking.items() if "_partials/htmx.html" not in words and name not in brings] == []


def whole(name: str, before: frozenset[str] = frozenset()) -> str:
    """A template with all that it extends and includes by name."""
    words = (TEMPLATES / name).read_text(encoding="utf-8")
    others = set(re.findall(r'{% (?:extends|include) "([^"]+)"', words)) - before - {name}
    return words + "".join(whole(one, before | {name}) for one in sorted(others))


def test_a_page_brings_the_styles_of_what_stands_on_it():
    sheets = {
        f"{sheet.parent.name}/{sheet.name}": set(re.findall(r"\.([a-z][\w-]+)", sheet.read_text(encoding="utf-8")))
        for folder in ("fleet", "identify")
        for sheet in (ROOT / folder).glob("static/*/*.css")
    }
    pages = {str(page.relative_to(TEMPLATES)): whole(str(page.relative_to(TEMPLATES))) for page in PAGES}
    lacking = []
    for name, words in pages.items():
        brought = set().union(*(sheets[sheet] for sheet in re.findall(r"\b\w+/[\w-]+\.css", words)))
        classes = re.findall(r'class="([^"]*)"', words)
        used = {one for each in classes for one in re.sub(r"{[%{].*?[%}]}", " ", each).split()}
        # The cupboard taken along is one file with its styles in it.
        if "<head" in words and brought:
            lacking += [(name, one) for one in used - brought if any(one in styled for styled in sheets.values())]

    assert len(sheets) > 8
    assert lacking == []


def test_no_two_blocks_open_on_one_line_of_a_template():
    assert [where for where, line in lines() if two_blocks(line)] == []


def test_no_tag_of_the_template_language_goes_over_the_end_of_its_line():
    assert [where for where, line in lines() if open_tag(line)] == []


def test_a_button_that_only_keeps_something_says_save():
    other = re.compile(r"(Store|Record|Keep|Note|Add|Update|Submit|Confirm|Change|Rename|Make)\b", re.I)
    # Each does more: a loan ends, a step goes back, new keys are drawn.
    more = {"Record it as lost", "Change something", "Make new ones"}
    words = [
        word.strip()
        for page in PAGES
        for found in re.findall(
            r'<button\b[^>]*>\s*(?:{% translate ")?([^<{"]+)|button\.html" with words=_?\(?"([^"]+)',
            page.read_text("utf-8"),
        )
        for word in found
    ]
    assert "Save" in words
    assert [word for word in words if other.match(word) and word not in more] == []


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("<ul><li>one</li>", True),
        ('<dd class="x">a</dd><dt>b</dt>', True),
        ("<p>a <b>b</b> <a href='/'>c</a></p>", False),
        ("<li><a href='/'>one</a></li>", False),
        ("<pre><params>", False),
    ],
)
def test_two_blocks_on_a_line_are_seen(line: str, told: bool):
    assert two_blocks(line) is told


@pytest.mark.parametrize(
    ("line", "told"), [("{% if a %}b{% include", True), ("{{ a|default:", True), ("{% if a %}{{ b }}", False)]
)
def test_a_tag_that_does_not_end_on_its_line_is_seen(line: str, told: bool):
    assert open_tag(line) is told
