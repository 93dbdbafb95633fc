"""Accounts of people who sign in, and the posts they hold at schools."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower, Now
from django.utils import timezone
from django.utils.crypto import salted_hmac

from fleet.ground.languages.known import choices
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models.schools import School


class UserManager(BaseUserManager["User"]):
    def of_address(self, email: str) -> User | None:
        """The account of an address, in whichever letters it is written. One query."""
        return self.filter(email__iexact=email).first()

    def create_user(self, email: str, password: str | None = None, **fields: object) -> User:
        """An account; without a password it can sign in by e-mailed code only."""
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser, PermissionsMixin):
    """A person who signs in. What they may do comes from their posts and from the pupils they answer for."""

    email = models.EmailField(_s_lazy("e-mail"), max_length=254, unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    created = models.DateTimeField(auto_now_add=True)
    # In which they read the pages of staff; empty for the school’s own, where that is switched on.
    language = models.CharField(max_length=8, blank=True, choices=choices, default="", db_default="")
    # When the person signed out everywhere.
    sessions_ended = models.DateTimeField(null=True, blank=True, editable=False)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects = UserManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                name="user_email_unique",
                violation_error_message=_s_lazy("There is already an account with this e-mail address."),
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """What a session must know to be good: another one after the person signed out everywhere."""
        known: str = super()._get_session_auth_hash(secret)  # type: ignore[misc]
        if self.sessions_ended is None:
            return known
        return salted_hmac("sessions_ended", f"{known} {self.sessions_ended.timestamp()}", secret=secret).hexdigest()

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class Post(models.Model):
    """What a person is at one school."""

    class Role(models.TextChoices):
        HEAD = "head", _s_lazy("department head")
        TEACHER = "teacher", _s_lazy("teacher")
        TECHNICIAN = "technician", _s_lazy("technician")
        SERVICE = "service", _s_lazy("service head")

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="posts")
    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="posts")
    role = models.CharField(max_length=12, choices=Role)
    # Since when in this role.
    since = models.DateTimeField(default=timezone.now, db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "school"],
                name="one_post_a_school",
                violation_error_message=_s_lazy("This person already has a post at this school."),
            ),
            models.CheckConstraint(
                condition=Q(role__in=["head", "teacher", "technician", "service"]), name="post_role_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display()}"
