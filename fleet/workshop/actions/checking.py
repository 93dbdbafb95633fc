"""Keeping a condition check. One transaction that locks the horn's row first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.ground.wording import spoken_time
from fleet.people.models import User
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.actions.mending import mend, opened, still_kept
from fleet.workshop.models import CheckPhotograph, ConditionCheck, Finding, RepairJob
from fleet.workshop.models.faults import WEIGHT, Fault, catalogue, grade_of
from fleet.workshop.models.fitted import places
from fleet.workshop.models.measures import MOST_OF_ONE
from fleet.workshop.queries.condition import latest_check, open_findings


@dataclass(frozen=True, slots=True)
class Found:
    """One fault seen at a check, by its code in the catalogue."""

    fault: str
    severity: str
    note: str = ""
    # Which of the horn's valves or slides have it, by the codes of `fitted.places`.
    places: tuple[str, ...] = ()
    # How many, and what was measured, where the catalogue asks for it.
    number: int | None = None
    measured: Decimal | None = None


@dataclass(frozen=True, slots=True)
class PictureTaken:
    """A picture drawn anew (`fleet.ground.pictures.redrawn`), ready to be kept; sizes in pixels."""

    image: ContentFile[bytes]
    width: int
    height: int
    caption: str = ""
    # The code of the fault that it shows, which must be found at the same check.
    fault: str = ""


@transaction.atomic
def log_check(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    occasion: str,
    finish_grade: int,
    found: Sequence[Found],
    notes: str = "",
    pictures: Sequence[PictureTaken] = (),
    seen: str = "",
    sent_as: UUID | None = None,
    received_at: datetime | None = None,
) -> ConditionCheck:
    """Keeps a look over the horn and moves its grade to the worst finding.

    A check sent again under the same `sent_as` gives the one that is kept. One that arrives late, `at` before the
    newest check, goes into the horn's story and moves nothing: the newest look holds. `seen` names the check that who
    looked knew of, by its number (0 for none) or by the id it was sent under: refused where another is the newest by
    now. `received_at` is when the site had it, where that was later.

    Findings that must be mended before a loan open the horn's repair job or join the open one, and so do
    lesser ones whose fault is on that job already. A fault known from an earlier check and not among `found`
    counts as gone from now on. Raises Refused for a withdrawn horn, for findings the catalogue does not know, for a
    place the horn does not have, and for another check under an id that is taken.
    """
    horn = locked(horn)
    there = sent_before(sent_as, by)
    if there is not None:
        if _same(there, horn, occasion, finish_grade, found, notes, pictures):
            return there
        raise Refused(
            _s(
                "A check of %(horn)s was saved from this page at %(at)s, and it was not the same as this "
                "one. Save again to keep this one too."
            )
            % {"horn": there.horn, "at": spoken_time(there.at)}
        )
    still_kept(horn)
    if seen:
        at = _after_what_was_seen(horn, seen, at)
    known = list(Finding.objects.filter(check_made__horn=horn, mended_at=None))
    _sound(found, horn, known)
    if {picture.fault for picture in pictures} - {"", *(one.fault for one in found)}:
        raise Refused(
            _s("A picture shows a fault that is not ticked. Tick it, or take the picture for the whole horn.")
        )
    check = ConditionCheck.objects.create(
        horn=horn,
        by=by,
        at=at,
        occasion=occasion,
        grade=grade_of(one.severity for one in found),
        finish_grade=finish_grade,
        notes=notes,
        sent_as=sent_as,
        received_at=received_at,
    )
    _attach(check, pictures)
    if horn.checks.filter(at__gt=at).exists():
        _late(check, found)
        keep([horn])
        return check
    # Looked at before a repair that is done, and sent after it: what was mended since is mended.
    mended = dict(Finding.objects.filter(check_made__horn=horn, mended_at__gt=at).values_list("fault", "mended_at"))
    mend(horn, {one.fault for one in known} - {one.fault for one in found}, at)

    job = horn.jobs.filter(closed_at=None).first()
    joining = {one.fault for one in known if job is not None and one.job_id == job.pk}
    joining |= {one.fault for one in found if WEIGHT[one.severity] >= WEIGHT["r"]}
    joining &= {one.fault for one in found} - mended.keys()
    if joining and job is None:
        job = opened(horn, by, at, words="opened by a condition check")
    Finding.objects.bulk_create(
        _finding(check, one, mended.get(one.fault), job if one.fault in joining else None) for one in found
    )
    keep([horn])
    return check


@transaction.atomic
def check_as_before(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    occasion: str,
    seen: int | str,
    sent_as: UUID | None = None,
    received_at: datetime | None = None,
) -> ConditionCheck:
    """A look that found the horn just as the check that was `seen` left it, named as `log_check` says.

    Raises Refused when the horn was never checked or has been checked again since, and as `log_check` does.
    """
    horn = locked(horn)
    there = sent_before(sent_as, by)
    if there is not None and there.horn_id == horn.pk:
        return there
    last = latest_check(horn)
    if last is None:
        raise _seen_otherwise(horn, last)
    found = [found_again(one) for one in open_findings(horn)]
    how: dict[str, Any] = {"occasion": occasion, "seen": str(seen), "sent_as": sent_as, "received_at": received_at}
    return log_check(horn=horn, by=by, at=at, finish_grade=last.finish_grade, found=found, **how)


@transaction.atomic
def check_all_fine(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    occasion: str,
    seen: int | str,
    finish_grade: int | None = None,
    sent_as: UUID | None = None,
    received_at: datetime | None = None,
) -> ConditionCheck:
    """A look that found nothing wrong any more; what was known from the check that was `seen` is gone. The finish is as
    that check has it, unless it is said.

    Raises Refused when the horn has been checked again since, when nobody ever said how its finish is, and as
    `log_check` does.
    """
    horn = locked(horn)
    there = sent_before(sent_as, by)
    if there is not None and there.horn_id == horn.pk:
        return there
    last = latest_check(horn)
    if not _is_seen(last, str(seen)):
        raise _seen_otherwise(horn, last)
    finish = finish_grade or (last.finish_grade if last else None)
    if finish is None:
        raise Refused(_s("%(horn)s has never been checked. Say how its finish is.") % {"horn": horn})
    how: dict[str, Any] = {"occasion": occasion, "seen": str(seen), "sent_as": sent_as, "received_at": received_at}
    return log_check(horn=horn, by=by, at=at, finish_grade=finish, found=[], **how)


def _is_seen(last: ConditionCheck | None, seen: str) -> bool:
    return seen in ({str(last.pk), str(last.sent_as or last.pk)} if last else {"0"})


def _after_what_was_seen(horn: Horn, seen: str, at: datetime) -> datetime:
    """When it was looked over: whoever saw a check looked after it, whatever the clocks say."""
    last = latest_check(horn)
    if not _is_seen(last, seen):
        raise _seen_otherwise(horn, last)
    return max(at, last.at) if last else at


def _seen_otherwise(horn: Horn, last: ConditionCheck | None) -> Refused:
    when = f"{last.by} checked {horn} at {spoken_time(last.at)}" if last else f"{horn} has never been checked"
    return Refused(
        _s("%(when)s: what it was like before is not what you saw. Look through the check below.") % {"when": when}
    )


def sent_before(sent_as: UUID | None, by: User) -> ConditionCheck | None:
    if sent_as is None:
        return None
    there = ConditionCheck.objects.select_related("horn").filter(sent_as=sent_as).first()
    if there is not None and there.by_id != by.pk:
        # No browser makes the same id twice: this one was copied. Nothing of the other check is told.
        raise Refused(_s("Open the page of this check again: it cannot be saved from here."))
    return there


def _same(
    there: ConditionCheck,
    horn: Horn,
    occasion: str,
    finish_grade: int,
    found: Sequence[Found],
    notes: str,
    pictures: Sequence[PictureTaken],
) -> bool:
    kept = (there.horn_id, there.occasion, there.finish_grade, there.notes, there.photographs.count())
    if kept != (horn.pk, occasion, finish_grade, notes, len(pictures)):
        return False
    return {found_again(one) for one in there.findings.all()} == set(found)


def found_again(known: Finding) -> Found:
    """What was found before, as it is found once more."""
    return Found(known.fault, known.severity, known.note, tuple(known.places), known.number, known.measured)


def _attach(check: ConditionCheck, pictures: Sequence[PictureTaken]) -> None:
    for picture in pictures:
        CheckPhotograph.objects.create(
            check_made=check,
            image=picture.image,
            width=picture.width,
            height=picture.height,
            caption=picture.caption,
            fault=picture.fault,
        )


def _late(check: ConditionCheck, found: Sequence[Found]) -> None:
    """The findings of a check older than the newest: what the newest look did not find is gone since then."""
    newer = ConditionCheck.objects.filter(horn=check.horn, at__gt=check.at).order_by("at", "pk")
    still = set(Finding.objects.filter(check_made__in=newer, mended_at=None).values_list("fault", flat=True))
    gone_at = newer[0].at
    Finding.objects.bulk_create(_finding(check, one, None if one.fault in still else gone_at) for one in found)


def _finding(check: ConditionCheck, one: Found, mended_at: datetime | None, job: RepairJob | None = None) -> Finding:
    return Finding(
        check_made=check,
        school_id=check.horn.school_id,
        fault=one.fault,
        places=list(one.places),
        number=one.number,
        measured=one.measured,
        severity=one.severity,
        note=one.note,
        mended_at=mended_at,
        job=job,
    )


def _sound(found: Sequence[Found], horn: Horn, before: Sequence[Finding]) -> None:
    known = catalogue().by_code
    # Found when the horn was taken for another build: it may stand, to be gone when somebody says so.
    said = {(one.fault, place) for one in before for place in one.places}
    if len({one.fault for one in found}) != len(found):
        raise Refused(_s("A fault stands on a check once."))
    for one in found:
        if one.fault not in known:
            raise Refused(_s("There is no fault %(fault)s in the catalogue.") % {"fault": f"{one.fault!r}"})
        if one.severity not in WEIGHT:
            raise Refused(_s("A severity is n, w, r or x, not %(severity)s.") % {"severity": f"{one.severity!r}"})
        if known[one.fault].finish and one.severity != "n":
            raise Refused(_s("Finish never stops a loan: it stays a note."))
        has = places(known[one.fault].at, horn)
        if any(place not in has and (one.fault, place) not in said for place in one.places):
            named = {"horn": horn, "fault": _s(known[one.fault].words)}
            raise Refused(_s("%(horn)s has no such place for “%(fault)s”.") % named)
        _measured(known[one.fault], one, before)


def _measured(fault: Fault, one: Found, before: Sequence[Finding]) -> None:
    """Refuses a figure that cannot be, unless an earlier catalogue took it and it is only said again."""
    if any((then.fault, then.number, then.measured) == (one.fault, one.number, one.measured) for then in before):
        return
    if one.number is not None and not (fault.counts and 1 <= one.number <= MOST_OF_ONE):
        told = {"most": MOST_OF_ONE, "fault": _s(fault.words)}
        raise Refused(_s("There can be 1 to %(most)s of “%(fault)s”, where they are counted at all.") % told)
    if one.measured is not None and not (fault.measure and fault.measure.takes(one.measured)):
        told = {"fault": _s(fault.words), "bounds": fault.measure.bounds if fault.measure else ""}
        of_none = _s("A measurement of “%(fault)s” is not asked for.")
        raise Refused((_s("A measurement of “%(fault)s” lies %(bounds)s.") if fault.measure else of_none) % told)
