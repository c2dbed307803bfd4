"""Learn to hear the lead from songs whose tune is known; writes ``music/lead.npz``.

    python train_lead.py SET... --kept FOLDER [--steps 1500] [--jobs 2]

Needs jax and optax. Songs are moved in pitch and coloured by chance in every step.
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
from struck import all_heard, heard_of, lead_of

from eavesong.music import lead
from eavesong.music.lead import HARMONICS, LOWEST, NOTES, SIDES, SPAN
from eavesong.music.tones import TONE_RATE, TONE_WINDOW

WIDTH, LENGTH, SONGS = 20, 120, 12
RATE, DECAY = 4e-3, 1e-2
MARGIN = 12


def targets(notes: np.ndarray, frames: int) -> np.ndarray:
    """(g,): 0 for a rest, else which note sounds in the middle of each frame."""
    told = np.zeros(frames, np.int32)
    for begin, end, pitch in notes:
        if LOWEST <= pitch < LOWEST + NOTES:
            first, last = (round((at + TONE_WINDOW / 2) * TONE_RATE + 0.5) for at in (begin, end))
            told[first : max(last, first + 1)] = int(pitch) - LOWEST + 1
    return told


def changed(tones: np.ndarray, chance: np.random.Generator) -> tuple[np.ndarray, int]:
    """Tones (g, 176) moved by some semitones and coloured as another recording; and how many semitones."""
    semitones = int(chance.integers(-4, 5))
    moved = np.roll(tones.astype(np.float32), 2 * semitones, axis=1)
    bands = np.linspace(-1, 1, tones.shape[1])
    colour = 10 * chance.normal(0, 1) * bands + np.interp(bands, np.linspace(-1, 1, 6), chance.normal(0, 9, 6))
    moved = np.where(moved > 0, moved + colour, 0)
    if chance.random() < 0.5:
        moved = np.maximum(moved, chance.uniform(20, 120) + chance.normal(0, 4, moved.shape))
    return np.clip(moved, 0, 255).astype(np.uint8), semitones


def fresh(chance: np.random.Generator) -> dict[str, Any]:
    """Weights to begin with."""
    channels = 2 * len(HARMONICS)
    sizes = {"first": (15 * channels, WIDTH), "second": (15 * WIDTH, WIDTH), "out": (WIDTH, 1), "rest": (6 * WIDTH,)}
    weights: dict[str, Any] = {
        name: jnp.asarray(chance.normal(0, np.sqrt(2 / shape[0]), shape), jnp.float32) for name, shape in sizes.items()
    }
    return weights | {"first_bias": jnp.zeros(WIDTH), "second_bias": jnp.zeros(WIDTH), "rest_bias": jnp.zeros(())}


def odds(weights: dict[str, Any], tones: Any) -> Any:
    """As `LeadNet.odds`, for a batch (b, t, p, c)."""

    def convolved(rows: Any, name: str, frames: int, steps: int, stride: int) -> Any:
        shape = (2 * frames + 1, 2 * steps + 1, rows.shape[-1], WIDTH)
        found = jax.lax.conv_general_dilated(
            rows, weights[name].reshape(shape), (1, stride), ((frames, frames), (steps, steps)),
            dimension_numbers=("NHWC", "HWIO", "NHWC"))  # fmt: skip
        return jax.nn.relu(found + weights[f"{name}_bias"])

    layer = convolved(convolved(tones, "first", SIDES[0], 2, 2), "second", SIDES[1], 1, 1)
    notes = (layer @ weights["out"])[..., 0]
    pooled = jnp.concatenate([layer.mean(axis=2), layer.max(axis=2)], axis=2)
    total = jnp.pad(jnp.cumsum(pooled, axis=1), ((0, 0), (1, 0), (0, 0)))
    now = np.arange(pooled.shape[1])
    begin, end = np.maximum(now - SPAN // 2, 0), np.minimum(now + SPAN // 2 + 1, pooled.shape[1])
    around = (total[:, end] - total[:, begin]) / (end - begin)[None, :, None]
    rest = jnp.concatenate([pooled, around, pooled - around], axis=2) @ weights["rest"] + weights["rest_bias"]
    return jnp.concatenate([rest[..., None], notes], axis=2)


def learn(songs: list, kept: Path, steps: int, more: bool) -> dict[str, Any]:
    """The weights after so many steps, or so many more on those that are there."""
    chance = np.random.default_rng(2 if more else 1)
    heard = [heard_of(song, kept)[1] for song in songs]
    told = [targets(lead_of(song), len(tones)) for song, tones in zip(songs, heard, strict=True)]
    weights = {name: jnp.asarray(value) for name, value in vars(lead.lead_net()).items()} if more else fresh(chance)
    descent = optax.adamw(
        optax.cosine_onecycle_schedule(steps, RATE / (2 if more else 1), pct_start=0.1), weight_decay=DECAY
    )
    state = descent.init(weights)

    def loss(weights: Any, tones: Any, right: Any) -> Any:
        given = jax.nn.log_softmax(odds(weights, tones), axis=2)
        each = -jnp.take_along_axis(given, right[..., None], axis=2)[..., 0]
        return each[:, MARGIN:-MARGIN].mean()

    @jax.jit
    def step(weights: Any, state: Any, tones: Any, right: Any) -> Any:
        value, slope = jax.value_and_grad(loss)(weights, tones, right)
        moves, state = descent.update(slope, state, weights)
        return optax.apply_updates(weights, moves), state, value

    recent = []
    for number in range(steps):
        rows, right = [], []
        for song in chance.integers(0, len(songs), SONGS):
            begin = int(chance.integers(0, max(1, len(heard[song]) - LENGTH)))
            part, semitones = changed(heard[song][begin : begin + LENGTH], chance)
            known = told[song][begin : begin + LENGTH]
            known = np.where(known > 0, known + semitones, 0)
            known = np.where((known < 0) | (known > NOTES), 0, known)
            row = lead.lead_channels(part, lead.top_level(part))
            short = LENGTH - len(row)
            rows.append(np.pad(row, ((0, short), (0, 0), (0, 0))))
            right.append(np.pad(known, (0, short)))
        weights, state, total = step(weights, state, np.stack(rows), np.stack(right))
        recent.append(float(total))
        if number % 100 == 99:
            print(number + 1, round(float(np.mean(recent[-100:])), 4), flush=True)
    return {name: np.asarray(value) for name, value in weights.items()}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=1500)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--more", action="store_true", help="go on from the weights that are there")
    asked = parser.parse_args()
    songs = all_heard(asked.sets, asked.kept, "lead", asked.jobs)
    print(f"{len(songs)} songs", flush=True)
    weights = learn(songs, asked.kept, asked.steps, asked.more)
    np.savez_compressed(lead.FILE, **{name: value.astype(np.float16) for name, value in weights.items()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
