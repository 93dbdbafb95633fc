"""Schools, accounts, staff, pupils, guardians.

Kept to what a loan needs: no birth dates, no health, no home addresses, no pictures of pupils.
"""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower


class UserManager(BaseUserManager["User"]):
    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email__iexact=username)

    def create_user(self, email: str, password: str | None = None, **fields: object) -> User:
        """An account; without a password it can sign in by e-mailed code only."""
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser, PermissionsMixin):
    """A person who signs in. What they may do comes from their posts and from the pupils they answer for."""

    email = models.EmailField("e-mail", max_length=254, unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    created = models.DateTimeField(auto_now_add=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects = UserManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                name="user_email_unique",
                violation_error_message="There is already an account with this e-mail address.",
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class School(models.Model):
    class Paper(models.TextChoices):
        A4 = "a4", "A4"
        LETTER = "letter", "US Letter"

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=40, unique=True, help_text="The school's part of the address, like hill-road.")
    number_prefix = models.CharField(
        "register numbers begin with",
        max_length=8,
        default="HN-",
        validators=[RegexValidator(r"^[A-Za-z0-9/.-]*$", "Use letters, digits, dash, dot or slash.")],
    )
    currency = models.CharField(
        max_length=3,
        default="EUR",
        validators=[RegexValidator(r"^[A-Z]{3}$", "Use the three capital letters of ISO 4217, like EUR.")],
    )
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    contact = models.CharField("whom families ask", max_length=200, blank=True, help_text="Name, telephone or e-mail.")
    local_rules = models.TextField(
        "local rules for families",
        max_length=2000,
        blank=True,
        help_text="Insurance, charges and hygiene as this school handles them; shown beside the usual cautions.",
    )
    loan_days = models.PositiveSmallIntegerField(
        "usual length of a loan in days",
        default=300,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    check_days = models.PositiveSmallIntegerField(
        "days until a horn should be checked again",
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    soon_days = models.PositiveSmallIntegerField(
        "a loan counts as due soon this many days before",
        default=14,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
    )
    approve_above = models.DecimalField(
        "a head approves quotes above",
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Left empty, no quote needs approving.",
    )
    bench_rate = models.DecimalField(
        "an hour at the bench costs",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="For reckoning what open faults may cost. Left empty, only quotes and parts count.",
    )
    warranty_days = models.PositiveSmallIntegerField(
        "a repair should hold this many days",
        default=180,
        validators=[MaxValueValidator(3650)],
        help_text="The same fault within this time is pointed out on the new job. 0 for never.",
    )
    oil_days = models.PositiveSmallIntegerField(
        "days between oilings of a horn in the cupboard",
        default=90,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    clean_days = models.PositiveSmallIntegerField(
        "days between cleanings of a horn in the cupboard",
        default=180,
        validators=[MinValueValidator(1), MaxValueValidator(1500)],
    )
    service_days = models.PositiveSmallIntegerField(
        "days between services by a repairer",
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(3650)],
    )

    def __str__(self) -> str:
        return self.name


class Post(models.Model):
    """What a person is at one school."""

    class Role(models.TextChoices):
        HEAD = "head", "department head"
        TEACHER = "teacher", "teacher"
        TECHNICIAN = "technician", "technician"
        SERVICE = "service", "service head"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="posts")
    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="posts")
    role = models.CharField(max_length=12, choices=Role)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "school"],
                name="one_post_a_school",
                violation_error_message="This person already has a post at this school.",
            ),
            models.CheckConstraint(
                condition=Q(role__in=["head", "teacher", "technician", "service"]), name="post_role_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display()}"


class Guardian(models.Model):
    """The adult who signs for a pupil: a name and one way to reach them."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="guardians")
    name = models.CharField(max_length=120)
    email = models.EmailField("e-mail", blank=True, help_text="Lets them sign in by a code, without a password.")
    telephone = models.CharField(max_length=40, blank=True, help_text="Only where there is no e-mail address.")
    user = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="guardianships", editable=False
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(email="") | Q(telephone=""),
                name="guardian_one_contact",
                violation_error_message="Keep one contact only: the e-mail address or the telephone number.",
            ),
            models.CheckConstraint(
                condition=~Q(email="", telephone=""),
                name="guardian_some_contact",
                violation_error_message="Give one contact: an e-mail address or a telephone number.",
            ),
            models.UniqueConstraint(
                Lower("email"),
                "school",
                name="guardian_email_unique",
                condition=~Q(email=""),
                violation_error_message="A guardian with this e-mail address is already on record.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PupilQuerySet(models.QuerySet["Pupil"]):
    def at(self, school: School) -> PupilQuerySet:
        return self.filter(school=school)

    def answered_for_by(self, user: User) -> PupilQuerySet:
        """The pupils whose guardian this account is, at any school."""
        return self.filter(guardians__user=user).distinct()

    def matching(self, words: str) -> PupilQuerySet:
        """Pupils in whose name, class or id every word occurs."""
        found = self
        for word in words.split()[:6]:
            found = found.filter(Q(name__icontains=word) | Q(group__icontains=word) | Q(pupil_id__istartswith=word))
        return found


class Pupil(models.Model):
    """`needs_wrap` and `needs_kind` say which horn is wanted. They are about the horn: never why, nothing of health."""

    class NeedsWrap(models.TextChoices):
        ANY = "", "any"
        COMPACT = "compact", "compact"

    class NeedsKind(models.TextChoices):
        ANY = "", "single or double"
        SINGLE = "single", "single"
        DOUBLE = "double", "double"

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="pupils")
    name = models.CharField("name used in school", max_length=120)
    pupil_id = models.CharField(
        "school's own pupil id",
        max_length=40,
        blank=True,
        help_text="The school's own opaque number; never a national one.",
    )
    year = models.CharField("year", max_length=20, blank=True)
    group = models.CharField("class or ensemble", max_length=60, blank=True)
    guardians = models.ManyToManyField(Guardian, related_name="pupils", blank=True)
    needs_wrap = models.CharField("wrap of the horn", max_length=8, blank=True, choices=NeedsWrap, default="")
    needs_kind = models.CharField("kind of horn", max_length=8, blank=True, choices=NeedsKind, default="")
    left_on = models.DateField("left on", null=True, blank=True)

    objects = PupilQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school", "pupil_id"],
                name="pupil_id_unique",
                condition=~Q(pupil_id=""),
                violation_error_message="A pupil with this id is already on record.",
            ),
            models.CheckConstraint(condition=Q(needs_wrap__in=["", "compact"]), name="needs_wrap_known"),
            models.CheckConstraint(condition=Q(needs_kind__in=["", "single", "double"]), name="needs_kind_known"),
        ]
        indexes = [models.Index(fields=["school", "name", "id"], name="pupil_by_name")]

    def __str__(self) -> str:
        return self.name

    @property
    def described(self) -> str:
        """The name with year and class, as it stands in lists where names may repeat."""
        year = f"year {self.year}" if self.year.isdigit() else self.year
        return ", ".join(part for part in (self.name, year, self.group) if part)


class Opening(models.Model):
    """Who of the staff opened the page of a pupil or a guardian, or took a list along as a file or on paper, and when.

    Written by the pages, read by heads.
    """

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="openings")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    page = models.CharField(max_length=40)
    pupil = models.ForeignKey(Pupil, on_delete=models.CASCADE, null=True, related_name="openings")
    guardian = models.ForeignKey(Guardian, on_delete=models.CASCADE, null=True, related_name="openings")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pupil=None) | Q(guardian=None),
                name="opening_of_one_person_or_all",
            ),
        ]
        indexes = [models.Index(fields=["school", "-at"], name="opening_by_time")]
        ordering = ["-at", "-pk"]
