"""What a form says to a value it cannot take, where the framework's own sentences are stiff or say nothing to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

ANY_FIELD: dict[str, Any] = {
    "required": _("Please fill this in."),
    "max_length": _("Use at most %(limit_value)d characters; this has %(show_value)d."),
    "min_length": _("Use at least %(limit_value)d characters; this has %(show_value)d."),
    "min_value": _("Nothing below %(limit_value)s is possible here."),
    "max_value": _("Nothing above %(limit_value)s is possible here."),
    "max_digits": _("Use at most %(max)s figures in all."),
    "max_decimal_places": _("Use at most %(max)s figures after the point."),
    "max_whole_digits": _("Use at most %(max)s figures before the point."),
    "null_characters_not_allowed": _("This holds a character that cannot be kept. Type it anew."),
}
# The first kind that fits.
BY_KIND: tuple[tuple[type[forms.Field], dict[str, Any]], ...] = (
    (forms.EmailField, {"invalid": _("This is no e-mail address; one looks like name@example.org.")}),
    (
        forms.FileField,
        {"required": _("Choose a file."), "missing": _("Choose a file."), "empty": _("This file is empty.")},
    ),
    (forms.DateField, {"invalid": _("Write the day like 2027-06-30.")}),
    (forms.DecimalField, {"invalid": _("Write a number, like 12.50.")}),
    (forms.IntegerField, {"invalid": _("Write a whole number, like 14.")}),
    (forms.MultipleChoiceField, {"required": _("Choose at least one."), "invalid_choice": _("Choose from the list.")}),
    (forms.ChoiceField, {"required": _("Choose one."), "invalid_choice": _("Choose one from the list.")}),
    (
        forms.ModelChoiceField,
        {"required": _("Choose one."), "invalid_choice": _("This is there no more. Choose another.")},
    ),
)

TICKS = (forms.CheckboxInput, forms.CheckboxSelectMultiple, forms.SelectMultiple)
# What a browser says nothing of while nothing is chosen.
SILENT = (*TICKS, forms.RadioSelect, forms.FileInput)


class PlainSentences:
    """For a form, before `forms.Form` or `forms.ModelForm`: sentences that a field was given itself stay.

    A field that may be empty and was not sent at all stays as it was shown: only what is sent empty is emptied. A tick
    that is not set no browser sends, so it is what the fields beside it say: where none of them came, it stays too.
    """

    fields: dict[str, forms.Field]
    is_bound: bool

    def full_clean(self) -> None:
        if self.is_bound:
            say_plainly(self.fields.values())
            self._leave_what_was_not_sent()
        super().full_clean()  # type: ignore[misc]

    def _leave_what_was_not_sent(self: Any) -> None:
        sent = {name for name, field in self.fields.items() if _came(field, self, name)}
        ticks_said = sent or all(isinstance(field.widget, SILENT) for field in self.fields.values())
        for name, field in self.fields.items():
            unset = ticks_said and isinstance(field.widget, TICKS)
            if not (field.required or unset or name in sent):
                # The framework takes of such a field what was shown.
                field.disabled = self.get_initial_for_field(field, name) not in (None, "")


def _came(field: forms.Field, form: Any, name: str) -> bool:
    sent_as = form.add_prefix(name)
    if isinstance(field.widget, TICKS):
        return sent_as in form.data
    return not field.widget.value_omitted_from_data(form.data, form.files, sent_as)


def say_plainly(fields: Iterable[forms.Field]) -> None:
    """Give fields our sentences wherever they still have the framework's."""
    for field in fields:
        kind: dict[str, Any] = next((words for kind, words in BY_KIND if isinstance(field, kind)), {})
        for code, sentence in {**ANY_FIELD, **kind}.items():
            if _is_stock(field, code):
                field.error_messages[code] = sentence


def _is_stock(field: forms.Field, code: str) -> bool:
    said: Any = field.error_messages.get(code)
    if said is not None:
        # The framework hands on the very sentences of its classes; to compare their words would translate each.
        theirs = [vars(one) for one in type(field).__mro__ if one.__module__.startswith("django.")]
        return any(said is words.get("default_error_messages", {}).get(code) for words in theirs)
    validators: list[Any] = [one for one in field.validators if getattr(one, "code", None) == code]
    return all(one.message is type(one).message for one in validators)
