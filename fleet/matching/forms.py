"""Forms for how much each rule matters, for what each class plays on and where, and for a plan of buying."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import MOST_COST
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import in_reading_order
from fleet.matching.models import ClassPlan
from fleet.matching.queries.planning import BuyingAsked
from fleet.matching.queries.prices import LASTS, SORTS, YEARS, Figure
from fleet.matching.queries.wishes import plans_of
from fleet.matching.solving.rows import RULES, Weights
from fleet.people.forms.one_of_many import MOST_OPTIONS, Unclear, meant
from fleet.people.models import School
from fleet.register.models import Place
from fleet.register.models.kinds import stands


class MatchingRulesForm(PlainSentences, forms.Form):
    """How much each rule matters, and `plans`: a form for each class shown with them."""

    def __init__(self, *args: Any, plans: Sequence[ClassPlanForm] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plans = plans
        for rule in RULES:
            self.fields[rule.name] = forms.TypedChoiceField(
                label=rule.words,
                help_text=rule.help,
                coerce=int,
                choices=rule.levels,
                error_messages={"invalid_choice": _s("Choose how much it matters.")},
            )

    def is_valid(self) -> bool:
        # Every form is looked at, so that everything wrong is said at once.
        return all([super().is_valid(), *[one.is_valid() for one in self.plans]])

    @property
    def weights(self) -> Weights:
        return Weights(**self.cleaned_data)


# Of several rooms that have the words so many are named.
NAMED = 3


class ClassPlanForm(PlainSentences, forms.Form):
    """One class; `group` is the class it was shown for."""

    stands_in = forms.ChoiceField(
        label=_s_lazy("Plays on horns that stand in"),
        required=False,
        error_messages={"invalid_choice": _s_lazy("No horn of the catalogue stands so.")},
    )
    # Typed, with the rooms proposed unless they are too many: drawn anew for each class they were most of the page.
    room = forms.CharField(
        label=_s_lazy("Plays in"),
        required=False,
        widget=forms.TextInput({"list": "rooms", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, group: str, plan: ClassPlan | None, rooms: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.group, self.rooms = group, rooms
        if plan is not None:
            self.initial = {"stands_in": plan.stands_in, "room": plan.room}
        self.fields["stands_in"].choices = [("", _s("as most of its horns do")), *stands()]  # type: ignore[attr-defined]
        self.fields["room"].widget.attrs["placeholder"] = _s("where most of its horns are kept")

    def clean_room(self) -> str:
        typed = str(self.cleaned_data["room"])
        # A room that was renamed since stays until somebody chooses another.
        if not typed or typed == self.initial.get("room"):
            return typed
        found = meant(typed, self.rooms.items())
        if isinstance(found, Unclear):
            several = "; ".join(name for _, name in found.having[:NAMED])
            raise forms.ValidationError(
                _s("Several rooms have these words: %(rooms)s. Write more of it.") % {"rooms": several}
                if several
                else _s("There is no such room among the places.")
            )
        return self.rooms[found]

    @property
    def proposed(self) -> list[str]:
        return list(self.rooms.values()) if len(self.rooms) <= MOST_OPTIONS else []

    @property
    def plan(self) -> tuple[str, str]:
        """(stand, room) as they were chosen, "" for what most of its horns do."""
        return self.cleaned_data["stands_in"], self.cleaned_data["room"]


def plan_forms(sent: Any, *, school: School, groups: Sequence[tuple[int, str]]) -> list[ClassPlanForm]:
    """A form for each class, in the order of `groups`, which come with their numbers. Two queries."""
    plans = plans_of(school)
    found = Place.objects.filter(school=school).order_by().values_list("room", flat=True).distinct()
    # Unless one was typed, no more than tell whether all may be proposed.
    names = found if sent is not None else found[: MOST_OPTIONS + 1]
    rooms = {room.casefold(): room for room in sorted(names, key=in_reading_order)}
    return [
        ClassPlanForm(sent, group=group, plan=plans.get(group.casefold()), rooms=rooms, prefix=f"class-{at}")
        for at, group in groups
        if sent is None or sent.get(f"class-{at}-group") == group
    ]


MOST_YEARS, MOST_MORE, LONGEST_LIFE = 8, 200, 200


def _money(label: str, figure: Figure | None = None) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        min_value=Decimal(0),
        max_value=MOST_COST,
        decimal_places=2,
        initial=figure.amount if figure else None,
        help_text=figure.source if figure else "",
        error_messages={"required": _s("Give an amount.")},
    )


class BuyingForm(PlainSentences, forms.Form):
    """What a plan is asked for; `known` are the figures that it begins with."""

    years = forms.IntegerField(label=_s_lazy("For so many years"), min_value=1, max_value=MOST_YEARS, initial=YEARS)
    saved = forms.BooleanField(label=_s_lazy("What is left over may be spent in the next year"), required=False)
    more = forms.IntegerField(
        label=_s_lazy("Pupils more each year"),
        min_value=-MOST_MORE,
        max_value=MOST_MORE,
        initial=0,
        help_text=_s_lazy("Who come less who leave. They count as needing what most do now."),
    )
    lasts = forms.IntegerField(
        label=_s_lazy("Years until a horn has to be mended"),
        min_value=1,
        max_value=LONGEST_LIFE,
        initial=LASTS,
        help_text=_s_lazy("From the day it was acquired. An assumption you can change."),
    )
    field_order = ("budget", "years", "saved", "more", "single", "double", "compact", "mend", "restring", "lasts")

    def __init__(self, *args: Any, known: Mapping[str, Figure], currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["budget"] = _money(_s("Budget a year, %(currency)s") % {"currency": currency})
        labels = {
            "single": _s("A single horn costs"),
            "double": _s("A double horn costs"),
            "compact": _s("A compact single horn costs"),
            "mend": _s("Mending a horn costs"),
            "restring": _s("Restringing a horn costs"),
        }
        for name, label in labels.items():
            self.fields[name] = _money(label, known[name])
        self.order_fields(self.field_order)

    @property
    def asked(self) -> BuyingAsked:
        said = self.cleaned_data
        return BuyingAsked(
            prices={sort: said[sort] for sort in SORTS},
            **{name: said[name] for name in ("budget", "years", "saved", "more", "lasts", "mend", "restring")},
        )
