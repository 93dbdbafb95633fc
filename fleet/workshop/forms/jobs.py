"""Forms of a repair job: a new one, and one that goes on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.access import BENCH
from fleet.ground.badges import money
from fleet.ground.fields import amount
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import School, User
from fleet.workshop.actions.jobs import NAMES, Work
from fleet.workshop.models import Finding, RepairJob

# Above these somebody's finger slipped: a working year at the bench, and more than any horn costs in any currency.
MOST_MINUTES = 100_000


def _technicians(school: School) -> Any:
    return User.objects.filter(
        posts__school=school, posts__role__in=[role.value for role in BENCH], is_active=True
    ).order_by("name", "pk")


def minutes_field(label: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        error_messages={
            "min_value": _s_lazy("Work cannot take less than no time."),
            "max_value": _s_lazy("That is more than a working year. Look at the figure again."),
        },
    )


class JobFields(PlainSentences, forms.Form):
    technician = forms.ModelChoiceField(
        label=_s_lazy("Technician"), queryset=User.objects.none(), required=False, empty_label=_s_lazy("nobody yet")
    )
    minutes = minutes_field(_s_lazy("Minutes on the bench"))

    def __init__(self, *args: Any, school: School, usual: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = _technicians(school)  # type: ignore[attr-defined]
        usually = (
            _s("Left empty, the usual time counts: %(usual)s min.") % {"usual": usual}
            if usual
            else _s("Orders the bench; never a quote.")
        )
        self.fields["minutes"].help_text = usually


class JobForm(JobFields):
    state = forms.ChoiceField(label=_s_lazy("State"), choices=RepairJob.State.choices)
    parts = forms.CharField(label=_s_lazy("Parts not from the stock"), max_length=300, required=False)
    cost = amount(_s_lazy("A repair cannot cost less than nothing."))
    work_ordered = forms.CharField(
        label=_s_lazy("Work ordered"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_s_lazy("Printed on the ticket and on the order to a repairer."),
    )
    notes = forms.CharField(
        label=_s_lazy("Private notes"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_s_lazy("Never printed."),
    )
    verdict = forms.ChoiceField(
        label=_s_lazy("Worth mending?"),
        choices=[("", _s_lazy("not said")), *RepairJob.Verdict.choices],
        required=False,
        help_text=_s_lazy("A head reads it beside mend or replace."),
    )
    verdict_why = forms.CharField(label=_s_lazy("Why"), max_length=500, required=False)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    kept = NAMES
    field_order = [*kept, "seen"]

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, school=school, **kwargs)
        self.fields["cost"].label = _s("Cost in %(currency)s") % {"currency": school.currency}
        if school.approve_above is not None:
            self.fields["cost"].help_text = _s("Above %(approve_above)s %(currency)s a head is asked.") % {
                "approve_above": money(school.approve_above),
                "currency": school.currency,
            }
        if self.initial.get("state") != RepairJob.State.AWAY:
            # A job gets there by saying who has the horn and since when.
            states = [choice for choice in RepairJob.State.choices if choice[0] != RepairJob.State.AWAY]
            self.fields["state"].choices = states  # type: ignore[attr-defined]

        # The page carries what it showed, so that what was typed here is told from what somebody else has changed.
        for name in self.kept:
            self.fields[name].show_hidden_initial = True

    def beside(self, now: RepairJob, seen: int) -> None:
        """Takes over what `now` says wherever this person has typed nothing, and keeps what they have."""
        data = {**self.data.dict(), "seen": seen}  # type: ignore[attr-defined]
        for name in self.kept:
            value = getattr(now, name)
            value = "" if value is None else value.pk if isinstance(value, User) else value
            data[self.add_initial_prefix(name)] = value
            if name not in self.changed_data:
                data[name] = value
        self.data = data

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("verdict") and not cleaned.get("verdict_why"):
            self.add_error("verdict_why", _s("Say why it is worth mending, or not."))
        return cleaned

    def work(self) -> Work:
        return Work(**{name: value for name, value in self.cleaned_data.items() if name != "seen"})


class JobNewForm(JobFields):
    findings = forms.MultipleChoiceField(
        label=_s_lazy("What is to be mended"), required=False, widget=forms.CheckboxSelectMultiple
    )
    work_ordered = forms.CharField(
        label=_s_lazy("Work ordered"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_s_lazy("What is to be done. Printed on the ticket and on the order to a repairer."),
    )

    field_order = ["findings", "work_ordered", "technician", "minutes"]

    def __init__(self, *args: Any, known: Sequence[Finding], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = {str(one.pk): one for one in known}
        choices = self.fields["findings"]
        choices.choices = [(pk, f"{one} ({one.get_severity_display()})") for pk, one in self.known.items()]  # type: ignore[attr-defined]
        choices.initial = list(self.known)
        if not self.known:
            del self.fields["findings"]

    def clean_findings(self) -> list[Finding]:
        return [self.known[pk] for pk in self.cleaned_data["findings"]]
