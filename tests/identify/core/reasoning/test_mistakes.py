"""What is read of how often staff err."""

import re

import pytest

from identify.core import DATA
from identify.core.horns.catalogue import DataError
from identify.core.reasoning.mistakes import mistakes, read_mistakes


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("rate = [0.04, 0.05]", "rate = 0.51", "lever_overlooked: rate is 0.51"),
        ("rate = [0.04, 0.05]", "rate = [0.04, 0.51]", "lever_overlooked: rate is [0.04, 0.51]"),
        ("rate = [0.04, 0.05]", "rate = [0.04, 0.0]", "lever_overlooked: rate is [0.04, 0.0]"),
        ("rate = [0.04, 0.05]", "rate = []", "lever_overlooked: rate is []"),
        ("rate = [0.04, 0.05]", "rate = true", "lever_overlooked: rate is True"),
        ("[lever_overlooked]", "[lever_forgotten]", "lever_forgotten: no check uses this mistake"),
        (
            'origin = "two estimates from practice, by different people; no source"',
            "",
            "lever_overlooked: must state rate, words and origin",
        ),
    ],
)
def test_nonsense_among_the_mistakes_is_refused(tmp_path, old, new, reason):
    text = (DATA / "mistakes.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "mistakes.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match=re.escape(f"mistakes.toml, {reason}")):
        read_mistakes(path)


def test_every_rate_of_mistakes_states_its_origin():
    assert all(mistake.origin.strip() and 0 < mistake.rate <= 0.5 for mistake in mistakes().values())


@pytest.mark.parametrize(("estimates", "mean"), [("0.5", 0.5), ("[0.5, 0.1]", 0.3), ("[0.2]", 0.2)])
def test_where_estimates_differ_their_mean_is_used(tmp_path, estimates, mean):
    text = (DATA / "mistakes.toml").read_text(encoding="utf-8")
    path = tmp_path / "mistakes.toml"
    path.write_text(text.replace("rate = [0.04, 0.05]", f"rate = {estimates}", 1), encoding="utf-8")
    assert read_mistakes(path)["lever_overlooked"].rate == pytest.approx(mean)
