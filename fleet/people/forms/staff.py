"""Staff appointed, and their posts changed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import Post

NO_POST = "none"


class StaffForm(PlainSentences, forms.Form):
    name = forms.CharField(label=_s_lazy("Name"), max_length=120)
    email = forms.EmailField(
        label=_s_lazy("E-mail"),
        max_length=254,
        help_text=_s_lazy("They sign in by a code sent there, and may then set a password."),
    )

    def __init__(self, *args: Any, may_appoint_service: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"] = forms.ChoiceField(label=_s("Role"), choices=_roles(may_appoint_service))


class PostForm(PlainSentences, forms.Form):
    def __init__(self, *args: Any, may_appoint_service: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [*_roles(may_appoint_service), (NO_POST, _s("no post here any more"))]
        self.fields["role"] = forms.TypedChoiceField(
            label=_s("Role"), choices=choices, coerce=lambda said: "" if said == NO_POST else said
        )


def _roles(with_service: bool) -> list[tuple[str, str]]:
    return [
        (str(value), str(label)) for value, label in Post.Role.choices if with_service or value != Post.Role.SERVICE
    ]
