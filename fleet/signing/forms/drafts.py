"""A loan before it is one: horn, pupil and particulars as the address holds them. Nothing of it is stored."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import QueryDict
from django.shortcuts import get_object_or_404

from fleet.ground.addresses import whole
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.people.models import Pupil, School
from fleet.people.queries.school_days import school_days
from fleet.register.models import Horn
from fleet.signing.forms.particulars import ParticularsForm
from fleet.signing.models import OnlineSignature, SheetOut, Terms
from fleet.signing.queries.waiting import page_at_home, sheet_at_home
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import latest_check


def of_draft(draft: Draft, horn: Horn, form: ParticularsForm) -> OnlineSignature | None:
    """What was put before the guardian for exactly this draft, signed or not; None when anything differs. One query."""
    return page_at_home(**_terms(draft, horn, form))


def sheet_of_draft(draft: Draft, horn: Horn, form: ParticularsForm) -> SheetOut | None:
    """The sheet that is out for exactly this draft; None when anything differs. One query."""
    return sheet_at_home(**_terms(draft, horn, form))


def _terms(draft: Draft, horn: Horn, form: ParticularsForm) -> Terms:
    """What the loan would be under the newest check and the draft's agreement."""
    return {
        "horn": horn,
        "pupil": form.pupil,
        "guardian": form.cleaned_data["guardian"],
        "agreement_version": draft.agreement.version if draft.agreement else 1,
        "check_seen": draft.check.pk if draft.check else 0,
        "due_on": form.cleaned_data["due_on"],
        "accessories": form.along(),
    }


PARTICULARS = ("due_on", "guardian", "accessories", "more")


@dataclass
class Draft:
    """What the address says so far. `form` is there from when both are chosen, bound once it has been sent.

    `agreement` is the version in force, or the earlier one that exactly this loan is at home with, which stays good.
    """

    school: School
    today: date
    horn: Horn | None
    pupil: Pupil | None
    form: ParticularsForm | None = None
    check: ConditionCheck | None = None
    agreement: Agreement | None = None
    in_force: Agreement | None = None

    @property
    def is_earlier(self) -> bool:
        return self.agreement != self.in_force

    @property
    def is_whole(self) -> bool:
        return self.form is not None and self.form.is_bound and self.form.is_valid()

    def query(self, **changes: Any) -> str:
        """The address's query for this draft as it stands, naming the check and the agreement it was shown with."""
        said = QueryDict(mutable=True)
        for name, row in (("horn", self.horn), ("pupil", self.pupil)):
            if row is not None:
                said[name] = str(row.pk)
        if self.form is not None and self.form.is_bound:
            data: QueryDict = self.form.data  # type: ignore[assignment]
            for name in PARTICULARS:
                said.setlist(name, data.getlist(name))
        if self.check is not None and self.agreement is not None:
            said["check"], said["agreement"] = str(self.check.pk), str(self.agreement.version)
        for name, value in changes.items():
            if value is None:
                said.pop(name, None)
            else:
                said[name] = str(value)
        return said.urlencode()


def draft_from(asked: QueryDict, school: School, today: date) -> Draft:
    """Read the address. A horn or pupil that is not of this school is a 404. Up to six queries."""
    draft = Draft(
        school=school,
        today=today,
        horn=_named(Horn.objects.at(school), asked.get("horn")),
        pupil=_named(Pupil.objects.at(school), asked.get("pupil")),
    )
    if draft.horn is not None and draft.pupil is not None:
        bound = any(name in asked for name in PARTICULARS)
        draft.form = ParticularsForm(asked if bound else None, pupil=draft.pupil, today=today, days=school_days(school))
        draft.check = latest_check(draft.horn)
        draft.agreement = draft.in_force = current_agreement(school)
        draft.agreement = _at_home(draft, draft.horn, draft.form, whole(asked.get("agreement"))) or draft.in_force
    return draft


def _at_home(draft: Draft, horn: Horn, form: ParticularsForm, version: int | None) -> Agreement | None:
    """The earlier version, if the address names one, with which exactly this loan lies with the family."""
    if version is None or not draft.is_whole:
        return None
    terms = _terms(draft, horn, form)
    if version == terms["agreement_version"]:
        return None
    terms["agreement_version"] = version
    one = page_at_home(**terms) or sheet_at_home(**terms)
    return one.agreement if one is not None else None


def _named(rows: Any, key: str | None) -> Any:
    if not key:
        return None
    return get_object_or_404(rows, pk=whole(key))
