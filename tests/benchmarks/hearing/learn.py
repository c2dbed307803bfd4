"""Learning with numpy: a net that judges beats, and a ranking of whole explanations."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from eavesong.music.model import FARTHEST

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
HIDDEN, ROUNDS, BATCH = 32, 8, 512
RATE, DECAY = 3e-3, 3e-4
BLIND, DROPPED = 0.1, 0.15
"""Shares of figures and of hidden units that are left out by chance in every step, against learning by heart."""


def learn_beats(figures: NDArray[np.float16], right: Singles, bar: Singles, seed: int) -> dict[str, Singles]:
    """The weights that judge beats: from figures (n, c), whether each beat is right, whether it begins a bar.

    One hidden layer, cross entropy, Adam (Kingma & Ba 2015). Bars are learned from right beats only.
    """
    chance = np.random.default_rng(seed)
    some = figures[chance.choice(len(figures), min(len(figures), 40_000), replace=False)].astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + 1e-2
    width = figures.shape[1]
    weights = [
        chance.normal(0, width**-0.5, (width, HIDDEN)).astype(np.float32),
        np.zeros(HIDDEN, np.float32),
        chance.normal(0, HIDDEN**-0.5, (HIDDEN, 2)).astype(np.float32),
        np.zeros(2, np.float32),
    ]
    wanted = np.stack([right, bar], axis=1)
    descend = _adam(weights, ROUNDS * -(-len(figures) // BATCH))
    for rows in _batches(len(figures), chance):
        scaled = np.clip((figures[rows].astype(np.float32) - mean) / spread, -FARTHEST, FARTHEST)
        scaled *= chance.random(scaled.shape, dtype=np.float32) > BLIND
        hidden = np.tanh(scaled @ weights[0] + weights[1])
        kept = (chance.random(hidden.shape, dtype=np.float32) > DROPPED) / np.float32(1 - DROPPED)
        error = 1 / (1 + np.exp(-((hidden * kept) @ weights[2] + weights[3]))) - wanted[rows]
        error[:, 1] *= 1.5 * wanted[rows, 0]
        error /= len(rows)
        back = (error @ weights[2].T) * kept * (1 - hidden**2)
        descend([scaled.T @ back, back.sum(axis=0), (hidden * kept).T @ error, error.sum(axis=0)])
    names = ("hidden", "hidden_bias", "out", "out_bias")
    return {"beat_mean": mean, "beat_spread": spread, **dict(zip(names, weights, strict=True))}


def _batches(count: int, chance: np.random.Generator) -> Iterator[NDArray[np.int64]]:
    for _ in range(ROUNDS):
        order = chance.permutation(count)
        yield from (order[begin : begin + BATCH] for begin in range(0, count, BATCH))


def _adam(weights: list[Singles], steps: int):  # type: ignore[no-untyped-def]
    """A function that moves the weights against their slopes; the pace falls to nothing over all steps."""
    first, second = ([np.zeros_like(weight) for weight in weights] for _ in range(2))
    step = 0

    def descend(slopes: list[Singles]) -> None:
        nonlocal step
        step += 1
        pace = RATE * max(0.02, 1 - step / steps)
        for index, weight in enumerate(weights):
            slope = slopes[index] + (DECAY * weight if weight.ndim > 1 else 0)
            first[index] = 0.9 * first[index] + 0.1 * slope
            second[index] = 0.999 * second[index] + 0.001 * slope**2
            ahead, size = first[index] / (1 - 0.9**step), second[index] / (1 - 0.999**step)
            weight -= (pace * ahead / (np.sqrt(size) + 1e-8)).astype(np.float32)

    return descend


def learn_ranking(
    songs: list[tuple[Floats, Floats]], heat: float = 0.3, decay: float = 0.03
) -> tuple[Singles, Singles, Singles]:
    """Mean, spread and weights that rank each song's explanations, from their figures (m, r) and worth (m,), 0 to 1.

    The cross entropy between softmax(worth / ``heat``) and softmax(score) in each song (Cao et al. 2007, ListNet).
    """
    table = np.vstack([figures for figures, _ in songs])
    mean, spread = table.mean(axis=0), table.std(axis=0) + 1e-3
    scaled = np.clip((table - mean) / spread, -FARTHEST, FARTHEST)
    begins = np.cumsum([0, *(len(worth) for _, worth in songs[:-1])])
    song = np.repeat(np.arange(len(songs)), [len(worth) for _, worth in songs])

    def shares(scores: Floats) -> Floats:
        lifted = np.exp(scores - np.maximum.reduceat(scores, begins)[song])
        return lifted / np.add.reduceat(lifted, begins)[song]

    wanted = shares(np.concatenate([worth for _, worth in songs]) / heat)

    def loss(weights: Floats) -> tuple[float, Floats]:
        given = shares(scaled @ weights)
        cost = -float(wanted @ np.log(given + 1e-12)) / len(songs) + decay * float(weights @ weights)
        return cost, scaled.T @ (given - wanted) / len(songs) + 2 * decay * weights

    found = minimize(loss, np.zeros(table.shape[1]), jac=True, method="L-BFGS-B", options={"maxiter": 150})
    return mean.astype(np.float32), spread.astype(np.float32), found.x.astype(np.float32)


def learn_sureness(standing: Floats, share: Floats) -> Singles:
    """Weights (4,) from how explanations stand (m, 3) to the log odds of their beats being right (m,) of 1."""
    table = np.hstack([standing, np.ones((len(standing), 1))])

    def loss(weights: Floats) -> tuple[float, Floats]:
        odds = table @ weights
        given = 1 / (1 + np.exp(-odds))
        cost = float(np.mean(np.logaddexp(0, odds) - share * odds)) + 1e-3 * float(weights @ weights)
        return cost, table.T @ (given - share) / len(share) + 2e-3 * weights

    return minimize(loss, np.zeros(4), jac=True, method="L-BFGS-B").x.astype(np.float32)
