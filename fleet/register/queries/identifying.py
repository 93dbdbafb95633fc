"""What a school's horns were identified as, and where two identifications of a horn disagree."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.paging import ByKey, fetched, statement
from fleet.ground.wording import day, with_article
from fleet.people.models import School
from fleet.register.models import Horn, Identification
from fleet.register.models.kinds import kind_in_english, kind_in_words, stand_in_words

# More say no more of what is common, and a school that has more is not asked for them at every step of a walk.
ENOUGH = 1_000
# Each step of a walk asks for the horn in hand.
_AS_IDENTIFIED = ByKey(Horn.objects.all(), "number", "build", "stands_in", by=("school", "pk"))


def as_identified(school: School, key: int) -> Horn | None:
    """A horn of the school by its key, with its number and what it is taken for alone. One query."""
    return next(iter(_AS_IDENTIFIED([school.pk], [key])), None)


def confirmed_mix(school: School, *, besides: int = 0) -> dict[str, int]:
    """How many of the school's kept horns were found to be of each build, of the newest that teach. One query.

    The one in hand (its key `besides`) does not count, so that a horn does not speak for itself.
    """
    # Each step of a walk asks it: put together once, whatever the school and the horn, which it is given in this order.
    newest, _ = statement(
        lambda: Horn.objects.filter(school=0).teaching().exclude(pk=0).order_by("-pk").values("build"), like="teaching"
    )
    counted = f"SELECT build, count(*) FROM ({newest} LIMIT {ENOUGH}) AS newest GROUP BY build"  # noqa: S608
    return dict(fetched(counted, [school.pk, besides]))


def disagreement(horn: Horn, findings: Iterable[Identification]) -> str | None:
    """The question that findings on a horn, the newest first, leave open, or None: one query at most.

    It goes away when somebody looks again and confirms the latest finding.
    """
    latest, *before = list(findings) or (None,)
    if latest is None:
        return None
    if horn.build != latest.build:
        said = _s("%(latest)s. The register says nothing. Which is right?")
        if horn.build:
            said = _s("%(latest)s. The register says %(says)s. Which is right?")
        return said % {"latest": capfirst(_found(latest)), "says": kind_in_words(horn.build)}
    if not before:
        return None
    earlier = before[0]
    if earlier.build != latest.build:
        return _s("%(earlier)s; %(latest)s. Which is right?") % {
            "earlier": capfirst(_found(earlier)),
            "latest": _found(latest),
        }
    if earlier.stands_in != latest.stands_in:
        between = horn.stand_changes.filter(at__gte=earlier.at, at__lte=latest.at)
        if not between.exists():
            stood, stands = stand_in_words(earlier.stands_in), stand_in_words(latest.stands_in)
            return _s(
                "%(at)s it stood in %(stood)s, %(later)s in %(stands)s, and nobody recorded a restringing. "
                "Sound the test note again."
            ) % {"at": capfirst(_day(earlier.at)), "stood": stood, "later": _day(latest.at), "stands": stands}
    return None


def _day(at: datetime) -> str:
    return _s("on %(at)s") % {"at": day(timezone.localtime(at))}


def _found(finding: Identification) -> str:
    said = _s("%(on_a_day)s %(person)s found %(kind)s")
    if finding.stands_in:
        said = _s("%(on_a_day)s %(person)s found %(kind)s, standing in %(key)s")
    return said % {
        "on_a_day": _day(finding.at),
        "person": finding.by,
        "kind": _s(with_article(kind_in_english(finding.build))),
        "key": stand_in_words(finding.stands_in),
    }
