"""How a version of the agreement comes about, and how the first one is kept."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import FIRST_WORDS, current_agreement
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.files import save_with


def kept_version(school_id: int, version: int, at: datetime, *, earlier: bool = False) -> Agreement | None:
    """The version in force when it has that number, else None; with `earlier` one before it, too. The first text is
    kept when it is first signed."""
    latest = Agreement.objects.filter(school_id=school_id).order_by("-version").first()
    if latest is None and version == 1:
        latest, _ = Agreement.objects.get_or_create(
            school_id=school_id, version=1, defaults={"words": FIRST_WORDS, "made_at": at, "made_by": None}
        )
    if latest is not None and latest.version != version:
        return Agreement.objects.filter(school_id=school_id, version=version).first() if earlier else None
    return latest


@transaction.atomic
def write_version(
    *,
    school: School,
    words: str,
    seen: int,
    by: User,
    at: datetime,
    own: tuple[ContentFile[bytes], int] | None = None,
    without_own: bool = False,
    in_languages: Mapping[str, str] | None = None,
) -> Agreement:
    """A new version beside the old ones, which stay as they were signed.

    `words` are in the school's own language, `in_languages` the same in others by their codes: a version that lacks
    one is shown as it is. `seen` is the version the new words were written from. `own` is the school's own agreement
    and its pages, as `fleet.ground.files.pdfs.kept_pdf` gives them; without one that of the version before comes
    along, unless `without_own`. Raises Refused when there are no words, when nothing is new, and when somebody has
    written a version since.
    """
    locked_school(school.pk)
    words = _tidy(words)
    others = {code: said for code, one in (in_languages or {}).items() if (said := _tidy(one))}
    latest = current_agreement(school)
    if not words:
        raise Refused(_s("An agreement needs words."))
    same = (words, others) == (latest.words, latest.in_languages)
    if same and own is None and not (without_own and latest.own):
        raise Refused(_s("These are the words of version %(version)s already.") % {"version": latest.version})
    if latest.version != seen:
        raise Refused(
            _s(
                "Version %(version)s was written while you were writing. Your words are still in the form; "
                "read the new version before you go on."
            )
            % {"version": latest.version}
        )
    if latest.pk is None:
        # Sheets with the first text may lie with families already; it keeps its number.
        latest.made_at = at
        latest.save(force_insert=True)
    new = Agreement(school=school, version=latest.version + 1, words=words, made_at=at, made_by=by)
    new.in_languages = others
    if own is None and not without_own and latest.own:
        own = _again(latest)
    told = [["version", str(latest.version), str(new.version)]]
    if own is not None or latest.own:
        told.append(["pages of the school’s own", str(latest.own_pages), str(own[1] if own else 0)])
    if others or latest.in_languages:
        told.append(
            ["languages besides the school’s own", *(", ".join(sorted(one)) for one in (latest.in_languages, others))]
        )
    record(deed=Deed.AGREEMENT_WRITTEN, school=school, by=by, at=at, told=told)
    if own is None:
        new.save()
    else:
        file, new.own_pages = own
        save_with(new.own, file)
    return new


def _tidy(words: str) -> str:
    return "\n".join(line.rstrip() for line in words.strip().splitlines())


def _again(latest: Agreement) -> tuple[ContentFile[bytes], int]:
    """Its PDF once more, for a version of its own."""
    try:
        with latest.own.open("rb") as kept:
            return ContentFile(kept.read(), name=f"{secrets.token_hex(12)}.pdf"), latest.own_pages
    except OSError as gone:
        raise Refused(
            _s("The PDF of version %(version)s is gone. Attach it again.") % {"version": latest.version}
        ) from gone
