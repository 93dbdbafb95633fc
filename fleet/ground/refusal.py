"""The one way an action says no, and the page that removes the reason."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.utils.translation import gettext as _s

from fleet.ground.addresses import address


@dataclass(frozen=True, slots=True)
class WayOut:
    """A page of the school that removes a reason: its view name, what its link says, and what its address takes."""

    page: str
    label: str
    args: tuple[int | str, ...] = ()
    query: tuple[tuple[str, str], ...] = ()

    def address(self, school: str) -> str:
        """The page's address at the school of that slug."""
        return address(self.page, school, *self.args) + (f"?{urlencode(self.query)}" if self.query else "")

    @property
    def for_others(self) -> str:
        """What to say to somebody who may not do there what is to be done."""
        return _s("Ask somebody who may do this: %(deed)s.") % {"deed": self.label}


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that keeps something from happening: a code, a sentence for people, the way out where there is one."""

    code: str
    sentence: str
    way_out: WayOut | None = None


class Refused(Exception):
    """An action that may not happen now: a sentence with the reason, and the way out where there is one. `field` is
    what it is about, by the name that forms give it."""

    def __init__(self, sentence: str, *, way_out: WayOut | None = None, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.way_out = way_out
        self.field = field

    @classmethod
    def because(cls, reason: Reason) -> Refused:
        return cls(reason.sentence, way_out=reason.way_out)
