"""Learn to hear drum strokes from songs whose strokes are known; writes ``music/strokes.npz``.

    python train_strokes.py SET... --kept FOLDER [--steps 6000] [--seconds 300] [--out FILE] [--jobs 2]

Needs jax and optax; an accelerator does in three minutes what two cores do in some hours. Bands are tilted, blurred by
noise and raised or lowered by chance in every step, so that other recordings and other drums are no surprise. A quarter
of what is learned from are plain loops (sets called ``loops…``), to most of which songs without drums are added. One
song in twelve is not learned from: thresholds are chosen on those.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import optax
from known import Known, songs_of
from struck import all_heard, events_of, heard_of, heard_path

from eavesong.music import strokes
from eavesong.music.bands import FRAME_RATE
from eavesong.music.ear import FINE_BANDS, WINDOW
from eavesong.music.strokes import LAG, NEAR, REACHES, SPAN, SPREAD, STROKES, StrokeNet, stroke_odds

WIDTH, LENGTH, SONGS = 64, 1200, 32
RATE, DECAY, WARM = 3e-3, 1e-2, 0.1
ENDS = 60
PLAIN, ADDED, NOISY = 0.25, 0.75, 0.6
APART, MOST = 12, 48
"""One song in so many is not learned from, and so many of those at most tell the thresholds."""
THRESHOLDS = np.linspace(-2, 2, 17)
BANDS = np.linspace(-1, 1, FINE_BANDS)
HATS = np.stack([np.interp(BANDS, np.linspace(-1, 1, 7), row) for row in np.eye(7)])


def targets(events: dict[str, np.ndarray], frames: int) -> np.ndarray:
    """(f, 3): 1 in the frame in whose middle a stroke begins, less beside it."""
    told = np.zeros((frames, 3), np.float16)
    for at, kind in enumerate(STROKES):
        middle = (events.get(kind, np.zeros(0)) + WINDOW / 2) * FRAME_RATE
        for offset, weight in ((-2, 0.1), (2, 0.1), (-1, 0.6), (1, 0.6), (0, 1.0)):
            index = np.rint(middle).astype(int) + offset
            index = index[(index >= 0) & (index < frames)]
            told[index, at] = np.maximum(told[index, at], np.float16(weight))
    return told


def joined(rows: list[np.ndarray], length: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Songs (f, c) one after the other, each ``length`` long at least; where each begins, and the last place in it from
    which a part of that length may be taken."""
    rows = [np.pad(row, ((0, max(0, length - len(row))), (0, 0))) for row in rows]
    begins = np.cumsum([0, *(len(row) for row in rows[:-1])])
    return np.concatenate(rows), begins, begins + [len(row) - length for row in rows]


def changed(fine: Any, key: Any) -> Any:
    """Fine bands (b, f, 64) as other rooms, equalisers and levels would give them; noise fills what is faint."""
    keys, count = jax.random.split(key, 7), len(fine)
    normal = [jax.random.normal(each, (count, size)) for each, size in zip(keys[:4], (1, 7, 1, 1), strict=True)]
    colour = 0.5 * normal[0] * BANDS + 0.35 * normal[1] @ HATS + 0.4 * normal[2]
    level = fine + jnp.where(fine > 0, colour[:, None], 0.0)
    floor = jax.random.uniform(keys[4], (count, 1), minval=0.5, maxval=5.0) + 0.6 * normal[3] * BANDS
    hiss = floor[:, None] + 0.25 * jax.random.normal(keys[5], fine.shape)
    noisy = jnp.log10(10**level + 10**hiss)
    chosen = jax.random.uniform(keys[6], (count, 1, 1)) < NOISY
    return jnp.maximum(jnp.where(chosen, noisy, level), 0.0)


def mixed(fine: Any, part: Any, gain: Any) -> Any:
    """Fine bands (b, f, 64) with those of songs without drums added as powers, ``gain`` (b,) above their level."""
    high = [jnp.percentile(each[:, ::8], 90, axis=(1, 2)) for each in (fine, part)]
    added = part + (high[0] - high[1] + gain)[:, None, None]
    return jnp.log10(10**fine + jnp.where(part > 0, 10**added, 0.0))


def figures_of(fine: Any) -> Any:
    """As `strokes.stroke_figures`, for a batch (b, f, 64), each part beside its own mean."""
    rise = jnp.maximum(0.0, fine[:, LAG:] - fine[:, :-LAG])
    rise = jnp.pad(rise, ((0, 0), (LAG, 0), (0, 0)))
    return jnp.concatenate([fine - fine.mean(axis=1, keepdims=True), rise], axis=2) / SPREAD


def fresh(chance: np.random.Generator) -> dict[str, Any]:
    """Weights to begin with."""
    seen = 2 * FINE_BANDS * (2 * NEAR + 1)

    def drawn(*shape: int) -> Any:
        return jnp.asarray(chance.normal(0, np.sqrt(2 / shape[-2]), shape), jnp.float32)

    return {
        "first": drawn(seen, WIDTH),
        "first_bias": jnp.zeros(WIDTH),
        "turns": drawn(len(REACHES), 3 * WIDTH, WIDTH) * 0.4,
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


def descent() -> optax.GradientTransformation:
    """Adam with decoupled decay; how far it goes is left to each step."""
    return optax.chain(optax.clip_by_global_norm(1.0), optax.scale_by_adam(), optax.add_decayed_weights(DECAY))


def rate_at(share: float) -> float:
    """How far a step goes when ``share`` of all is done: up at first, then down along a cosine."""
    if share < WARM:
        return RATE * (0.04 + 0.96 * share / WARM)
    return float(RATE * 0.5 * (1 + np.cos(np.pi * min(1.0, (share - WARM) / (1 - WARM)))))


def learn(
    songs: list[Known], drumless: list[Known], kept: Path, steps: int, seconds: float, more: bool
) -> dict[str, Any]:
    """The weights after so many steps, or so many seconds; ``more`` on those that are there."""
    chance = np.random.default_rng(2 if more else 1)
    heard = [heard_of(song, kept)[0] for song in songs]
    told, _, _ = joined([targets(events_of(song), len(fine)) for song, fine in zip(songs, heard, strict=True)], LENGTH)
    fine, begins, lasts = joined(heard, LENGTH)
    others, other_begins, other_lasts = joined([heard_of(song, kept)[0] for song in drumless or songs[:1]], LENGTH)
    plain = np.array([song.set.name.startswith("loops") for song in songs])
    share = np.where(plain, PLAIN / max(plain.sum(), 1), (1 - PLAIN) / max((~plain).sum(), 1))
    share = share / share.sum()
    table = [jnp.asarray(each) for each in (fine, told, others)]
    weights = (
        {name: jnp.asarray(value) for name, value in vars(strokes.stroke_net()).items()} if more else fresh(chance)
    )
    weights.pop("least", None)
    moves = descent()
    state = moves.init(weights)

    def loss(weights: Any, figures: Any, right: Any) -> Any:
        given = odds(weights, figures)[:, ENDS:-ENDS]
        each = optax.sigmoid_binary_cross_entropy(given, right[:, ENDS:-ENDS])
        return jnp.mean(each * (1 + 3 * right[:, ENDS:-ENDS]))

    @jax.jit
    def step(weights: Any, state: Any, table: Any, drawn: Any, rate: Any, key: Any) -> Any:
        begin, other, gain, add = drawn
        rows = begin[:, None] + jnp.arange(LENGTH)
        part, right = table[0][rows].astype(jnp.float32), table[1][rows].astype(jnp.float32)
        apart = table[2][other[:, None] + jnp.arange(LENGTH)].astype(jnp.float32)
        part = jnp.where(add[:, None, None], mixed(part, apart, gain), part)
        value, slope = jax.value_and_grad(loss)(weights, figures_of(changed(part, key)), right)
        ways, state = moves.update(slope, state, weights)
        return jax.tree.map(lambda each, way: each - rate * way, weights, ways), state, value

    begun, recent = time.monotonic(), []
    for number in range(steps):
        done = max(number / steps, (time.monotonic() - begun) / seconds)
        if done >= 1:
            break
        chosen = chance.choice(len(songs), SONGS, p=share)
        other = chance.integers(0, len(other_begins), SONGS)
        drawn = (chance.integers(begins[chosen], lasts[chosen] + 1),
                 chance.integers(other_begins[other], other_lasts[other] + 1), chance.uniform(-1.8, 0.2, SONGS),
                 plain[chosen] & (chance.random(SONGS) < ADDED) & bool(drumless))  # fmt: skip
        key = jax.random.PRNGKey(number)
        weights, state, total = step(weights, state, table, drawn, rate_at(done) / (3 if more else 1), key)
        recent.append(total)
        if number % 250 == 249:
            mean = float(jnp.mean(jnp.stack(recent[-250:])))
            print(number + 1, round(mean, 4), round(time.monotonic() - begun), flush=True)
    return {name: np.asarray(value) for name, value in weights.items()}


def best_thresholds(weights: dict[str, Any], songs: list[Known], kept: Path) -> np.ndarray:
    """The log odds from which peaks are strokes: those with the best mean F over songs, for each kind."""
    import mir_eval

    net = StrokeNet(**weights, least=np.zeros(3))
    scores, count = np.zeros((3, len(THRESHOLDS))), np.zeros(3)
    for song in songs:
        fine, _ = heard_of(song, kept)
        given, true = stroke_odds(fine, net), events_of(song)
        for at, kind in enumerate(STROKES):
            if kind not in true:
                continue
            count[at] += 1
            peaks = strokes.peak_pick(given[:, at], strokes.APART)
            for place, least in enumerate(THRESHOLDS):
                times = np.maximum(peaks[given[peaks, at] >= least] / FRAME_RATE - WINDOW / 2, 0)
                scores[at, place] += mir_eval.onset.f_measure(np.unique(true[kind]), times, window=0.05)[0]
    print("F on songs not learned from", np.round(scores.max(axis=1) / np.maximum(count, 1), 3), count)
    return THRESHOLDS[scores.argmax(axis=1)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=6000)
    parser.add_argument("--seconds", type=float, default=1e6, help="stop then, if there are more steps still")
    parser.add_argument("--more", action="store_true", help="go on from the weights that are there")
    parser.add_argument("--out", type=Path, default=strokes.FILE)
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    songs = all_heard(asked.sets, asked.kept, "events", asked.jobs)
    print(f"{len(songs)} songs", flush=True)
    struck = {(song.set, song.name) for song in songs}
    others = [song for song in songs_of(asked.sets) if (song.set, song.name) not in struck]
    drumless = [song for song in others if heard_path(song, asked.kept).exists() or song.audio.stat().st_size]
    learned = [song for at, song in enumerate(songs) if at % APART != APART // 2]
    weights = learn(learned, drumless, asked.kept, asked.steps, asked.seconds, asked.more)
    np.savez_compressed(asked.out, **{name: value.astype(np.float16) for name, value in weights.items()})
    apart = songs[APART // 2 :: APART]
    weights["least"] = best_thresholds(weights, apart[:: len(apart) // MOST + 1], asked.kept)
    print("thresholds", weights["least"])
    np.savez_compressed(asked.out, **{name: value.astype(np.float16) for name, value in weights.items()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
