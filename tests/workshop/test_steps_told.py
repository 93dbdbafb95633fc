"""What a job's steps say is kept in English and told in the language of who reads it."""

from __future__ import annotations

import re

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
        ("at the repairer’s: with Row & Sons, quote 80.00", "beim Reparaturbetrieb: bei Row & Sons, Angebot 80,00"),
        ("quote of 185.00 approved", "Angebot über 185,00 genehmigt"),
        (
            "at the repairer’s: sent 27 September, expected back 2 March 2027",
            "beim Reparaturbetrieb: gesendet am 27. September, zurückerwartet am 2. März 2027",
        ),
        ("the family brings it on 4 May 2027", "die Familie bringt es am 4. Mai 2027"),
        ("sent by hand, back 31 February", "gesendet am by hand, zurück am 31 February"),
        ("45 min, cost noted, notes changed", "45 min, Kosten vermerkt, Notizen geändert"),
        ("Rotor: stuck not done: with glue, opened", "Rotor: stuck: nicht erledigt, weil: with glue, opened"),
        (
            "taken in: rotor leaking (low compression) (1st, 2nd and 3rd valve), F side: a slide frozen (2nd slide)",
            "hinzugenommen: Drehventil undicht (Ventil: 1., 2. und 3.), F-Seite: ein Zug sitzt fest (Zug: 2.)",
        ),
        ("bell dented (2 of them) done", "Schallbecher verbeult (2 Stück): erledigt"),
        ("bell dented mended on the spot, 5 min", "Schallbecher verbeult: an Ort und Stelle behoben, 5 min"),
        ("clean by hand not ordered any more", "von Hand reinigen: nicht mehr bestellt"),
        ("invoice 7.00 over 80.00 kept", "Rechnung 7.00 über 80,00 abgelegt"),
        ("invoice 7 over 80.00 kept", "Rechnung 7 über 80,00 abgelegt"),
        ("took the quote of 80.00 from Row & Sons: by May", "Angebot über 80,00 von Row & Sons angenommen: by May"),
        ("an older sentence, with nothing", "an older sentence, bei nothing"),
    ],
)
def test_a_step_is_told_in_the_readers_language_and_what_was_typed_as_it_is(kept, told):
    with override("de"):
        assert told_again(kept) == told
    assert told_again(kept) == kept


def test_whatever_an_action_says_of_a_changed_field_can_be_told_again():
    with override("en-gb"):
        known = {re.sub(r"%\((amount|day)\)s", "%(what)s", str(one)) for one in SAID}
        said = {filled.format("%(what)s") for filled, _ in NAMES.values()} | {emptied for _, emptied in NAMES.values()}
    assert (said | set(CHANGED.values())) - known == set()
