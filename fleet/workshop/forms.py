"""Forms of the bench. Each turns what was typed into the words of `actions`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from fleet.access import BENCH
from fleet.people.models import School, User
from fleet.register.models import Horn
from fleet.register.pictures import redrawn
from fleet.sentences import PlainSentences
from fleet.workshop.actions import Found, Picture, Work
from fleet.workshop.faults import Fault, catalogue, grade_of
from fleet.workshop.fitted import applies
from fleet.workshop.models import ConditionCheck, Finding, RepairJob
from fleet.workshop.visit import LONGEST

LONGEST_WAIT = timedelta(days=7)
PICTURES = 3
# These open a phone's camera at once; a phone then offers nothing else, so one is left for pictures taken before.
FROM_CAMERA = (1, 2)
# Above these somebody's finger slipped: a working year at the bench, and more than any horn costs in any currency.
MOST_MINUTES = 100_000
MOST_COST = Decimal("9999999.99")
SEVERITIES = Finding.Severity.choices


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault of the check as the page draws it: the three fields and what the catalogue says."""

    entry: Fault
    found: forms.BoundField
    severity: forms.BoundField | None
    note: forms.BoundField
    known: bool


class CheckForm(PlainSentences, forms.Form):
    """A look over a horn. `known` are its findings not mended: they come ticked, to be unticked when gone.

    Only faults this build of horn can have are asked for, and whatever is known already: the horn may have been taken
    for another build when it was found.
    """

    occasion = forms.ChoiceField(choices=ConditionCheck.Occasion.choices)
    finish_grade = forms.TypedChoiceField(
        label="Finish",
        choices=ConditionCheck.FinishGrade.choices,
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how the finish is."},
        help_text="Looks only. It never stops a loan.",
    )
    notes = forms.CharField(max_length=2000, required=False, strip=True, widget=forms.Textarea(attrs={"rows": 3}))
    sent_as = forms.UUIDField(required=False, widget=forms.HiddenInput)
    # Seconds since it was typed, where it had to wait for a connection.
    age = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
    # The last field of the page: a browser cut off half-way through its pictures does not get this far.
    whole = forms.CharField(required=False, widget=forms.HiddenInput)

    severities = SEVERITIES

    def __init__(self, *args: Any, horn: Horn, known: Sequence[Finding] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = {one.fault: one for one in known}
        self.pictures: list[Picture] = []
        self.asked = {
            code: fault
            for code, fault in catalogue().by_code.items()
            if code in self.known or applies(fault.applies, horn)
        }
        for fault in self.asked.values():
            before = self.known.get(fault.code)
            self.fields[f"found-{fault.code}"] = forms.BooleanField(
                label=fault.words, required=False, initial=before is not None
            )
            if not fault.finish:
                self.fields[f"severity-{fault.code}"] = forms.ChoiceField(
                    label=f"How bad: {fault.words}",
                    choices=SEVERITIES,
                    required=False,
                    initial=before.severity if before else fault.severity,
                    error_messages={"invalid_choice": "Choose note, watch, repair before loan or must not be played."},
                )
            self.fields[f"note-{fault.code}"] = forms.CharField(
                label=f"Note: {fault.words}", required=False, max_length=300, initial=before.note if before else ""
            )
        for number in range(1, PICTURES + 1):
            self.fields[f"picture-{number}"] = forms.FileField(
                label=f"Picture {number}",
                required=False,
                allow_empty_file=True,
                help_text="" if number in FROM_CAMERA else "One that is on this device already.",
                widget=forms.FileInput(
                    attrs={
                        "accept": "image/jpeg,image/png,image/webp",
                        **({"capture": "environment"} if number in FROM_CAMERA else {}),
                    }
                ),
            )
            self.fields[f"caption-{number}"] = forms.CharField(
                label=f"What picture {number} shows", required=False, max_length=120
            )

    def parts(self) -> list[tuple[str, list[FaultRow]]]:
        """The catalogue by part, as the page draws it."""
        parts = [
            (part.name, [fault for fault in part.faults if fault.code in self.asked]) for part in catalogue().parts
        ]
        return [(name, [self._row(fault) for fault in faults]) for name, faults in parts if faults]

    def picture_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"picture-{n}"], self[f"caption-{n}"]) for n in range(1, PICTURES + 1)]

    def _row(self, fault: Fault) -> FaultRow:
        code = fault.code
        severity = None if fault.finish else self[f"severity-{code}"]
        return FaultRow(fault, self[f"found-{code}"], severity, self[f"note-{code}"], code in self.known)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("sent_as") and not cleaned.get("whole"):
            raise ValidationError("The check did not arrive whole. Send it again.")
        for number in range(1, PICTURES + 1):
            upload = cleaned.get(f"picture-{number}")
            if not upload:
                continue
            try:
                image, width, height = redrawn(upload)
            except ValidationError as wrong:
                self.add_error(f"picture-{number}", [f"{upload.name}: {said}" for said in wrong.messages])
            else:
                self.pictures.append(Picture(image, width, height, cleaned.get(f"caption-{number}", "")))
        return cleaned

    def found(self) -> list[Found]:
        """The faults that are ticked, as far as the form is sound. A severity left out is the catalogue's."""
        return [
            Found(
                fault.code,
                "n" if fault.finish else self.cleaned_data.get(f"severity-{fault.code}") or fault.severity,
                self.cleaned_data.get(f"note-{fault.code}", ""),
            )
            for fault in self.asked.values()
            if self.cleaned_data.get(f"found-{fault.code}")
        ]

    def looked_at(self, now: datetime) -> datetime:
        return looked_at(now, self.cleaned_data.get("age"))

    def so_far(self) -> dict[str, Any]:
        """What the ticks make of the horn, before anything is saved."""
        if self.is_bound:
            self.is_valid()
            severities = [one.severity for one in self.found()]
        else:
            severities = [one.severity for one in self.known.values()]
        return {"grade": grade_of(severities), "count": len(severities)}


def looked_at(now: datetime, age: int | None) -> datetime:
    """When the horn was looked at: now, or `age` seconds earlier where the check waited for a connection, a week at
    most."""
    return now - timedelta(seconds=min(age or 0, LONGEST_WAIT.total_seconds()))


def _technicians(school: School) -> Any:
    return User.objects.filter(
        posts__school=school, posts__role__in=[role.value for role in BENCH], is_active=True
    ).order_by("name", "pk")


class JobFields(PlainSentences, forms.Form):
    technician = forms.ModelChoiceField(queryset=User.objects.none(), required=False, empty_label="nobody yet")
    minutes = forms.IntegerField(
        label="Minutes on the bench",
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        error_messages={
            "min_value": "Work cannot take less than no time.",
            "max_value": "That is more than a working year. Look at the figure again.",
        },
    )

    def __init__(self, *args: Any, school: School, usual: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = _technicians(school)  # type: ignore[attr-defined]
        usually = f"Left empty, the usual time counts: {usual} min." if usual else "Orders the bench; never a quote."
        self.fields["minutes"].help_text = usually


def amount(below: str) -> forms.DecimalField:
    """A sum of money, with what to say to one that is negative or absurd."""
    absurd = "That is more than any repair costs. Look at the figure again."
    return forms.DecimalField(
        required=False,
        min_value=Decimal(0),
        max_value=MOST_COST,
        decimal_places=2,
        error_messages={
            "min_value": below,
            "max_value": absurd,
            "max_decimal_places": "Give the cost with at most two decimals.",
        },
    )


class JobForm(JobFields):
    state = forms.ChoiceField(choices=RepairJob.State.choices)
    parts = forms.CharField(label="Parts not from the stock", max_length=300, required=False)
    cost = amount("A repair cannot cost less than nothing.")
    notes = forms.CharField(max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 4}))
    seen = forms.IntegerField(widget=forms.HiddenInput)

    kept = ("state", "technician", "minutes", "parts", "cost", "notes")
    field_order = [*kept, "seen"]

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, school=school, **kwargs)
        self.fields["cost"].label = f"Cost in {school.currency}"
        if school.approve_above is not None:
            self.fields["cost"].help_text = f"Above {school.approve_above} {school.currency} a head is asked."
        if self.initial.get("state") != RepairJob.State.AWAY:
            # A job gets there by saying who has the horn and since when.
            states = [choice for choice in RepairJob.State.choices if choice[0] != RepairJob.State.AWAY]
            self.fields["state"].choices = states  # type: ignore[attr-defined]

        # The page carries what it showed, so that what was typed here is told from what somebody else has changed.
        for name in self.kept:
            self.fields[name].show_hidden_initial = True

    def beside(self, now: RepairJob, seen: int) -> None:
        """Takes over what `now` says wherever this person has typed nothing, and keeps what they have."""
        data = {**self.data, "seen": seen}
        for name in self.kept:
            value = getattr(now, name)
            value = "" if value is None else value.pk if isinstance(value, User) else value
            data[self.add_initial_prefix(name)] = value
            if name not in self.changed_data:
                data[name] = value
        self.data = data

    def work(self) -> Work:
        return Work(**{name: value for name, value in self.cleaned_data.items() if name != "seen"})


class JobNewForm(JobFields):
    findings = forms.MultipleChoiceField(
        label="What is to be mended", required=False, widget=forms.CheckboxSelectMultiple
    )
    notes = forms.CharField(
        label="What is to be done", max_length=4000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    field_order = ["findings", "notes", "technician", "minutes"]

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


class AnswerForm(PlainSentences, forms.Form):
    answer = forms.CharField(
        label="Your answer to the family",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="They read it on their page.",
    )


class BenchFilter(forms.Form):
    """Which jobs to show. Nonsense in the address shows everything."""

    state = forms.ChoiceField(choices=[("", "all open"), *RepairJob.State.choices], required=False, label="State")
    whose = forms.ChoiceField(
        choices=[("", "everybody's"), ("mine", "mine"), ("free", "nobody's yet")], required=False, label="Technician"
    )

    def asked(self, by: User) -> tuple[str, int | None]:
        """State ("" for all open) and technician (None for all, 0 for jobs nobody has taken)."""
        self.is_valid()
        whose = self.cleaned_data.get("whose", "")
        return self.cleaned_data.get("state", ""), {"mine": by.pk, "free": 0}.get(whose)


class VisitForm(PlainSentences, forms.Form):
    """The minutes of a visit. What is wrong in the address is said beside the field, and nothing is planned."""

    minutes = forms.IntegerField(
        label="Minutes today",
        min_value=1,
        max_value=LONGEST,
        error_messages={
            "min_value": "A visit takes at least a minute.",
            "max_value": "That is more than a day. Give the minutes of one visit.",
        },
    )
