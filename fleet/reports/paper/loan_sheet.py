"""The loan sheet: one page that the guardian signs before the horn goes out, and that comes back with it."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

from django.urls import reverse

from fleet.people.models import School
from fleet.reports.queries.loan_facts import SheetFacts
from fleet.reports.sheet.faces import width
from fleet.reports.sheet.lines import MM, block_height
from fleet.reports.sheet.page import BODY_END, BODY_TOP, SMALLEST, WIDTH, Sheet

COLUMN = 92.0
RIGHT = WIDTH - COLUMN
# Care has more to say than most schools' own rules: wider, so that it is read without a glass.
CARE_COLUMN = 120.0
RULES_COLUMN = WIDTH - CARE_COLUMN - 6
RULES_HEIGHT = 41.0
AGREEMENT_HEIGHT = 34.0


def loan_sheets_drawn(sheets: Iterable[SheetFacts], *, school: School, paper: str, origin: str) -> bytes:
    """Sheets of one school as one PDF, a page each. `origin` begins the address in the square code."""
    out = io.BytesIO()
    contact = f"Questions: {school.contact}" if school.contact else ""
    page = Sheet(out, school=school.name, title="Loan sheet", paper=paper, foot=contact)
    place = -1
    for place, facts in enumerate(sheets):
        if place:
            page.turn(own=True)
        page.entry(f"{facts.number}, {facts.pupil}")
        code = ("desk:sheet", facts.sheet_code) if facts.sheet_code else ("desk:label", facts.label_code)
        _sheet(page, facts, origin + reverse(code[0], args=code[1:]))
        if not _agreement_fits(facts):
            page.turn()
            _overleaf(page, facts)
    if place < 0:
        page.paragraph(0, BODY_TOP, "No such loan is out: there is no sheet to print.", WIDTH, size=11)
    page.close()
    return out.getvalue()


def _sheet(page: Sheet, facts: SheetFacts, address: str) -> None:
    _head(page, facts, address)
    _condition(page, facts, 65.0)
    _accessories(page, facts, 65.0, 35.0)
    _test_note(page, facts, 105.0)
    kind = f"{facts.care.valves}-{facts.agreement_version}"
    page.once(f"loan-sheet-{kind}", lambda: _standing(page, facts))
    _signatures(page, facts, 213.0)


def _heading(page: Sheet, x: float, y: float, words: str, width: float) -> None:
    page.words(x, y, words, size=10.5, bold=True, width=width)
    page.rule(x, y + 1.2, width, weight=0.4)


def _head(page: Sheet, facts: SheetFacts, address: str) -> None:
    page.words(0, BODY_TOP + 8, facts.number, size=24, bold=True, width=70)
    what = f"{facts.kind}, stands in {facts.stands_in}" if facts.stands_in else facts.kind
    page.words(0, BODY_TOP + 15, what, size=13, width=152)
    page.block(0, BODY_TOP + 16.5, facts.about, 152, 9, size=9)
    page.code(156, BODY_TOP - 1, 34, address)
    page.words(
        159, BODY_TOP + 34.5, f"this {'loan' if facts.sheet_code else 'horn'}’s page, after", size=7.5, grey=True
    )
    page.words(159, BODY_TOP + 37.5, "signing in", size=7.5, grey=True)
    y = BODY_TOP + 30.0
    page.words(18, y, facts.pupil, size=11, bold=True, width=134)
    rows: list[tuple[str, str, bool]] = [
        ("Pupil", "", True),
        ("Class", facts.group, False),
        ("Guardian", facts.guardian, False),
        ("Due back", facts.due_on, True),
    ]
    for label, words, bold in rows:
        page.words(0, y, label, size=8.5, grey=True)
        _whole(page, 18, y, words, 82, size=11 if bold else 10, bold=bold)
        y += 5.2
    y = BODY_TOP + 35.2
    for label, words in facts.particulars:
        page.words(104, y, label, size=8.5, grey=True)
        _whole(page, 124.5, y, words, 30, size=10)
        y += 5.2


def _whole(page: Sheet, x: float, y: float, words: str, across: float, *, size: float, bold: bool = False) -> None:
    """Words on their line, or on two small ones where they are too long for it: who signs is not to be cut."""
    if width(words, size * 0.75, bold) <= across * MM:
        page.words(x, y, words, size=size, bold=bold, width=across)
    else:
        page.paragraph(x, y - 4.2, words, across, size=SMALLEST, bold=bold, lines=2)


def _condition(page: Sheet, facts: SheetFacts, y: float) -> None:
    _heading(page, 0, y, "How it is when it goes out", COLUMN)
    y = page.paragraph(0, y + 2, facts.condition, COLUMN, size=9, lines=2)
    if not facts.findings:
        if facts.was_checked:
            page.words(0, y + 5, "Nothing found.", size=9)
        return
    shown = facts.findings if len(facts.findings) <= 5 else facts.findings[:4]
    for finding in shown:
        y += 4.9
        page.words(0, y, "–", size=9)
        page.words(3, y, finding, size=9, width=COLUMN - 3)
    if len(facts.findings) > len(shown):
        page.words(3, y + 4.9, f"and {len(facts.findings) - len(shown)} more, on the check itself", size=9)


def _accessories(page: Sheet, facts: SheetFacts, y: float, height: float) -> None:
    _heading(page, RIGHT, y, "Goes along with it", COLUMN)
    page.words(RIGHT, y + 5, "out", size=7.5, grey=True)
    page.words(RIGHT + 6, y + 5, "back", size=7.5, grey=True)
    rows = facts.accessories
    two = len(rows) > 6
    half = -(-len(rows) // 2) if two else len(rows)
    step = min(4.9, (height - 7) / max(half, 1))
    for place, (name, came_back) in enumerate(rows):
        x = RIGHT + (COLUMN / 2 + 1 if place >= half else 0)
        line = y + 9.2 + step * (place % half)
        page.tick_box(x, line + 0.4, side=3, ticked=True)
        page.tick_box(x + 6, line + 0.4, side=3, ticked=came_back is True)
        page.words(x + 11.5, line, name, size=9, width=(COLUMN / 2 - 13) if two else COLUMN - 13)
    if two:
        page.words(RIGHT + COLUMN / 2 + 1, y + 5, "out", size=7.5, grey=True)
        page.words(RIGHT + COLUMN / 2 + 7, y + 5, "back", size=7.5, grey=True)
    if not rows:
        page.words(RIGHT, y + 9.2, "Nothing.", size=9)


def _test_note(page: Sheet, facts: SheetFacts, y: float) -> None:
    _heading(page, 0, y, "The test note on this horn", WIDTH)
    if not facts.fingerings:
        page.words(0, y + 6, "No fingering is known for this kind of horn: ask the teacher.", size=9)
        return
    page.words(0, y + 6, facts.test_note, size=9, width=58)
    warning = "If it does not speak so, the horn is not what this sheet says: tell the teacher."
    page.words(60, y + 6, warning, size=9, width=WIDTH - 60)
    said = [f"{words}: {fingering}" if words else fingering for words, fingering in facts.fingerings]
    gap, wide = 7.0, [width(words, 10.5, bold=True) / MM for words in said]
    shrink = min(1.0, (WIDTH - gap * (len(said) - 1)) / sum(wide))
    x = 0.0
    for words, natural in zip(said, wide, strict=True):
        page.words(x, y + 11.3, words, size=10.5 * shrink, bold=True)
        x += natural * shrink + gap


def _standing(page: Sheet, facts: SheetFacts) -> None:
    """What is the same on every sheet of the school: care, its own rules, the agreement."""
    _heading(page, 0, 122.5, "Looking after it", CARE_COLUMN)
    care = [*facts.care.lines, *(" ".join(group) for group in facts.care.cautions)]
    page.block(0, 124.5, "\n".join(care), CARE_COLUMN, 43, size=8.5)
    right = WIDTH - RULES_COLUMN
    _heading(page, right, 122.5, "The school’s own rules", RULES_COLUMN)
    rules = facts.school.local_rules or "Ask the school about insurance, charges and hygiene."
    if block_height(rules, RULES_COLUMN, SMALLEST) > RULES_HEIGHT:
        page.words(
            right, 168, "The rest stands on the family’s page; the school has it too.", size=8, width=RULES_COLUMN
        )
    page.block(right, 124.5, rules, RULES_COLUMN, RULES_HEIGHT, size=9)
    _heading(page, 0, 172, f"Agreement, version {facts.agreement_version}", WIDTH)
    words = facts.agreement if _agreement_fits(facts) else "The whole agreement is overleaf, and is part of this sheet."
    page.block(0, 174, words, WIDTH, AGREEMENT_HEIGHT, size=9)


def _agreement_fits(facts: SheetFacts) -> bool:
    return block_height(facts.agreement, WIDTH, SMALLEST) <= AGREEMENT_HEIGHT


def _overleaf(page: Sheet, facts: SheetFacts) -> None:
    """What a family signs is never cut: an agreement that the sheet has no room for stands whole on its back."""
    page.words(0, BODY_TOP + 6, f"{facts.number}, {facts.pupil}", size=11, bold=True, width=WIDTH)
    _heading(page, 0, BODY_TOP + 14, f"Agreement, version {facts.agreement_version}", WIDTH)
    room = BODY_END - BODY_TOP - 16
    words = facts.agreement
    if block_height(words, WIDTH, SMALLEST) > room:
        words = " ".join(words.split())
    page.block(0, BODY_TOP + 16, words, WIDTH, room, size=9.5)


def _signatures(page: Sheet, facts: SheetFacts, y: float) -> None:
    third = (WIDTH - 10) / 3
    _heading(page, 0, y, "Before it goes out", third)
    _heading(page, third + 5, y, "Goes out", third)
    _heading(page, 2 * third + 10, y, facts.returned.how if facts.returned else "Comes back", third)
    if facts.signed_on:
        _said(page, 0, y, third, [("Signed by", facts.guardian), ("On", facts.signed_on)])
        how = f"on the family’s page, {facts.signed_as}" if facts.signed_as else "on the paper sheet the school keeps"
        if facts.agreed_for:
            how = f"with the agreement for {facts.agreed_for}"
        page.words(0, y + 19.5, how, size=7.5, grey=True, width=third)
        if facts.signer:
            page.paragraph(0, y + 20.5, f"signed in as {facts.signer}", third, size=SMALLEST, lines=2, grey=True)
    else:
        _lines(page, 0, y, third, ["Guardian’s signature", "Name", "Date"])
        page.words(0, y + 21.8, facts.guardian, size=9.5, width=third)
    if facts.issued:
        _said(page, third + 5, y, third, [("Issued", facts.issued), *facts.moved])
    else:
        _lines(page, third + 5, y, third, ["For the school, signature", "Name", "Date"])
    back = facts.returned
    x = 2 * third + 10
    if back is None:
        _lines(
            page,
            x,
            y,
            third,
            ["Date, and grade at the check", "For the school, signature", "Mouthpiece cleaned on, by"],
        )
        return
    rows = [
        ("For", back.instead),
        ("Recorded" if back.how == "Lost" else "On", f"{back.on}, {back.by}"),
        ("Plays", back.grade),
        ("Mouthpiece", back.mouthpiece),
        ("Missing", ", ".join(back.missing)),
    ]
    _said(page, x, y, third, [(label, words) for label, words in rows if words])


def _lines(page: Sheet, x: float, y: float, width: float, labels: list[str]) -> None:
    """Lines to write on by hand, the first the tallest, what belongs there below each."""
    line = y + 5.8
    for label in labels:
        line += 8.4
        page.rule(x, line, width, weight=0.4)
        page.words(x, line + 3, label, size=7.5, grey=True)


def _said(page: Sheet, x: float, y: float, width: float, rows: list[tuple[str, Any]]) -> None:
    line = y + 1.5
    for label, words in rows:
        line += 5.4
        page.words(x, line, label, size=8, grey=True)
        page.words(x + 18, line, words, size=9.5, width=width - 18)
