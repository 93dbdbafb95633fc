"""Forms of what goes to a repairer and comes from one: an order by e-mail, an invoice."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import PaperField, amount
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import School


class OrderForm(PlainSentences, forms.Form):
    address = forms.EmailField(
        label=_s_lazy("The repairer’s e-mail"),
        max_length=254,
        error_messages={
            "required": _s_lazy("Say where the order goes."),
            "invalid": _s_lazy("Write one address, like ann@example.org."),
        },
    )
    words = forms.CharField(
        label=_s_lazy("A word to the repairer"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_s_lazy("Goes into the e-mail as it stands, without any name of a pupil. It is not kept."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def go_on_from(self, seen: int) -> None:
        """Sending once more is then a decision taken with what stands now in view."""
        self.data = {**self.data.dict(), "seen": seen}  # type: ignore[attr-defined]


class InvoiceForm(PlainSentences, forms.Form):
    number = forms.CharField(label=_s_lazy("Its number"), max_length=60, required=False)
    amount = amount(_s_lazy("An invoice cannot be over less than nothing."))
    file = PaperField(
        label=_s_lazy("The invoice itself"),
        required=False,
        help_text=_s_lazy(
            "A photograph (JPEG, PNG or WebP) or a PDF. Place and time hidden in a photograph are taken out."
        ),
    )

    field_order = ["amount", "number", "file"]

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = _s("Sum in %(currency)s") % {"currency": school.currency}
        self.fields["amount"].required = True
        self.fields["amount"].error_messages["required"] = _s("Say what it comes to.")


class InvoicePressedForm(PlainSentences, forms.Form):
    """The button beside an invoice that was kept by mistake."""

    remove = forms.IntegerField(error_messages={"invalid": _s_lazy("Press one of the buttons.")})
