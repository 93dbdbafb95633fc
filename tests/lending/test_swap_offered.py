"""Which horns the form of a swap offers, and how any other is named."""

from __future__ import annotations

import pytest

from fleet.lending.forms import swapping
from fleet.lending.models import Loan
from fleet.workshop.forms.checks import CheckForm
from tests import make


def form_of(loan: Loan, sent: dict[str, object] | None = None) -> swapping.SwapForm:
    check = CheckForm(None, None, horn=loan.horn, known=[])
    return swapping.SwapForm(sent, loan=loan, today=make.TODAY, check=check)


@pytest.fixture
def horns(lending):
    found = {number: make.horn(lending.school, number=number) for number in ("HN-9997", "HN-9998", "HN-5555")}
    for number, horn in found.items():
        make.check(horn, lending.teacher, grade=3 if number == "HN-5555" else 1)
    return found


@pytest.mark.parametrize(
    ("chosen", "typed", "goes", "sentence"),
    [
        ("", "hn-9998", "HN-9998", ""),
        ("HN-9997", "", "HN-9997", ""),
        ("", "", "", "Choose a horn."),
        ("HN-9997", "HN-9998", "", "A horn is chosen above already. Leave one of the two empty."),
        ("", "HN-5555", "", "No horn of this number may be lent now."),
        ("HN-5555", "", "", "That horn may not be lent any more."),
        ("HN-5555", "HN-9998", "", "That horn may not be lent any more."),
    ],
)
def test_of_many_horns_the_nearest_are_offered_and_any_other_is_named_by_its_number(
    out, horns, monkeypatch, chosen, typed, goes, sentence
):
    monkeypatch.setattr(swapping, "OFFERED", 1)

    form = form_of(out, {"to": horns[chosen].pk if chosen else "", "other": typed})

    assert [words for _, words in form.fields["to"].choices][1:] == ["HN-9997: single horn in F"]
    said = [each for name in ("to", "other") for each in form.errors.get(name, [])]
    assert said == ([sentence] if sentence else [])
    assert form.fields["to"].required, "it would be called optional beside the number"
    assert not goes or form.cleaned_data["to"] == horns[goes]


@pytest.mark.parametrize(("offered", "asked"), [(1, True), (2, False)])
def test_a_number_is_asked_for_only_where_not_all_horns_are_offered(out, horns, monkeypatch, offered, asked):
    monkeypatch.setattr(swapping, "OFFERED", offered)

    assert ("other" in form_of(out).fields) is asked
