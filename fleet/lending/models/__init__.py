"""The rows of lending."""

from fleet.lending.models.accessories import LoanAccessory, LoanAccessoryQuerySet
from fleet.lending.models.agreements import Agreement
from fleet.lending.models.asks import FamilyAsk, FamilyAskQuerySet
from fleet.lending.models.charges import Charge, ChargeQuerySet
from fleet.lending.models.loans import Ended, Loan, LoanQuerySet
from fleet.lending.models.past_loans import PastLoan
from fleet.lending.models.periods import LoanPeriod
from fleet.lending.models.returns import ReturnNote, ReturnNoteQuerySet
from fleet.lending.models.wishes import Wish, WishQuerySet

__all__ = [
    "Agreement",
    "Charge",
    "ChargeQuerySet",
    "Ended",
    "FamilyAsk",
    "FamilyAskQuerySet",
    "Loan",
    "LoanAccessory",
    "LoanAccessoryQuerySet",
    "LoanPeriod",
    "LoanQuerySet",
    "PastLoan",
    "ReturnNote",
    "ReturnNoteQuerySet",
    "Wish",
    "WishQuerySet",
]
