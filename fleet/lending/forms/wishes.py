"""Forms for who waits for a horn, and for keeping one for a pupil."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import date_field
from fleet.ground.languages.marks import _s_lazy
from fleet.lending.forms.dates import SchoolDayForm
from fleet.lending.models import Wish
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from fleet.register.models.kinds import stands
from fleet.register.queries.asked_for import horn_told

# Kept for longer a horn stands unused; who needs more says so again.
KEPT_AT_MOST = timedelta(days=366)
# So many pupils are named where the words fit several.
NAMED = 3


def _may_be_kept(until: date | None, today: date) -> date | None:
    if until is not None and until < today:
        raise forms.ValidationError(_s("This day is in the past."))
    if until is not None and until > today + KEPT_AT_MOST:
        raise forms.ValidationError(_s("A horn is kept for a year at most."))
    return until


class WishForm(SchoolDayForm):
    """What a pupil waits for: a sort of horn, or a certain one by its number, which may be kept for them."""

    family = forms.ChoiceField(label=_s_lazy("What it is"), choices=Wish.Family.choices, required=False)
    kind = forms.ChoiceField(label=_s_lazy("Single or double"), choices=Pupil.NeedsKind.choices, required=False)
    stands_in = forms.ChoiceField(label=_s_lazy("Stands in"), required=False)
    compact = forms.BooleanField(label=_s_lazy("Compact, for small hands"), required=False)
    horn = forms.CharField(
        label=_s_lazy("Or a certain horn"),
        max_length=120,
        required=False,
        help_text=_s_lazy("Its register number or label."),
    )
    reserved_until = date_field(
        _s_lazy("Keep that horn for them until"),
        required=False,
        help_text=_s_lazy("Whoever lends it to somebody else is warned."),
    )
    since = date_field(_s_lazy("Waits since"))

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school, today = school, self.today
        self.fields["stands_in"].choices = [("", _s("any")), *stands()]  # type: ignore[attr-defined]
        self.initial.setdefault("since", today)

    def clean_horn(self) -> Horn | None:
        words = self.cleaned_data["horn"]
        horn = horn_told(self.school, words) if words else None
        if words and horn is None:
            raise forms.ValidationError(_s("No horn has the number %(words)s.") % {"words": words})
        return horn

    def clean_reserved_until(self) -> date | None:
        until = _may_be_kept(self.cleaned_data["reserved_until"], self.today)
        return self.warned(until) if until else None

    def clean_since(self) -> date:
        since: date = self.cleaned_data["since"]
        if since > self.today:
            raise forms.ValidationError(_s("This day has not come yet."))
        return since

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("reserved_until") and "horn" in cleaned and cleaned["horn"] is None:
            self.add_error("horn", _s("Say which horn is kept for them."))
        return cleaned

    @property
    def said(self) -> dict[str, Any]:
        sort = {name: self.cleaned_data[name] for name in ("family", "kind", "stands_in", "compact")}
        return {"sort": sort, **{name: self.cleaned_data[name] for name in ("horn", "since", "reserved_until")}}


class ReserveForm(SchoolDayForm):
    """The pupil a horn is kept for, found by words, and until when."""

    pupil = forms.CharField(label=_s_lazy("For whom"), max_length=80, help_text=_s_lazy("The name, or the pupil id."))
    until = date_field(_s_lazy("Keep it until"))

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school = school
        self.initial.setdefault("until", self.days.next(self.today + timedelta(days=14)))

    def clean_pupil(self) -> Pupil:
        words = self.cleaned_data["pupil"]
        named = Pupil.objects.filter(left_on=None).having_words(words, school=self.school)
        found = list(named.in_order()[: NAMED + 1])
        if not found:
            raise forms.ValidationError(_s("No pupil is found for “%(words)s”.") % {"words": words})
        exact = [pupil for pupil in found if words.casefold() in {pupil.name.casefold(), pupil.pupil_id.casefold()}]
        if len(found) > 1 and len(exact) != 1:
            names = "; ".join(pupil.described for pupil in found[:NAMED])
            raise forms.ValidationError(
                _s("Several are found: %(names)s. Write more of the name, or the id.") % {"names": names}
            )
        return exact[0] if len(exact) == 1 else found[0]

    def clean_until(self) -> date | None:
        until = _may_be_kept(self.cleaned_data["until"], self.today)
        return self.warned(until) if until else None
