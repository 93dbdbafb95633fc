"""Looking after a horn, for exactly the valves it has, in the family's language: for its page, its card for the case,
its loan sheet and the field guide."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from fleet.ground.languages.marks import _s_lazy
from identify.core.horns.builds import Build

ORIGIN = _s_lazy("How often is common practice, no source. The school’s own rules come first.")
_BOLD = re.compile(r"</?b>")
_ESCAPED_BOLD = re.compile(r"&lt;(/?)b&gt;")


@dataclass(frozen=True, slots=True)
class Card:
    """One thing to do or to mind: `code` names its picture, `marked` has the words with their first in <b>."""

    code: str
    marked: str

    @property
    def words(self) -> str:
        return _BOLD.sub("", self.marked)

    @property
    def html(self) -> SafeString:
        """For a page: of a school's own wording nothing is markup but <b>."""
        return mark_safe(_ESCAPED_BOLD.sub(r"<\1b>", escape(self.marked)))  # noqa: S308

    @property
    def picture(self) -> str:
        """The template of its drawing."""
        return f"desk/care/{self.code}.svg"


@dataclass(frozen=True, slots=True)
class CareTold:
    """`valves` is `rotary`, `piston`, `double-piston`, `both`, "" where there are none, or `unknown`. `school` says
    what a family need not do, `first` who comes before us."""

    valves: str
    cards: tuple[Card, ...]
    school: str
    first: str

    @property
    def lines(self) -> tuple[str, ...]:
        return tuple(card.words for card in self.cards)


def care_of(build: Build | None) -> CareTold:
    """The care of a build in the language spoken now; where nobody has said what a horn is, no valve is named."""
    valves = _valves(build)
    cards = [
        Card(
            "after",
            gettext(
                "<b>After playing:</b> let the water out, wipe the outside with a soft cloth, put the horn in its case."
            ),
        ),
        Card(
            "mouthpiece",
            gettext(
                "<b>Every week:</b> wash the mouthpiece in lukewarm water with a little washing-up liquid, never hot. "
                "One mouthpiece, one player."
            ),
        ),
    ]
    if valves:
        cards += [Card("piston" if valves == "piston" else "oil", _oil(valves)), Card("label", _label())]
    cards += [
        Card(
            "slides",
            gettext(
                "<b>Every second week:</b> a little grease on the tuning slides (the bent tubes that can be drawn "
                "out); move them gently. Nothing is forced, and no pliers."
            ),
        ),
        Card("stuck", _stuck(valves)),
        Card(
            "hands",
            gettext(
                "<b>If hands or wrists hurt,</b> stop and talk to the teacher: a smaller horn or a rest may be what "
                "is needed."
            ),
        ),
    ]
    return CareTold(
        valves,
        tuple(cards),
        school=_BOLD.sub(
            "",
            gettext(
                "<b>The school does the rest:</b> it cleans the horn inside between loans and sends it to a repairer "
                "for service. Bring it when the school asks."
            ),
        ),
        first=gettext("The usual practice of the trade. The school’s own rules and a qualified repairer come first."),
    )


def _oil(valves: str) -> str:
    if valves == "piston":
        return gettext("<b>Every week:</b> take the pistons out one at a time and oil them the way the teacher shows.")
    if valves == "both":
        return gettext(
            "<b>Every week:</b> oil the valves the way the teacher shows. Pistons come out for it, one at a time; "
            "rotary valves never do."
        )
    return gettext("<b>Every week:</b> a few drops of valve oil the way the teacher shows.")


def _label() -> str:
    """The hazard statement in its official words: Regulation (EC) No 1272/2008 (CLP), Annex III, H304."""
    return gettext(
        "Read the label of the bottle. Where it says H304: <b>May be fatal if swallowed and enters airways.</b> An "
        "adult keeps the bottle locked away and never pours it into another one."
    )


def _stuck(valves: str) -> str:
    if not valves:
        return gettext("If a crook, slide or mouthpiece sticks, tell the school.")
    if valves == "piston":
        return gettext("If a slide, valve or mouthpiece sticks, tell the school.")
    if valves == "both":
        return gettext(
            "<b>Nobody takes rotary valves apart.</b> If a slide, valve or mouthpiece sticks, tell the school."
        )
    return gettext("<b>Nobody takes the valves apart.</b> If a slide, valve or mouthpiece sticks, tell the school.")


def _valves(build: Build | None) -> str:
    if build is None:
        return "unknown"
    kinds = {kind for form in build.forms for kind in form.mechanism}
    return "both" if len(kinds) > 1 else "".join(kinds)
