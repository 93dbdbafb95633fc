"""The proposal as a table: which pupil should have which horn, and why."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable
from fleet.people.models import Pupil
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn


@dataclass(frozen=True)
class ProposalLine:
    """One pair of the proposal: why, and the addresses that change it."""

    pupil: Pupil
    horn: Horn
    words: list[str]
    change: str
    fix: str = ""
    let_go: str = ""


class ProposalTable(ListTable):
    pupil = Computed(_s_lazy("Pupil"))
    horn = Computed(_s_lazy("Horn"))
    why = Computed(_s_lazy("Why"))
    by_hand = Computed(_s_lazy("By hand"))

    class Meta:
        orderable = False

    def __init__(self, lines: list[ProposalLine], *, seat: Seat) -> None:
        self.seat = seat
        super().__init__(lines)

    def render_pupil(self, record: ProposalLine) -> SafeString:
        pupil = record.pupil
        further = f", {pupil.class_in_words}" if pupil.class_in_words else ""
        return format_html("<bdi>{}</bdi>{}", pupil.name, further)

    def render_horn(self, record: ProposalLine) -> SafeString:
        horn = record.horn
        address = self.seat.here("desk:horn", horn.pk)
        return format_html('<a href="{}"><b>{}</b></a> {}', address, horn, horn.in_full)

    def render_why(self, record: ProposalLine) -> str:
        return " ".join(record.words)

    def render_by_hand(self, record: ProposalLine) -> SafeString:
        about = (record.horn, record.pupil.name)
        first = (
            format_html(
                '<a href="?{}">{}<span class="visually-hidden">: {}, {}</span></a>', record.fix, _s("Fix"), *about
            )
            if record.fix
            else format_html(
                '<a href="?{}">{}<span class="visually-hidden">: {}, {}</span></a>', record.let_go, _s("Let go"), *about
            )
        )
        change = format_html(
            '<a href="?{}#other">{}<span class="visually-hidden">: {}</span></a>',
            record.change,
            _s("Change"),
            record.pupil.name,
        )
        return format_html("{} · {}", first, change)
