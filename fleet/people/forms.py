from __future__ import annotations

from typing import Any

from django import forms

from fleet.people.models import Guardian, Post, Pupil, School


class SchoolForm(forms.ModelForm[School]):
    class Meta:
        model = School
        fields = [
            "name",
            "number_prefix",
            "currency",
            "paper",
            "loan_days",
            "soon_days",
            "check_days",
            "contact",
            "local_rules",
        ]
        widgets = {"local_rules": forms.Textarea(attrs={"rows": 4})}


class PupilForm(forms.ModelForm[Pupil]):
    class Meta:
        model = Pupil
        fields = ["name", "year", "group", "pupil_id", "left_on"]
        widgets = {"left_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            del self.fields["left_on"]


class GuardianForm(forms.ModelForm[Guardian]):
    class Meta:
        model = Guardian
        fields = ["name", "email", "telephone"]

    def _get_validation_exclusions(self) -> set[str]:
        # The school is set by the view; the rule that an address stands once a school must still be looked at.
        return super()._get_validation_exclusions() - {"school"}


class NewGuardianForm(GuardianForm):
    """For a pupil: a guardian already on record under the same address is tied to them, not refused."""

    def validate_constraints(self) -> None:
        try:
            self.instance.validate_constraints(exclude=self._get_validation_exclusions() | {"school"})
        except forms.ValidationError as wrong:
            self._update_errors(wrong)


class StillAnswersForm(forms.Form):
    pupils = forms.MultipleChoiceField(
        label="Answers for", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, guardian: Guardian, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pupils"].choices = [
            (str(p.pk), p.described) for p in guardian.pupils.order_by("name", "pk")
        ]
        self.fields["pupils"].initial = [key for key, _ in self.fields["pupils"].choices]

    def let_go(self) -> set[int]:
        """Ids of the pupils that were unticked."""
        return {int(key) for key, _ in self.fields["pupils"].choices} - {
            int(key) for key in self.cleaned_data["pupils"]
        }


class StaffForm(forms.Form):
    name = forms.CharField(max_length=120)
    email = forms.EmailField(
        label="E-mail",
        max_length=254,
        help_text="They sign in by a code sent there, and may then set a password.",
    )
    role = forms.ChoiceField(choices=Post.Role)

    def __init__(self, *args: Any, may_appoint_service: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = _roles(may_appoint_service)


class PostForm(forms.Form):
    role = forms.ChoiceField(choices=Post.Role)

    def __init__(self, *args: Any, may_appoint_service: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = [*_roles(may_appoint_service), ("", "no post here any more")]
        self.fields["role"].required = False


def _roles(with_service: bool) -> list[tuple[str, str]]:
    return [
        (str(value), str(label))
        for value, label in Post.Role.choices
        if with_service or value != Post.Role.SERVICE
    ]
