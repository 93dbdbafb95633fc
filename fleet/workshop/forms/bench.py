"""What the bench list and a visit are asked for in the address."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.ground.addresses import whole
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import User
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.visit import LONGEST

# Where one tap moves a job, with what is said to many moved at once.
MOVED = {
    RepairJob.State.BENCH.value: _s_lazy("on the bench"),
    RepairJob.State.PARTS.value: _s_lazy("waiting for parts"),
    RepairJob.State.DONE.value: _s_lazy("done: play and check each now"),
}


class BenchFilter(forms.Form):
    """Which jobs to show. Nonsense in the address shows everything."""

    state = forms.ChoiceField(
        choices=[("", _s_lazy("all open")), *RepairJob.State.choices], required=False, label=_s_lazy("State")
    )
    whose = forms.ChoiceField(
        choices=[("", _s_lazy("everybody’s")), ("mine", _s_lazy("mine")), ("free", _s_lazy("nobody’s yet"))],
        required=False,
        label=_s_lazy("Technician"),
    )

    def asked(self, by: User) -> tuple[str, int | None]:
        """State ("" for all open) and technician (None for all, 0 for jobs nobody has taken)."""
        self.is_valid()
        whose = self.cleaned_data.get("whose", "")
        return self.cleaned_data.get("state", ""), {"mine": by.pk, "free": 0}.get(whose)


class VisitForm(PlainSentences, forms.Form):
    """The minutes of a visit. What is wrong in the address is said beside the field, and nothing is planned."""

    minutes = forms.IntegerField(
        label=_s_lazy("Minutes today"),
        min_value=1,
        max_value=LONGEST,
        error_messages={
            "min_value": _s_lazy("A visit takes at least a minute."),
            "max_value": _s_lazy("That is more than a day. Give the minutes of one visit."),
        },
    )


class LabelForm(forms.Form):
    """What was scanned or typed at the bench. An empty field asks for nothing."""

    label = forms.CharField(required=False, max_length=200, label=_s_lazy("Register number or label"))

    @property
    def told(self) -> str:
        return self.cleaned_data["label"].replace("\0", "") if self.is_valid() else ""


class MoveForm(PlainSentences, forms.Form):
    """A tap on one job: "done-345" is where it goes and the newest step of the page that was tapped."""

    do = forms.RegexField(
        rf"^({'|'.join((*MOVED, RepairJob.BROUGHT[0]))})-\d{{1,18}}$",
        error_messages={"invalid": _s_lazy("Press one of the buttons.")},
    )

    @property
    def said(self) -> dict[str, Any]:
        """What moving takes: state, seen."""
        state, _, seen = self.cleaned_data["do"].rpartition("-")
        return {"state": state, "seen": int(seen)}


class MoveAllForm(PlainSentences, forms.Form):
    """A tap for all jobs that are ticked, each as "12-345": its key and the newest step the page showed."""

    do = forms.ChoiceField(choices=list(MOVED.items()))
    jobs = forms.MultipleChoiceField(
        error_messages={"required": _s_lazy("Tick the jobs first, then press the button.")}
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sent = self.data.getlist("jobs") if self.is_bound else []  # type: ignore[attr-defined]
        self.fields["jobs"].choices = [(one, one) for one in sent]  # type: ignore[attr-defined]

    def clean_jobs(self) -> dict[int, int]:
        """The newest step seen by key of the job; nonsense is no job."""
        pairs = [[whole(part) for part in one.split("-")] for one in self.cleaned_data["jobs"]]
        return {pair[0]: pair[1] for pair in pairs if len(pair) == 2 and None not in pair}  # type: ignore[misc]
