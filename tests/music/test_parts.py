"""Sections found in a song's sound."""

from __future__ import annotations

import numpy as np

from eavesong.music.grid import BeatGrid
from eavesong.music.parts import find_sections

from .conftest import RATE
from .test_bands import powers_of


def test_sections_begin_where_the_sound_changes_and_the_same_sound_bears_the_same_letter() -> None:
    # Bars of 1 s: 8 with a low tone, 8 with a high one and noise, 8 low again.
    t = np.arange(24 * RATE) / RATE
    loud = (t >= 8) & (t < 16)
    noise = np.random.default_rng(1).uniform(-0.3, 0.3, len(t))
    sound = np.where(loud, 0.5 * np.sin(2 * np.pi * 900 * t) + noise, 0.2 * np.sin(2 * np.pi * 110 * t))
    grid = BeatGrid(tuple(np.arange(0, 24, 0.25)), tuple(k % 4 + 1 for k in range(96)), (), 24.0)
    sections = find_sections(powers_of(sound), grid)
    assert [(part.start, part.end, part.label) for part in sections] == [
        (0.0, 8.0, "A"),
        (8.0, 16.0, "B"),
        (16.0, 24.0, "A"),
    ]


def test_a_song_of_a_few_bars_is_one_section() -> None:
    grid = BeatGrid((0.0, 0.5, 1.0, 1.5), (1, 2, 1, 2), (), 2.0)
    sections = find_sections(powers_of(np.zeros(2 * RATE)), grid)
    assert [(part.start, part.end, part.label) for part in sections] == [(0.0, 2.0, "A")]
