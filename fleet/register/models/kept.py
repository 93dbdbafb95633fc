"""What is kept on a horn's row so that lists are quick, and what it says: where the horn is, and what keeps it back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import models
from django.db.models import Case, Q, Value, When
from django.utils.translation import gettext as _s

from fleet.ground.due import DueDay
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Reason, WayOut
from fleet.ground.wording import day
from fleet.register.models.cared import CaredFor

# From this grade on a horn is mended before it is lent.
REPAIR_FIRST = 3
# What finding out, sounding, checking or cleaning removes: minutes each.
IN_MINUTES = frozenset({"unidentified", "test-note", "unchecked", "mended", "mouthpiece"})


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where a horn really is, in words, and a day with it.

    The code is that of `Kept.Where`; a horn "repair" is in the workshop while its loan goes on.
    """

    code: str
    words: str
    day: date | None = None
    # Seen to be back, while nobody has ended its loan.
    noted: bool = False

    @property
    def is_here(self) -> bool:
        """Whether somebody of the school could put a hand on it: in its place, in the workshop or noted as back."""
        return self.noted or self.code in Kept.HERE

    @property
    def is_with_family(self) -> bool:
        """Whether only its family could bring it."""
        return self.code == Kept.Where.OUT and not self.noted

    @property
    def state(self) -> str:
        """What state that is, in the same words for all horns of it: a column's, to sort and narrow by."""
        return _s("noted as back") if self.noted else str(Kept.Where(self.code).label)

    @property
    def without_names(self) -> str:
        """In words that name no pupil, for what is printed and hangs about."""
        return self.state if self.code == "out" else self.words


class Kept(CaredFor):
    """The columns of a horn that follow from the rows of loans, jobs, checks, events and signatures.

    `register.actions.keeping.keep` alone writes them, at the end of each action; nobody types them.
    """

    class Where(models.TextChoices):
        IN_PLACE = "cupboard", _s_lazy("in its place")
        OUT = "out", _s_lazy("out on loan")
        REPAIR = "repair", _s_lazy("here for repair")
        WORKSHOP = "workshop", _s_lazy("in the workshop")
        AWAY = "away", _s_lazy("at the repairer’s")
        NOT_FOUND = "not-found", _s_lazy("not found")
        WITHDRAWN = "withdrawn", _s_lazy("withdrawn")

    # Where somebody of the school could put a hand on it; and where it is, while it is mended or waits for that.
    HERE = (Where.IN_PLACE, Where.WORKSHOP, Where.REPAIR)
    IN_REPAIR = (Where.REPAIR, Where.WORKSHOP, Where.AWAY)

    class Grade(models.IntegerChoices):
        PLAYS_WELL = 1, _s_lazy("plays well")
        SMALL_FAULT = 2, _s_lazy("plays, small fault")
        REPAIR_FIRST = 3, _s_lazy("repair before the next loan")
        MUST_NOT_BE_PLAYED = 4, _s_lazy("must not be played")

    # A horn's own, which what keeps it back asks for.
    build: models.CharField[Any, str]

    test_note_owed = models.BooleanField(default=False, editable=False)
    holder_name = models.CharField(max_length=120, default="", editable=False)
    # The class or ensemble of who has it.
    holder_group = models.CharField(max_length=60, default="", db_default="", editable=False)
    due_on = models.DateField(null=True, editable=False)
    # Somebody saw that it came back, and nobody has ended its loan yet.
    noted_back = models.BooleanField(default=False, db_default=False, editable=False)
    recalled = models.BooleanField(default=False, db_default=False, editable=False)
    back_on = models.DateField(null=True, editable=False)  # When its newest loan that ended did.
    on_bench = models.BooleanField(default=False, editable=False)
    # The outside repairer who has it, while it is away.
    repairer = models.CharField(max_length=120, default="", db_default="", editable=False)
    not_found_on = models.DateField(null=True, editable=False)
    # Withdrawn because it was entered by mistake: no list, figure or print tells of it.
    struck_out = models.BooleanField(default=False, db_default=False, editable=False)
    withdrawn_on = models.DateField(null=True, editable=False)
    grade = models.PositiveSmallIntegerField(_s_lazy("playing grade"), null=True, choices=Grade, editable=False)
    checked_on = models.DateField(null=True, editable=False)
    # The day a repair was done that nobody has looked at since, and after which no other was begun.
    mended_on = models.DateField(null=True, editable=False)
    # The last player's mouthpiece has not been cleaned yet.
    mouthpiece_owed = models.BooleanField(default=False, db_default=False, editable=False)
    # It is what two looks settled, so that it speaks for how common its kind is at the school.
    teaches = models.BooleanField(default=False, db_default=False, editable=False)
    # The pupil it waits for, while their family is asked to sign or has signed and it is not out yet.
    promised_to = models.CharField(max_length=120, default="", db_default="", editable=False)
    # The code of `whereabouts`, for lists of thousands.
    where = models.GeneratedField(
        expression=Case(
            When(withdrawn_on__isnull=False, then=Value("withdrawn")),
            When(not_found_on__isnull=False, then=Value("not-found")),
            When(~Q(repairer=""), then=Value("away")),
            When(~Q(holder_name="") & Q(on_bench=True), then=Value("repair")),
            When(~Q(holder_name=""), then=Value("out")),
            When(on_bench=True, then=Value("workshop")),
            default=Value("cupboard"),
        ),
        output_field=models.CharField(max_length=10, choices=Where),
        db_persist=True,
        db_column="where_now",
    )
    # What the release before reads, to which a horn here for repair is out. Goes with the next release.
    where_before = models.GeneratedField(
        expression=Case(
            When(withdrawn_on__isnull=False, then=Value("withdrawn")),
            When(not_found_on__isnull=False, then=Value("not-found")),
            When(~Q(holder_name=""), then=Value("out")),
            When(on_bench=True, then=Value("workshop")),
            default=Value("cupboard"),
        ),
        output_field=models.CharField(max_length=10),
        db_persist=True,
        db_column="where",
    )
    # Nothing keeps it back: the same as an empty `kept_back`, for lists of thousands.
    may_be_lent = models.GeneratedField(
        expression=Case(
            When(
                Q(withdrawn_on=None, not_found_on=None, holder_name="", on_bench=False, test_note_owed=False)
                & Q(grade__lt=3, mouthpiece_owed=False, promised_to="")
                & ~Q(build=""),
                then=Value(True),
            ),
            default=Value(False),
        ),
        output_field=models.BooleanField(),
        db_persist=True,
    )

    class Meta:
        abstract = True

    @property
    def kept_back(self) -> list[Reason]:
        """Everything that keeps it from being lent now, the first to be seen to in front. No query."""
        return list(_reasons(self))

    @property
    def way_back(self) -> WayOut:
        """The page where a withdrawn horn is kept again, or that says why it cannot be: the row does not know which."""
        return WayOut("register:standing", _s("See what became of it"), (self.pk,))

    @property
    def kept_back_for_minutes(self) -> bool:
        """Whether something keeps it back, and nothing but what is done in minutes."""
        return set() < {reason.code for reason in self.kept_back} <= IN_MINUTES

    @property
    def here_for_repair(self) -> bool:
        """Whether it was brought from a running loan to be mended and has not gone back."""
        return bool(self.holder_name) and self.on_bench

    def kept_back_from(self, pupil: str) -> list[Reason]:
        """`kept_back`, for the pupil of that name: what is promised to them is not kept from them."""
        return [one for one in self.kept_back if one.code != "promised" or self.promised_to != pupil]

    def due(self, today: date) -> DueDay | None:
        """How the due day of its loan stands to today; None while it is not out, or noted as back."""
        return DueDay(self.due_on, today) if self.due_on and not self.noted_back else None

    @property
    def whereabouts(self) -> Whereabouts:
        """Where it is. No query but for its place, where that did not come with the row."""
        if self.withdrawn_on is not None:
            return Whereabouts("withdrawn", _s("struck out") if self.struck_out else _s("withdrawn"), self.withdrawn_on)
        if self.not_found_on is not None:
            return Whereabouts("not-found", _s("not found"), self.not_found_on)
        if self.repairer:
            return Whereabouts("away", _s("at the repairer’s, %(name)s") % {"name": self.repairer})
        if self.here_for_repair:
            return Whereabouts("repair", _s("here for repair, its loan goes on"), self.due_on)
        if self.noted_back:
            return Whereabouts(
                "out", _s("noted as back, its loan to %(name)s goes on") % {"name": self.holder_name}, noted=True
            )
        if self.holder_name:
            return Whereabouts("out", _s("with %(name)s") % {"name": self.holder_name}, self.due_on)
        if self.on_bench:
            return Whereabouts("workshop", _s("in the workshop"))
        return Whereabouts("cupboard", str(getattr(self, "place", None) or _s("no place yet")))


def _reasons(horn: Kept) -> Iterator[Reason]:
    yield from _not_here(horn)
    yield from _not_known(horn)
    yield from _not_well(horn)
    yield from _not_free(horn)


def _not_here(horn: Kept) -> Iterator[Reason]:
    if horn.withdrawn_on is not None:
        yield Reason(
            "withdrawn",
            (_s("%(horn)s was struck out on %(on)s.") if horn.struck_out else _s("%(horn)s was withdrawn on %(on)s."))
            % {"horn": horn, "on": day(horn.withdrawn_on)},
            horn.way_back,
        )
    if horn.not_found_on is not None:
        yield Reason(
            "not-found",
            _s("%(horn)s has not been found since %(not_found_on)s.")
            % {"horn": horn, "not_found_on": day(horn.not_found_on)},
            WayOut("register:standing", _s("Record that it was found"), (horn.pk,)),
        )
    if horn.on_bench:
        yield Reason(
            "away" if horn.repairer else "workshop",
            _s("%(horn)s is at the repairer’s: %(repairer)s has it.") % {"horn": horn, "repairer": horn.repairer}
            if horn.repairer
            else _s("%(horn)s is in the workshop.") % {"horn": horn},
            WayOut("workshop:job-new", _s("Go to its repair job"), (horn.pk,)),
        )
    if horn.holder_name:
        said = (
            _s("%(horn)s is out: %(name)s has it, due back on %(day)s.")
            if horn.due_on
            else _s("%(horn)s is out: %(name)s has it.")
        )
        out = said % {"horn": horn, "name": horn.holder_name, "day": day(horn.due_on) if horn.due_on else ""}
        yield Reason(
            "out",
            _s("%(horn)s is noted as back, and nobody has ended its loan to %(holder_name)s.")
            % {"horn": horn, "holder_name": horn.holder_name}
            if horn.noted_back
            else out,
            WayOut("loans:return-of", _s("Take it back"), (horn.pk,)),
        )


def _not_known(horn: Kept) -> Iterator[Reason]:
    if not horn.build:
        yield Reason(
            "unidentified",
            _s("Nobody has found out yet what %(horn)s is, so nobody knows which fingerings it takes.")
            % {"horn": horn},
            WayOut("identify:walk", _s("Identify it"), query=(("horn", str(horn.pk)),)),
        )
    if horn.test_note_owed:
        yield Reason(
            "test-note",
            _s("Work on %(horn)s may have changed how it stands, and the test note has not been sounded since.")
            % {"horn": horn},
            WayOut("register:sound", _s("Sound the test note"), (horn.pk,)),
        )


def _not_well(horn: Kept) -> Iterator[Reason]:
    if horn.grade is None:
        yield Reason(
            "unchecked",
            _s("%(horn)s has never been checked.") % {"horn": horn},
            WayOut("workshop:check-new", _s("Check its condition now"), (horn.pk,)),
        )
    elif horn.grade >= REPAIR_FIRST and horn.mended_on is not None:
        yield Reason(
            "mended",
            _s("%(horn)s is mended, and nobody has looked it over since.") % {"horn": horn},
            WayOut("workshop:check-new", _s("Check it after the repair"), (horn.pk,)),
        )
    elif horn.grade >= REPAIR_FIRST:
        yield Reason(
            "grade",
            _s("%(horn)s is graded %(grade)s, %(words)s.")
            % {"horn": horn, "grade": horn.grade, "words": horn.get_grade_display()},
            WayOut("workshop:job-new", _s("Go to its repair job"), (horn.pk,)),
        )


def _not_free(horn: Kept) -> Iterator[Reason]:
    if horn.mouthpiece_owed:
        yield Reason(
            "mouthpiece",
            _s("Nobody has recorded that the mouthpiece of %(horn)s was cleaned since the last player.")
            % {"horn": horn},
            WayOut("loans:mouthpiece-of", _s("Record the cleaning"), (horn.pk,)),
        )
    if horn.promised_to:
        yield Reason(
            "promised",
            _s("%(horn)s is promised to %(promised_to)s: an agreement with the family waits.")
            % {"horn": horn, "promised_to": horn.promised_to},
            WayOut("loans:issue", _s("Take it back first"), query=(("horn", str(horn.pk)),)),
        )
