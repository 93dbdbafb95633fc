"""The fields of a past loan as people type them."""

from __future__ import annotations

from django import forms

from fleet.ground.sentences import PlainSentences
from fleet.lending.models import PastLoan


class PastLoanForm(PlainSentences, forms.ModelForm):
    """The fields of a past loan as people type them; only lists do so far."""

    class Meta:
        model = PastLoan
        fields = ["issued_on", "returned_on", "notes"]
