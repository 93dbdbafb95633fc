"""What a form says to a value it cannot take, where the framework's own sentences are stiff or say nothing to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

ANY_FIELD = {
    "required": "Please fill this in.",
    "max_length": "Use at most %(limit_value)d characters; this has %(show_value)d.",
    "min_length": "Use at least %(limit_value)d characters; this has %(show_value)d.",
    "min_value": "Nothing below %(limit_value)s is possible here.",
    "max_value": "Nothing above %(limit_value)s is possible here.",
    "max_digits": "Use at most %(max)s figures in all.",
    "max_decimal_places": "Use at most %(max)s figures after the point.",
    "max_whole_digits": "Use at most %(max)s figures before the point.",
    "null_characters_not_allowed": "This holds a character that cannot be kept. Type it anew.",
}
# The first kind that fits.
BY_KIND: tuple[tuple[type[forms.Field], dict[str, str]], ...] = (
    (forms.EmailField, {"invalid": "This is no e-mail address; one looks like name@example.org."}),
    (forms.FileField, {"required": "Choose a file.", "missing": "Choose a file.", "empty": "This file is empty."}),
    (forms.DateField, {"invalid": "Write the day like 2027-06-30."}),
    (forms.DecimalField, {"invalid": "Write a number, like 12.50."}),
    (forms.IntegerField, {"invalid": "Write a whole number, like 14."}),
    (forms.MultipleChoiceField, {"required": "Choose at least one.", "invalid_choice": "Choose from the list."}),
    (forms.ChoiceField, {"required": "Choose one.", "invalid_choice": "Choose one from the list."}),
    (forms.ModelChoiceField, {"required": "Choose one.", "invalid_choice": "This is there no more. Choose another."}),
)


class PlainSentences:
    """For a form, before `forms.Form` or `forms.ModelForm`: sentences that a field was given itself stay."""

    fields: dict[str, forms.Field]

    def full_clean(self) -> None:
        say_plainly(self.fields.values())
        super().full_clean()  # type: ignore[misc]


def say_plainly(fields: Iterable[forms.Field]) -> None:
    """Give fields our sentences wherever they still have the framework's."""
    for field in fields:
        kind: dict[str, str] = next((words for kind, words in BY_KIND if isinstance(field, kind)), {})
        for code, sentence in {**ANY_FIELD, **kind}.items():
            if _is_stock(field, code):
                field.error_messages[code] = sentence


def _is_stock(field: forms.Field, code: str) -> bool:
    said: Any = field.error_messages.get(code)
    for one in type(field).__mro__:
        theirs = one.__module__.startswith("django.") and getattr(one, "default_error_messages", {}).get(code)
        if said is not None and theirs == said:
            return True
    if said is not None:
        return False
    validators: list[Any] = [one for one in field.validators if getattr(one, "code", None) == code]
    return all(one.message == type(one).message for one in validators)
