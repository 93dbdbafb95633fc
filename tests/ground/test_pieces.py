"""Pieces of pages that are drawn once: they show what they are given and nothing else."""

from __future__ import annotations

import pytest
from django.template import Context, Template, TemplateSyntaxError
from django.test import RequestFactory
from django.urls import set_script_prefix
from django.utils import translation
from django.utils.safestring import SafeString

from fleet.ground.languages.own import in_words
from fleet.templatetags import pieces


def drawn(template: Template, **values: object) -> str:
    return template.render(Context(values))


def test_a_piece_shows_what_its_tag_names_and_nothing_else_of_the_page():
    page = Template("{{ who }}: {% piece many=horns %}{{ many }} {{ horns }}{{ who }}{{ request }}{% endpiece %}")

    assert drawn(page, who="Bo", horns=3, request="secret") == "Bo: 3 "
    assert drawn(page, who="Mia", horns=3) == "Mia: 3 "
    assert drawn(page, who="Mia", horns=4) == "Mia: 4 "


def test_a_piece_is_drawn_once_for_the_same_values(monkeypatch):
    asked = []
    page = Template("{% piece many=horns %}{{ many }}{% endpiece %}")
    draw = pieces.PieceNode._draw
    monkeypatch.setattr(pieces.PieceNode, "_draw", lambda *given: asked.append(given[2]) or draw(*given))

    assert [drawn(page, horns=many) for many in (1, 2, 1, 2, 1)] == ["1", "2", "1", "2", "1"]

    assert asked == [[1], [2]]


def test_what_is_safe_is_no_answer_for_the_same_text_that_is_not():
    page = Template("{% piece name=name %}{{ name }}{% endpiece %}")

    assert drawn(page, name=SafeString("<b>Bo</b>")) == "<b>Bo</b>"
    assert drawn(page, name="<b>Bo</b>") == "&lt;b&gt;Bo&lt;/b&gt;"
    assert drawn(page, name=True) == "True"
    assert drawn(page, name=1) == "1"
    assert drawn(page) == ""


def test_each_language_path_and_wording_of_a_school_has_its_own():
    page = Template("{% load i18n %}{% piece %}{% translate 'Search' %} {% address 'account_login' %}{% endpiece %}")
    english = drawn(page)
    with translation.override("de"):
        german = drawn(page)
        with in_words({("de", "Search", german.split()[0]): "Stöbern"}):
            assert drawn(page).split()[0] == "Stöbern"
        assert drawn(page) == german
    set_script_prefix("/horns/")
    try:
        assert drawn(page) == english.replace(" /", " /horns/")
    finally:
        set_script_prefix("/")

    assert drawn(page) == english != german


def test_inside_a_piece_the_ways_go_by_the_school_and_the_question_it_names():
    page = Template("{% piece at=slug asked=q %}{% here 'register:horns' %}{% with_query page=2 %}{% endpiece %}")

    assert drawn(page, slug="alder-row", q="q=bell&page=1") == "/s/alder-row/horns/?q=bell&amp;page=2"
    assert drawn(page, slug="millpond-lane", q="") == "/s/millpond-lane/horns/?page=2"


def test_outside_of_it_they_go_by_the_page():
    page = Template("{% with_query page=2 %}")

    assert drawn(page, request=RequestFactory().get("/?q=bell")) == "?q=bell&amp;page=2"


def test_no_more_pieces_are_kept_than_a_process_has_room_for(monkeypatch):
    monkeypatch.setattr(pieces, "MOST", 2)
    page = Template("{% piece many=many %}{{ many }}{% endpiece %}")
    (node,) = page.nodelist

    for many, kept in ((1, 1), (2, 2), (2, 2), (3, 1)):
        drawn(page, many=many)
        assert len(node._drawn) == kept


def test_what_a_piece_shows_has_a_name():
    with pytest.raises(TemplateSyntaxError):
        Template("{% piece horns %}{% endpiece %}")
