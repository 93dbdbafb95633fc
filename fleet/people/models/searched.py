"""People whose names are searched for and sorted by: two columns that follow from the others at every save.

Both are made in Python, since SQLite knows no small letters beyond a to z and PostgreSQL those of its locale only. What
is typed is made alike (`folded`).
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeVar

from django.db import connection, models
from django.db.models import Q, QuerySet
from django.db.models.expressions import RawSQL

from fleet.ground.paging import COUNTED_TO
from fleet.ground.wording import folded
from fleet.people.models.trigrams import having, look_up

if TYPE_CHECKING:
    from fleet.people.models.schools import School

MOST_WORDS = 6
Row = TypeVar("Row", bound=models.Model)
# They follow the family name and are none.
_AFTER = {"jr", "sr", "ii", "iii", "iv"}
# An apostrophe within a word divides it into no two.
_WITHIN = re.compile(r"(?<=\w)['’ʼ](?=\w)")
# Letters of the Ukrainian alphabet (DSTU 3582) that stand elsewhere in the tables of signs, or lose what sets them
# apart: each as the one before it, behind whatever that may begin.
_IN_ALPHABET = str.maketrans({"ґ": "гяя1", "є": "еяя1", "і": "ияя1", "ї": "ияя2", "й": "ияя3"})


def words_of(query: str) -> list[str]:
    """The words of a query as they stand in a `search` column, six at most. A comma behind one is none of it: a place
    is shown as `Cupboard, top`, and an office writes `Okafor, Ada`."""
    words = (word.strip(",;") for word in folded(query.replace("\0", " ")).split())
    return [word for word in words if word][:MOST_WORDS]


def in_order(name: str, family: str = "") -> str:
    """What a name is sorted by: the family name, then the others, in letters and figures only.

    The family name is the last word unless it is given. A 0 stands between the words: it comes before the letters in
    every collation, while blanks and signs do not count in some.
    """
    words, last = _letters(name), _letters(family)
    if not last:
        ends = len(words) - 1
        while ends > 0 and words[ends] in _AFTER:
            ends -= 1
        last = words[ends : ends + 1]
    for one in last:
        if one in words:
            words.reverse()
            words.remove(one)
            words.reverse()
    return "0".join([*last, *words])


def _letters(name: str) -> list[str]:
    whole = _WITHIN.sub("", unicodedata.normalize("NFC", name).casefold())
    return re.findall(r"[^\W_]+", folded(whole.translate(_IN_ALPHABET)))


class DerivedQuerySet(models.QuerySet[Row]):
    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        rows = list(objs)
        for row in rows:
            row.derive()
        return super().bulk_create(rows, *args, **kwargs)

    def with_words(self, words: Sequence[str], *, school: School, every: bool) -> Self:
        """Rows of this school `having` these words of `words_of`, every one or any; of no words none. By an index."""
        if not words:
            return self.none()
        joint = "AND" if every else "OR"
        if connection.vendor == "sqlite":
            found = look_up(self.model._meta.db_table, words, school, joint=joint)
            keys = f"SELECT {found.key} FROM {found.name} WHERE {found.where}"  # noqa: S608 - names of our tables
            return self.filter(pk__in=RawSQL(keys, found.given))  # noqa: S611
        return self.filter(Q(*map(having, words), _connector=joint), school=school)

    def first_of_each(self, *columns: str) -> Self:
        """One row for whatever these columns, none of them ever null, hold together.

        For few sorts of many rows: from the first row of one sort to that of the next, along an index of what these
        rows are narrowed by, and behind it the columns.
        """
        own = self.model._meta.db_table
        ordered = self.order_by(*columns).values("pk")
        # Engines do not go along an index by several columns that are greater together.
        alike, beyond = ([f'{own}."{one}" {sign} had."{one}"' for one in columns] for sign in "=>")
        steps = [
            ordered.extra(where=[*alike[:n], beyond[n]])  # noqa: S610 - our names
            for n in reversed(range(len(columns)))
        ]
        (first, given), *further = (rows[:1].query.sql_with_params() for rows in (ordered, *steps))
        found = ", ".join(f"({sql})" for sql, _ in further)
        keys = (
            f"WITH RECURSIVE first_of(id) AS (SELECT ({first}) UNION ALL SELECT coalesce({found}, NULL)"  # noqa: S608
            f" FROM first_of JOIN {own} AS had ON had.id = first_of.id) SELECT id FROM first_of"
        )
        asked = [*given, *(value for _, said in further for value in said)]
        return type(self)(self.model).filter(pk__in=RawSQL(keys, asked))  # noqa: S611


class Derived(models.Model):
    """A row some columns of which, `DERIVED`, follow from the others at every save."""

    DERIVED: ClassVar[tuple[str, ...]]

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.derive()
        fields = kwargs.get("update_fields")
        if fields is not None:
            kwargs["update_fields"] = {*fields, *self.DERIVED}
        super().save(*args, **kwargs)

    def derive(self) -> None:
        """Set the columns that follow from the others."""
        raise NotImplementedError

    def complete(self) -> None:
        """Rows of a file that was written before there were these columns."""
        self.derive()


class Searched(Derived):
    """A row whose `search` holds the columns of `SEARCHED`, folded, and whose `sorted_by` its name."""

    SEARCHED: ClassVar[tuple[str, ...]] = ("name",)
    FOUND_BY: ClassVar[tuple[str, ...]] = ("search",)
    DERIVED: ClassVar[tuple[str, ...]] = ("search", "sorted_by")

    name: models.CharField[Any, Any]
    search = models.CharField(max_length=400, default="", db_default="", editable=False)
    sorted_by = models.CharField(max_length=400, default="", db_default="", editable=False)

    class Meta:
        abstract = True

    def derive(self) -> None:
        self.search = folded(" ".join(getattr(self, column) for column in self.SEARCHED))[:400]
        self.sorted_by = in_order(self.name, getattr(self, "family_name", ""))[:400]


def among(keys: Iterable[int]) -> RawSQL:
    """For `pk__in`: the keys as one value, since Django makes each of a thousand ready by itself."""
    if connection.vendor == "sqlite":
        return RawSQL("SELECT value FROM json_each(%s)", [json.dumps([*keys])])
    return RawSQL("SELECT unnest(%s::bigint[])", [[*keys]])


def few_of(*ways: QuerySet[Any]) -> RawSQL | None:
    """The keys that these querysets find together, each along an index of its own, `among` which to look. One query.

    None where they are more than a list counts: who then looks row by row in its order soon has a page.
    """
    first, *others = (way.order_by().values_list("pk") for way in ways)
    if others and connection.features.supports_slicing_ordering_in_compound:
        # PostgreSQL plans each to be read whole unless it is limited by itself.
        first, *others = (way[: COUNTED_TO + 1] for way in (first, *others))
    found = list(first.union(*others, all=True)[: COUNTED_TO + 1])
    return None if len(found) > COUNTED_TO else among({key for (key,) in found})
