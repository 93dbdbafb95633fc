"""Letters about a change of address: a dead old address keeps nobody from a new one, a dead new one is no address."""

from __future__ import annotations

import pytest

from fleet.ground.refusal import Refused
from fleet.people.actions.telling import tell
from fleet.people.queries.addresses import Telling

LETTERS = [
    Telling(name, address, {"guardian": "Ann"})
    for name, address in (("address_before", "old@example.org"), ("address_new", "new@example.org"))
]


def test_an_old_address_that_is_dead_does_not_keep_the_new_one_from_its_letter(postbox):
    postbox.refuses["old@example.org"] = "550 no such mailbox"
    tell(LETTERS)
    assert postbox.to() == ["new@example.org"]


def test_a_new_address_that_is_dead_is_refused_by_its_name(postbox):
    postbox.refuses["new@example.org"] = "550 no such mailbox"
    with pytest.raises(Refused, match="does not take letters to new@"):
        tell(LETTERS)


def test_a_server_that_is_not_there_lets_nothing_be_changed(mail):
    with pytest.raises(Refused, match="nothing was changed"):
        tell(LETTERS)
