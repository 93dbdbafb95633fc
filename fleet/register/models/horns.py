"""The horn's row: what is so about it, the rules of one row, the words for sets of horns."""

from __future__ import annotations

import secrets
from datetime import date
from decimal import Decimal
from typing import Any, NoReturn

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.db.models.lookups import LessThan
from django.utils import timezone
from django.utils.formats import date_format, get_format
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.people.models.searched import Derived, DerivedQuerySet
from fleet.register.models import describing
from fleet.register.models.events import Standing
from fleet.register.models.indexes import INDEXES, LastChecked
from fleet.register.models.kept import REPAIR_FIRST, Kept
from fleet.register.models.kinds import BELLS, NOT_LOOKED_AT, kind_and_stand, kind_in_english, kind_in_words, wraps_of
from fleet.register.models.numbers import FORM, FORM_SENTENCE, TAKEN, also, parts_of
from fleet.register.models.places import Place
from fleet.register.models.searching import having_words, searchable

# Read aloud over a telephone or typed from a label: no 0/O, 1/I/L.
LABEL_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def new_label_code() -> str:
    """Eight characters for the horn's label, about 39 bits: an address that tells nothing by itself."""
    letters, drawn = len(LABEL_LETTERS), secrets.randbelow(len(LABEL_LETTERS) ** 8)
    return "".join(LABEL_LETTERS[drawn // letters**place % letters] for place in range(8))


class HornQuerySet(DerivedQuerySet["Horn"]):
    def at(self, school: School) -> HornQuerySet:
        return self.filter(school=school)

    def classes_out(self) -> models.QuerySet[Horn, str]:
        """Each class that has horns once, along an index."""
        out = self.filter(holder_group__gt="").order_by("holder_group")
        return out.values_list("holder_group", flat=True).distinct()

    def kept(self) -> HornQuerySet:
        """Horns the school still has: all but the withdrawn."""
        return self.filter(withdrawn_on=None)

    def withdrawn(self) -> HornQuerySet:
        return self.filter(where=Kept.Where.WITHDRAWN)

    def ever_had(self) -> HornQuerySet:
        """Horns that the school has or had: all but those entered by mistake."""
        return self.filter(struck_out=False)

    def at_hand(self) -> HornQuerySet:
        """Horns that somebody could go and look at: kept, and not missing."""
        return self.kept().filter(not_found_on=None)

    def identified(self) -> HornQuerySet:
        return self.exclude(build="")

    def teaching(self) -> HornQuerySet:
        """Kept horns that speak for how common their kind is at the school."""
        return self.kept().filter(teaches=True)

    def unidentified(self) -> HornQuerySet:
        """Horns at hand whose kind nobody has said yet."""
        return self.at_hand().filter(build="")

    def mended_unchecked(self) -> HornQuerySet:
        """Horns whose repair is done and that wait for the look after it."""
        return self.kept().filter(mended_on__isnull=False)

    def may_be_lent(self, answer: bool = True) -> HornQuerySet:
        """Horns that nothing keeps back now (`Horn.kept_back`), or those that something does."""
        # Said as an equality: SQLite looks up along an index by one, and not by a column that stands alone.
        return self.filter(may_be_lent__in=[answer])

    def kept_back_for_minutes(self) -> HornQuerySet:
        """Horns that only finding out, sounding, checking or cleaning keeps back (`Horn.kept_back_for_minutes`)."""
        nobody_has_it = Q(holder_name="", on_bench=False, promised_to="")
        not_to_be_mended = Q(grade=None) | Q(grade__lt=REPAIR_FIRST) | ~Q(mended_on=None)
        return self.at_hand().filter(nobody_has_it, not_to_be_mended, may_be_lent=False)

    def test_note_owed(self) -> HornQuerySet:
        """Horns at hand that were restrung and whose test note has not been sounded since."""
        return self.at_hand().filter(test_note_owed=True)

    def not_checked_since(self, day: date) -> HornQuerySet:
        """Horns at hand whose last condition check is older than that day, or that never had one."""
        return self.at_hand().filter(LessThan(LastChecked("checked_on"), day))

    def by_number(self) -> HornQuerySet:
        return self.order_by("number_stem", "number_tail", "pk")

    def numbered(self, number: str) -> Horn | None:
        """The horn of that register number, in whatever case it is written; on one school's horns."""
        stem, tail = parts_of(number)
        same = self.filter(number_stem=stem, number_tail=tail, number__iexact=number.strip())
        return same.first()

    def having_words(self, query: str, *, school: School, walk: bool = False) -> HornQuerySet:
        """Horns of this school that have every word of the query in number, kind, maker, serial number, place, or
        holder and their class."""
        return having_words(self.at(school), query, school=school, walk=walk)

    def delete(self) -> NoReturn:
        raise ValidationError(_s("A horn is never deleted: withdraw it, and its number stays its own."))


class Horn(Derived, Kept):
    class Finish(models.TextChoices):
        LACQUERED = "lacquered", _s_lazy("lacquered")
        BARE = "bare", _s_lazy("bare brass")
        SILVER = "silver", _s_lazy("silver plated")
        NICKEL = "nickel", _s_lazy("nickel plated")
        NICKEL_SILVER = "nickel-silver", _s_lazy("nickel silver")
        OTHER = "other", _s_lazy("other")

    class Wrap(models.TextChoices):
        STANDARD = "standard", _s_lazy("standard")
        COMPACT = "compact", _s_lazy("compact")
        OVAL = "oval", _s_lazy("oval")
        TRUMPET = "trumpet", _s_lazy("like a trumpet")

    class Within(models.TextChoices):
        """How much of the day it was acquired on is known: `acquired_on` is then the first day of it."""

        DAY = "", _s_lazy("that day")
        MONTH = "month", _s_lazy("that month")
        YEAR = "year", _s_lazy("that year")

    class Valve(models.TextChoices):
        """What a fourth or fifth valve does; how many valves there are does not tell."""

        CHANGE = "change", _s_lazy("changes between the F and B♭ sides")
        HIGH = "high-change", _s_lazy("changes to a high side")
        STOPPING = "stopping", _s_lazy("lowers a little, for stopped notes")
        EXTENSION = "f-extension", _s_lazy("lowers a fourth, one long slide")
        QUART = "quart", _s_lazy("lowers a fourth, with a finger")
        ASCENDING = "ascending", _s_lazy("raises")
        OTHER = "other", _s_lazy("something else")

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="horns")
    number = models.CharField(
        _s_lazy("register number"),
        max_length=24,
        validators=[RegexValidator(FORM, FORM_SENTENCE)],
    )
    label_code = models.CharField(max_length=12, unique=True, default=new_label_code, editable=False)

    build = models.CharField(max_length=40, blank=True)
    # The words of the list a horn came in with. A hint for whoever identifies it, never a finding.
    described_as = models.CharField(_s_lazy("described as"), max_length=describing.LONGEST, blank=True)
    stands_in = models.CharField(_s_lazy("stands in"), max_length=12, blank=True)
    wrap = models.CharField(max_length=12, blank=True, choices=Wrap)
    fourth_valve = models.CharField(_s_lazy("the fourth valve"), max_length=12, blank=True, choices=Valve)
    fifth_valve = models.CharField(_s_lazy("the fifth valve"), max_length=12, blank=True, choices=Valve)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial_number = models.CharField(_s_lazy("serial number"), max_length=60, blank=True)
    finish = models.CharField(max_length=16, blank=True, choices=Finish)
    bell = models.CharField(max_length=8, blank=True, choices=BELLS)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="horns")
    acquired_on = models.DateField(_s_lazy("acquired on"), null=True, blank=True)
    acquired_within = models.CharField(
        max_length=5, blank=True, choices=Within, default=Within.DAY, db_default="", editable=False
    )
    price = models.DecimalField(
        _s_lazy("price paid"), max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    value = models.DecimalField(
        _s_lazy("value today"),
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    notes = models.TextField(max_length=4000, blank=True)
    created = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, editable=False, related_name="+")

    FOUND_BY = ("search", "number")
    # The number's parts and the place to sort by, and what the search looks in.
    DERIVED = ("number_stem", "number_tail", "place_order", "search")
    number_stem = models.CharField(max_length=24, default="", editable=False)
    number_tail = models.BigIntegerField(default=0, editable=False)
    place_order = models.CharField(max_length=200, null=True, editable=False)
    search = models.CharField(max_length=600, default="", editable=False)
    objects = HornQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "school",
                Upper("number"),
                name="register_number_unique",
                violation_error_message=TAKEN,
            ),
            models.CheckConstraint(
                condition=Q(stands_in="") | ~Q(build=""),
                name="stands_in_needs_build",
                violation_error_message=_s_lazy("Say what the horn is before saying what it stands in."),
            ),
            models.CheckConstraint(condition=Q(due_on=None) | ~Q(holder_name=""), name="due_date_needs_holder"),
            models.CheckConstraint(condition=Q(grade=None) | Q(grade__range=(1, 4)), name="grade_one_to_four"),
        ]
        indexes = INDEXES

    def __str__(self) -> str:
        return self.number

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(_s("A horn is never deleted: withdraw it, and its number stays its own."))

    def derive(self) -> None:
        self.number_stem, self.number_tail = parts_of(self.number)
        self.place_order = self.place.sorted_by[:200] if self.place else None
        self.search = self.searched_in()

    def complete(self) -> None:
        """What follows from its place and other rows is kept once all of them are there."""

    def searched_in(self) -> str:
        """What the search looks in, with a space at both ends so that every word has one before and after it."""
        _, tail = parts_of(self.number)
        # The holder comes early: at the column's end a long maker's name could push it out.
        words = searchable(
            self.number,
            str(tail),
            *also(self.number),
            self.holder_name,
            self.holder_group,
            *((self.place.room, self.place.shelf) if self.place else ()),
            self.stands_in,
            self.build,
            kind_in_english(self.build),
            self.serial_number,
            self.maker,
            self.model,
            "" if self.build else self.described_as,
        )
        return f" {words[:598]} "

    @property
    def is_identified(self) -> bool:
        return bool(self.build)

    def acquired(self, form: str = "DATE_FORMAT") -> str:
        """When it was acquired, as far as it is known: `3 September 2019`, `September 2019` or `2019`; "" of none."""
        known: dict[str, str] = {self.Within.MONTH: get_format(form).lstrip("jd. /"), self.Within.YEAR: "Y"}
        return date_format(self.acquired_on, known.get(self.acquired_within, form)) if self.acquired_on else ""

    @property
    def insured(self) -> tuple[Decimal | None, bool]:
        """What it counts for, and whether that is the price paid, since no value is on record."""
        return (self.value, False) if self.value is not None else (self.price, self.price is not None)

    @property
    def wrap_told(self) -> str:
        """How it is wound, as far as anybody looked; where its kind has no other wrap, that is said to be why."""
        if not self.wrap:
            return NOT_LOOKED_AT
        only = wraps_of(self.build) == {self.wrap}
        return (_s("%(wrap)s, as every horn of its kind") if only else "%(wrap)s") % {"wrap": self.get_wrap_display()}

    @property
    def kind(self) -> str:
        """What it is, in words: `full double horn`; empty while nobody has said."""
        return kind_in_words(self.build)

    @property
    def in_full(self) -> str:
        """What it is and what it stands in, in words; empty while nobody has said."""
        return kind_and_stand(self.build, self.stands_in)

    @property
    def what_it_is(self) -> str:
        """The same, or that nobody has said."""
        return self.in_full or _s("not identified")

    @property
    def made(self) -> str:
        """Its maker and model, as far as they are known."""
        return " ".join(filter(None, (self.maker, self.model)))

    @property
    def perhaps(self) -> str:
        """What the words it came in with may mean, in words, while nobody has identified it; else empty."""
        return "" if self.build else describing.in_a_sentence(self.described_as)

    @property
    def events_open(self) -> list[Standing.Kind]:
        """What may be said of its whereabouts as it is now."""
        if self.withdrawn_on:
            return [Standing.Kind.KEPT_AGAIN]
        seen = Standing.Kind.FOUND if self.not_found_on else Standing.Kind.NOT_FOUND
        return [seen, Standing.Kind.WITHDRAWN, Standing.Kind.STRUCK_OUT]
