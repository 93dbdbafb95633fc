"""Everything a family signed, was sent and has to pay, and the rest that is on record of it, for its own page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import cast

from django.db.models import Q, QuerySet
from django.http import HttpRequest

from fleet.desk.queries.family import only_families, own_every_loan, own_signatures
from fleet.ground.languages.known import KNOWN
from fleet.lending.models import FamilyAsk, Loan
from fleet.letters.models import Letter
from fleet.people.models import Pupil, User
from fleet.signing.models import OnlineSignature, SignedSheet
from fleet.workshop.models import FaultReport


@dataclass(slots=True)
class LoanPapers:
    """A loan with its papers; `language` is the name of that in which it was signed."""

    loan: Loan
    language: str
    signature: OnlineSignature | None = None
    sheets: list[SignedSheet] = field(default_factory=list)
    letters: list[Letter] = field(default_factory=list)


def own_letters(request: HttpRequest) -> QuerySet[Letter]:
    """What was written to this account, for pupils it still answers for."""
    user = only_families(request)
    pupils = Pupil.objects.answered_for_by(user).values("pk")
    about = Q(loan__pupil__in=pupils) | Q(signature__pupil__in=pupils)
    return Letter.objects.filter(about, guardian__user=user).exclude(words="")


def signed_by(request: HttpRequest, loans: QuerySet[Loan]) -> QuerySet[SignedSheet]:
    """What this account's own guardian signed on paper of these loans, which are its family's: the other one's hand is
    shown to nobody but the school."""
    signed = SignedSheet.objects.filter(loan__guardian__user=cast(User, request.user), loan__in=loans.values("pk"))
    return signed.select_related("loan__horn")


def papers_of(request: HttpRequest) -> tuple[list[LoanPapers], list[OnlineSignature], list[Letter]]:
    """(each loan with its papers, what was put before them and became no loan, letters about that)."""
    loans = own_every_loan(request).select_related("horn__school", "pupil").prefetch_related("charges")
    found = {loan.pk: LoanPapers(loan, _named(loan.language)) for loan in loans.order_by("-issued_on", "-pk")}
    alone, others = [], []
    for signature in own_signatures(request).filter(withdrawn_at=None):
        if signature.loan_id in found:
            found[signature.loan_id].signature = signature
        else:
            alone.append(signature)
    for sheet in signed_by(request, loans):
        found[sheet.loan_id].sheets.append(sheet)
    for letter in own_letters(request).order_by("made_at", "pk"):
        if letter.loan_id in found:
            found[letter.loan_id].letters.append(letter)
        else:
            others.append(letter)
    return list(found.values()), alone, others


def _named(code: str) -> str:
    return KNOWN[code].name if code in KNOWN else ""


def own_words(request: HttpRequest) -> tuple[Iterable[FaultReport], Iterable[FamilyAsk]]:
    """What this person told the school themselves."""
    user = only_families(request)
    reports = FaultReport.objects.filter(by=user).select_related("horn")
    return reports, FamilyAsk.objects.filter(by=user).select_related("loan__horn")
