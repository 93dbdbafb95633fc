"""The loan sheet: one page that the guardian signs before the horn goes out, and that comes back with it. It is in the
language of the family; what staff must find on it, and the agreement, stand in the school's own beside it."""

from __future__ import annotations

import io
from collections.abc import Iterable

from django.urls import reverse
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext as _s

from fleet.ground.wording import with_commas
from fleet.people.models import School
from fleet.people.queries.own_words import speaking
from fleet.reports.queries.loan_facts import SheetFacts
from fleet.reports.sheet.faces import width
from fleet.reports.sheet.lines import MM, block_height
from fleet.reports.sheet.page import BODY_END, BODY_TOP, SMALLEST, WIDTH, Sheet
from fleet.reports.sheet.ruled import labelled, to_write_on

COLUMN = 92.0
RIGHT = WIDTH - COLUMN
# Care is read without a glass; the school's own rules may stand smaller, and so high: lower where only so the agreement
# has room.
CARE_SIZE = 9.0
RULES_HEIGHTS = (26.0, 20.0, 14.0)
SIGNED = 218.0
AGREEMENT_END = SIGNED - 4.5
THIRD = (WIDTH - 10) / 3


def loan_sheets_drawn(sheets: Iterable[SheetFacts], *, school: School, paper: str, origin: str) -> bytes:
    """Sheets of one school as one PDF, a page each. `origin` begins the address in the square code."""
    out = io.BytesIO()
    page: Sheet | None = None
    for facts in sheets:
        with speaking(facts.school, facts.language):
            contact = f"{gettext('Questions')}: {school.contact}" if school.contact else ""
            if page is None:
                page = Sheet(out, school=school.name, title=gettext("Loan sheet"), paper=paper, foot=contact)
            else:
                page.turn(own=True, head=gettext("Loan sheet"), foot=contact)
            page.entry(with_commas((facts.number, facts.pupil)))
            code = ("desk:sheet", facts.sheet_code) if facts.sheet_code else ("desk:label", facts.label_code)
            if not _sheet(page, facts, origin + reverse(code[0], args=code[1:])):
                page.turn()
                _overleaf(page, facts)
    if page is None:
        page = Sheet(out, school=school.name, title=_s("Loan sheet"), paper=paper)
        page.paragraph(0, BODY_TOP, _s("No such loan is out: there is no sheet to print."), WIDTH, size=11)
    page.close()
    return out.getvalue()


def _both(facts: SheetFacts, words: str) -> str:
    """What staff have to find too: in the family's language and, where it is another, in the school's."""
    said = gettext(words)
    with speaking(facts.school, facts.school.language):
        beside = gettext(words)
    return said if said == beside else f"{said} / {beside}"


def _sheet(page: Sheet, facts: SheetFacts, address: str) -> bool:
    """Whether all of it had room, the agreement too."""
    _head(page, facts, address)
    below = max(_condition(page, facts, 64.0), _accessories(page, facts, 64.0, 35.0))
    y = _test_note(page, facts, below + 5.5)
    ends = {most: y + 15.6 + _care(facts, most)[2] for most in RULES_HEIGHTS}
    room = [most for most, at in ends.items() if _agreement_fits(facts, AGREEMENT_END - at)]
    most, fits = room[0] if room else RULES_HEIGHTS[0], bool(room)
    kind = (facts.care.valves, facts.agreement_version, facts.language, f"{y:.2f}")
    page.once(kind, lambda: _standing(page, facts, y, ends[most], most, fits=fits))
    _signatures(page, facts, SIGNED)
    return fits


def _heading(page: Sheet, x: float, y: float, words: str, width: float) -> None:
    page.words(x, y, words, size=10.5, bold=True, width=width)
    page.rule(x, y + 1.2, width, weight=0.4)


def _head(page: Sheet, facts: SheetFacts, address: str) -> None:
    page.words(0, BODY_TOP + 8, facts.number, size=24, bold=True, width=70)
    page.words(0, BODY_TOP + 15, facts.kind, size=13, width=152)
    page.block(0, BODY_TOP + 16.5, facts.about, 152, 9, size=9)
    page.code(156, BODY_TOP - 1, 34, address)
    loan, horn = gettext("this loan’s page, after signing in"), gettext("this horn’s page, after signing in")
    page.paragraph(159, BODY_TOP + 31.8, loan if facts.sheet_code else horn, WIDTH - 159, size=7.5, lines=2, grey=True)
    rows: list[tuple[str, str, bool]] = [
        (gettext("Pupil"), facts.pupil, True),
        (gettext("Class"), facts.group, False),
        (gettext("Guardian"), facts.guardian, False),
        (gettext("Due back"), facts.due_on, True),
    ]
    y, x = BODY_TOP + 30.0, _past(label for label, *_ in rows)
    for label, words, bold in rows:
        page.words(0, y, label, size=8.5, grey=True, width=x - 2)
        # Nothing stands beside the pupil's name.
        across = (152 if y == BODY_TOP + 30.0 else RIGHT - 2) - x
        _whole(page, x, y, words, across, size=11 if bold else 10, bold=bold)
        y += 5.2
    y, x = BODY_TOP + 35.2, RIGHT + _past(label for label, _ in facts.particulars)
    for label, words in facts.particulars:
        page.words(RIGHT, y, label, size=8.5, grey=True, width=x - RIGHT - 1)
        _whole(page, x, y, words, 154.5 - x, size=10)
        y += 5.2


def _past(labels: Iterable[str]) -> float:
    """Where the words beside these labels begin."""
    return min(34.0, max((width(label, 8.5) / MM for label in labels), default=0.0) + 3.0)


def _whole(page: Sheet, x: float, y: float, words: str, across: float, *, size: float, bold: bool = False) -> None:
    """Words on their line, or on two small ones where they are too long for it: who signs is not to be cut."""
    if width(words, size * 0.75, bold) <= across * MM:
        page.words(x, y, words, size=size, bold=bold, width=across)
    else:
        page.paragraph(x, y - 4.2, words, across, size=SMALLEST, bold=bold, lines=2)


def _condition(page: Sheet, facts: SheetFacts, y: float) -> float:
    """Gives the foot of its last line, as the other parts do."""
    _heading(page, 0, y, _both(facts, gettext_noop("How it is when it goes out")), COLUMN)
    y = page.paragraph(0, y + 2, facts.condition, COLUMN, size=9, lines=2)
    if facts.was_checked and not facts.findings:
        page.words(0, y + 5, gettext("Nothing found."), size=9)
        return y + 5
    shown = facts.findings if len(facts.findings) <= 5 else facts.findings[:4]
    for finding in shown:
        y += 4.9
        page.words(0, y, "–", size=9)
        page.words(3, y, finding, size=9, width=COLUMN - 3)
    if len(facts.findings) > len(shown):
        more = gettext("and %(count)s more, on the check itself") % {"count": len(facts.findings) - len(shown)}
        y += 4.9
        page.words(3, y, more, size=9)
    return y


def _accessories(page: Sheet, facts: SheetFacts, y: float, height: float) -> float:
    _heading(page, RIGHT, y, _both(facts, gettext_noop("Goes along with it")), COLUMN)
    to_back = _out_and_back(page, RIGHT, y)
    rows = facts.accessories
    two = len(rows) > 6
    half = -(-len(rows) // 2) if two else len(rows)
    step = min(4.9, (height - 7) / max(half, 1))
    for place, (name, came_back) in enumerate(rows):
        x = RIGHT + (COLUMN / 2 + 1 if place >= half else 0)
        line = y + 9.2 + step * (place % half)
        page.tick_box(x, line + 0.4, side=3, ticked=True)
        page.tick_box(x + to_back, line + 0.4, side=3, ticked=came_back is True)
        across = COLUMN / 2 if two else COLUMN
        page.words(x + to_back + 5.5, line, name, size=9, width=across - to_back - 7)
    if two:
        _out_and_back(page, RIGHT + COLUMN / 2 + 1, y)
    if not rows:
        page.words(RIGHT, y + 9.2, gettext("Nothing."), size=9)
    return y + 9.2 + step * max(half - 1, 0)


def _out_and_back(page: Sheet, x: float, y: float) -> float:
    """Heads of the two columns of boxes; answers how far the second stands from the first."""
    out = gettext("out")
    to_back = max(6.0, width(out, 7.5) / MM + 1.5)
    page.words(x, y + 5, out, size=7.5, grey=True)
    page.words(x + to_back, y + 5, gettext("back"), size=7.5, grey=True, width=COLUMN / 2 - to_back - 7)
    return to_back


def _test_note(page: Sheet, facts: SheetFacts, y: float) -> float:
    page.once((facts.test_note, facts.fingerings, facts.language), lambda: _fingered(page, facts), y=y)
    return y + (11.3 if facts.fingerings else 6.0)


def _fingered(page: Sheet, facts: SheetFacts) -> None:
    _heading(page, 0, 0, gettext("The test note on this horn"), WIDTH)
    if not facts.fingerings:
        page.words(0, 6, gettext("No fingering is known for this kind of horn: ask the teacher."), size=9)
        return
    warning = gettext("If it does not speak so, the horn is not what this sheet says: tell the teacher.")
    page.words(0, 6, f"{facts.test_note} {warning}", size=9, width=WIDTH)
    said = [f"{words}: {fingering}" if words else fingering for words, fingering in facts.fingerings]
    gap, wide = 7.0, [width(words, 10.5, bold=True) / MM for words in said]
    shrink = min(1.0, (WIDTH - gap * (len(said) - 1)) / sum(wide))
    x = 0.0
    for words, natural in zip(said, wide, strict=True):
        page.words(x, 11.3, words, size=10.5 * shrink, bold=True)
        x += natural * shrink + gap


def _rules(facts: SheetFacts) -> str:
    return facts.school.rules or gettext("Ask the school about insurance, charges and hygiene.")


def _rest_elsewhere(facts: SheetFacts, most: float) -> bool:
    return block_height(_rules(facts), COLUMN, SMALLEST) > most


def _care(facts: SheetFacts, most: float) -> tuple[str, str, float]:
    """What stands at the left, what at the right above the school's own rules, so that both end alike, and how high:
    the rules so high at `most`."""
    said = (*facts.care.lines, facts.care.first)
    rules = 8.0 + min(most, block_height(_rules(facts), COLUMN, CARE_SIZE)) + 4.0 * _rest_elsewhere(facts, most)
    parts = [("\n".join(said[:at]), "\n".join(said[at:])) for at in range(1, len(said) + 1)]
    high = [[block_height(words, COLUMN, CARE_SIZE) for words in part] for part in parts]
    told = [(*part, max(left, right + rules)) for part, (left, right) in zip(parts, high, strict=True)]
    return min(told, key=lambda one: one[2])


def _standing(page: Sheet, facts: SheetFacts, y: float, at: float, most: float, *, fits: bool) -> None:
    """What is the same on many sheets of the school: care, its own rules, and from `at` on the agreement."""
    left, right, _ = _care(facts, most)
    _heading(page, 0, y + 6.2, gettext("Looking after it"), WIDTH)
    page.paragraph(0, y + 8.2, left, COLUMN, size=CARE_SIZE, lines=100)
    y = page.paragraph(RIGHT, y + 8.2, right, COLUMN, size=CARE_SIZE, lines=100) if right else y + 8.2
    _heading(page, RIGHT, y + 6.0, gettext("The school’s own rules"), COLUMN)
    below = page.block(RIGHT, y + 8.0, _rules(facts), COLUMN, most, size=9)
    if _rest_elsewhere(facts, most):
        rest = gettext("The rest stands on the family’s page; the school has it too.")
        page.words(RIGHT, below + 3.5, rest, size=8, width=COLUMN)
    _agreement_heading(page, facts, at - 2.0)
    if fits:
        _agreement(page, facts, at, AGREEMENT_END - at, size=9)
    else:
        overleaf = _both(facts, gettext_noop("The whole agreement is overleaf, and is part of this sheet."))
        page.block(0, at, overleaf, WIDTH, AGREEMENT_END - at, size=9)


def _agreement_heading(page: Sheet, facts: SheetFacts, y: float) -> None:
    said = _both(facts, gettext_noop("Agreement, version %(version)s"))
    _heading(page, 0, y, said % {"version": facts.agreement_version}, WIDTH)


def _agreement(page: Sheet, facts: SheetFacts, y: float, height: float, *, size: float) -> None:
    """In the family's language and, where the school wrote it in another, in the school's beside it."""
    if not facts.agreement_beside:
        page.block(0, y, _tight(facts.agreement, WIDTH, height), WIDTH, height, size=size)
        return
    page.block(0, y, _tight(facts.agreement, COLUMN, height), COLUMN, height, size=size)
    with speaking(facts.school, facts.school.language):
        page.block(RIGHT, y, _tight(facts.agreement_beside, COLUMN, height), COLUMN, height, size=size)


def _tight(words: str, across: float, height: float) -> str:
    """Without its line ends, where only so the words have room."""
    return words if block_height(words, across, SMALLEST) <= height else " ".join(words.split())


def _agreement_fits(facts: SheetFacts, height: float) -> bool:
    if facts.agreement_beside:
        both = (facts.agreement, facts.agreement_beside)
        return max(block_height(words, COLUMN, SMALLEST) for words in both) <= height
    return block_height(facts.agreement, WIDTH, SMALLEST) <= height


def _overleaf(page: Sheet, facts: SheetFacts) -> None:
    """What a family signs is never cut: an agreement that the sheet has no room for stands whole on its back."""
    page.words(0, BODY_TOP + 6, with_commas((facts.number, facts.pupil)), size=11, bold=True, width=WIDTH)
    _agreement_heading(page, facts, BODY_TOP + 14)
    _agreement(page, facts, BODY_TOP + 16, BODY_END - BODY_TOP - 16, size=9.5)


def _signatures(page: Sheet, facts: SheetFacts, y: float) -> None:
    _heading(page, 0, y, _both(facts, gettext_noop("Before it goes out")), THIRD)
    _heading(page, THIRD + 5, y, _both(facts, gettext_noop("Goes out")), THIRD)
    ends = facts.returned.how if facts.returned else gettext_noop("Comes back")
    _heading(page, 2 * THIRD + 10, y, _both(facts, ends), THIRD)
    if facts.signed_on:
        labelled(page, 0, y, THIRD, [(gettext("Signed by"), facts.guardian), (gettext("On"), facts.signed_on)])
        page.words(0, y + 19.5, _how_signed(facts), size=7.5, grey=True, width=THIRD)
        if facts.signer:
            signer = gettext("signed in as %(who)s") % {"who": facts.signer}
            page.paragraph(0, y + 20.5, signer, THIRD, size=SMALLEST, lines=2, grey=True)
    else:
        _to_sign(page, facts, 0, y, (gettext_noop("Guardian’s signature"), gettext_noop("Name"), gettext_noop("Date")))
        page.words(0, y + 21.8, facts.guardian, size=9.5, width=THIRD)
    if facts.issued:
        labelled(page, THIRD + 5, y, THIRD, [(gettext("Issued"), facts.issued), *facts.moved])
    else:
        _to_sign(page, facts, THIRD + 5, y, (gettext_noop("For the school, signature"), "Name", "Date"))
    back = facts.returned
    x = 2 * THIRD + 10
    if back is None:
        graded, cleaned = gettext_noop("Date, and grade at the check"), gettext_noop("Mouthpiece cleaned on, by")
        _to_sign(page, facts, x, y, (graded, "For the school, signature", cleaned))
        return
    rows = [
        (gettext("For"), back.instead),
        (gettext("Recorded") if back.how == "Lost" else gettext("On"), with_commas((back.on, back.by))),
        (gettext("Plays"), back.grade),
        (gettext("Mouthpiece"), back.mouthpiece),
        (gettext("Missing"), with_commas(back.missing)),
    ]
    labelled(page, x, y, THIRD, [(label, words) for label, words in rows if words])


def _to_sign(page: Sheet, facts: SheetFacts, x: float, y: float, signs: tuple[str, ...]) -> None:
    """Lines to write on, the same on the sheets of all who speak a language."""
    page.once((signs, facts.language), lambda: to_write_on(page, x, y, THIRD, [_both(facts, one) for one in signs]))


def _how_signed(facts: SheetFacts) -> str:
    if facts.agreed_for:
        return gettext("with the agreement for %(horn)s") % {"horn": facts.agreed_for}
    if facts.signed_as:
        return gettext("on the family’s page, %(signed)s") % {"signed": facts.signed_as}
    return gettext("on the paper sheet the school keeps")
