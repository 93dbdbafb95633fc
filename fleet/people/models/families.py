"""Pupils and the guardians who sign for them.

Kept to what a loan needs: no birth dates, no health, no home addresses, no pictures of pupils.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import choices
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day, in_reading_order, with_commas
from fleet.people.models.accounts import User
from fleet.people.models.schools import School
from fleet.people.models.searched import DerivedQuerySet, Searched, few_of, words_of
from fleet.people.models.trigrams import IDS, PUPILS, having, looked_up

# A family reads its letters within a week; whoever had the address before can say so in this time. Paper does not wait.
SIGNS_AFTER = timedelta(days=7)
NO_CONTACT = _s_lazy("Give one contact: an e-mail address or a telephone number.")


class Guardian(Searched):
    """The adult who signs for a pupil: a name and how to reach them, by e-mail, telephone or both."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="guardians")
    name = models.CharField(max_length=120)
    email = models.EmailField(
        _s_lazy("e-mail"), blank=True, help_text=_s_lazy("Lets them sign in by a code, without a password.")
    )
    telephone = models.CharField(max_length=40, blank=True, help_text=_s_lazy("For calls; nobody signs in by it."))
    language = models.CharField(
        _s_lazy("language"),
        max_length=8,
        blank=True,
        choices=choices,
        default="",
        db_default="",
        help_text=_s_lazy(
            "In which the school writes to them, where it has switched it on. They may choose it themselves."
        ),
    )
    user = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="guardianships", editable=False
    )
    # Who entered the address, and since when it is another than before or came to a pupil who had somebody already.
    address_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", editable=False
    )
    address_since = models.DateTimeField(null=True, blank=True, editable=False)

    objects = DerivedQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(email="", telephone=""),
                name="guardian_some_contact",
                violation_error_message=NO_CONTACT,
            ),
            models.UniqueConstraint(
                Lower("email"),
                "school",
                name="guardian_email_unique",
                condition=~Q(email=""),
                violation_error_message=_s_lazy("A guardian with this e-mail address is already on record."),
            ),
        ]
        indexes = [
            models.Index(fields=["school", "telephone"], name="guardian_by_telephone", condition=~Q(telephone="")),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def reached(self) -> str:
        """`ann@example.org, 0123 456`: how to reach them, in words."""
        return ", ".join(filter(None, (self.email, self.telephone)))

    @property
    def speaks(self) -> str:
        """Code of the language in which the school writes to them: their own where it is switched on, else the
        school's."""
        return self.language if self.language in self.school.languages else self.school.language

    def signs_from(self, at: datetime) -> datetime | None:
        """When the address may sign on the family's page, while that is still to come."""
        ready = self.address_since and self.address_since + SIGNS_AFTER
        return ready if ready and ready > at else None


class AddressChangeQuerySet(models.QuerySet["AddressChange"]):
    def objected(self) -> AddressChangeQuerySet:
        """Objected to, and no head has looked into it yet."""
        return self.exclude(objected_at=None)

    def over(self, at: datetime) -> AddressChangeQuerySet:
        """Nobody objected in time (`AddressChange.objected_until`)."""
        return self.filter(objected_at=None, at__lte=at - SIGNS_AFTER)


class AddressChange(models.Model):
    """A guardian's e-mail address became another, and the letter to the one before holds a link to object by.

    Only the hash of the link's secret is kept. The row goes once nobody can object any more, and once a head has
    looked into what was objected to: what was done stands on the record of acts.
    """

    guardian = models.ForeignKey(Guardian, on_delete=models.CASCADE, related_name="address_changes")
    before = models.EmailField()
    at = models.DateTimeField()
    digest = models.CharField(max_length=64, unique=True)
    objected_at = models.DateTimeField(null=True)

    objects = AddressChangeQuerySet.as_manager()

    @property
    def objected_until(self) -> datetime:
        """From then on the new address signs, and the link is void."""
        return self.at + SIGNS_AFTER


class PupilQuerySet(DerivedQuerySet["Pupil"]):
    def at(self, school: School) -> PupilQuerySet:
        return self.filter(school=school)

    def answered_for_by(self, user: User) -> PupilQuerySet:
        """The pupils whose guardian this account is, at any school."""
        return self.filter(guardians__user=user).distinct()

    def having_words(self, words: str, *, school: School, walk: bool = False) -> PupilQuerySet:
        """Pupils of this school `having` every word in their name or class, or with which their id begins, in whatever
        case and with or without accents. One query beside, with `walk` none: they are looked through row by row."""
        asked = words_of(words)
        found = self.at(school).filter(*(having(word) | having(word, "pupil_id", begins=True) for word in asked))
        if walk or not asked:
            return found
        # Either all of them are the name's and the class's, or the id begins with one.
        by_id_alone = (looked_up(found, IDS, [word], school, begins=True) for word in asked)
        few = few_of(looked_up(found, PUPILS, asked, school), *by_id_alone)
        return found if few is None else self.filter(pk__in=few)

    def listed(self, school: School, words: str) -> PupilQuerySet:
        """The pupils of a school's list, who have not left, that have these words, as somebody typed them."""
        return self.filter(left_on=None).having_words(words[:80].replace("\0", ""), school=school)

    def leaving(self, today: date) -> PupilQuerySet:
        """Whose last day is known and to come: no list of the pupils there are has them any more."""
        return self.filter(left_on__gt=today)

    def in_order(self) -> PupilQuerySet:
        """By family name."""
        return self.order_by("sorted_by", "pk")


class Pupil(Searched):
    """`needs_wrap` and `needs_kind` say which horn is wanted. They are about the horn: never why, nothing of health."""

    SEARCHED = ("name", "group")
    FOUND_BY = ("search", "pupil_id")
    DERIVED = (*Searched.DERIVED, "year_sorted_by", "group_sorted_by")

    class NeedsWrap(models.TextChoices):
        ANY = "", _s_lazy("any")
        COMPACT = "compact", _s_lazy("compact")

    class NeedsKind(models.TextChoices):
        ANY = "", _s_lazy("single or double")
        SINGLE = "single", _s_lazy("single")
        DOUBLE = "double", _s_lazy("double")

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="pupils")
    name = models.CharField(_s_lazy("name used in school"), max_length=120)
    family_name = models.CharField(
        _s_lazy("family name, where it is not the last word"),
        max_length=120,
        blank=True,
        default="",
        db_default="",
        help_text=_s_lazy("Lists are sorted by it: García López of Ana García López."),
    )
    pupil_id = models.CharField(
        _s_lazy("school’s own pupil id"),
        max_length=40,
        blank=True,
        help_text=_s_lazy("The school’s own opaque number; never a national one."),
    )
    year = models.CharField(_s_lazy("year"), max_length=20, blank=True)
    group = models.CharField(_s_lazy("class or ensemble"), max_length=60, blank=True)
    year_sorted_by = models.CharField(max_length=200, default="", db_default="", editable=False)
    group_sorted_by = models.CharField(max_length=400, default="", db_default="", editable=False)
    guardians = models.ManyToManyField(Guardian, related_name="pupils", blank=True)
    needs_wrap = models.CharField(_s_lazy("wrap of the horn"), max_length=8, blank=True, choices=NeedsWrap, default="")
    needs_kind = models.CharField(_s_lazy("kind of horn"), max_length=8, blank=True, choices=NeedsKind, default="")
    left_on = models.DateField(_s_lazy("left on"), null=True, blank=True)
    # Why a pupil who was entered by mistake was struck out, on the day they "left"; "" of all others.
    struck_out = models.CharField(
        _s_lazy("struck out"), max_length=300, blank=True, default="", db_default="", editable=False
    )
    guardian_let_go_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = PupilQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school", "pupil_id"],
                name="pupil_id_unique",
                condition=~Q(pupil_id=""),
                violation_error_message=_s_lazy("A pupil with this id is already on record."),
            ),
            models.CheckConstraint(condition=Q(needs_wrap__in=["", "compact"]), name="needs_wrap_known"),
            models.CheckConstraint(condition=Q(needs_kind__in=["", "single", "double"]), name="needs_kind_known"),
        ]
        indexes = [
            models.Index(fields=["school", "name", "id"], name="pupil_by_name"),
            models.Index(fields=["school", "sorted_by", "id"], name="pupil_in_order"),
            models.Index(fields=["school", "left_on"], name="pupil_gone", condition=Q(left_on__isnull=False)),
            # Classes are told from it alone, with how many are in each.
            models.Index(
                fields=["school", "group", "year", "group_sorted_by"], name="pupil_class", condition=Q(left_on=None)
            ),
            models.Index(
                fields=["school", "group_sorted_by", "group"], name="pupil_class_in_order", condition=Q(left_on=None)
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def derive(self) -> None:
        super().derive()
        self.year_sorted_by = in_reading_order(self.year)[:200]
        self.group_sorted_by = in_reading_order(self.group)[:400]

    def gone(self, today: date) -> str:
        """That they left the school, or are to leave it, as a sentence; empty while neither is so."""
        if self.left_on is None:
            return ""
        leaves = self.left_on > today
        said = (
            _s("%(pupil)s leaves the school on %(left_on)s.")
            if leaves
            else _s("%(pupil)s left the school on %(left_on)s.")
        )
        return said % {"pupil": self, "left_on": day(self.left_on)}

    @property
    def described(self) -> str:
        """The name with year and class, as it stands in lists where names may repeat."""
        return with_commas((self.name, self.class_in_words))

    @property
    def class_in_words(self) -> str:
        return class_called(self.year, self.group)


def class_called(year: str, group: str) -> str:
    """`year 5, Band`; empty where neither is known."""
    return with_commas((gettext("year %(year)s") % {"year": year} if year.isdigit() else year, group))
