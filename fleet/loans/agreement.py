"""The words a guardian signs: the first text, the version in force, and how a new one comes about."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.loans.models import Agreement
from fleet.people.models import School, User
from fleet.refused import Refused

# What a school begins with. It promises nothing in law: the school's own rules decide what it leaves open.
FIRST_WORDS = """\
The school lends this horn to the pupil named above until the due date. It stays the school's.
We look after it: it goes back into its case when it is not played, it is carried and kept in the case, it is \
never left in a car or beside a heater, and nobody else plays it.
We clean and care for it as the sheet says. We repair nothing ourselves and let nobody else repair it. When \
something is wrong, or the horn is lost or stolen, we tell the school at once.
We bring it back on the due date, or earlier when the school asks or the pupil leaves, with everything listed.
Insurance, charges and what happens after damage or loss follow the school's own rules, which we have been given.\
"""


def current_agreement(school: School) -> Agreement:
    """The version in force; for a school that has kept none, the first text as an unsaved version 1. One query."""
    latest = Agreement.objects.filter(school=school).order_by("-version").first()
    return latest or Agreement(school=school, version=1, words=FIRST_WORDS)


def kept_version(school_id: int, version: int, at: datetime) -> Agreement | None:
    """The version in force when it has that number, else None. The first text is kept when it is first signed."""
    latest = Agreement.objects.filter(school_id=school_id).order_by("-version").first()
    if latest is None and version == 1:
        latest, _ = Agreement.objects.get_or_create(
            school_id=school_id, version=1, defaults={"words": FIRST_WORDS, "made_at": at, "made_by": None}
        )
    return latest if latest is not None and latest.version == version else None


@transaction.atomic
def write_version(*, school: School, words: str, seen: int, by: User, at: datetime) -> Agreement:
    """A new version beside the old ones, which stay as they were signed.

    `seen` is the version the new words were written from. Raises Refused when there are no words, when they
    are those in force, and when somebody has written a version since.
    """
    School.objects.select_for_update().get(pk=school.pk)
    words = "\n".join(line.rstrip() for line in words.strip().splitlines())
    latest = current_agreement(school)
    if not words:
        raise Refused("An agreement needs words.")
    if words == latest.words:
        raise Refused(f"These are the words of version {latest.version} already.")
    if latest.version != seen:
        raise Refused(
            f"Version {latest.version} was written while you were writing. Your words are still in the form; "
            "read the new version before you go on."
        )
    if latest.pk is None:
        # Sheets with the first text may lie with families already; it keeps its number.
        latest.made_at = at
        latest.save(force_insert=True)
    return Agreement.objects.create(school=school, version=latest.version + 1, words=words, made_at=at, made_by=by)
