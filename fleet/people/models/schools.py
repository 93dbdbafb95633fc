"""Schools, with what each has settled about its loans, its bench and its prints."""

from __future__ import annotations

from contextlib import suppress
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator, validate_email
from django.db import DEFAULT_DB_ALIAS, models
from django.utils.translation import get_language

from fleet.ground.languages.known import ENGLISH, choices, known
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models.zones import zone_of


class School(models.Model):
    class Paper(models.TextChoices):
        A4 = "a4", "A4"
        LETTER = "letter", _s_lazy("US Letter")

    class TunedTo(models.IntegerChoices):
        A440 = 440, _s_lazy("A = 440 Hz")
        A442 = 442, _s_lazy("A = 442 Hz")

    name = models.CharField(max_length=120)
    slug = models.SlugField(
        max_length=40, unique=True, help_text=_s_lazy("The school’s part of the address, like hill-road.")
    )
    number_prefix = models.CharField(
        _s_lazy("register numbers begin with"),
        max_length=8,
        default="HN-",
        validators=[RegexValidator(r"^[A-Za-z0-9/.-]*$", _s_lazy("Use letters, digits, dash, dot or slash."))],
    )
    currency = models.CharField(
        max_length=3,
        default="EUR",
        validators=[RegexValidator(r"^[A-Z]{3}$", _s_lazy("Use the three capital letters of ISO 4217, like EUR."))],
    )
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    contact = models.CharField(
        _s_lazy("whom families ask"), max_length=200, blank=True, help_text=_s_lazy("Name, telephone or e-mail.")
    )
    local_rules = models.TextField(
        _s_lazy("local rules for families"),
        max_length=2000,
        blank=True,
        help_text=_s_lazy(
            "Insurance, charges and hygiene as this school handles them; shown beside the usual cautions."
        ),
    )
    # The same in other languages of its families, by their codes.
    rules_in_languages = models.JSONField(
        _s_lazy("local rules in other languages"), default=dict, db_default={}, blank=True, editable=False
    )
    loan_days = models.PositiveSmallIntegerField(
        _s_lazy("usual length of a loan in days"),
        default=300,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
        help_text=_s_lazy(
            "Only where no end of a school year lies ahead; else a loan is due when the school year ends."
        ),
    )
    year_ends = models.DateField(_s_lazy("the school year ends on"), null=True, blank=True)
    check_days = models.PositiveSmallIntegerField(
        _s_lazy("days until a horn should be checked again"),
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    soon_days = models.PositiveSmallIntegerField(
        _s_lazy("a loan counts as due soon this many days before"),
        default=14,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
    )
    approve_above = models.DecimalField(
        _s_lazy("a head approves quotes above"),
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=_s_lazy("Left empty, no quote needs approving."),
    )
    bench_rate = models.DecimalField(
        _s_lazy("an hour at the bench costs"),
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=_s_lazy("For reckoning what open faults may cost. Left empty, only quotes and parts count."),
    )
    warranty_days = models.PositiveSmallIntegerField(
        _s_lazy("a repair should hold this many days"),
        default=180,
        validators=[MaxValueValidator(3650)],
        help_text=_s_lazy("The same fault within this time is pointed out on the new job. 0 for never."),
    )
    oil_days = models.PositiveSmallIntegerField(
        _s_lazy("days between oilings of a horn in the cupboard"),
        default=90,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    clean_days = models.PositiveSmallIntegerField(
        _s_lazy("days between cleanings of a horn in the cupboard"),
        default=180,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    service_days = models.PositiveSmallIntegerField(
        _s_lazy("days between services by a repairer"),
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(3650)],
    )
    clean_months = models.PositiveSmallIntegerField(
        _s_lazy("cleaned sooner after so many months in children’s hands"),
        default=3,
        db_default=3,
        validators=[MaxValueValidator(60)],
        help_text=_s_lazy("Since it was last cleaned, by its loans. 0 to go by the days alone."),
    )
    service_months = models.PositiveSmallIntegerField(
        _s_lazy("serviced sooner after so many months in children’s hands"),
        default=10,
        db_default=10,
        validators=[MaxValueValidator(120)],
        help_text=_s_lazy("Since its last service, by its loans. 0 to go by the days alone."),
    )
    exercise_days = models.PositiveSmallIntegerField(
        _s_lazy("days after which a horn that nobody plays is exercised"),
        default=30,
        db_default=30,
        validators=[MaxValueValidator(1500)],
        help_text=_s_lazy("Counted from its last loan or exercise. 0 for never."),
    )
    tuned_to = models.PositiveSmallIntegerField(
        _s_lazy("the school tunes to"),
        choices=TunedTo,
        default=TunedTo.A440,
        db_default=TunedTo.A440,
        help_text=_s_lazy("What Identify and the field guide play, and what a note they hear is measured against."),
    )
    # Empty for the site's own, so that another place of the site moves all who never chose.
    time_zone = models.CharField(_s_lazy("time zone"), max_length=40, blank=True, default="", db_default="")
    language = models.CharField(
        _s_lazy("the school’s own language"),
        max_length=8,
        choices=choices,
        default=ENGLISH,
        db_default=ENGLISH,
        help_text=_s_lazy("For families of whom no language is known."),
    )
    # Which others a head has switched on for families, by their codes.
    family_languages = models.JSONField(
        _s_lazy("other languages for families"), blank=True, default=list, db_default=[]
    )
    # Which others a head has switched on for staff, by their codes.
    staff_languages = models.JSONField(_s_lazy("other languages for staff"), blank=True, default=list, db_default=[])
    note_names = models.CharField(
        _s_lazy("notes are named to families"),
        max_length=8,
        blank=True,
        choices=[
            ("", _s_lazy("as their language does")),
            ("letters", "C, D, E, F, G, A, B"),
            ("german", _s_lazy("C, D, E, F, G, A, H, and B for B♭")),
            ("solfege", _s_lazy("do, re, mi, fa, sol, la, si")),
        ],
        default="",
        db_default="",
        help_text=_s_lazy("On their fingering chart and the loan sheet."),
    )
    # The address of the issuer with whose accounts alone its staff come in. Empty, or of one that the site names no
    # longer: as they like.
    sign_in_by = models.CharField(_s_lazy("how staff sign in"), max_length=200, blank=True, default="", db_default="")
    # Another each time its own words for families change (OwnWords); empty where it has none.
    own_words_mark = models.CharField(max_length=16, blank=True, default="", db_default="", editable=False)
    second_step_days = models.PositiveSmallIntegerField(
        _s_lazy("days in which a head switches the second step on"),
        default=14,
        db_default=14,
        validators=[MaxValueValidator(365)],
        help_text=_s_lazy(
            "Counted from the day the post was given; after that the school’s pages wait for it. 0 for at once."
        ),
    )

    def __str__(self) -> str:
        return self.name

    @property
    def settled(self) -> tuple[Any, ...]:
        """Its key and all that it settled but words and languages: what a question about its rows goes by, and is kept
        by where it is kept."""
        return tuple(getattr(self, name) for name in _settled_in())

    @classmethod
    def that_settled(cls, settled: tuple[Any, ...]) -> School:
        """The school again, as far as `settled` tells it."""
        return cls.from_db(DEFAULT_DB_ALIAS, _settled_in(), settled)

    @property
    def zone(self) -> ZoneInfo:
        """By which its days begin and end."""
        return zone_of(self.time_zone)

    @property
    def rules(self) -> str:
        """Its rules for families in the language that is spoken now, as far as it wrote them in it."""
        return self.rules_in_languages.get(get_language() or "") or self.local_rules

    @property
    def e_mail(self) -> str:
        """The first e-mail address of those whom families ask; "" where none is named."""
        for word in self.contact.split():
            with suppress(ValidationError):
                validate_email(address := word.strip("<>()[],;:."))
                return address
        return ""

    @property
    def languages(self) -> list[str]:
        """Codes of those in which its families may read and be written to. In English they may always."""
        return [one.code for one in known([ENGLISH, self.language, *self.family_languages])]

    @property
    def languages_of_staff(self) -> list[str]:
        """Codes of those in which its staff may read."""
        return [one.code for one in known([ENGLISH, *self.staff_languages])]

    @property
    def language_of_staff(self) -> str:
        """Code of that in which it speaks itself to who is no family: its own where its staff may read it."""
        return self.language if self.language in self.languages_of_staff else ENGLISH


@cache
def _settled_in() -> tuple[str, ...]:
    columns = School._meta.concrete_fields
    return tuple(one.attname for one in columns if not isinstance(one, (models.JSONField, models.TextField)))
