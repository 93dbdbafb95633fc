"""Fits the weights of the hearing to one font's clips, and writes them. Only ever to the font that is tuned
on.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing import listening
from identify.core.hearing.proposals import FEATURES, Proposals, propose
from identify.core.hearing.spectrum import Floats, Spectra, spectra
from identify.core.hearing.weights import Fitted, terms
from tests.bench.hearing.clips import Clip, draw, plain
from tests.bench.hearing.render import FONTS

DRAWS = ((21, 3_500, 2_450), (22, 1_500, 1_050))  # seed, notes, clips without a note
VARIED = (51, 1_600, 1_100)
ROUGH = 0.4  # share of the varied notes that get faint lines halfway between their partials
MADE = (5, 1_200)  # seed and count of made tones
CLOSE = 20.0  # cents within which a proposal is right
OUTSIDE_WEIGHT = 2.0  # an answer where there is no note weighs as two notes missed


def _measured(rows: Floats) -> tuple[Floats, Floats, Floats]:
    mean, spread = rows.mean(axis=0), rows.std(axis=0) + 1e-9
    return np.clip((rows - mean) / spread, -4, 4), mean, spread


def fit_choice(groups: list[Floats], right: list[NDArray[np.bool_]], rounds: int = 400, ridge: float = 3e-4) -> Fitted:
    """Softmax over the proposals of each clip: the right one should score highest."""
    rows = np.concatenate(groups)
    facts, mean, spread = _measured(rows)
    table = terms(facts)
    is_right = np.concatenate(right).astype(float)
    sizes = np.array([len(group) for group in groups])
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    owner = np.repeat(np.arange(len(groups)), sizes)
    weights = np.zeros(table.shape[1])
    first, second = np.zeros_like(weights), np.zeros_like(weights)
    for turn in range(1, rounds + 1):
        score = table @ weights
        score -= np.maximum.reduceat(score, starts)[owner]
        share = np.exp(score)
        share /= np.add.reduceat(share, starts)[owner]
        good = share * is_right
        slope = (
            table.T @ (share - good / (np.add.reduceat(good, starts)[owner] + 1e-12)) / len(groups) + ridge * weights
        )
        first, second = 0.9 * first + 0.1 * slope, 0.99 * second + 0.01 * slope**2
        weights -= 0.05 * first / (1 - 0.9**turn) / (np.sqrt(second / (1 - 0.99**turn)) + 1e-8)
    return Fitted(FEATURES, mean, spread, weights)


def fit_trust(rows: Floats, right: Floats, names: tuple[str, ...], ridge: float = 8.0) -> Fitted:
    """Logistic regression by Newton's method: the chance that the chosen note is right."""
    facts, mean, spread = _measured(rows)
    table = terms(facts)
    scale = table.std(axis=0) + 1e-9
    scale[0] = 1.0
    table = table / scale
    weight = np.where(right > 0, 1.0, OUTSIDE_WEIGHT)
    weights = np.zeros(table.shape[1])
    penalty = ridge * np.eye(len(weights))
    penalty[0, 0] = 1e-6
    for _ in range(40):
        chance = 1 / (1 + np.exp(-np.clip(table @ weights, -30, 30)))
        slope = table.T @ (weight * (chance - right)) + penalty @ weights
        bend = (table * (weight * chance * (1 - chance))[:, None]).T @ table + penalty
        weights -= np.linalg.solve(bend, slope)
    return Fitted(names, mean, spread, weights / scale)


def _written(name: str, fit: Fitted) -> str:
    def numbers(values: Floats, digits: int) -> str:
        lines = [f"{value:.{digits}g}" for value in values]
        return "[\n" + "".join(f"  {', '.join(lines[i : i + 10])},\n" for i in range(0, len(lines), 10)) + "]"

    names = ", ".join(f'"{fact}"' for fact in fit.names)
    return (
        f"[{name}]\nnames = [{names}]\nmean = {numbers(fit.mean, 6)}\n"
        f"spread = {numbers(fit.spread, 6)}\nweights = {numbers(fit.weights, 5)}\n"
    )


def rough(clips: Iterable[Clip], seed: int) -> Iterator[Clip]:
    """Some notes with faint lines halfway between their partials, as a looped sample or an uneven lip has; and some
    with another note sounding faintly an octave below, which is no part of them.
    """
    dice = np.random.default_rng([seed, 8])
    for clip in clips:
        kind = float(dice.random())
        if clip.hz is None or kind > ROUGH:
            yield clip
            continue
        time = np.arange(len(clip.samples)) / clip.rate
        if kind < 0.6 * ROUGH:
            depth = 10 ** (-float(dice.uniform(28, 55)) / 20)
            samples = clip.samples * (1 + depth * np.cos(np.pi * clip.hz * time + float(dice.uniform(0, 6.28))))
            samples = samples.astype(np.float32)
        else:
            below = clip.hz / 2 * 2 ** (float(dice.normal(0, 20)) / 1200)
            other = sum(
                10 ** (-float(dice.uniform(3, 9)) * (k - 1) / 20) * np.sin(2 * np.pi * k * below * time + k)
                for k in range(1, 9)
                if k * below < 0.45 * clip.rate
            )
            level = float(np.std(clip.samples)) * 10 ** (-float(dice.uniform(16, 30)) / 20)
            samples = (clip.samples + other * level / max(float(np.std(other)), 1e-9)).astype(np.float32)
        yield replace(clip, samples=(samples / max(1.0, float(np.abs(samples).max()))).astype(np.float32))


def tune(store: Path, target: Path) -> str:
    """Draws the clips of DRAWS from the font that is tuned on, fits both scores, writes ``target``."""
    font = next(font for font in FONTS if font.note == "tuned on")
    drawn = (clip for seed, notes, others in DRAWS for clip in draw(font, store, seed, notes, others))
    choice, trust, said = fit(
        itertools.chain(drawn, rough(draw(font, store, *VARIED, varied=True), VARIED[0]), plain(*MADE))
    )
    heading = (
        f"# Fitted by `make bench-hear ARGS=--tune` to {font.path.name} ({font.package}) and made tones:\n"
        f"# {said}. Not to be edited by hand.\n\n"
    )
    target.write_text(heading + _written("choice", choice) + "\n" + _written("trust", trust), encoding="utf-8")
    return said


def fit(clips: Iterable[Clip]) -> tuple[Fitted, Fitted, str]:
    """The choice among proposals, the trust in what was chosen, and on how much they were fitted.

    The trust is fitted on clips which the choice was not fitted on, so that it learns honest margins.
    """
    groups: list[Floats] = []
    right: list[NDArray[np.bool_]] = []
    kept: list[tuple[Spectra, Proposals, float | None]] = []
    for number, clip in enumerate(clips):
        seen = spectra(clip.samples, clip.rate)
        proposals = propose(seen)
        if proposals is None:
            continue
        close = np.abs(1200 * np.log2(proposals.hz / (clip.hz or 1e-9))) < CLOSE
        if close.any() and number % 2:
            groups.append(proposals.features)
            right.append(close)
        else:
            kept.append((seen, proposals, clip.hz))
    choice = fit_choice(groups, right)
    rows, good = [], []
    for seen, proposals, hz in kept:
        chosen = listening.choose(proposals, choice)
        rows.append(listening.facts(seen, proposals, chosen)[0])
        good.append(float(hz is not None and abs(1200 * np.log2(chosen.hz / hz)) < CLOSE))
    trust = fit_trust(np.array(rows), np.array(good), listening.TRUST_FACTS)
    return choice, trust, f"the choice to {len(groups)} notes, the trust to {len(rows)} other clips"
