"""The form of a condition check: every fault this horn can have, its finish, and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import get_language
from django.utils.translation import gettext as _s

from fleet.ground.fields import KeptForm
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.pictures import redrawn
from fleet.ground.sentences import PlainSentences
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, PictureTaken
from fleet.workshop.forms.faults import FaultRow, at_rest, fields_of, row_of
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.models.faults import Fault, catalogue, grade_of
from fleet.workshop.models.fitted import applies, places

PICTURES = 3
# These open a phone's camera at once; a phone then offers nothing else, so one is left for pictures taken before.
FROM_CAMERA = (1, 2)
AS_BEFORE, FINE = "1", "fine"
# The buttons that save a check at a tap, and what each says of the finish.
TAPS: dict[str, int | None] = {
    AS_BEFORE: None,
    FINE: None,
    **{f"{FINE}-{grade}": grade for grade in ConditionCheck.FinishGrade.values},
}


def finish_field(**more: Any) -> forms.TypedChoiceField:
    """How the finish looks, wherever somebody who has the horn in hand says it."""
    return forms.TypedChoiceField(
        label=_s_lazy("Finish"),
        choices=ConditionCheck.FinishGrade.choices,
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": _s_lazy("Say how the finish is.")},
        **more,
    )


class CheckForm(PlainSentences, KeptForm):
    """A look over a horn. `known` are its findings not mended: they come ticked, to be unticked when gone.

    Only faults this build of horn can have are asked for, and whatever is known already: the horn may have been taken
    for another build when it was found. `tapped` is the fault and the place for which the page was opened: they come
    ticked too.
    """

    occasion = forms.ChoiceField(label=_s_lazy("Occasion"), choices=ConditionCheck.Occasion.choices)
    finish_grade = finish_field(help_text=_s_lazy("Looks only. It never stops a loan."))
    notes = forms.CharField(
        label=_s_lazy("Notes"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    # The check that was the newest for who looked, by its number or the id it was sent under; the kept page says it.
    seen = forms.CharField(max_length=36, required=False, widget=forms.HiddenInput)
    # The last field of the page: a browser cut off half-way through its pictures does not get this far.
    whole = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        horn: Horn,
        known: Sequence[Finding] = (),
        tapped: tuple[str, str] = ("", ""),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.horn = horn
        self.known = {one.fault: one for one in known}
        self.pictures: list[PictureTaken] = []
        self.asked = {
            code: fault
            for code, fault in catalogue().by_code.items()
            if code in self.known or applies(fault.applies, horn)
        }
        self.tapped, place = tapped if tapped[0] in self.asked else ("", "")
        for code, fault in self.asked.items():
            if not self._at_rest(code):
                self.fields.update(fields_of(fault, places(fault.at, horn), self.known.get(code)))
        self.tapped_at = self._tick(self.tapped, place) if self.tapped else ""
        for number in range(1, PICTURES + 1):
            self.fields[f"picture-{number}"] = forms.FileField(
                label=_s("Picture %(number)s") % {"number": number},
                required=False,
                allow_empty_file=True,
                help_text="" if number in FROM_CAMERA else _s("One that is on this device already."),
                widget=forms.FileInput(
                    attrs={
                        "accept": "image/jpeg,image/png,image/webp",
                        **({"capture": "environment"} if number in FROM_CAMERA else {}),
                    }
                ),
            )
            self.fields[f"caption-{number}"] = forms.CharField(
                label=_s("What picture %(number)s shows") % {"number": number}, required=False, max_length=120
            )
            self.fields[f"shows-{number}"] = forms.ChoiceField(
                label=_s("Picture %(number)s is of") % {"number": number},
                choices=[("", _s("the horn")), *((code, _s(fault.words)) for code, fault in self.asked.items())],
                required=False,
            )

    def _at_rest(self, code: str) -> bool:
        """Whether the page was opened and nothing was said of that fault yet: such a one is drawn without the form."""
        return not self.is_bound and code not in self.known and code != self.tapped

    def _tick(self, fault: str, place: str) -> str:
        """The fault comes ticked, at that place where this horn has it; gives the place then."""
        self.initial[f"found-{fault}"] = True
        which = self.fields.get(f"at-{fault}")
        if which is None or place not in dict(which.choices):  # type: ignore[attr-defined]
            return ""
        self.initial[f"at-{fault}"] = [*dict.fromkeys([*which.initial, place])]
        return place

    @property
    def kept(self) -> list[str]:
        """The names of pictures that were sent before and wait beside the form."""
        return self.data.getlist("kept") if self.is_bound else []  # type: ignore[attr-defined]

    def go_on_as_another(self) -> None:
        """A new id where the old one may be taken: what is saved next is another check."""
        self.cleaned_data["sent_as"] = None

    @cached_property
    def rows(self) -> list[tuple[str, list[FaultRow]]]:
        return [
            (part.name, [self._row(fault) for fault in part.faults if fault.code in self.asked])
            for part in catalogue().parts
        ]

    def ticked(self) -> list[FaultRow]:
        """What was found before or is ticked: it stands above the parts, and not in them."""
        return [row for _, rows in self.rows for row in rows if row.is_ticked]

    def parts(self) -> list[tuple[str, list[FaultRow]]]:
        """The rest of the catalogue by part, each folded until it is opened."""
        parts = [(name, [row for row in rows if not row.is_ticked]) for name, rows in self.rows]
        return [(name, rows) for name, rows in parts if rows]

    def picture_rows(self) -> list[tuple[forms.BoundField, ...]]:
        return [(self[f"picture-{n}"], self[f"caption-{n}"], self[f"shows-{n}"]) for n in range(1, PICTURES + 1)]

    def _row(self, fault: Fault) -> FaultRow:
        code = fault.code
        if self._at_rest(code):
            return at_rest(fault, places(fault.at, self.horn), get_language())
        tapped = code == self.tapped
        at = self.tapped_at if tapped else ""
        return row_of(self, fault, known=code in self.known, tapped=tapped, tapped_at=at)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("sent_as") and not cleaned.get("whole"):
            raise ValidationError(_s("The check did not arrive whole. Send it again."))
        for number in range(1, PICTURES + 1):
            upload = cleaned.get(f"picture-{number}")
            if not upload:
                continue
            shows = cleaned.get(f"shows-{number}", "")
            if shows and not cleaned.get(f"found-{shows}"):
                self.add_error(f"shows-{number}", _s("This fault is not ticked. Tick it, or choose the horn."))
            try:
                image, width, height = redrawn(upload)
            except ValidationError as wrong:
                self.add_error(f"picture-{number}", [f"{upload.name}: {said}" for said in wrong.messages])
            else:
                self.pictures.append(PictureTaken(image, width, height, cleaned.get(f"caption-{number}", ""), shows))
        return cleaned

    def found(self) -> list[Found]:
        """The faults that are ticked, as far as the form is sound. A severity left out is the catalogue's."""
        return [
            Found(
                fault.code,
                "n" if fault.finish else self.cleaned_data.get(f"severity-{fault.code}") or fault.severity,
                self._note(fault.code),
                tuple(self.cleaned_data.get(f"at-{fault.code}", ())),
                self.cleaned_data.get(f"number-{fault.code}"),
                self.cleaned_data.get(f"measured-{fault.code}"),
            )
            for fault in self.asked.values()
            if self.cleaned_data.get(f"found-{fault.code}")
        ]

    def _note(self, code: str) -> str:
        """What is noted of a fault; what was noted before, where the page knew of no notes, as the kept one."""
        before = self.known.get(code)
        if before is not None and f"note-{code}" not in self.data:
            return before.note
        return str(self.cleaned_data.get(f"note-{code}", ""))

    def so_far(self) -> dict[str, Any]:
        """What the ticks make of the horn, before anything is saved."""
        if self.is_bound:
            self.is_valid()
            severities = [one.severity for one in self.found()]
        else:
            severities = [one.severity for one in self.known.values()]
            if self.tapped and self.tapped not in self.known:
                severities.append(self.asked[self.tapped].severity)
        return {"grade": grade_of(severities), "count": len(severities)}


class OneTapForm(PlainSentences, KeptForm):
    """The one tap that nothing has changed, or that all is fine, with the finish where nobody ever said it. Nonsense in
    what the page itself put there keeps nothing."""

    as_before = forms.CharField()
    seen = forms.CharField(required=False)
    occasion = forms.CharField(required=False)

    @property
    def occasion_told(self) -> str:
        told = str(self["occasion"].value())
        return told if told in ConditionCheck.Occasion.values else ConditionCheck.Occasion.OTHER

    @property
    def finds_nothing(self) -> bool:
        return bool(self.cleaned_data["as_before"] != AS_BEFORE)

    def said(self, now: datetime) -> dict[str, Any]:
        """What the check takes: seen ("0": none), occasion, sent_as, at, received_at; finish_grade if all is fine."""
        given = self.cleaned_data
        finish = {"finish_grade": TAPS[given["as_before"]]} if self.finds_nothing else {}
        return {
            **finish,
            "seen": given["seen"] or "0",
            "occasion": self.occasion_told,
            "sent_as": given["sent_as"],
            "at": self.done_at(now),
            "received_at": self.received_at(now),
        }
