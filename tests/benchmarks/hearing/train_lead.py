"""Learn to hear the lead from songs whose tune is known; writes ``music/lead.npz``.

    python train_lead.py SET... --kept FOLDER [--steps 4000] [--seconds 300] [--out FILE] [--jobs 2]

Needs jax and optax; see ``train_strokes.py``. Songs are moved in pitch and coloured by chance in every step. One in
twelve is not learned from: how readily a rest is heard is chosen on those.
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
from known import Known
from struck import all_heard, heard_of, lead_of
from train_strokes import MOST, descent, joined, rate_at

from eavesong.music import lead
from eavesong.music.lead import (
    AROUND,
    HARMONICS,
    LOWEST,
    NOTES,
    REACHES,
    SCALE,
    SIDES,
    SPAN,
    LeadNet,
    lead_odds,
)
from eavesong.music.tones import LOWEST_NOTE, STEPS, TONE_COUNT, TONE_RATE, TONE_WINDOW

WIDTH, LENGTH, SONGS = 32, 200, 24
ENDS, APART = 10, 12
FARTHEST = 4
BANDS = np.linspace(-1, 1, TONE_COUNT)
HATS = np.stack([np.interp(BANDS, np.linspace(-1, 1, 6), row) for row in np.eye(6)])
READY = np.arange(-2.0, 2.1, 0.25)


def targets(notes: np.ndarray, frames: int) -> np.ndarray:
    """(g, 1): 0 for a rest, else which note sounds in the middle of each frame."""
    told = np.zeros((frames, 1), np.int16)
    for begin, end, pitch in notes:
        if LOWEST <= pitch < LOWEST + NOTES:
            first, last = (round((at + TONE_WINDOW / 2) * TONE_RATE + 0.5) for at in (begin, end))
            told[first : max(last, first + 1)] = int(pitch) - LOWEST + 1
    return told


def changed(tones: Any, semitones: Any, key: Any) -> Any:
    """Tones (b, g, 176) moved by ``semitones`` (b,) and coloured as other recordings."""
    keys, count = jax.random.split(key, 5), len(tones)
    steps = (jnp.arange(TONE_COUNT) - 2 * semitones[:, None]) % TONE_COUNT
    moved = jnp.take_along_axis(tones, steps[:, None], axis=2)
    colour = 10 * jax.random.normal(keys[0], (count, 1)) * BANDS + 9 * jax.random.normal(keys[1], (count, 6)) @ HATS
    moved = jnp.where(moved > 0, moved + colour[:, None], 0)
    floor = jax.random.uniform(keys[2], (count, 1, 1), minval=20, maxval=120)
    noisy = jnp.maximum(moved, floor + 4 * jax.random.normal(keys[3], moved.shape))
    chosen = jax.random.uniform(keys[4], (count, 1, 1)) < 0.5
    return jnp.clip(jnp.where(chosen, noisy, moved), 0, 255)


def channels_of(tones: Any) -> Any:
    """As `lead.lead_channels`, for a batch (b, g, 176), each beside its own strong tones."""
    top = jnp.percentile(tones.max(axis=2), 95, axis=1)
    level = jnp.maximum((tones - top[:, None, None]) / SCALE, -2.0)
    padded = jnp.pad(level, ((0, 0), (0, 0), (AROUND, AROUND)), mode="edge")
    total = jnp.pad(jnp.cumsum(padded, axis=2), ((0, 0), (0, 0), (1, 0)))
    around = (total[:, :, 2 * AROUND + 1 :] - total[:, :, : -2 * AROUND - 1]) / (2 * AROUND + 1)
    steps = 2 * (LOWEST - LOWEST_NOTE) + np.arange(2 * NOTES - 1)
    channels = []
    for harmonic in HARMONICS:
        at = steps + round(STEPS * float(np.log2(harmonic)))
        inside, held = (at >= 0) & (at < TONE_COUNT), np.clip(at, 0, TONE_COUNT - 1)
        channels += [
            jnp.where(inside, level[:, :, held], -2.0),
            jnp.where(inside, (level - around)[:, :, held], 0.0),
        ]
    return jnp.stack(channels, axis=3)


def fresh(chance: np.random.Generator) -> dict[str, Any]:
    """Weights to begin with."""
    sizes = {"first": (30 * len(HARMONICS), WIDTH), "second": (15 * WIDTH, WIDTH), "beside": (3 * WIDTH, WIDTH),
             "others": (4 * WIDTH, WIDTH), "turns": (len(REACHES), 3 * WIDTH, WIDTH), "out": (WIDTH, 1),
             "rest": (6 * WIDTH,)}  # fmt: skip
    drawn = {
        name: jnp.asarray(chance.normal(0, np.sqrt(2 / shape[max(len(shape) - 2, 0)]), shape), jnp.float32)
        for name, shape in sizes.items()
    }
    soft = {name: 0.4 * drawn[name] for name in ("beside", "others", "turns", "out", "rest")}
    zeros = {f"{name}_bias": jnp.zeros(WIDTH) for name in ("first", "second", "beside")}
    return drawn | soft | zeros | {"turns_bias": jnp.zeros((len(REACHES), WIDTH)), "rest_bias": jnp.zeros(())}


def odds(weights: dict[str, Any], tones: Any) -> Any:
    """As `LeadNet.odds`, for a batch (b, t, p, c)."""

    def convolved(rows: Any, name: str, frames: int, steps: int, stride: int) -> Any:
        shape = (2 * frames + 1, 2 * steps + 1, rows.shape[-1], WIDTH)
        found = jax.lax.conv_general_dilated(
            rows, weights[name].reshape(shape), (1, stride), ((frames, frames), (steps, steps)),
            dimension_numbers=("NHWC", "HWIO", "NHWC"))  # fmt: skip
        return jax.nn.relu(found + weights[f"{name}_bias"])

    def pooled_of(layer: Any) -> tuple[Any, Any]:
        pooled = jnp.concatenate([layer.mean(axis=2), layer.max(axis=2)], axis=2)
        total = jnp.pad(jnp.cumsum(pooled, axis=1), ((0, 0), (1, 0), (0, 0)))
        now = np.arange(pooled.shape[1])
        begin, end = np.maximum(now - SPAN // 2, 0), np.minimum(now + SPAN // 2 + 1, pooled.shape[1])
        return pooled, (total[:, end] - total[:, begin]) / (end - begin)[None, :, None]

    def most(layer: Any, reverse: bool) -> Any:
        held = jax.lax.cummax(layer, axis=2, reverse=reverse)
        return jnp.pad(held[:, :, 1:] if reverse else held[:, :, :-1],
                       ((0, 0), (0, 0), (0, 1) if reverse else (1, 0), (0, 0)))  # fmt: skip

    def moved(rows: Any, shift: int) -> Any:
        sides = ((0, 0), (max(-shift, 0), max(shift, 0)), (0, 0), (0, 0))
        return jnp.pad(rows, sides)[:, max(shift, 0) :][:, : rows.shape[1]]

    layer = convolved(convolved(tones, "first", SIDES[0], 2, 2), "second", SIDES[1], 1, 1)
    pooled, around = pooled_of(layer)
    together = jnp.concatenate([pooled, around], axis=2) @ weights["others"]
    three = jnp.concatenate([layer, most(layer, True), most(layer, False)], axis=3)
    layer = layer + jax.nn.relu(three @ weights["beside"] + weights["beside_bias"] + together[:, :, None])
    for at, reach in enumerate(REACHES):
        three = jnp.concatenate([moved(layer, -reach), layer, moved(layer, reach)], axis=3)
        layer = layer + jax.nn.relu(three @ weights["turns"][at] + weights["turns_bias"][at])
    pooled, around = pooled_of(layer)
    rest = jnp.concatenate([pooled, around, pooled - around], axis=2) @ weights["rest"] + weights["rest_bias"]
    return jnp.concatenate([rest[..., None], (layer @ weights["out"])[..., 0]], axis=2)


def learn(songs: list[Known], kept: Path, steps: int, seconds: float, more: bool) -> dict[str, Any]:
    """The weights after so many steps, or so many seconds; ``more`` on those that are there."""
    chance = np.random.default_rng(2 if more else 1)
    heard = [heard_of(song, kept)[1] for song in songs]
    told, _, _ = joined([targets(lead_of(song), len(tones)) for song, tones in zip(songs, heard, strict=True)], LENGTH)
    tones, begins, lasts = joined(heard, LENGTH)
    table = [jnp.asarray(tones), jnp.asarray(told[:, 0])]
    weights = {name: jnp.asarray(value) for name, value in vars(lead.lead_net()).items()} if more else fresh(chance)
    moves = descent()
    state = moves.init(weights)

    def loss(weights: Any, channels: Any, right: Any) -> Any:
        given = jax.nn.log_softmax(odds(weights, channels), axis=2)
        each = -jnp.take_along_axis(given, right[..., None], axis=2)[..., 0]
        return each[:, ENDS:-ENDS].mean()

    @jax.jit
    def step(weights: Any, state: Any, table: Any, drawn: Any, rate: Any, key: Any) -> Any:
        begin, semitones = drawn
        rows = begin[:, None] + jnp.arange(LENGTH)
        right = table[1][rows].astype(jnp.int32)
        right = jnp.where(right > 0, right + semitones[:, None], 0)
        right = jnp.where((right < 0) | (right > NOTES), 0, right)
        channels = channels_of(changed(table[0][rows].astype(jnp.float32), semitones, key))
        value, slope = jax.value_and_grad(loss)(weights, channels, right)
        ways, state = moves.update(slope, state, weights)
        return jax.tree.map(lambda each, way: each - rate * way, weights, ways), state, value

    begun, recent = time.monotonic(), []
    for number in range(steps):
        done = max(number / steps, (time.monotonic() - begun) / seconds)
        if done >= 1:
            break
        chosen = chance.integers(0, len(songs), SONGS)
        drawn = (chance.integers(begins[chosen], lasts[chosen] + 1),
                 chance.integers(-FARTHEST, FARTHEST + 1, SONGS))  # fmt: skip
        key = jax.random.PRNGKey(number)
        weights, state, total = step(weights, state, table, drawn, rate_at(done) / (3 if more else 1), key)
        recent.append(total)
        if number % 250 == 249:
            mean = float(jnp.mean(jnp.stack(recent[-250:])))
            print(number + 1, round(mean, 4), round(time.monotonic() - begun), flush=True)
    return {name: np.asarray(value) for name, value in weights.items()}


def readiness(weights: dict[str, Any], songs: list[Known], kept: Path) -> float:
    """What to add to the log odds of a rest: with it most frames are rightly a rest or none, on these songs."""
    right = np.zeros(len(READY))
    net = LeadNet(**weights)
    for song in songs:
        tones = heard_of(song, kept)[1]
        given, true = lead_odds(tones, net), targets(lead_of(song), len(tones))[:, 0]
        lead_there = given[:, 1:].max(axis=1) - given[:, 0]
        right += [((lead_there > add) == (true > 0)).mean() for add in READY]
    print("rest or none right, on songs not learned from", np.round(right / len(songs), 3))
    return float(READY[right.argmax()])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=4000)
    parser.add_argument("--seconds", type=float, default=1e6, help="stop then, if there are more steps still")
    parser.add_argument("--more", action="store_true", help="go on from the weights that are there")
    parser.add_argument("--out", type=Path, default=lead.FILE)
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    songs = all_heard(asked.sets, asked.kept, "lead", asked.jobs)
    print(f"{len(songs)} songs", flush=True)
    learned = [song for at, song in enumerate(songs) if at % APART != APART // 2]
    weights = learn(learned, asked.kept, asked.steps, asked.seconds, asked.more)
    apart = songs[APART // 2 :: APART]
    weights["rest_bias"] = weights["rest_bias"] + readiness(weights, apart[:: len(apart) // MOST + 1], asked.kept)
    np.savez_compressed(asked.out, **{name: value.astype(np.float16) for name, value in weights.items()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
