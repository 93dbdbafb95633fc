"""What a job's steps say is kept in English and told in the language of who reads it."""

from __future__ import annotations

import pytest
from django.utils.translation import override

from fleet.workshop.actions.jobs import CHANGED
from fleet.workshop.actions.outside import NAMES
from fleet.workshop.models.steps import SAID, told_again


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("opened by a condition check", "durch eine Zustandsprüfung angelegt"),
        ("on the bench, technician Greta Solvang", "auf der Werkbank, technische Betreuung: Greta Solvang"),
        ("brought for repair, its loan goes on; done", "zur Reparatur gebracht, die Ausleihe läuft weiter; fertig"),
        ("at the repairer’s: with Row & Sons, quote 80.00", "beim Reparaturbetrieb: bei Row & Sons, Angebot 80.00"),
        ("quote of 185.00 approved", "Angebot über 185.00 genehmigt"),
        ("45 min, cost noted, notes changed", "45 min, Kosten vermerkt, Notizen geändert"),
        ("Rotor: stuck not done: with glue, opened", "Rotor: stuck not done: with glue, opened"),
        ("an older sentence, with nothing", "an older sentence, bei nothing"),
    ],
)
def test_a_step_is_told_in_the_readers_language_and_what_was_typed_as_it_is(kept, told):
    with override("de"):
        assert told_again(kept) == told
    assert told_again(kept) == kept


def test_whatever_an_action_says_of_a_changed_field_can_be_told_again():
    with override("en-gb"):
        known = {str(one) for one in SAID}
        said = {filled.format("%(what)s") for filled, _ in NAMES.values()} | {emptied for _, emptied in NAMES.values()}
    assert (said | set(CHANGED.values())) - known == set()
