"""The record of a horn given up for good, as an auditor wants it: what, why, how, when, and the two who decided."""

from __future__ import annotations

from io import BytesIO

from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.wording import day, moment
from fleet.people.models import School
from fleet.register.models import Disposal
from fleet.reports.sheet.lines import block_height, leading
from fleet.reports.sheet.page import BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.ruled import said, to_sign


def disposal_record_drawn(record: Disposal, *, with_money: bool, school: School, paper: str) -> bytes:
    """The PDF for a disposal that was fetched with its horn and the two people; its money is for heads only."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Disposal record, %(horn)s") % {"horn": record.horn}, paper=paper)
    y = BODY_TOP + 3.0
    for label, words in facts(record, school.currency if with_money else ""):
        page.words(0, y + leading(10) * 0.75, label, size=8.5, grey=True, width=46)
        page.paragraph(48, y, words, WIDTH - 48, size=10)
        y += max(7.5, block_height(words, WIDTH - 48, 10) + 3.0)
        page.rule(0, y - 1.0, WIDTH, weight=0.2)
    stays = _s("The horn’s record stays in the register. Its number is its own and is never used again.")
    y = said(page, y + 3.0, stays)
    signs = [
        _s("proposed by %(who)s: signature, date") % {"who": record.proposed_by},
        _s("approved by %(who)s: signature, date") % {"who": record.decided_by or "…"},
    ]
    to_sign(page, y, signs, what=_s("To the disposal record of %(horn)s.") % {"horn": record.horn})
    page.close()
    return out.getvalue()


def facts(record: Disposal, currency: str) -> list[tuple[str, str]]:
    """(label, words) of the record, without the lines that have nothing to say; no money without a currency."""
    horn = record.horn

    proposal = _s("not approved yet: a proposal only")
    decided = f"{record.decided_by}, {moment(record.decided_at)}" if record.decided_at else proposal
    lines = [
        (_s("Register number"), horn.number),
        (_s("What it is"), horn.in_full or _s("never identified")),
        (_s("Maker"), horn.made),
        (_s("Serial number"), horn.serial_number),
        (_s("Acquired"), horn.acquired()),
        (_s("How it leaves"), record.get_method_display()),
        (_s("On"), day(record.on)),
        (_s("Why"), record.reason),
        (_s("Goes to"), record.buyer),
        (_s("Price"), money(record.price, currency) if currency else ""),
        (_s("Value at the time"), money(record.value, currency) if currency else ""),
        (_s("Proposed"), f"{record.proposed_by}, {moment(record.proposed_at)}"),
        (_s("Approved"), decided),
        (_s("With the words"), record.answer),
    ]
    return [(label, words) for label, words in lines if words]
