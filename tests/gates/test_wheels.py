"""What the resolver says of pins without a wheel is read package by package; what it says else ends the asking."""

from __future__ import annotations

import pytest

from tests.gates.wheels import lacking

PINS = (
    "one==1.0 \\\n    --hash=sha256:aa\ntwo==2.0 ; x \\\n    --hash=sha256:bb \\\n    --hash=sha256:cc\n"
    "three==3.0 \\\n    --hash=sha256:dd\n"
)


def test_every_package_without_a_wheel_is_named_and_the_others_are_asked_for_again():
    left: list[str] = []

    def ask(pins: str, machine: str, python: str) -> str:
        left.append(pins)
        lacks = next((name for name in ("one", "two") if f"{name}==" in pins), None)
        return f"Because {lacks}{{x != 'y'}}=={python} has no usable wheels and you require it" if lacks else ""

    assert lacking(PINS, "m", "3.14", ask) == ["one", "two"]
    assert left[-1] == "three==3.0 \\\n    --hash=sha256:dd\n"


@pytest.mark.parametrize("said", ["the registry does not answer", "four==4.0 has no usable wheels"])
def test_whatever_else_the_resolver_says_is_told_as_it_is(said):
    with pytest.raises(SystemExit, match=said):
        lacking(PINS, "m", "3.14", lambda *asked: said)
