"""Learn to hear drum strokes from songs whose strokes are known; writes ``music/strokes.npz``.

    python train_strokes.py SET... --kept FOLDER [--steps 3000] [--jobs 2]

Needs jax and optax. Bands are tilted, blurred by noise and raised or lowered by chance in every step, so that other
recordings and other drums are no surprise. Half of what is learned from are plain loops (sets called ``loops…``), to
most of which songs without drums are added.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import optax
from known import songs_of
from struck import all_heard, events_of, heard_of, truth_path

from eavesong.music import strokes
from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import WINDOW
from eavesong.music.strokes import NEAR, REACHES, SPAN, STROKES, StrokeNet, stroke_odds

WIDTH, LENGTH, SONGS = 48, 600, 16
RATE, DECAY = 3e-3, 1e-2
MARGIN = 140
THRESHOLDS = np.linspace(-2, 2, 17)


def targets(events: dict[str, np.ndarray], frames: int) -> np.ndarray:
    """(f, 3): 1 in the frame in whose middle a stroke begins, less beside it."""
    told = np.zeros((frames, 3), np.float32)
    for at, kind in enumerate(STROKES):
        middle = (events.get(kind, np.zeros(0)) + WINDOW / 2) * FRAME_RATE
        for offset, weight in ((-2, 0.1), (2, 0.1), (-1, 0.6), (1, 0.6), (0, 1.0)):
            index = np.rint(middle).astype(int) + offset
            index = index[(index >= 0) & (index < frames)]
            told[index, at] = np.maximum(told[index, at], weight)
    return told


def changed(fine: np.ndarray, chance: np.random.Generator) -> np.ndarray:
    """Fine bands (f, 64) as another room, equaliser and level would give them; noise fills what is faint."""
    bands = np.linspace(-1, 1, fine.shape[1])
    colour = chance.normal(0, 0.5) * bands + np.interp(bands, np.linspace(-1, 1, 7), chance.normal(0, 0.35, 7))
    level = fine + np.where(fine > 0, colour + chance.normal(0, 0.4), 0.0)
    if chance.random() < 0.6:
        floor = chance.uniform(0.5, 5.0) + chance.normal(0, 0.6) * bands
        hiss = floor + 0.25 * chance.normal(size=fine.shape)
        level = np.log10(10**level + 10**hiss)
    return np.maximum(level, 0.0).astype(np.float16)


def mixed(fine: np.ndarray, others: list[np.ndarray], chance: np.random.Generator) -> np.ndarray:
    """Fine bands (f, 64) with those of a song without drums added as powers, from much softer to somewhat louder."""
    other = others[int(chance.integers(len(others)))]
    begin = int(chance.integers(0, max(1, len(other) - len(fine))))
    part = np.zeros_like(fine)
    found = other[begin : begin + len(fine)].astype(np.float32)
    part[: len(found)] = found
    gain = np.percentile(fine, 90) - np.percentile(part, 90) + chance.uniform(-1.8, 0.2)
    return np.log10(10**fine + np.where(part > 0, 10 ** (part + gain), 0.0)).astype(np.float32)


def fresh(chance: np.random.Generator) -> dict[str, Any]:
    """Weights to begin with."""
    seen = 2 * 64 * (2 * NEAR + 1)

    def drawn(*shape: int) -> Any:
        return jnp.asarray(chance.normal(0, np.sqrt(2 / shape[-2]), shape), jnp.float32)

    return {
        "first": drawn(seen, WIDTH),
        "first_bias": jnp.zeros(WIDTH),
        "turns": drawn(len(REACHES), 3 * WIDTH, WIDTH) * 0.5,
        "turns_bias": jnp.zeros((len(REACHES), WIDTH)),
        "out": drawn(2 * WIDTH, 3) * 0.3,
        "out_bias": jnp.full(3, -2.5),
    }


def odds(weights: dict[str, Any], figures: Any) -> Any:
    """As `StrokeNet.odds`, for a batch (b, t, 128)."""

    def moved(rows: Any, shift: int) -> Any:
        return jnp.pad(rows, ((0, 0), (max(-shift, 0), max(shift, 0)), (0, 0)))[:, max(shift, 0) :][:, : rows.shape[1]]

    stacked = jnp.concatenate([moved(figures, shift) for shift in range(-NEAR, NEAR + 1)], axis=2)
    layer = jax.nn.relu(stacked @ weights["first"] + weights["first_bias"])
    for at, reach in enumerate(REACHES):
        three = jnp.concatenate([moved(layer, -reach), layer, moved(layer, reach)], axis=2)
        layer = layer + jax.nn.relu(three @ weights["turns"][at] + weights["turns_bias"][at])
    total = jnp.pad(jnp.cumsum(layer, axis=1), ((0, 0), (1, 0), (0, 0)))
    now = np.arange(layer.shape[1])
    begin, end = np.maximum(now - SPAN // 2, 0), np.minimum(now + SPAN // 2 + 1, layer.shape[1])
    around = (total[:, end] - total[:, begin]) / (end - begin)[None, :, None]
    return jnp.concatenate([layer, around], axis=2) @ weights["out"] + weights["out_bias"]


def learn(songs: list, drumless: list, kept: Path, steps: int, more: bool) -> dict[str, Any]:
    """The weights after so many steps, or so many more on those that are there."""
    chance = np.random.default_rng(2 if more else 1)
    heard = [heard_of(song, kept)[0] for song in songs]
    plain = [at for at, song in enumerate(songs) if song.set.name.startswith("loops")]
    others = [heard_of(song, kept)[0] for song in drumless]
    told = [targets(events_of(song), len(fine)) for song, fine in zip(songs, heard, strict=True)]
    weights = (
        {name: jnp.asarray(value) for name, value in vars(strokes.stroke_net()).items()} if more else fresh(chance)
    )
    weights.pop("least", None)
    descent = optax.adamw(
        optax.cosine_onecycle_schedule(steps, RATE / (2 if more else 1), pct_start=0.1), weight_decay=DECAY
    )
    state = descent.init(weights)

    def loss(weights: Any, figures: Any, right: Any) -> Any:
        given = odds(weights, figures)[:, MARGIN:-MARGIN]
        each = optax.sigmoid_binary_cross_entropy(given, right[:, MARGIN:-MARGIN])
        return jnp.mean(each * (1 + 3 * right[:, MARGIN:-MARGIN]))

    @jax.jit
    def step(weights: Any, state: Any, figures: Any, right: Any) -> Any:
        value, slope = jax.value_and_grad(loss)(weights, figures, right)
        moves, state = descent.update(slope, state, weights)
        return optax.apply_updates(weights, moves), state, value

    total, recent = 0.0, []
    for number in range(steps):
        figures, right = [], []
        chosen = [*chance.integers(0, len(songs), SONGS // 2), *chance.choice(plain, SONGS // 2)]
        for song in chosen:
            fine = heard[song]
            begin = int(chance.integers(0, max(1, len(fine) - LENGTH)))
            part = fine[begin : begin + LENGTH].astype(np.float32)
            if song in plain and chance.random() < 0.75:
                part = mixed(part, others, chance)
            part = changed(part, chance)
            usual = part.astype(np.float32).mean(axis=0)
            row = strokes.stroke_figures(part, usual)
            short = LENGTH - len(row)
            figures.append(np.pad(row, ((0, short), (0, 0))))
            right.append(np.pad(told[song][begin : begin + LENGTH], ((0, short), (0, 0))))
        weights, state, total = step(weights, state, np.stack(figures), np.stack(right))
        recent.append(float(total))
        if number % 250 == 249:
            print(number + 1, round(float(np.mean(recent[-250:])), 4), flush=True)
    return {name: np.asarray(value) for name, value in weights.items()}


def best_thresholds(weights: dict[str, Any], songs: list, kept: Path) -> np.ndarray:
    """The log odds from which peaks are strokes: those with the best mean F over songs, for each kind."""
    import mir_eval

    net = StrokeNet(**weights, least=np.zeros(3))
    scores = np.zeros((3, len(THRESHOLDS)))
    for song in songs:
        fine, _ = heard_of(song, kept)
        given, true = stroke_odds(fine, net), events_of(song)
        for at, kind in enumerate(STROKES):
            if kind not in true:
                continue
            peaks = strokes.peak_pick(given[:, at], strokes.APART)
            for place, least in enumerate(THRESHOLDS):
                times = np.maximum(peaks[given[peaks, at] >= least] / FRAME_RATE - WINDOW / 2, 0)
                scores[at, place] += mir_eval.onset.f_measure(np.unique(true[kind]), times, window=0.05)[0]
    return THRESHOLDS[scores.argmax(axis=1)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=3000)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--more", action="store_true", help="go on from the weights that are there")
    asked = parser.parse_args()
    songs = all_heard(asked.sets, asked.kept, "events", asked.jobs)
    print(f"{len(songs)} songs", flush=True)
    drumless = [song for song in songs_of(asked.sets) if not truth_path(song, "events").exists()]
    weights = learn(songs, drumless, asked.kept, asked.steps, asked.more)
    weights["least"] = best_thresholds(weights, songs[:: max(1, len(songs) // 60)], asked.kept)
    print("thresholds", weights["least"])
    np.savez_compressed(strokes.FILE, **{name: value.astype(np.float16) for name, value in weights.items()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
