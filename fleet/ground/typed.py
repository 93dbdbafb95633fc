"""Django's own classes where the type checker wants to know of which row they are; at run time that is let go."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

if TYPE_CHECKING:
    from django.forms import ModelForm as RowForm
else:

    class RowForm(forms.ModelForm):
        def __class_getitem__(cls, row: Any) -> type[RowForm]:
            return cls


__all__ = ["RowForm"]
