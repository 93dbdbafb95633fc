"""What a family types on its own pages, the tick before forgetting, and what acts on many rows ask for."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.ground.addresses import whole
from fleet.ground.fields import date_field, not_to_come
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.forms.classes import OfAClass
from fleet.people.forms.one_of_many import RowField
from fleet.people.models import School
from fleet.register.models import Place
from fleet.workshop.models import ConditionCheck


class FeedForm(PlainSentences, forms.Form):
    """At which school the calendar's address is made or ended."""

    school = forms.ModelChoiceField(School.objects.none())

    def __init__(self, *args: Any, schools: QuerySet[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["school"].queryset = schools  # type: ignore[attr-defined]


class FaultForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label=_("What is wrong?"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("As you would say it. Please do not try to mend it at home."),
        error_messages={
            "required": _("Say in a few words what is wrong."),
            "max_length": _("Say it in at most %(limit_value)d characters; this has %(show_value)d."),
        },
    )
    still_plays = forms.ChoiceField(
        label=_("Does it still play?"),
        choices=[("yes", _("Yes")), ("no", _("No"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say yes or no."), "invalid_choice": _("Say yes or no.")},
    )

    @property
    def said(self) -> dict[str, Any]:
        """What reporting a fault needs: words, still_plays."""
        return {"words": self.cleaned_data["words"], "still_plays": self.cleaned_data["still_plays"] == "yes"}


class SignForm(PlainSentences, forms.Form):
    typed_name = forms.CharField(label=_("Your name"), max_length=120, help_text=_("Typing it here is your signature."))
    agreed = forms.BooleanField(
        label=_("I have read all of it and agree"), error_messages={"required": _("Tick this to sign.")}
    )


class AskForm(PlainSentences, forms.Form):
    words = forms.CharField(max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = label


class BringForm(PlainSentences, forms.Form):
    """The day that the family's page named, for the button that says it will bring the horn then."""

    day = forms.DateField(error_messages={"required": _("Say on which day."), "invalid": _("Say on which day.")})


class TakenBackForm(PlainSentences, forms.Form):
    """What a family takes back: `ask` or `report`, by its key."""

    ask = forms.IntegerField(required=False)
    report = forms.IntegerField(required=False)


class ForgetForm(PlainSentences, forms.Form):
    sure = forms.BooleanField(
        label=_s_lazy("I am sure"), error_messages={"required": _s_lazy("Tick that you are sure: it cannot be undone.")}
    )


class TickedForm(PlainSentences, forms.Form):
    """Which rows of a list are meant, by the boxes of the name `box`. Nonsense in an address ticks nothing."""

    def __init__(self, *args: Any, box: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.box = box

    @property
    def keys(self) -> list[int]:
        """Keys of the ticked rows, each once."""
        said = [whole(one) for one in self.data.getlist(self.box)]  # type: ignore[attr-defined]
        return list(dict.fromkeys(key for key in said if key is not None))

    @property
    def shown(self) -> list[int]:
        """Keys of all rows that the page showed, ticked or not."""
        names = [name.removeprefix("seen-") for name in self.data if name.startswith("seen-")]
        return [key for key in map(whole, names) if key is not None]

    def seen(self, key: int) -> str:
        """How the page showed that row (`Several.seen`)."""
        return str(self.data.get(f"seen-{key}", ""))

    @property
    def more(self) -> bool:
        """Whether more rows were meant than the page showed."""
        return bool(self.data.get("more"))

    @property
    def whole_list(self) -> bool:
        """Whether all rows of the list are meant, on whatever page of it."""
        return bool(self.data.get("all"))


class MovePlaceForm(PlainSentences, forms.Form):
    place = RowField(Place.objects.none(), label=_s_lazy("To which place"), empty_label=_s_lazy("choose a place"))

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["place"]
        field.queryset = Place.objects.filter(school=school)


class AllFineForm(PlainSentences, forms.Form):
    """`never` says how many of the horns were never checked: of them nobody knows the finish."""

    finish_grade = forms.TypedChoiceField(
        label=_s_lazy("Finish of those never checked"),
        choices=[("", _s_lazy("say how it looks")), *ConditionCheck.FinishGrade.choices],
        coerce=int,
        empty_value=None,
        required=False,
        help_text=_s_lazy("Nothing is wrong with them either."),
    )
    looked = forms.BooleanField(
        label=_s_lazy("I looked each one over: it is as before"),
        error_messages={"required": _s_lazy("Look each horn over first, then tick that you did.")},
    )

    def __init__(self, *args: Any, never: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not never:
            del self.fields["finish_grade"]


class ClassForm(OfAClass, forms.Form):
    group = forms.CharField(label=_s_lazy("To which class or ensemble"), max_length=60)
    year = forms.CharField(
        label=_s_lazy("Year"), max_length=20, required=False, help_text=_s_lazy("Left empty, it stays as it is.")
    )

    def __init__(self, *args: Any, groups: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["group"].widget.attrs.update(list="groups", autocomplete="off")
        self.groups = groups
        self.ask_of_close()


class LeftForm(PlainSentences, forms.Form):
    left_on = date_field(_s_lazy("Left on"))

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        self.initial.setdefault("left_on", timezone.localdate(now))

    def clean_left_on(self) -> date:
        return not_to_come(self.cleaned_data["left_on"], self.now)
