"""Learning: nets that judge beats (jax and optax), and a ranking of whole explanations (scipy)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from eavesong.music.model import FARTHEST, REACHES, SPAN

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Weights = dict[str, Any]
HIDDEN, STEPS, BATCH = 48, 4500, 32
RATE, DECAY = 3e-3, 1e-2
BLIND, DIM, DROPPED = 0.25, 0.1, 0.3
"""Shares of a stretch's figures, of single figures and of a stretch's hidden units that are left out by chance in every
step, against learning by heart."""
BAR = 1.5
"""What it weighs how bars are judged, against beats."""
LONGEST = 400
"""Beats from which a longer candidate is not drawn more often."""


@dataclass(frozen=True, eq=False)
class Lesson:
    """One candidate's beats."""

    figures: NDArray[np.float16]
    """(n, c)."""
    right: Singles
    """(n,): 1 where the beat is right, 0 where it is not."""
    bar: Singles
    """(n,): 1 where it begins a bar."""


def learn_beats(
    lessons: list[Lesson], seeds: tuple[int, ...], given: NDArray[np.bool_] | None = None, neighbours: bool = True
) -> dict[str, Singles]:
    """The weights of a net for each seed, by the names of `eavesong.music.model.Model`.

    Cross entropy over stretches of 96 beats, bars learned from right beats only; AdamW (Loshchilov & Hutter 2019).
    ``given`` (c,) are the figures a net may see; without ``neighbours`` it sees one beat at a time.
    """
    chance = np.random.default_rng(seeds[0])
    some = np.concatenate([one.figures[chance.integers(0, len(one.figures), 20)] for one in lessons]).astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + np.float32(1e-2)
    seen = np.ones(len(mean), bool) if given is None else given
    nets = [_learn_net(lessons, mean, np.where(seen, spread, np.float32(np.inf)), seed, neighbours) for seed in seeds]
    stacked = {name: np.stack([np.asarray(net[name]) for net in nets]) for name in nets[0]}
    return {"beat_mean": mean, "beat_spread": np.where(seen, spread, np.float32(6e4)), **stacked}


def _learn_net(lessons: list[Lesson], mean: Singles, spread: Singles, seed: int, neighbours: bool) -> Weights:
    import jax
    import optax

    chance = np.random.default_rng(seed)
    lengths = np.array([min(len(one.figures), LONGEST) for one in lessons])
    weights = _fresh(len(mean), neighbours, chance)
    descent = optax.adamw(optax.cosine_onecycle_schedule(STEPS, RATE, pct_start=0.1), weight_decay=DECAY)
    state = descent.init(weights)
    loss = _loss(REACHES if neighbours else ())

    @jax.jit
    def step(weights: Weights, state: Any, batch: tuple[Singles, ...], key: Any) -> tuple[Weights, Any]:
        slopes = jax.grad(loss)(weights, *batch, key)
        moves, state = descent.update(slopes, state, weights)
        return optax.apply_updates(weights, moves), state

    for number in range(STEPS):
        drawn = chance.choice(len(lessons), BATCH, p=lengths / lengths.sum())
        batch = _batch([lessons[index] for index in drawn], mean, spread, chance)
        weights, state = step(weights, state, batch, jax.random.PRNGKey(seed * STEPS + number))
    return weights


def _fresh(count: int, neighbours: bool, chance: np.random.Generator) -> Weights:
    def normal(*shape: int) -> Singles:
        return chance.normal(0, shape[-2] ** -0.5, shape).astype(np.float32)

    layers = len(REACHES)
    return {
        "first": normal(count, HIDDEN),
        "first_bias": np.zeros(HIDDEN, np.float32),
        "turns": normal(layers, 3 * HIDDEN, HIDDEN) * np.float32(neighbours),
        "turns_bias": np.zeros((layers, HIDDEN), np.float32),
        "out": normal(2 * HIDDEN, 2) / 4,
        "out_bias": np.zeros(2, np.float32),
    }


def _batch(
    lessons: list[Lesson], mean: Singles, spread: Singles, chance: np.random.Generator
) -> tuple[Singles, Singles, Singles, Singles]:
    """A stretch of each candidate: figures (b, 96, c); whether there is a beat, it is right, begins a bar (b, 96)."""
    figures = np.zeros((len(lessons), SPAN, len(mean)), np.float32)
    there, right, bar = np.zeros((3, len(lessons), SPAN), np.float32)
    for row, one in enumerate(lessons):
        begin = chance.integers(0, max(1, len(one.right) - SPAN + 1))
        stretch = slice(begin, begin + SPAN)
        count = len(one.right[stretch])
        figures[row, :count] = np.clip((one.figures[stretch].astype(np.float32) - mean) / spread, -FARTHEST, FARTHEST)
        there[row, :count], right[row, :count], bar[row, :count] = 1, one.right[stretch], one.bar[stretch]
    return figures, there, right, bar


def _loss(reaches: tuple[int, ...]) -> Callable[..., Any]:
    """The cost of what `eavesong.music.model.Model.judge` does, for many stretches at once and with parts left out."""
    import jax
    import jax.numpy as jnp

    def moved(layer: Any, by: int) -> Any:
        nothing = jnp.zeros_like(layer[:, : abs(by)])
        return jnp.concatenate([nothing, layer[:, :-by]] if by > 0 else [layer[:, -by:], nothing], 1)

    def cost(odds: Any, wanted: Any) -> Any:
        return jnp.logaddexp(0, odds) - wanted * odds

    def loss(weights: Weights, figures: Any, there: Any, right: Any, bar: Any, key: Any) -> Any:
        keys = jax.random.split(key, 2 + len(reaches))
        beat = there[..., None]
        figures *= jax.random.uniform(keys[0], (len(figures), 1, figures.shape[2])) > BLIND
        figures *= jax.random.uniform(keys[1], figures.shape) > DIM
        layer = jax.nn.relu(figures @ weights["first"] + weights["first_bias"]) * beat
        for reach, turn, bias, own in zip(reaches, weights["turns"], weights["turns_bias"], keys[2:], strict=False):
            three = jnp.concatenate([moved(layer, reach), layer, moved(layer, -reach)], -1)
            more = jax.nn.relu(three @ turn + bias)
            kept = jax.random.uniform(own, (len(more), 1, HIDDEN)) > DROPPED
            layer = (layer + more * kept / (1 - DROPPED)) * beat
        around = layer.sum(1, keepdims=True) / jnp.maximum(beat.sum(1, keepdims=True), 1)
        told = jnp.concatenate([layer, jnp.broadcast_to(around, layer.shape)], -1)
        odds = told @ weights["out"] + weights["out_bias"]
        beats, bars = cost(odds[..., 0], right) * there, cost(odds[..., 1], bar) * there * right
        return (beats.sum() + BAR * bars.sum()) / there.sum()

    return loss


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
