"""Train the net that hears the pulse of songs (`eavesong.music.pulse`) on songs with known beats.

    pip install jax optax
    python tests/benchmarks/hearing/train_pulse.py OUT --kept FOLDER --out FILE [--seconds 480] [--batch 32]

It learns from those songs of ``OUT``, where ``school.py`` makes them, that are the pulse's share, and may begin while
others are still being made: what has come since is taken in from time to time. Best on an accelerator. Every stretch
is changed by chance each time it is seen: its tempo by up to a fifth of an octave, its pitch, its equaliser, its
dynamics, noise, a lost treble, bands that are missing.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from threading import Thread
from typing import Any

import numpy as np
from known import Known, ear_of, songs_of
from numpy.typing import NDArray
from school import share_of

from eavesong.music.bands import FRAME_RATE
from eavesong.music.pulse import (
    LAG,
    METRES,
    OCTAVE,
    REACHES,
    SLOWEST,
    SPAN,
    SPREAD,
    TEMPI,
    note_changes,
)
from eavesong.music.refine import CENTRE

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
HIDDEN = 96
ROWS = 2_400
"""Rows of a stretch: 48 s."""
RATE, DECAY = 2e-3, 2e-2
WARM, FEWEST = 0.06, 250
"""Share of the time in which the rate of learning rises, and songs from which learning begins."""
MOST, TAKEN_IN = 2_400, 45.0
"""Songs that are learned from at most, and seconds after which new ones are taken in."""
DROPPED = 0.15
FRAMES, EVENTS, SLOW = 12_200, 480, 1_240
"""Frames, beats and frames of notes of the longest song that is kept whole."""
BANDS, CHANGES = 64, 6
STRETCH = 0.2
"""Octaves by which a stretch is played faster or slower at most."""


def song_of(song: Known, kept: Path) -> dict[str, Any] | None:
    """What the nets learn from a song, as arrays of one size for all songs."""
    ear, beats, downbeats = ear_of(song, kept), song.beats, song.downbeats
    if len(beats) < 12 or len(downbeats) < 4:
        return None
    fine = np.zeros((FRAMES, BANDS), np.float16)
    fine[: len(ear.fine)] = ear.fine[:FRAMES]
    change = note_changes(ear).astype(np.float16)
    slow = np.zeros((SLOW, CHANGES), np.float16)
    slow[: len(change)] = change[:SLOW]
    gaps = np.array([np.median(np.diff(beats[max(0, at - 4) : at + 5])) for at in range(len(beats))])
    moments = np.arange(FRAMES // 10) / (FRAME_RATE / 10) - CENTRE
    at = np.clip(np.searchsorted(beats, moments), 0, len(beats) - 1)
    bars = np.searchsorted(beats, downbeats - 0.02)
    lengths = np.append(np.diff(bars), 0)
    metre = lengths[np.clip(np.searchsorted(downbeats, moments + 0.02) - 1, 0, len(lengths) - 1)]
    inside = (moments > beats[0] - 0.5) & (moments < beats[-1] + 0.5)
    known = np.where(np.isin(metre, METRES) & inside, metre - METRES[0], -1)
    tempo = np.where(inside, np.log2(60 / gaps[at] / SLOWEST), -9.0)
    return {
        "fine": fine, "change": slow, "frames": min(len(ear.fine), FRAMES),
        "beats": _padded((beats + CENTRE) * FRAME_RATE), "downs": _padded((downbeats + CENTRE) * FRAME_RATE),
        "tempo": tempo.astype(np.float16), "metre": known.astype(np.int8),
        "ends": np.array([(beats[0] + CENTRE) * FRAME_RATE, (beats[-1] + CENTRE) * FRAME_RATE], np.float32),
    }  # fmt: skip


def _padded(frames: Floats) -> Singles:
    table = np.full(EVENTS, -1e6, np.float32)
    table[: len(frames)] = frames[:EVENTS]
    return table


def fresh(count: int, chance: np.random.Generator) -> dict[str, Singles]:
    """The weights that learning begins with."""

    def normal(*shape: int, by: float = 1.0) -> Singles:
        return (by * chance.normal(0, shape[-2] ** -0.5, shape)).astype(np.float32)

    layers, told = sum(len(reaches) for reaches in REACHES), 2 + TEMPI + len(METRES)
    out_bias = np.zeros(told, np.float32)
    out_bias[:2] = -3.0, -4.5
    return {
        "first": normal(count, HIDDEN, by=1.4), "first_bias": np.zeros(HIDDEN, np.float32),
        "turns": normal(layers, 3 * HIDDEN, HIDDEN, by=0.7), "turns_bias": np.zeros((layers, HIDDEN), np.float32),
        "wide": normal(2 * HIDDEN, HIDDEN, by=0.7), "wide_bias": np.zeros(HIDDEN, np.float32),
        "out": normal(2 * HIDDEN, told, by=0.1), "out_bias": out_bias,
    }  # fmt: skip


def stretches(songs: dict[str, Any], number: Any, key: Any) -> tuple[Any, ...]:
    """A stretch of each song (b,), changed by chance: figures (b, m, 198), beats and downbeats (b, m), tempo in octaves
    and metre (b, m), and what each row counts (b, m)."""
    import jax
    import jax.numpy as jnp

    def one(song: Any, key: Any) -> tuple[Any, ...]:
        draw = iter(jax.random.split(key, 24))

        def uniform(low: float, high: float, shape: tuple[int, ...] = ()) -> Any:
            return jax.random.uniform(next(draw), shape, minval=low, maxval=high)

        pace = 2.0 ** jnp.where(uniform(0, 1) < 0.35, 0.0, uniform(-STRETCH, STRETCH))
        frames = songs["frames"][song]
        begin = uniform(-300, 1) + uniform(0, 1) * jnp.maximum(frames - 2 * ROWS * pace + 300, 0)
        place = begin + jnp.arange(-LAG, 2 * ROWS) * pace
        low = jnp.clip(jnp.floor(place).astype(int), 0, FRAMES - 2)
        share = jnp.clip(place - low, 0, 1)[:, None]
        fine = songs["fine"]
        level = fine[song, low] * (1 - share) + fine[song, low + 1] * share
        level = level.astype(jnp.float32) * (place > 0)[:, None]
        level = _changed(level, uniform)
        sound = (level.max(1) > 0) & (place > 0) & (place < frames)
        usual = (level * sound[:, None]).sum(0) / jnp.maximum(sound.sum(), 1)
        rise = jnp.maximum(0, level[LAG:] - level[:-LAG]).reshape(ROWS, -1)
        even = (level[LAG:].reshape(ROWS, 2, -1).mean(1) - usual) / SPREAD
        rows = begin + 2 * pace * jnp.arange(ROWS)
        slow = jnp.clip(rows / 10, 0, SLOW - 2)
        index = jnp.floor(slow).astype(int)
        part = (slow - index)[:, None]
        change = songs["change"]
        change = change[song, index] * (1 - part) + change[song, index + 1] * part
        table = jnp.hstack([even, rise / SPREAD, change.astype(jnp.float32)])
        tenth = jnp.clip(jnp.round(rows / 10).astype(int), 0, FRAMES // 10 - 1)
        first, last = songs["ends"][song]
        inside = (rows > first - 100 * pace) & (rows < last + 100 * pace)
        counts = (rows > -1) & (rows < frames) & (rows > 0)
        weight = counts * jnp.where(inside, 1.0, 0.2)
        tempo = songs["tempo"][song, tenth].astype(jnp.float32)
        tempo = jnp.where(tempo < -5, -9.0, tempo + jnp.log2(pace))
        metre = jnp.where(counts, songs["metre"][song, tenth].astype(int), -1)
        beats = _marks((songs["beats"][song] - begin) / pace / 2)
        downs = _marks((songs["downs"][song] - begin) / pace / 2)
        return table, beats, downs, tempo, metre, weight

    return jax.vmap(one)(number, jax.random.split(key, len(number)))


def _changed(level: Any, uniform: Any) -> Any:
    """Levels (f, 64) in powers of ten, through another equaliser, louder or softer, noisier, duller, with gaps."""
    import jax.numpy as jnp

    bands = jnp.arange(BANDS)
    shift = jnp.round(uniform(-2.49, 2.49)).astype(int)
    level = level[:, jnp.clip(bands - shift, 0, BANDS - 1)]
    waves = jnp.cos(jnp.pi * jnp.outer(jnp.arange(1, 6), (bands + 0.5) / BANDS))
    colour = (uniform(-0.5, 0.5, (5,)) * uniform(0, 1.3)) @ waves
    narrow = 1 + jnp.where(uniform(0, 1) < 0.5, 0.0, uniform(-0.4, 0.25))
    louder = jnp.where(uniform(0, 1) < 0.5, 0.0, uniform(-2.0, 0.5))
    level = jnp.where(level > 0, jnp.maximum(narrow * level + louder + colour, 0), 0)
    noise = jnp.where(uniform(0, 1) < 0.6, -9.0, uniform(0, 1) * level.max() - 0.5)
    tilt = uniform(-0.02, 0.02) * bands
    level = jnp.log10(10**level + 10 ** (noise + tilt)) * (level.max() > 0)
    top = jnp.where(uniform(0, 1) < 0.75, BANDS, uniform(34, BANDS))
    low = jnp.where(uniform(0, 1) < 0.8, 0, uniform(0, 14))
    gone = uniform(0, BANDS)
    wide = jnp.where(uniform(0, 1) < 0.7, 0, uniform(0, 16))
    kept = (bands < top) & (bands >= low) & ~((bands >= gone) & (bands < gone + wide))
    return jnp.where(kept, level, jnp.minimum(level, 0.3))


def _marks(rows: Any) -> Any:
    """1 in the row of each event, and less beside it: (m,) from places (k,)."""
    import jax.numpy as jnp

    at = jnp.round(rows - 0.25).astype(int)
    table = jnp.zeros(ROWS)
    for step, height in ((0, 1.0), (-1, 0.35), (1, 0.35)):
        table = table.at[jnp.where(at + step < 0, ROWS, at + step)].max(height, mode="drop")
    return table


def answers(weights: Any, rows: Any, key: Any = None) -> Any:
    """What `eavesong.music.pulse.PulseNet.answers` says, for many stretches (b, m, c) at once; with a key parts of the
    layers are left out by chance."""
    import jax
    import jax.numpy as jnp

    def moved(layer: Any, by: int) -> Any:
        nothing = jnp.zeros_like(layer[:, : min(abs(by), layer.shape[1])])
        return jnp.concatenate([nothing, layer[:, :-by]] if by > 0 else [layer[:, -by:], nothing], 1)

    def with_around(layer: Any) -> Any:
        total = jnp.pad(jnp.cumsum(layer, 1), ((0, 0), (1, 0), (0, 0)))
        now = np.arange(layer.shape[1])
        begin, end = np.maximum(now - SPAN // 2, 0), np.minimum(now + SPAN // 2 + 1, layer.shape[1])
        return jnp.concatenate([layer, (total[:, end] - total[:, begin]) / (end - begin)[:, None]], -1)

    def left(number: int) -> Any:
        if key is None:
            return 1.0
        own = jax.random.fold_in(key, number)
        return (jax.random.uniform(own, (rows.shape[0], 1, HIDDEN)) > DROPPED) / (1 - DROPPED)

    layer = jax.nn.relu(rows @ weights["first"] + weights["first_bias"])
    for at, reach in enumerate((*REACHES[0], None, *REACHES[1])):
        if reach is None:
            layer = layer + jax.nn.relu(with_around(layer) @ weights["wide"] + weights["wide_bias"])
            continue
        turn = at if at < len(REACHES[0]) else at - 1
        before, here, after = jnp.split(weights["turns"][turn], 3)
        total = moved(layer, reach) @ before + layer @ here + moved(layer, -reach) @ after
        layer = layer + jax.nn.relu(total + weights["turns_bias"][turn]) * left(at)
    return with_around(layer) @ weights["out"] + weights["out_bias"]


def cost(told: Any, beats: Any, downs: Any, tempo: Any, metre: Any, weight: Any) -> Any:
    """The cross entropies of beats, downbeats, tempi and metres: (4,)."""
    import jax
    import jax.numpy as jnp

    def crossed(odds: Any, wanted: Any) -> Any:
        return (weight * (jnp.logaddexp(0, odds) - wanted * odds)).sum() / weight.sum()

    places = jnp.arange(TEMPI)
    wanted = jnp.exp(-0.5 * ((OCTAVE * tempo[..., None] - places) / 0.8) ** 2)
    total = wanted.sum(-1)
    known = (tempo > -5) & (total > 0.1) & (weight > 0)
    shares = jax.nn.log_softmax(told[..., 2 : 2 + TEMPI], -1)
    tempi = -(shares * wanted).sum(-1) / jnp.maximum(total, 0.1)
    barred = jax.nn.log_softmax(told[..., 2 + TEMPI :], -1)
    metres = -jnp.take_along_axis(barred, jnp.maximum(metre, 0)[..., None], -1)[..., 0]
    has = metre >= 0
    return jnp.stack([
        crossed(told[..., 0], beats), crossed(told[..., 1], downs),
        (known * tempi).sum() / jnp.maximum(known.sum(), 1), (has * metres).sum() / jnp.maximum(has.sum(), 1),
    ])  # fmt: skip


class Shelf:
    """The songs to learn from, as tables of one size whatever is there; a thread goes on looking for new ones."""

    def __init__(self, folder: Path, kept: Path) -> None:
        self.folder, self.kept = folder, kept
        self.rows: list[dict[str, Any]] = []
        self.known: set[str] = set()
        self.table: dict[str, NDArray[Any]] = {}
        self.filled = 0

    def look(self, until: float) -> None:
        """Look for songs until then (`time.monotonic`), two seconds after each time."""
        while time.monotonic() < until and len(self.rows) < MOST:
            for song in songs_of(sorted(path.parent for path in self.folder.glob("*/audio"))):
                name = f"{song.set.name}/{song.name}"
                if song.audio.stat().st_size or name in self.known or len(self.rows) == MOST:
                    continue
                self.known.add(name)
                if share_of(song.set.name, song.name) == "pulse":
                    row = song_of(song, self.kept)
                    self.rows += [row] if row else []
            time.sleep(2)

    def taken_in(self) -> dict[str, NDArray[Any]]:
        """The tables with all that has been found."""
        count = len(self.rows)
        if not self.table:
            self.table = {name: np.zeros((MOST, *np.shape(value)), np.asarray(value).dtype)
                          for name, value in self.rows[0].items()}  # fmt: skip
        for number in range(self.filled, count):
            for name, value in self.rows[number].items():
                self.table[name][number] = value
            self.rows[number] = {}
        self.filled = count
        return self.table


def learn(shelf: Shelf, batch: int, seconds: float, seed: int) -> dict[str, Any]:
    """The weights after so many seconds from the first step on."""
    import jax
    import jax.numpy as jnp
    import optax

    figures = 3 * BANDS + CHANGES
    weights: Any = jax.tree.map(jnp.asarray, fresh(figures, np.random.default_rng(seed)))
    descent = optax.chain(optax.clip_by_global_norm(1.0), optax.adamw(1.0, weight_decay=DECAY))
    state = descent.init(weights)
    weighing = jnp.array([6.0, 9.0, 0.12, 0.1])

    def loss(weights: Any, number: Any, key: Any, tables: Any) -> Any:
        own, left = jax.random.split(key)
        rows, *truth = stretches(tables, number, own)
        costs = cost(answers(weights, rows, left), *truth)
        return (costs * weighing).sum(), costs

    def step(weights: Any, state: Any, rate: Any, number: Any, key: Any, tables: Any) -> Any:
        slopes, costs = jax.grad(loss, has_aux=True)(weights, number, key, tables)
        moves, state = descent.update(slopes, state, weights)
        return optax.apply_updates(weights, jax.tree.map(lambda move: rate * move, moves)), state, costs

    stepped = jax.jit(step, donate_argnums=(0, 1))
    chance, key = np.random.default_rng(seed), jax.random.PRNGKey(seed)
    begun = taken = time.monotonic()
    tables = jax.device_put(shelf.taken_in())
    number = 0
    while (took := time.monotonic() - begun) < seconds:
        if time.monotonic() - taken > TAKEN_IN and shelf.filled < len(shelf.rows):
            tables, taken = jax.device_put(shelf.taken_in()), time.monotonic()
        worth = np.clip(shelf.table["frames"][: shelf.filled] / 6_000, 0.3, 1.5)
        drawn = chance.choice(shelf.filled, batch, p=worth / worth.sum())
        share = took / seconds
        rate = RATE * min(share / WARM, 0.5 + 0.5 * np.cos(np.pi * max(0.0, share - WARM) / (1 - WARM)))
        key, own = jax.random.split(key)
        weights, state, costs = stepped(weights, state, np.float32(rate), drawn, own, tables)
        number += 1
        if number % 20 == 0:
            costs.block_until_ready()  # no farther ahead than that, or the time would mean nothing
        if number % 500 == 0 or number == 20:
            print(f"{number:>6} {took:5.0f} s, {shelf.filled} songs, {np.round(np.asarray(costs), 4)}", flush=True)
    return {name: np.asarray(value) for name, value in weights.items()}


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("folder", type=Path)
    options.add_argument("--kept", type=Path, required=True, help="Folder for what is heard.")
    options.add_argument("--out", type=Path, required=True, help="The file to write.")
    options.add_argument("--seconds", type=float, default=480.0)
    options.add_argument("--batch", type=int, default=32)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--fewest", type=int, default=FEWEST, help="Songs from which learning begins.")
    chosen = options.parse_args(arguments)
    shelf = Shelf(chosen.folder, chosen.kept)
    Thread(target=shelf.look, args=(time.monotonic() + 10 * chosen.seconds,), daemon=True).start()
    while len(shelf.rows) < chosen.fewest:
        time.sleep(1)
    weights = learn(shelf, chosen.batch, chosen.seconds, chosen.seed)
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(chosen.out, **{name: value.astype(np.float16) for name, value in weights.items()})
    print(f"wrote {chosen.out.name} after {shelf.filled} songs")


if __name__ == "__main__":
    main(sys.argv[1:])
