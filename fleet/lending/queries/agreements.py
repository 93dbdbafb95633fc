"""The words a guardian signs: the first text and the version in force."""

from __future__ import annotations

from django.utils.translation import gettext_noop

from fleet.lending.models import Agreement
from fleet.people.models import School

# What a school begins with. It promises nothing in law: the school's own rules decide what it leaves open.
FIRST_WORDS = gettext_noop("""\
The school lends this horn to the pupil named above until the due date. It stays the school’s.
We look after it: it goes back into its case when it is not played, it is carried and kept in the case, it is \
never left in a car or beside a heater, and nobody else plays it.
We clean and care for it as the sheet says. We repair nothing ourselves and let nobody else repair it. When \
something is wrong, or the horn is lost or stolen, we tell the school at once.
We bring it back on the due date, or earlier when the school asks or the pupil leaves, with everything listed.
Insurance, charges and what happens after damage or loss follow the school’s own rules, which we have been given.\
""")


def current_agreement(school: School) -> Agreement:
    """The version in force; for a school that has kept none, the first text as an unsaved version 1. One query."""
    latest = Agreement.objects.filter(school=school).order_by("-version").first()
    return latest or Agreement(school=school, version=1, words=FIRST_WORDS)
