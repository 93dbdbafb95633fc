"""Pupils and guardians, as teaching staff type them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import choices, known
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.people.forms.classes import OfAClass, groups_of
from fleet.people.models import Guardian, Pupil
from fleet.people.models.families import NO_CONTACT


class PupilForm(OfAClass, RowForm[Pupil]):
    class Meta:
        model = Pupil
        labels = {"name": _s_lazy("Name used in school")}
        fields = ["name", "year", "group", "needs_wrap", "needs_kind", "pupil_id", "family_name", "left_on"]
        help_texts = {
            "needs_wrap": _s_lazy("Compact for hands that a full horn is too big for. Never write a reason."),
            "needs_kind": _s_lazy(
                "What the teacher wants this pupil to play. It counts when horns are matched to pupils."
            ),
        }
        widgets = {"left_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            del self.fields["left_on"]
        self.groups = groups_of(self.instance.school, bound=self.is_bound)
        self.fields["group"].widget.attrs.update(list="groups", autocomplete="off")
        self.ask_of_close()

    def clean_pupil_id(self) -> str:
        # The school is not on the form, so Django leaves a constraint that holds within a school unlooked at.
        pupil_id = str(self.cleaned_data["pupil_id"])
        others = Pupil.objects.at(self.instance.school).filter(pupil_id=pupil_id).exclude(pk=self.instance.pk)
        if pupil_id and others.exists():
            raise forms.ValidationError(_s("A pupil with this id is already on record."))
        return pupil_id


class StrikeOutForm(PlainSentences, forms.Form):
    reason = forms.CharField(
        label=_s_lazy("Why"), max_length=300, help_text=_s_lazy("For example: the line under a list, or twice.")
    )


class GuardianForm(PlainSentences, RowForm[Guardian]):
    """A guardian and, of one on record, whom they still answer for."""

    class Meta:
        model = Guardian
        fields = ["name", "email", "telephone", "language"]
        labels = {"name": _s_lazy("Name"), "telephone": _s_lazy("Telephone")}

    def __init__(self, *args: Any, answers: StillAnswersForm | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.answers = answers
        offered = known(self.instance.school.languages)
        if len(offered) == 1:
            del self.fields["language"]
        else:
            asked = [("", _s("not asked yet")), *((one.code, one.for_staff) for one in offered)]
            label, words = self.fields["language"].label, self.fields["language"].help_text
            self.fields["language"] = forms.ChoiceField(choices=asked, required=False, label=label, help_text=words)

    def is_valid(self) -> bool:
        return all([super().is_valid(), self.answers is None or self.answers.is_valid()])

    def clean_email(self) -> str:
        # As with a pupil's id. A new guardian under a known address is tied to the record there is, not refused.
        email = str(self.cleaned_data["email"]).lower()
        others = Guardian.objects.filter(school=self.instance.school, email__iexact=email).exclude(pk=self.instance.pk)
        if self.instance.pk and email and others.exists():
            raise forms.ValidationError(_s("A guardian with this e-mail address is already on record."))
        return email

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if not said.get("email", "-") and not said.get("telephone", "-"):
            self.add_error("email", NO_CONTACT)
        return said


class LanguageForm(PlainSentences, forms.Form):
    """The language of the button that was pressed."""

    language = forms.ChoiceField(choices=choices)


class StillAnswersForm(PlainSentences, forms.Form):
    """The pupils a guardian answers for, all ticked: unticking one lets it go."""

    def __init__(self, *args: Any, guardian: Guardian, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.before = {str(p.pk): p.described for p in guardian.pupils.order_by("sorted_by", "pk")}
        self.fields["pupils"] = forms.MultipleChoiceField(
            label=_s("Answers for"),
            required=False,
            widget=forms.CheckboxSelectMultiple,
            choices=list(self.before.items()),
            initial=list(self.before),
        )

    def let_go(self) -> set[int]:
        """Ids of the pupils that were unticked."""
        return {int(key) for key in set(self.before) - set(self.cleaned_data["pupils"])}
