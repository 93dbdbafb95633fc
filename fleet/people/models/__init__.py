"""The rows of who is who: schools, accounts, posts, pupils, guardians."""

from fleet.people.models.accounts import Post, User, UserManager
from fleet.people.models.families import AddressChange, Guardian, Pupil, PupilQuerySet
from fleet.people.models.openings import Opening
from fleet.people.models.schools import School

__all__ = [
    "AddressChange",
    "Guardian",
    "Opening",
    "Post",
    "Pupil",
    "PupilQuerySet",
    "School",
    "User",
    "UserManager",
]
