"""Which horns the form of a swap offers, and how any other is named."""

from __future__ import annotations

import pytest

from fleet.lending.forms import swapping
from fleet.lending.models import Loan
from fleet.lending.queries.swapping import instead_of
from fleet.register.models import Horn
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


@pytest.mark.both_engines
def test_the_horns_most_like_it_come_first_by_number_as_far_as_they_are_asked_for(lending, elsewhere):
    # As near as `rungs` has them, the numbers of a rung mixed over its sorts.
    rungs: list[list[tuple[str, str, str]]] = [
        [("single-f", "", "F"), ("single-f", "compact", "F")],
        [("compact-f", "", "F"), ("double-full", "", "F")],
        [("double-full", "open", "F"), ("double-full", "geyer", "F")],
        [("single-bb", "", "Bb"), ("single-f", "", "Bb")],
        [("mellophone-f", "", "F"), ("mellophone-f", "", "")],
    ]
    Horn.objects.filter(pk=lending.horn.pk).update(build="single-f", wrap="", stands_in="F")
    loan = make.loan(lending.horn, lending.pupil, lending.teacher)
    numbers, wanted = iter(range(900, 0, -1)), []
    for rung in reversed(rungs):
        numbered = [(f"HN-{next(numbers):04}", *sort) for sort in (*rung, *rung)]
        for number, build, wrap, stands_in in numbered:
            horn = make.horn(lending.school, number=number, build=build, wrap=wrap, stands_in=stands_in)
            make.check(horn, lending.teacher)
        wanted = [*sorted(number for number, *_ in numbered), *wanted]
    make.check(make.horn(elsewhere.school, build="single-f", stands_in="F"), elsewhere.teacher)

    assert [[horn.number for horn in instead_of(loan, most)] for most in (1, 4, 7, 99)] == [
        wanted[:most] for most in (1, 4, 7, 99)
    ]


@pytest.mark.parametrize(("offered", "asked"), [(1, True), (2, False)])
def test_a_number_is_asked_for_only_where_not_all_horns_are_offered(out, horns, monkeypatch, offered, asked):
    monkeypatch.setattr(swapping, "OFFERED", offered)

    assert ("other" in form_of(out).fields) is asked
