"""A song of our own as it would be heard: soft and loud parts that return, with drums, a stop, a fill, a build."""

import random
from pathlib import Path

import numpy as np
import pytest

from eavesong.draft.cast import cast_of
from eavesong.draft.form import Form, form_of
from eavesong.draft.likeness import costumes_of
from eavesong.draft.looks import looks_of
from eavesong.draft.moods import choices
from eavesong.files import shipped
from eavesong.layout import load_layout
from eavesong.music import BeatGrid, Event, Events, Section, Signals

TEMPO, BARS = 120.0, 48
PLAN = (("A", "quiet", 8), ("B", "steady", 8), ("C", "high", 8), ("B", "steady", 8), ("C", "high", 16))
LEVELS = {"A": 0.2, "B": 0.5, "C": 0.95}


def grid_of(tempo: float = TEMPO, plan=PLAN) -> BeatGrid:
    """Bars of four from 0 s on."""
    bars = sum(length for _, _, length in plan)
    beats = np.arange(4 * bars) * 60 / tempo
    sections, at = [], 0
    for label, kind, length in plan:
        sections.append(Section(240 / tempo * at, 240 / tempo * (at + length), label, kind))
        at += length
    return BeatGrid(tuple(beats), tuple(np.arange(4 * bars) % 4 + 1), tuple(sections), 240 / tempo * bars)


def signals_of(grid: BeatGrid, levels=LEVELS) -> Signals:
    """As loud as each section's label says."""
    loudness = np.zeros(round(100 * grid.duration), np.float16)
    for section in grid.sections:
        loudness[round(100 * section.start) : round(100 * section.end)] = levels.get(section.label, 0.5)
    spectrum = np.rint(255 * loudness[:, None] * np.linspace(1, 0.5, 32)).astype(np.uint8)
    names = ("loudness", "bass", "mid", "treble", "onset", "brightness")
    return Signals(100.0, **dict.fromkeys(names, loudness), spectrum=spectrum)


def events_of(grid: BeatGrid) -> Events:
    """A bass drum on one and three, a snare on two and four from the second section on, and one of everything else."""
    from_ = grid.sections[min(1, len(grid.sections) - 1)].start
    pairs = zip(grid.times, grid.positions, strict=True)
    items = [Event(at, "low" if position in (1, 3) else "middle", 0.9) for at, position in pairs if at >= from_]
    items += [Event(grid.time_of_bar(bar), "phrase") for bar in range(0, grid.bar_count, 4)]
    items += [Event(grid.time_of_bar(15), "stop", 0.9), Event(grid.time_of_bar(15.5), "stop-end"),
              Event(grid.time_of_bar(16), "arrival", 0.9), Event(grid.time_of_bar(20), "hit", 0.9),
              Event(grid.time_of_bar(23), "fill", 0.5), Event(grid.time_of_bar(24), "fill-end"),
              Event(grid.time_of_bar(28), "build", 0.8), Event(grid.time_of_bar(32), "build-end")]  # fmt: skip
    items += [Event(grid.time_of_beat(beat), "lead", 0.1 + 0.8 * (beat % 8) / 8) for beat in range(32, 64)]
    return Events.of(items)


@pytest.fixture(scope="session")
def song() -> Form:
    """The form of that song."""
    grid = grid_of()
    return form_of(grid, signals_of(grid), events_of(grid))


@pytest.fixture(scope="session")
def house():
    """The demo's house."""
    return load_layout(Path(str(shipped("layouts") / "two-storey-2026.toml")))


def looks(song, house, seed=1):
    """The looks of a song on a house, worked out once."""
    known = KNOWN.setdefault((id(song), id(house), seed), [song, house])
    if len(known) == 2:
        rng, cast = random.Random(seed), cast_of(house)
        known.append(looks_of(song, cast, costumes_of(song, cast, choices(()), rng), rng))
    return dict(known[2])


KNOWN = {}
"""By the identities of song and house, and the seed: both of them, so that they stay, and their looks."""
