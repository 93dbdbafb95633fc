"""The settings of a school, as its heads change them: a form a subject."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings as site
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import others_of, translated, translated_for_staff
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.ground.wording import either
from fleet.people.models import School
from fleet.people.models.zones import zones


class SettingsForm(PlainSentences, RowForm[School]):
    """One subject: it writes its own columns and no other's."""

    @property
    def said(self) -> dict[str, Any]:
        """The settings by column."""
        return dict(self.cleaned_data)


class SchoolForm(SettingsForm):
    time_zone = forms.ChoiceField(
        label=_s_lazy("Time zone"),
        choices=zones,
        required=False,
        # The zones are known by English names everywhere.
        widget=forms.Select(attrs={"lang": "en"}),
        help_text=_s_lazy("By it a day begins and ends here, and a loan falls due."),
    )

    class Meta:
        model = School
        fields = ("name", "contact", "number_prefix", "currency", "paper", "tuned_to", "time_zone")
        labels = {"name": _s_lazy("Name"), "currency": _s_lazy("Currency"), "paper": _s_lazy("Paper")}


class LanguagesForm(SettingsForm):
    family_languages = forms.MultipleChoiceField(
        label=_s_lazy("Families may also choose"),
        choices=translated,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_s_lazy("Switch a language on once somebody who speaks it has read what your families will read."),
    )

    staff_languages = forms.MultipleChoiceField(
        label=_s_lazy("Staff may also choose"),
        choices=translated_for_staff,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_s_lazy(
            "Who works here chooses at the end of a page. Lists that go out keep their English headings."
        ),
    )

    class Meta:
        model = School
        fields = ("language", "family_languages", "note_names", "staff_languages")


class LendingForm(SettingsForm):
    class Meta:
        model = School
        fields = ("loan_days", "soon_days", "local_rules")
        widgets = {"local_rules": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        school = self.instance
        self.others = {f"rules-{one.code}": one for one in others_of(school.languages, school.language)}
        for said, (name, one) in enumerate(self.others.items()):
            self.initial[name] = school.rules_in_languages.get(one.code, "")
            self.fields[name] = forms.CharField(
                label=_s("Local rules: %(language)s") % {"language": one.name},
                required=False,
                max_length=2000,
                widget=forms.Textarea(attrs={"rows": 4, "lang": one.code, "dir": "auto"}),
                help_text="" if said else _s("Where a language is left empty, its families read the rules above."),
            )

    @property
    def said(self) -> dict[str, Any]:
        given = super().said
        # What was written in a language that was switched off is there again once it is on.
        written = dict(self.instance.rules_in_languages)
        written |= {one.code: given.pop(name) for name, one in self.others.items()}
        return {**given, "rules_in_languages": {code: words for code, words in written.items() if words}}


class WorkshopForm(SettingsForm):
    class Meta:
        model = School
        fields = (
            "check_days",
            "oil_days",
            "clean_days",
            "clean_months",
            "service_days",
            "service_months",
            "exercise_days",
            "approve_above",
            "bench_rate",
            "warranty_days",
        )


def _ways_in() -> list[tuple[str, str]]:
    only = [
        (
            one.address,
            _s("with %(issuer)s, those whose address is of %(domains)s")
            % {"issuer": one.name, "domains": either(one.domains)},
        )
        for one in site.ISSUERS
    ]
    return [("", _s("as they like: a code by e-mail, a password, a passkey")), *only]


class SignInForm(SettingsForm):
    sign_in_by = forms.ChoiceField(label=_s_lazy("Staff come in"), choices=_ways_in, widget=forms.RadioSelect)
    # "As they like" is an answer, too.
    sign_in_by.empty_values = [None]

    class Meta:
        model = School
        fields = ("sign_in_by",)


class StaffRulesForm(SettingsForm):
    class Meta:
        model = School
        fields = ("second_step_days",)
