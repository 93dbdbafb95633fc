"""What the list of horns can be narrowed by. A value that makes no sense is left out, and the page says so."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple

import django_filters
from django import forms
from django.http import QueryDict
from django.utils.safestring import SafeString
from django.utils.translation import get_language
from django.utils.translation import gettext as _s

from fleet.ground.addresses import MOST_KEY, query_with
from fleet.ground.badges import drawn
from fleet.ground.fields import NarrowedBy, alike
from fleet.ground.languages.marks import _s_lazy
from fleet.people.forms.one_of_many import ByWords, ClassField, ClassNames, RowNames
from fleet.register.models import Horn, HornQuerySet, Place
from fleet.register.models.kinds import kinds, stands
from fleet.register.models.searching import LONGEST_QUERY
from fleet.register.queries.horns_now import owing_something, owings

NEVER_CHECKED = "none"
_SELECTED = SafeString(" selected")
ANYTHING = "something"
# What the page offers as a link, and the filters it does not fold away.
ONE_TAP = {
    ("ready", "yes"): _s_lazy("Ready to lend"),
    ("owed", "overdue"): _s_lazy("Overdue"),
    ("owed", ANYTHING): _s_lazy("Owes something"),
}
IN_SIGHT = {"where", "group", "place"}
_BY_WORDS = {"place", "group"}
_IDENTIFIED = [("yes", _s_lazy("identified")), ("no", _s_lazy("not identified"))]
_READY = [("yes", _s_lazy("yes")), ("no", _s_lazy("no")), ("minutes", _s_lazy("within minutes"))]


def options(choices: Iterable[tuple[Any, Any]], chosen: Any) -> SafeString:
    """Choices to select from, each with its key."""
    said = "" if chosen is None else str(chosen)
    option = '<option value="{}"{}>{}</option>'
    return SafeString(
        "".join(
            drawn(option, "" if key is None else key, _SELECTED if str(key or "") == said else "", label)
            for key, label in choices
        )
    )


def _waiting_for() -> list[tuple[str, str]]:
    return [(ANYTHING, _s("something")), *((code, owing.title) for code, owing in owings().items())]


class PlaceKeyField(ByWords, forms.IntegerField):
    """Without a look-up, where it is a key that the address says."""


class PlaceFilter(django_filters.Filter):  # type: ignore[misc]
    field_class = PlaceKeyField


class ClassFilter(django_filters.Filter):  # type: ignore[misc]
    field_class = ClassField


class Selects(NamedTuple):
    """The selects of the list's form, as HTML."""

    build: SafeString
    stands_in: SafeString
    wrap: SafeString
    where: SafeString
    grade: SafeString
    identified: SafeString
    ready: SafeString
    owed: SafeString


class HornFilters(NarrowedBy):
    q = django_filters.CharFilter(label=_s_lazy("Search"), method="find", max_length=LONGEST_QUERY)
    build = django_filters.ChoiceFilter(label=_s_lazy("What it is"), choices=kinds, empty_label=_s_lazy("any"))
    stands_in = django_filters.ChoiceFilter(label=_s_lazy("Stands in"), choices=stands, empty_label=_s_lazy("any"))
    wrap = django_filters.ChoiceFilter(label=_s_lazy("Wrap"), choices=Horn.Wrap.choices, empty_label=_s_lazy("any"))
    where = django_filters.ChoiceFilter(
        label=_s_lazy("Where it is"), choices=Horn.Where.choices, empty_label=_s_lazy("anywhere")
    )
    grade = django_filters.ChoiceFilter(
        label=_s_lazy("Playing grade"),
        choices=[*Horn.Grade.choices, (NEVER_CHECKED, _s_lazy("never checked"))],
        empty_label=_s_lazy("any"),
        method="by_grade",
    )
    identified = django_filters.ChoiceFilter(
        label=_s_lazy("Identified"),
        choices=_IDENTIFIED,
        empty_label=_s_lazy("either"),
        method="by_identified",
    )
    ready = django_filters.ChoiceFilter(
        label=_s_lazy("May be lent now"),
        choices=_READY,
        empty_label=_s_lazy("either"),
        method="by_ready",
    )
    owed = django_filters.ChoiceFilter(
        label=_s_lazy("Waits for"),
        choices=_waiting_for,
        empty_label=_s_lazy("anything or nothing"),
        method="by_owed",
    )
    # The choices of class and place are drawn by the template: they come with the rows, without a query of their own.
    place = PlaceFilter(label=_s_lazy("Place"), min_value=1, max_value=MOST_KEY, method="by_place")

    group = ClassFilter(field_name="holder_group", label=_s_lazy("Class of the holder"))

    class Meta:
        model = Horn
        fields: list[str] = []

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = RowNames(lambda: Place.objects.filter(school=self.school))
        classes = ClassNames(lambda: Horn.objects.at(self.school).classes_out())
        for name, choices in (("place", places), ("group", classes)):
            field = self.form.fields[name]
            field.widget = alike(field.widget)
            field.widget.choices = choices

    def find(self, horns: HornQuerySet, name: str, value: str) -> HornQuerySet:
        """Left to the page, which looks words up in another way where too many horns have them."""
        return horns

    def by_grade(self, horns: HornQuerySet, name: str, value: str) -> HornQuerySet:
        return horns.filter(grade=None if value == NEVER_CHECKED else int(value))

    def by_identified(self, horns: HornQuerySet, name: str, value: str) -> HornQuerySet:
        return horns.identified() if value == "yes" else horns.filter(build="")

    def by_ready(self, horns: HornQuerySet, name: str, value: str) -> HornQuerySet:
        return horns.kept_back_for_minutes() if value == "minutes" else horns.may_be_lent(value == "yes")

    def by_owed(self, horns: HornQuerySet, name: str, value: str) -> HornQuerySet:
        code = "" if value == ANYTHING else value
        return owing_something(horns, school=self.school, today=self.request.today, code=code)

    def by_place(self, horns: HornQuerySet, name: str, value: Any) -> HornQuerySet:
        return horns.filter(place_id=int(value))

    def filter_queryset(self, queryset: HornQuerySet) -> HornQuerySet:
        """What the school has: withdrawn horns only where they are asked for."""
        found: HornQuerySet = super().filter_queryset(queryset)
        left_out = {"struck_out": True} if self.says_where else {"where": Horn.Where.WITHDRAWN}
        if self.words:
            # Whose rows are read for their words, too.
            return found.exclude(**left_out)
        # By keys, so that the order still comes from the index that covers it.
        return found.exclude(pk__in=queryset.filter(**left_out).values("pk"))

    def found(self, *, walk: bool = False) -> HornQuerySet:
        """The horns that the list shows, searched by words too (`walk` as in `having_words`)."""
        narrowed: HornQuerySet = self.qs
        return narrowed.having_words(self.words, school=self.school, walk=walk)

    def withdrawn(self) -> HornQuerySet:
        """The withdrawn horns that the same narrowing finds and that the list leaves out."""
        if self.says_where:
            none: HornQuerySet = self.of_school.none()
            return none
        withdrawn = self.of_school.withdrawn().ever_had()
        if self.narrows and not self.words:
            # By keys, or an index of what it is narrowed by is followed through half the register.
            withdrawn = self.of_school.filter(pk__in=withdrawn.values("pk"))
        found: HornQuerySet = super().filter_queryset(withdrawn)
        return found.having_words(self.words, school=self.school)

    @property
    def says_where(self) -> bool:
        """Whether it is asked where they are: then the list shows withdrawn ones or not, as was said."""
        self.form.is_valid()
        return bool(self.form.cleaned_data.get("where"))

    @property
    def words(self) -> str:
        """What is searched for; empty when nothing is, or when it made no sense."""
        self.form.is_valid()
        return str(self.form.cleaned_data.get("q") or "")

    @property
    def typed_words(self) -> str:
        """The same as it was typed, whether it made sense or not."""
        return str(self.data.get("q", ""))

    @property
    def folded(self) -> set[str]:
        """Which of the filters are in use that a phone keeps folded away."""
        self.form.is_valid()
        said = self.form.cleaned_data.items()
        used: set[str] = {name for name, value in said if value not in (None, "") and (name, value) not in ONE_TAP}
        used.update(_BY_WORDS.intersection(self.form.errors))
        return used - {"q"}

    @property
    def nonsense(self) -> list[str]:
        """What was left out, but for what its own field says."""
        return [name for name in super().nonsense if name not in _BY_WORDS]

    @property
    def unclear(self) -> dict[str, str]:
        """By field what its words left open."""
        return {name: self.form.errors[name][0] for name in _BY_WORDS if name in self.form.errors}

    def typed(self, page: Any) -> dict[str, str]:
        """The fields of places and classes that words are typed into, of too many for a select; "" where there is
        one."""
        fields = self.form.fields
        fields["place"].widget.choices.first = page.places
        fields["group"].widget.choices.first = [(one, one) for one in page.classes]
        return {name: self.form[name].as_widget() if fields[name].many else "" for name in _BY_WORDS}

    @property
    def narrows_more(self) -> bool:
        """Whether one of them is in use that a desk keeps folded away, too."""
        return bool(self.folded - IN_SIGHT)

    @property
    def selects(self) -> Selects:
        """The selects, drawn; those at rest once in each language."""
        form = self.form
        used = {name: form[name].as_widget() for name in Selects._fields if form[name].data}
        return _at_rest(get_language())._replace(**used)

    @property
    def one_tap(self) -> tuple[tuple[str, str, bool], ...]:
        """What is asked for most: the query that asks for it, its label, and whether it is asked for now, by a query
        that then asks for it no longer."""
        self.form.is_valid()
        offered = []
        for (name, value), label in ONE_TAP.items():
            here = self.form.cleaned_data.get(name) == value
            asked = query_with(self.data, page="", **{name: "" if here else value})
            offered.append((asked, str(label), here))
        return tuple(offered)

    @property
    def narrows(self) -> bool:
        """Whether anything but the whole register is asked for."""
        self.form.is_valid()
        return any(value not in (None, "") for value in self.form.cleaned_data.values())


@lru_cache(maxsize=16)
def _at_rest(_language: str | None) -> Selects:
    form = HornFilters(QueryDict(), school=None).form
    return Selects(*[form[name].as_widget() for name in Selects._fields])
