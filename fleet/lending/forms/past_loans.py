"""The fields of a past loan as people type them."""

from __future__ import annotations

from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.lending.models import PastLoan


class PastLoanForm(PlainSentences, RowForm[PastLoan]):
    """The fields of a past loan as people type them; only lists do so far."""

    class Meta:
        model = PastLoan
        fields = ["issued_on", "returned_on", "notes"]
