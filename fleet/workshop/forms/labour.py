"""Forms of labour: a work ordered on a job, the clock, and what the school reckons for each work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.fields import amount
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import minutes as in_minutes
from fleet.people.models import School
from fleet.workshop.forms.jobs import minutes_field
from fleet.workshop.models.works import KnownWork, works

Reckoned = Mapping[str, tuple[int | None, Decimal | None]]


class WorkForm(PlainSentences, forms.Form):
    """One work to order, with what the school reckons for it."""

    work = forms.ChoiceField(
        label=_s_lazy("Work"), error_messages={"invalid_choice": _s_lazy("This horn cannot have that work.")}
    )

    def __init__(
        self, *args: Any, known: Sequence[KnownWork], reckoned: Reckoned, school: School, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.code, _told(one, *reckoned[one.code], school)) for one in known]
        self.fields["work"].choices = choices  # type: ignore[attr-defined]


def _told(work: KnownWork, minutes: int | None, price: Decimal | None, school: School) -> str:
    told = [
        in_minutes(minutes) if minutes is not None else "",
        money(price, school.currency) if price is not None else "",
    ]
    beside = ", ".join(filter(None, told))
    words = _s(work.words)
    return f"{words} ({beside})" if beside else words


class DropForm(PlainSentences, forms.Form):
    """The button beside a work that is ordered."""

    drop = forms.CharField(max_length=40)


class ClockForm(PlainSentences, forms.Form):
    do = forms.ChoiceField(choices=[("start", "start"), ("stop", "stop")])
    minutes = minutes_field(_s_lazy("Minutes worked, if the clock is wrong"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # It stands beside the job's own form, which has minutes too.
        super().__init__(*args, **kwargs | {"auto_id": "clock_%s"})


class PricesForm(PlainSentences, forms.Form):
    """Minutes and price of each work; one that is empty is the catalogue's minutes, or no price."""

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        there = {one.work: one for one in school.labour_prices.all()}
        for code, work in works().items():
            own = there.get(code)
            self.fields[f"minutes-{code}"] = minutes_field(_s("Minutes"))
            self.fields[f"minutes-{code}"].initial = own.minutes if own else None
            self.fields[f"minutes-{code}"].help_text = (
                _s("else %(minutes)s") % {"minutes": work.minutes} if work.minutes else _s("else not known")
            )
            self.fields[f"price-{code}"] = amount(_s("A price cannot be less than nothing."))
            self.fields[f"price-{code}"].label = _s("Price in %(currency)s") % {"currency": school.currency}
            self.fields[f"price-{code}"].initial = own.price if own else None

    def rows(self) -> list[tuple[KnownWork, forms.BoundField, forms.BoundField]]:
        return [(one, self[f"minutes-{code}"], self[f"price-{code}"]) for code, one in works().items()]

    def prices(self) -> dict[str, tuple[int | None, Decimal | None]]:
        given = self.cleaned_data
        return {code: (given[f"minutes-{code}"], given[f"price-{code}"]) for code in works()}
