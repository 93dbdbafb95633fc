"""What a loan sheet says: the same facts for a loan that is made and for one that waits for its signature.

Never a value or a price, an earlier player, a place or a note that staff made for themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.core.files import File
from django.utils import timezone

from fleet.ground.wording import day
from fleet.lending.models import Agreement, Ended, Loan
from fleet.people.models import Guardian, Pupil, School
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of, stand_in_words
from fleet.reports.queries.fingers import test_note
from fleet.signing.forms.batches import LoanBatch
from fleet.signing.forms.drafts import Draft, sheet_of_draft
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.queries.looking_after import CareTold, care_of


@dataclass(frozen=True, slots=True)
class Returned:
    """How a loan ended; of a lost horn nothing is said but that."""

    how: str
    on: str
    by: str
    missing: tuple[str, ...]
    grade: str
    mouthpiece: str
    instead: str = ""


@dataclass(frozen=True, slots=True)
class SheetFacts:
    school: School
    number: str
    label_code: str
    kind: str
    stands_in: str
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
    """Facts of a loan fetched with `WITH` and `ALSO`; no query."""
    periods, online = list(loan.periods.all()), getattr(loan, "online_signature", None)
    findings = [
        finding
        for finding in loan.found_at_issue
        if finding.mended_at is None or timezone.localdate(finding.mended_at) > loan.issued_on
    ]
    return _facts(
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
            (one.get_kind_display().capitalize(), f"{day(timezone.localdate(one.at))}, {one.by}")
            # The box has room for two lines below the issue.
            for one in periods[-2:]
        ),
        how_due=f", {periods[-1].get_kind_display()}" if periods else "",
        issued=f"{day(loan.issued_on)}, {loan.issued_by}",
        returned=_returned(loan),
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
    sheet = sheet_of_draft(draft, draft.horn, draft.form)
    return _facts(
        draft.horn,
        draft.pupil,
        said["guardian"],
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


def of_nobody(agreement: Agreement, today: date) -> SheetFacts:
    """Facts of a loan that nobody has, to show how an agreement prints. No query."""
    horn = Horn(
        school=agreement.school,
        number=f"{agreement.school.number_prefix}0000",
        label_code="SAMPLE22",
        build="double-full",
        stands_in="F",
    )
    return _facts(
        horn,
        Pupil(name="A pupil, as a sample", group="a class"),
        Guardian(name="A guardian"),
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
        entry.horn.school = batch.school
        sheets.append(
            _facts(
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


def _facts(
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
    how_due: str = "",
    sheet_code: str = "",
) -> SheetFacts:
    build = build_of(horn.build)
    note, fingerings = test_note(build, stands_in)
    year = f"year {pupil.year}" if pupil.year else ""
    return SheetFacts(
        school=horn.school,
        number=horn.number,
        label_code=horn.label_code,
        kind=horn.kind,
        stands_in=stand_in_words(stands_in),
        about=build.about if build else "",
        care=care_of(build),
        particulars=tuple(
            (label, words)
            for label, words in (
                ("Made by", " ".join(part for part in (horn.maker, horn.model) if part)),
                ("Serial number", horn.serial_number),
                ("Wrap, finish", ", ".join(filter(None, (horn.get_wrap_display(), horn.get_finish_display())))),
            )
            if words
        ),
        pupil=pupil.name,
        group=", ".join(part for part in (year, pupil.group) if part),
        guardian=guardian.name,
        due_on=day(due_on) + how_due + (f", in place of {in_place_of}" if in_place_of else ""),
        condition=(
            f"Grade {check.grade}: {check.get_grade_display()}. Finish: {check.get_finish_grade_display()}. "
            f"Checked {day(timezone.localdate(check.at))}."
            if check
            else "Nobody looked it over before it went out."
        ),
        was_checked=check is not None,
        findings=tuple(f"{finding} ({finding.get_severity_display()})" for finding in findings),
        accessories=accessories,
        test_note=note,
        fingerings=fingerings,
        agreement_version=agreement.version,
        agreement=agreement.in_full,
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


def _returned(loan: Loan) -> Returned | None:
    how = loan.ended_as
    if loan.returned_on is None or how is None:
        return None
    if how is Ended.LOST:
        return Returned("Lost", day(loan.returned_on), str(loan.returned_to), (), "", "")
    check = loan.check_at_return
    cleaned = loan.mouthpiece_cleaned_on
    return Returned(
        how="Swapped" if how is Ended.SWAPPED else "Came back",
        instead=loan.goes_on_as.horn.number if loan.goes_on_as else "",
        on=day(loan.returned_on),
        by=str(loan.returned_to),
        missing=tuple(thing.in_words for thing in loan.accessories.all() if thing.came_back is False),
        grade=f"{check.grade}, {check.get_grade_display()}" if check else "",
        mouthpiece=f"{day(cleaned)}, {loan.mouthpiece_cleaned_by}" if cleaned else "not cleaned yet",
    )
