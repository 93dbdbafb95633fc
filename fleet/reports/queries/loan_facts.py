"""What a loan sheet says: the same facts for a loan that is made and for one that waits for its signature, each in
the language of its family.

Never a value or a price, an earlier player, a place or a note that staff made for themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.files import File
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext

from fleet.ground.wording import day, with_commas
from fleet.lending.models import Agreement, Loan, LoanPeriod
from fleet.people.models import Guardian, Pupil, School
from fleet.people.queries.own_words import speaking
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of, kind_and_stand
from fleet.reports.queries.fingers import test_note
from fleet.reports.queries.loan_ends import Returned, condition_in_words, returned
from fleet.signing.forms.batches import LoanBatch
from fleet.signing.forms.drafts import Draft, sheet_of_draft
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.queries.looking_after import CareTold, care_of


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """`language` is the family's, in which all of it is; the agreement stands in the school's own beside it where that
    is another."""

    school: School
    language: str
    number: str
    label_code: str
    kind: str
    about: str
    care: CareTold
    particulars: tuple[tuple[str, str], ...]
    pupil: str
    group: str
    guardian: str
    due_on: str
    condition: str
    was_checked: bool
    findings: tuple[str, ...]
    accessories: tuple[tuple[str, bool | None], ...]
    test_note: str
    fingerings: tuple[tuple[str, str], ...]
    agreement_version: int
    agreement: str
    agreement_beside: str
    signed_on: str
    issued: str
    returned: Returned | None
    signed_as: str = ""
    signer: str = ""
    agreed_for: str = ""
    moved: tuple[tuple[str, str], ...] = ()
    # The school's own agreement, to be laid behind the sheet.
    own: File[bytes] | None = None
    # "" where there is no loan yet and the sheet is only looked at.
    sheet_code: str = ""


def of_loan(loan: Loan) -> SheetFacts:
    """Facts of a loan fetched with `WITH` and `ALSO`, in the language in which it was signed; no query."""
    loan.guardian.school = loan.horn.school
    language = loan.language if loan.language in loan.horn.school.languages else loan.guardian.speaks
    with speaking(loan.horn.school, language):
        return _of_loan(loan, language)


def _of_loan(loan: Loan, language: str) -> SheetFacts:
    periods, online = list(loan.periods.all()), getattr(loan, "online_signature", None)
    findings = [
        finding
        for finding in loan.found_at_issue
        if finding.mended_at is None or timezone.localdate(finding.mended_at) > loan.issued_on
    ]
    return _facts(
        language,
        loan.horn,
        loan.pupil,
        loan.guardian,
        loan.agreement,
        loan.check_at_issue,
        findings,
        due_on=loan.due_on,
        stands_in=loan.stands_in or loan.horn.stands_in,
        accessories=tuple((thing.name, thing.came_back) for thing in loan.accessories.all()),
        in_place_of=loan.in_place_of.horn.number if loan.in_place_of else "",
        signed_on=day(loan.signed_on) if loan.signed_on else "",
        signed_as=online.signed_as if online else "",
        signer=online.signer if online else "",
        moved=tuple(
            (capfirst(gettext(one.get_kind_display())), with_commas((day(timezone.localdate(one.at)), one.by)))
            # The box has room for two lines below the issue.
            for one in periods[-2:]
        ),
        moved_last=periods[-1].kind if periods else "",
        issued=with_commas((day(loan.issued_on), loan.issued_by)),
        returned=returned(loan),
        sheet_code=loan.sheet_code or "",
    )


WITH = (
    "horn__school",
    "in_place_of__horn",
    "replaced_by__horn",
    "online_signature__signed_by",
    "online_signature__asked_by",
    "pupil",
    "guardian",
    "agreement",
    "issued_by",
    "returned_to",
    "mouthpiece_cleaned_by",
    "check_at_issue",
    "check_at_return",
)
# What loans fetch besides, so that the facts of many need no query each.
ALSO = ("accessories", "check_at_issue__findings", "periods__by")


def of_draft(draft: Draft, findings: Iterable[Finding]) -> SheetFacts:
    """Facts of a loan that is not made yet. The draft is whole, and its horn has been checked. One query."""
    if (
        draft.horn is None
        or draft.pupil is None
        or draft.form is None
        or draft.check is None
        or draft.agreement is None
    ):
        raise ValueError("The draft is not whole.")
    said = draft.form.cleaned_data
    guardian = said["guardian"]
    guardian.school = draft.horn.school
    sheet = sheet_of_draft(draft, draft.horn, draft.form)
    return _facts(
        guardian.speaks,
        draft.horn,
        draft.pupil,
        guardian,
        draft.agreement,
        draft.check,
        findings,
        due_on=said["due_on"],
        stands_in=draft.horn.stands_in,
        accessories=tuple((name, None) for name in draft.form.along()),
        signed_on="",
        issued="",
        returned=None,
        sheet_code=(sheet.sheet_code or "") if sheet is not None else "",
    )


def of_nobody(agreement: Agreement, today: date, language: str) -> SheetFacts:
    """Facts of a loan that nobody has, to show how an agreement prints for families of that language. No query."""
    horn = Horn(
        school=agreement.school,
        number=f"{agreement.school.number_prefix}0000",
        label_code="SAMPLE22",
        build="double-full",
        stands_in="F",
    )
    with speaking(horn.school, language):
        pupil = Pupil(name=gettext("A pupil, as a sample"), group=gettext("a class"))
        guardian = Guardian(name=gettext("A guardian"))
    return _facts(
        language,
        horn,
        pupil,
        guardian,
        agreement,
        None,
        (),
        due_on=today,
        stands_in=horn.stands_in,
        accessories=(("mouthpiece", None), ("case", None)),
        signed_on="",
        issued="",
        returned=None,
    )


def of_batch(batch: LoanBatch, findings: Mapping[int, list[Finding]]) -> list[SheetFacts]:
    """Facts of every loan of a batch that waits for nothing but the signature. `findings` are by horn."""
    sheets = []
    for entry in batch.ready:
        if entry.guardian is None or entry.check is None:
            raise ValueError("The entry is not ready.")
        entry.horn.school = entry.guardian.school = batch.school
        sheets.append(
            _facts(
                entry.guardian.speaks,
                entry.horn,
                entry.pupil,
                entry.guardian,
                batch.agreement,
                entry.check,
                findings.get(entry.horn.pk, []),
                due_on=batch.form.cleaned_data["due_on"],
                stands_in=entry.horn.stands_in,
                accessories=tuple((name, None) for name in batch.form.along()),
                signed_on="",
                issued="",
                returned=None,
                sheet_code=(entry.sheet.sheet_code or "") if entry.sheet and not entry.sheet_differs else "",
            )
        )
    return sheets


def _facts(language: str, horn: Horn, *of: Any, **how: Any) -> SheetFacts:
    with speaking(horn.school, language):
        return _said(language, horn, *of, **how)


def _due(due_on: date, moved_last: str) -> str:
    said: dict[str, str] = {
        LoanPeriod.Kind.RENEWED: gettext("%(day)s, renewed"),
        LoanPeriod.Kind.RECALLED: gettext("%(day)s, recalled"),
    }
    return said.get(moved_last, "%(day)s") % {"day": day(due_on)}


def _said(
    language: str,
    horn: Horn,
    pupil: Pupil,
    guardian: Guardian,
    agreement: Agreement,
    check: ConditionCheck | None,
    findings: Iterable[Finding],
    *,
    due_on: date,
    stands_in: str,
    accessories: tuple[tuple[str, bool | None], ...],
    in_place_of: str = "",
    signed_on: str,
    issued: str,
    returned: Returned | None,
    signed_as: str = "",
    signer: str = "",
    moved: tuple[tuple[str, str], ...] = (),
    moved_last: str = "",
    sheet_code: str = "",
) -> SheetFacts:
    build, due = build_of(horn.build), _due(due_on, moved_last)
    note, fingerings = test_note(build, stands_in, horn.school.note_names)
    with speaking(horn.school, horn.school.language):
        beside = agreement.in_full
    return SheetFacts(
        school=horn.school,
        language=language,
        number=horn.number,
        label_code=horn.label_code,
        kind=kind_and_stand(horn.build, stands_in),
        about=gettext(build.about) if build else "",
        care=care_of(build),
        particulars=tuple(
            (label, words)
            for label, words in (
                (gettext("Made by"), horn.made),
                (gettext("Serial number"), horn.serial_number),
                (
                    gettext("Wrap, finish"),
                    with_commas(
                        (
                            gettext(horn.get_wrap_display()) if horn.wrap else gettext("wrap not looked at"),
                            gettext(horn.get_finish_display()) if horn.finish else "",
                        )
                    ),
                ),
            )
            if words
        ),
        pupil=pupil.name,
        group=pupil.class_in_words,
        guardian=guardian.name,
        due_on=gettext("%(due)s, in place of %(horn)s") % {"due": due, "horn": in_place_of} if in_place_of else due,
        condition=condition_in_words(check),
        was_checked=check is not None,
        findings=tuple(f"{finding} ({gettext(finding.get_severity_display())})" for finding in findings),
        accessories=tuple((gettext(name), back) for name, back in accessories),
        test_note=note,
        fingerings=fingerings,
        agreement_version=agreement.version,
        agreement=agreement.in_full,
        agreement_beside=beside if language != horn.school.language and beside != agreement.in_full else "",
        own=agreement.own or None,
        signed_on=signed_on,
        agreed_for=in_place_of,
        issued=issued,
        returned=returned,
        signed_as=signed_as,
        signer=signer,
        moved=moved,
        sheet_code=sheet_code,
    )
