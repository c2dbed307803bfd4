"""Learning: nets that judge beats (jax and optax), and a ranking of whole explanations (scipy)."""

from __future__ import annotations

import time
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
HIDDEN, STEPS = 64, 8_000
SONGS, EACH = 8, 5
"""Songs of a step, and candidates of each: one of its two best, and others."""
RATE, DECAY, WARM = 2.5e-3, 1e-2, 0.1
"""How fast is learned at most, how fast weights fade, and the share of the time in which the rate rises."""
BLIND, DIM, DROPPED = 0.25, 0.1, 0.3
"""Shares of a stretch's figures, of single figures and of a stretch's hidden units that are left out by chance in every
step, against learning by heart."""
BAR, FAVOUR = 1.5, 0.5
"""What it weighs how bars are judged, and which candidate of a song is favoured, against beats."""
LONGEST = 400
"""Beats from which a longer song is not drawn more often."""
HEAT = 0.2
"""Of the softmax that says how much better one candidate is than another."""


@dataclass(frozen=True, eq=False)
class Lesson:
    """One candidate's beats, and how good it is."""

    figures: NDArray[np.float16]
    """(n, c)."""
    right: Singles
    """(n,): 1 where the beat is right, 0 where it is not."""
    bar: Singles
    """(n,): 1 where it begins a bar."""
    worth: float
    """0 to 1."""


def learn_net(
    songs: list[list[Lesson]],
    seed: int,
    seconds: float,
    given: NDArray[np.bool_] | None = None,
    neighbours: bool = True,
) -> dict[str, Singles]:
    """The weights of a net, by the names of `eavesong.music.model.Model`, from songs' candidates, three of each song at
    least; no longer than ``seconds``. What figures are scaled by is the same for all seeds.

    Cross entropy over stretches of 96 beats, bars learned from right beats only, and between the candidates of a song
    (Cao et al. 2007, ListNet); AdamW (Loshchilov & Hutter 2019). ``given`` (c,) are the figures a net may see; without
    ``neighbours`` it sees one beat at a time.
    """
    chance = np.random.default_rng(0)
    every = [one.figures for song in songs for one in song]
    some = np.concatenate([figures[chance.integers(0, len(figures), 6)] for figures in every]).astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + np.float32(1e-2)
    seen = np.ones(len(mean), bool) if given is None else given
    net = _learn_net(songs, mean, np.where(seen, spread, np.float32(np.inf)), seed, seconds, neighbours)
    weights = {name: np.asarray(value, np.float32) for name, value in net.items()}
    return {"beat_mean": mean, "beat_spread": np.where(seen, spread, np.float32(6e4)), **weights}


def _learn_net(
    songs: list[list[Lesson]], mean: Singles, spread: Singles, seed: int, seconds: float, neighbours: bool
) -> Weights:
    import jax
    import optax

    chance, begun = np.random.default_rng(seed), time.monotonic()
    ordered = [sorted(song, key=lambda one: -one.worth) for song in songs]
    lengths = np.array([min(np.median([len(one.right) for one in song]), LONGEST) for song in songs])
    weights = _fresh(len(mean), neighbours, chance)
    descent = optax.adamw(1.0, weight_decay=DECAY)
    state = descent.init(weights)
    loss = _loss(REACHES if neighbours else ())

    @jax.jit
    def step(weights: Weights, state: Any, rate: Any, batch: tuple[Singles, ...], key: Any) -> tuple[Weights, Any]:
        slopes = jax.grad(loss)(weights, *batch, key)
        moves, state = descent.update(slopes, state, weights)
        return optax.apply_updates(weights, jax.tree.map(lambda move: rate * move, moves)), state

    number = 0
    while (share := max(number / STEPS, (time.monotonic() - begun) / seconds)) < 1:
        drawn = chance.choice(len(songs), SONGS, p=lengths / lengths.sum())
        batch = _batch([ordered[index] for index in drawn], mean, spread, chance)
        rate = np.float32(RATE * min(share / WARM, 0.5 + 0.5 * np.cos(np.pi * max(0.0, share - WARM) / (1 - WARM))))
        weights, state = step(weights, state, rate, batch, jax.random.PRNGKey(seed * STEPS + number))
        number += 1
    print(f"net {seed}: {number} steps, {time.monotonic() - begun:.0f} s", flush=True)
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
        "out": normal(2 * HIDDEN, 3) / 4,
        "out_bias": np.zeros(3, np.float32),
    }


def _batch(songs: list[list[Lesson]], mean: Singles, spread: Singles, chance: np.random.Generator) -> Any:
    """A stretch of some candidates of each song, from about the same part of it: figures (b, 96, c); whether there is a
    beat, it is right, begins a bar (b, 96); how much of its song's trust each should have (s, e)."""
    figures = np.zeros((SONGS * EACH, SPAN, len(mean)), np.float32)
    there, right, bar = np.zeros((3, SONGS * EACH, SPAN), np.float32)
    trust = np.zeros((SONGS, EACH), np.float32)
    for number, song in enumerate(songs):
        best = int(chance.integers(0, 2))
        others = np.delete(np.arange(len(song)), best)
        drawn = [song[index] for index in (best, *chance.choice(others, EACH - 1, len(others) < EACH - 1))]
        trust[number] = np.exp((np.array([one.worth for one in drawn]) - 1) / HEAT)
        place = chance.random()
        for row, one in enumerate(drawn, number * EACH):
            begin = round(place * max(0, len(one.right) - SPAN))
            stretch = slice(begin, begin + SPAN)
            count = len(one.right[stretch])
            figures[row, :count] = np.clip((one.figures[stretch] - mean) / spread, -FARTHEST, FARTHEST)
            there[row, :count], right[row, :count], bar[row, :count] = 1, one.right[stretch], one.bar[stretch]
    return figures, there, right, bar, trust / trust.sum(axis=1, keepdims=True)


def _loss(reaches: tuple[int, ...]) -> Callable[..., Any]:
    """The cost of what `eavesong.music.model.Model.judge` does, for many stretches at once and with parts left out."""
    import jax
    import jax.numpy as jnp

    def moved(layer: Any, by: int) -> Any:
        nothing = jnp.zeros_like(layer[:, : abs(by)])
        return jnp.concatenate([nothing, layer[:, :-by]] if by > 0 else [layer[:, -by:], nothing], 1)

    def cost(odds: Any, wanted: Any) -> Any:
        return jnp.logaddexp(0, odds) - wanted * odds

    def loss(weights: Weights, figures: Any, there: Any, right: Any, bar: Any, trust: Any, key: Any) -> Any:
        keys = jax.random.split(key, 2 + len(reaches))
        beat = there[..., None]
        figures *= left_out(keys[0], figures.shape[2], BLIND)
        figures *= jax.random.uniform(keys[1], figures.shape) > DIM
        layer = jax.nn.relu(figures @ weights["first"] + weights["first_bias"]) * beat
        for reach, turn, bias, own in zip(reaches, weights["turns"], weights["turns_bias"], keys[2:], strict=False):
            three = jnp.concatenate([moved(layer, reach), layer, moved(layer, -reach)], -1)
            more = jax.nn.relu(three @ turn + bias) * left_out(own, HIDDEN, DROPPED) / (1 - DROPPED)
            layer = (layer + more) * beat
        count = jnp.maximum(beat.sum(1, keepdims=True), 1)
        around = layer.sum(1, keepdims=True) / count
        told = jnp.concatenate([layer, jnp.broadcast_to(around, layer.shape)], -1)
        odds = told @ weights["out"] + weights["out_bias"]
        beats, bars = cost(odds[..., 0], right) * there, cost(odds[..., 1], bar) * there * right
        favour = ((odds[..., 2] * there).sum(1) / count[:, 0, 0]).reshape(SONGS, EACH)
        apart = -(trust * jax.nn.log_softmax(favour, 1)).sum(1).mean()
        return (beats.sum() + BAR * bars.sum()) / there.sum() + FAVOUR * apart

    def left_out(key: Any, count: int, share: float) -> Any:
        """What stays (b, 1, count) of each candidate's stretch: the same for all of a song."""
        return jnp.repeat(jax.random.uniform(key, (SONGS, 1, count)) > share, EACH, axis=0)

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
