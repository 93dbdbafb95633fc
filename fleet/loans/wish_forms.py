"""Forms for how much each rule matters and for what each class plays on and where."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db import transaction

from fleet.loans.candidates import plans_of
from fleet.loans.matching.rows import RULES, Weights
from fleet.loans.wishes import ClassPlan, MatchingRules
from fleet.people.models import School
from fleet.register.kinds import stands
from fleet.register.models import Place
from fleet.sentences import PlainSentences


class RulesForm(PlainSentences, forms.Form):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for rule in RULES:
            self.fields[rule.name] = forms.TypedChoiceField(
                label=rule.words,
                help_text=rule.help,
                coerce=int,
                choices=rule.levels,
                error_messages={"invalid_choice": "Choose how much it matters."},
            )

    @property
    def weights(self) -> Weights:
        return Weights(**self.cleaned_data)


class ClassPlanForm(PlainSentences, forms.Form):
    """One class; `group` is the class it was shown for."""

    stands_in = forms.ChoiceField(
        label="Plays on horns that stand in",
        required=False,
        error_messages={"invalid_choice": "No horn of the catalogue stands so."},
    )
    room = forms.ChoiceField(
        label="Plays in",
        required=False,
        error_messages={"invalid_choice": "There is no such room among the places."},
    )

    def __init__(self, *args: Any, group: str, plan: ClassPlan | None, rooms: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.group = group
        if plan is not None:
            self.initial = {"stands_in": plan.stands_in, "room": plan.room}
            # A room that was renamed since stays until somebody chooses another.
            rooms = sorted({*rooms, plan.room} - {""}, key=str.casefold)
        self.fields["stands_in"].choices = [("", "as most of its horns do"), *stands()]  # type: ignore[attr-defined]
        self.fields["room"].choices = [("", "where most of its horns are kept"), *((one, one) for one in rooms)]  # type: ignore[attr-defined]


def plan_forms(sent: Any, *, school: School, groups: list[str]) -> list[ClassPlanForm]:
    """A form for each class, in the order of `groups`. Two queries."""
    plans = plans_of(school)
    places = Place.objects.filter(school=school).values_list("room", flat=True)
    rooms = sorted(set(places), key=str.casefold)
    return [
        ClassPlanForm(sent, group=group, plan=plans.get(group.casefold()), rooms=rooms, prefix=f"class-{at}")
        for at, group in enumerate(groups)
        if sent is None or sent.get(f"class-{at}-group") == group
    ]


@transaction.atomic
def keep_rules(*, school: School, weights: Weights, plans: list[ClassPlanForm]) -> None:
    """Writes a school's weights, and the plans of the classes that were shown."""
    School.objects.select_for_update().get(pk=school.pk)
    MatchingRules.objects.update_or_create(school=school, defaults=weights.as_dict())
    known = plans_of(school)
    for form in plans:
        plan = known.get(form.group.casefold()) or ClassPlan(school=school, group=form.group)
        plan.stands_in, plan.room = form.cleaned_data["stands_in"], form.cleaned_data["room"]
        if plan.pk or plan.stands_in or plan.room:
            plan.save()
            known[form.group.casefold()] = plan
