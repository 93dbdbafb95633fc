"""One of many places or classes: options while a school has few, a field for words of its name where it has many.

Such a field sends `place` with a key while there are options. Of many it sends `place-words`, and `place-one` with the
key that was chosen where the words fit several; a key of `place` in an address is taken besides.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import QueryDict
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.ground.wording import folded, in_reading_order, plain_words
from fleet.people.models.searched import words_of

# So many stand as options. Of more they would be most of the page, and nobody reads through them.
MOST_OPTIONS = 100
# So many of those that have the words are offered to choose from.
OFFERED = 25

# Of what may be ticked, so many stand under one another besides those that are.
SHOWN = 50

Choice = tuple[Any, str]


class Unclear(str):
    """Words that do not tell which one is meant, with those that have them, none or several."""

    having: list[Choice]

    @property
    def sentence(self) -> str:
        words, many = str(self), len(self.having)
        if not many:
            return _s("Nothing here has “%(words)s” in its name. Write other words.") % {"words": words}
        if many > OFFERED:
            more = _s("%(many)s have “%(words)s” in their names: choose one of the first %(shown)s, or write more.")
            return more % {"many": many, "words": words, "shown": OFFERED}
        return _s("Several have “%(words)s” in their names: choose one of them.") % {"words": words}


def having_words(words: str, everything: Iterable[Choice]) -> list[Choice]:
    """Those in whose names every word occurs, as a whole word first: `room 1` before `room 10`."""
    wanted = words_of(words)
    having = [(key, name) for key, name in everything if all(word in folded(name) for word in wanted)]
    return sorted(having, key=lambda one: not _wholly(wanted, one[1])) if wanted else having


def _wholly(wanted: Iterable[str], name: str) -> bool:
    return {*wanted} <= {*plain_words(name).split()}


def meant(words: str, everything: Iterable[Choice]) -> Any:
    """The key of the one that is called so, or that alone has these words, be it as whole ones; else they are
    `Unclear`."""
    having = having_words(words, everything)
    exactly = [key for key, name in having if name == words]
    alike = [key for key, name in having if folded(name) == folded(words)]
    whole_words = [key for key, name in having if _wholly(words_of(words), name)]
    for keys in (exactly[:1], alike, whole_words, [key for key, _ in having]):
        if len(keys) == 1:
            return keys[0]
    unclear = Unclear(words)
    unclear.having = having
    return unclear


def to_tick(
    everything: Iterable[Choice], ticked: Container[Any], words: str
) -> tuple[list[Choice], list[Choice], bool]:
    """What is ticked, the first others that have these words, and whether there are more of these."""
    rows = list(everything)
    others = having_words(words, (one for one in rows if one[0] not in ticked))
    return [one for one in rows if one[0] in ticked], others[:SHOWN], len(others) > SHOWN


class Names:
    """What can be chosen, as key and name in their order; all are read only to find what was meant. These are none."""

    empty: str | None = None

    def read(self, most: int | None = None) -> list[Choice]:
        return []

    def name_of(self, key: Any) -> str:
        return str(key)

    @cached_property
    def first(self) -> list[Choice]:
        return self.read(MOST_OPTIONS + 1)

    @property
    def many(self) -> bool:
        return len(self.first) > MOST_OPTIONS

    def __iter__(self) -> Iterator[Choice]:
        if self.empty is not None:
            yield "", self.empty
        yield from self.first


class RowNames(Names):
    """Rows of the database, given when they are asked for, by their primary keys, called as they tell themselves."""

    def __init__(self, rows: Callable[[], QuerySet[Any]], field: Any = None) -> None:
        self.rows, self.field = rows, field

    @property
    def empty(self) -> str | None:  # type: ignore[override]
        return self.field.empty_label if self.field else None

    def read(self, most: int | None = None) -> list[Choice]:
        return [(row.pk, str(row)) for row in self.rows()[:most]]

    def name_of(self, key: Any) -> str:
        return str(self.rows().filter(pk=whole(str(key))).first() or "")


class ClassNames(Names):
    """Classes by their names, of which `names` gives each once."""

    def __init__(self, names: Callable[[], QuerySet[Any, str]], empty: str | None = None) -> None:
        self.names, self.empty = names, empty

    def read(self, most: int | None = None) -> list[Choice]:
        return [(name, name) for name in sorted(self.names()[:most], key=in_reading_order)]


def asked_for(name: str, said: QueryDict) -> QueryDict | None:
    """An address for a form to be bound to, where it says something of this field."""
    return said if {name, f"{name}-words", f"{name}-one"} & said.keys() else None


class OneOfMany(forms.Select):
    """A select, or what is typed and those that have the words."""

    # Plainly kept: the parent would read them all once they are set.
    choices: Any = Names()

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """A key, or `Unclear` words."""
        one, words = data.get(f"{name}-one"), str(data.get(f"{name}-words") or "").replace("\0", " ")
        if not (words := " ".join(words.split())):
            return one or super().value_from_datadict(data, files, name)
        everything = self.choices.read()
        # Words may have been written anew after one of those before was chosen.
        chosen = one and one in {str(key) for key, _ in having_words(words, everything)}
        return one if chosen else meant(words, everything)

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return asked_for(name, data) is None

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        if not self.choices.many:
            return super().render(name, value, attrs, renderer)
        unclear = isinstance(value, Unclear)
        said = value if unclear or not value else self.choices.name_of(value)
        said_of = {"maxlength": 200, "autocomplete": "off", "placeholder": _s("words of its name")}
        # A page tells of it low down, where who sent it may not look: the count of a shelf, a list of many horns.
        focus = {"autofocus": True} if unclear else {}
        typed = forms.TextInput({**said_of, **self.attrs, **focus})
        drawn = typed.render(f"{name}-words", said, attrs, renderer)
        if unclear and value.having:
            found = [("", _s("choose one of these")), *value.having[:OFFERED]]
            label = {"aria-label": _s("Those that have these words")}
            drawn += forms.Select(label, found).render(f"{name}-one", "", None, renderer)
        return drawn


class ByWords(forms.Field):
    widget = OneOfMany

    @property
    def there_are(self) -> bool:
        return bool(self.widget.choices.first)

    @property
    def many(self) -> bool:
        return bool(self.widget.choices.many)

    def clean(self, value: Any) -> Any:
        if isinstance(value, Unclear):
            raise ValidationError(value.sentence)
        return super().clean(value)


class RowField(ByWords, forms.ModelChoiceField):  # type: ignore[type-arg]
    """One row of `queryset`. Rubbish in place of a key is an error beside it, as with its parent."""

    @staticmethod
    def iterator(field: Any) -> Any:  # type: ignore[override]
        return RowNames(lambda: field.queryset, field)


class ClassField(ByWords, forms.CharField):
    """A class by its name, of the `names` that its form gives."""

    def among(self, names: Callable[[], QuerySet[Any, str]], empty: str | None = None) -> None:
        self.widget.choices = ClassNames(names, empty)

    def to_python(self, value: Any) -> str:
        return str(super().to_python(value))[:60]
