"""Choosing for which classes horns are proposed, of few and of many."""

from __future__ import annotations

import pytest

from tests import make


@pytest.mark.parametrize(("others", "more"), [(50, False), (51, True)])
def test_of_many_classes_the_ticked_and_the_first_others_are_offered_and_words_find_the_rest(
    client, page, band, others, more
):
    for n in range(others - 2):
        make.pupil(band.school, group=f"Class {n}")
    make.pupil(band.school)
    make.pupil(band.school, group="Choir")

    asked = client.get(page, {"class": "Choir", "do": "find"})
    found = client.get(page, {"class": "Choir", "do": "find", "find": "no class"})

    labels = [one["label"] for one in asked.context["classes"]]
    assert (labels[:2], len(labels), asked.context["more"]) == (["Choir", "Band"], 51, more)
    assert ("in no class" in labels) is not more
    assert [(one["label"], one["pupils"]) for one in found.context["classes"]] == [("Choir", 1), ("in no class", 1)]


@pytest.mark.parametrize(("counted_to", "words"), [(2, "All 2 pupils"), (1, "All pupils")])
def test_the_button_for_everybody_counts_no_further_than_lists_do(client, page, band, monkeypatch, counted_to, words):
    make.pupil(band.school)
    monkeypatch.setattr("fleet.matching.pages.proposing.COUNTED_TO", counted_to)
    assert client.get(page).context["everybody"] == words
