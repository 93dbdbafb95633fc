"""The field guide on paper: a poster of the four checks, and cards of builds, two on a sheet or one with its care."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO

from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.reports.sheet.lines import block_height
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from fleet.workshop.queries.looking_after import care_of
from identify.asked import Choice
from identify.core.drawing.picture import Picture, Words
from identify.core.drawing.whole import BACK, whole
from identify.core.horns.builds import Build
from identify.core.horns.speech import capital
from identify.drawings import picture_of
from identify.guide import TakenFor, checks, confused, who_can_hold
from identify.questions import QUESTIONS

SMALL = 9.0  # points; nothing is smaller
BAND = 52.0  # mm of the poster for a check
# The checks of the poster, with the questions whose answers are shown.
POSTER = (("valves",), ("slide_sets",), ("test_note",), ("hand", "wrap"))
CARD = (BODY_END - BODY_TOP) / 2
LEFT = 74.0
FRONT, BEHIND = 0.22, 0.165  # mm a unit of the drawings


def poster_drawn(*, school: str, paper: str, address: str) -> bytes:
    """One page; `address` is where the walk begins, for the square code."""
    out = BytesIO()
    page = Sheet(out, school=school, title=_s("Which horn is it?"), paper=paper)
    page.words(0, BODY_TOP + 9, _s("Which horn is it? Four checks"), size=24, bold=True)
    y = BODY_TOP + 16
    for number, keys in enumerate(POSTER, start=1):
        _check(page, y, number, keys)
        y += BAND
    page.code(WIDTH - 20, BODY_TOP - 4, 19, address)
    then = _s("Then open the walk on your phone, which says what the horn is.")
    page.words(0, BODY_END - 1, then, size=12, bold=True, width=WIDTH)
    page.close()
    return out.getvalue()


def _check(page: Sheet, y: float, number: int, keys: tuple[str, ...]) -> None:
    page.rule(0, y, WIDTH)
    page.words(0, y + 9, str(number), size=26, bold=True)
    first = QUESTIONS[keys[0]]
    titles = " ".join(str(QUESTIONS[key].title) for key in keys)
    page.words(12, y + 7, titles, size=15, bold=True, width=WIDTH - 12)
    page.block(12, y + 8.5, str(first.how[0]), WIDTH - 12, 9.5, size=10.5)
    shown = [(choice, picture) for key in keys for choice in QUESTIONS[key].choices if (picture := _of(choice))]
    room = (WIDTH - 12) / len(shown)
    for place, (choice, picture) in enumerate(shown):
        _answer(page, 12 + place * room, y + 18, room, choice, picture)


def _answer(page: Sheet, x: float, y: float, room: float, choice: Choice, picture: Picture) -> None:
    scale = min((room - 3) / picture.width, 24.0 / picture.height)
    draw(page, picture, x, y, scale)
    page.paragraph(x, y + 24.5, str(choice.words), room - 2, size=10, bold=True, lines=2)


def _of(choice: Choice) -> Picture | None:
    picture = picture_of(choice.drawing, choice.down, choice.thumb)
    if picture is None:
        return None
    # Drawn small, what is written in it could not be read.
    return replace(picture, marks=tuple(mark for mark in picture.marks if not isinstance(mark, Words)))


def cards_drawn(builds: Sequence[Build], *, school: str, paper: str) -> bytes:
    """Two cards on a sheet, with a line between to cut along; below one alone stands how it is looked after."""
    out = BytesIO()
    page = Sheet(out, school=school, title=_s("Kinds of horn"), paper=paper)
    for place, build in enumerate(builds):
        if place and place % 2 == 0:
            page.turn()
        if place % 2:
            page.rule(0, BODY_TOP + CARD, WIDTH, weight=0.3)
        _card(page, BODY_TOP + CARD * (place % 2), build)
    if len(builds) == 1:
        _care(page, BODY_TOP + CARD, builds[0])
    page.close()
    return out.getvalue()


def _card(page: Sheet, y: float, build: Build) -> None:
    front, back = whole(build), whole(build, BACK, numbered=False)
    below = draw(page, front, (LEFT - front.width * FRONT) / 2, y + 2, FRONT)
    draw(page, back, (LEFT - back.width * BEHIND) / 2, below + 1, BEHIND)
    page.words(2, y + 6, _s("From the front"), size=SMALL, grey=True)
    page.words(2, below + 5, _s("From behind"), size=SMALL, grey=True)
    x, wide = LEFT + 4, WIDTH - LEFT - 4
    y = page.paragraph(x, y + 1, capital(_s(build.name)), wide, size=14, bold=True)
    y = page.paragraph(x, y, _s(build.about), wide, size=SMALL) + 1
    for said in checks(build):
        answers = "; ".join(f"{words} ({stand})" if stand else words for stand, words in said.answers)
        page.words(x, y + 3.4, str(said.question.short), size=SMALL, grey=True, width=34)
        y = page.paragraph(x + 36, y, answers, wide - 36, size=SMALL, lines=3)
    y += 1
    for one in confused(build):
        words = _told_from(one)
        if block_height(words, wide, SMALL) < BODY_END - y:
            y = page.paragraph(x, y + 0.6, words, wide, size=SMALL)
    page.paragraph(x, y + 1, " ".join(who_can_hold(build)), wide, size=SMALL, lines=3)


def _told_from(one: TakenFor) -> str:
    said: dict[str, object] = {"other": _s(one.other.name)}
    if one.question is None:
        return _s("Not the %(other)s? No check tells.") % said
    said |= {"check": one.question.short, "mine": one.mine, "theirs": one.theirs}
    return _s("Not the %(other)s? %(check)s: here %(mine)s, there %(theirs)s.") % said


def _care(page: Sheet, y: float, build: Build) -> None:
    care = care_of(build)
    page.rule(0, y, WIDTH, weight=0.3)
    y = page.paragraph(0, y + 4, gettext("Looking after it"), WIDTH, size=14, bold=True)
    for words in (*care.lines, care.first):
        y = page.paragraph(0, y + 1.5, words, WIDTH, size=11)
