"""What our scripts say: every sentence is marked where it stands, and handed along in the reader's language."""

from __future__ import annotations

import re

import pytest
from django.template import Context, Template
from django.utils import translation

from fleet.ground.languages.scripts import marked, words_of
from tests.house import ROOT

SCRIPTS = sorted(path for folder in ("fleet", "identify") for path in (ROOT / folder / "static" / folder).glob("*.js"))
COMMENTS = re.compile(r"/\*.*?\*/|(?<![:\"'`\\])//[^\n]*", re.S)
MARKED = re.compile(r'_(?:s(?:_many)?)?\(\s*"(?:\\.|[^"\\])*"(?:,\s*"(?:\\.|[^"\\])*")?')
# A sentence begins with a capital and goes on with a second word; all else in quotes are names for the browser.
SENTENCE = re.compile(r'["`](?=[^"`]*[A-Z✓…])[A-Z✓…][^"`\n]*? [a-z][^"`\n]*["`]')


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_script_says_a_sentence_that_is_not_marked(path):
    assert SENTENCE.findall(MARKED.sub("", COMMENTS.sub("", path.read_text(encoding="utf-8")))) == []


def test_a_sentence_that_is_not_marked_is_found():
    source = """say("Type the number."); /* Not "A word here" */
        say(_s("Marked words here")); make("li", { className: "facts one" })"""

    assert SENTENCE.findall(MARKED.sub("", COMMENTS.sub("", source))) == ['"Type the number."']


def test_marks_are_read_with_both_forms_of_a_number():
    source = (
        r'say(_s("One \"word\"")); say(_s_many("%(count)s horn", "%(count)s horns", n)); say(_("All")); tells("No")'
    )

    assert [*marked(source)] == [
        ("_s", 'One "word"'),
        ("_s_many", ("%(count)s horn", "%(count)s horns")),
        ("_", "All"),
    ]


def test_a_page_hands_a_scripts_words_along_in_the_language_of_its_reader():
    page = Template("{% script 'fleet/outbox.js' %}")

    with translation.override("de"):
        assert words_of("fleet/outbox.js")["Throw away"] != "Throw away"
        assert 'id="words-outbox"' in page.render(Context())
    with translation.override("en"):
        assert words_of("fleet/outbox.js") == {}
        assert "words-outbox" not in page.render(Context())
