"""A small house with one prop of every kind that effects meet, and the houses that come with eavesong."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.files import shipped
from eavesong.layout import Layout, load_layout
from eavesong.music import Event, Events
from support import even_grid

SMALL_HOUSE = """
title = "A small house"
units = "m"

[[prop]]
name = "gable"
shape = "polyline"
points = [[1.0, 3.0, 0.4], [3.0, 4.5, 0.4], [5.0, 3.0, 0.4]]
pitch = 0.25

[[prop]]
name = "arch"
shape = "arch"
at = [0.5, 0.0, 3.0]
width = 1.3
height = 0.9
pixels = 16
repeat = { count = 3, step = [1.3, 0.0] }

[[prop]]
name = "tree"
shape = "cone"
at = [6.4, 0.2, 1.2]
height = 2.4
base = 1.3
strings = 6
pixels = 9

[[prop]]
name = "screen"
shape = "grid"
at = [3.0, 0.3, 0.4]
columns = 9
rows = 6
width = 1.8
height = 1.0

[[prop]]
name = "wall light"
shape = "spot"
at = [0.3, 0.2, 0.8]
"""

HOUSES = tuple(sorted(path.stem for path in shipped("layouts").glob("*.toml")))
"""Names of the layouts that come with eavesong."""


HAPPENINGS = Events.of(
    [Event(at, "low" if beat % 2 == 0 else "middle", 0.9) for beat, at in enumerate(np.arange(0, 20, 60 / 130))]
    + [Event(0.5, "stop"), Event(0.9, "stop-end"), Event(1.0, "build"), Event(4.0, "build-end"), Event(4.0, "arrival"),
       Event(4.5, "fill"), Event(6.5, "fill-end"), Event(6.5, "hit"), Event(7.3, "hit")]
    + [Event(at, "lead", 0.1 + 0.1 * note) for note, at in enumerate(np.arange(0, 9, 1.0))]
)  # fmt: skip
"""Drums, a melody that climbs, and one of everything that happens once in a while, within eight seconds."""


class Drums:
    """A drum on every beat at 130 beats a minute, over a chord that swells and fades in eight seconds."""

    frame_rate = 100.0

    def at(self, seconds: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
        """As ``Signals.at``."""
        drum = np.exp(-(seconds % (60 / 130)) / 0.18)
        chord = 0.5 + 0.4 * np.sin(2 * np.pi * seconds / 8)
        pitches = np.linspace(0, 1, 32)
        low, middle = np.exp(-((pitches / 0.2) ** 2)), np.exp(-(((pitches - 0.5) / 0.25) ** 2))
        loudness = np.clip(0.5 * chord + 0.5 * drum, 0, 1)
        signals = {"loudness": loudness, "bass": drum, "mid": chord, "treble": 0.5 * chord, "onset": drum}
        signals["brightness"] = 1 - 0.8 * drum
        signals |= HAPPENINGS.at(seconds, even_grid(120, bars=8))
        return signals | {"spectrum": np.clip(drum[:, None] * low + chord[:, None] * middle, 0, 1)}


@pytest.fixture(scope="session")
def small_house(tmp_path_factory: pytest.TempPathFactory) -> Layout:
    """A gable, three arches, a tree, a screen and a wall light: 174 pixels."""
    path = tmp_path_factory.mktemp("house") / "house.toml"
    path.write_text(SMALL_HOUSE)
    return load_layout(path)


@pytest.fixture(scope="session")
def house_of() -> Callable[[str], Layout]:
    """A layout that comes with eavesong, by name, read once."""
    known: dict[str, Layout] = {}

    def load(name: str) -> Layout:
        if name not in known:
            known[name] = load_layout(shipped("layouts") / f"{name}.toml")
        return known[name]

    return load


@pytest.fixture(scope="session")
def drums() -> Drums:
    """The sound that effects are shown here."""
    return Drums()
