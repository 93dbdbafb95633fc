"""The rows of who is who: schools with their holidays, accounts, posts, pupils, guardians."""

from fleet.people.models.accounts import Post, User, UserManager
from fleet.people.models.families import AddressChange, Guardian, Pupil, PupilQuerySet
from fleet.people.models.openings import Opening
from fleet.people.models.own_words import OwnWords
from fleet.people.models.school_year import Holiday
from fleet.people.models.schools import School

__all__ = [
    "AddressChange",
    "Guardian",
    "Holiday",
    "Opening",
    "OwnWords",
    "Post",
    "Pupil",
    "PupilQuerySet",
    "School",
    "User",
    "UserManager",
]
