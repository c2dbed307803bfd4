"""Peaks and the likeliest way, held against other libraries and against trying everything."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise, product
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

import eavesong
from eavesong.music.borrowed import PutOff, alone, likeliest_states, peak_pick
from eavesong.sources import stands_on

SOURCES = Path(eavesong.__file__).parent


@settings(max_examples=30)
@given(st.integers(0, 10_000), st.integers(1, 6))
def test_peaks_are_those_of_scipy_where_none_are_crowded(seed: int, apart: int) -> None:
    from scipy.signal import find_peaks

    places = 20 * np.arange(1, 10) + np.random.default_rng(seed).integers(0, 3, 9)
    curve = np.zeros(220)
    curve[places] = np.random.default_rng(seed).uniform(1, 2, 9)
    assert set(places) <= set(peak_pick(curve, apart))
    assert set(find_peaks(curve)[0]) == {place for place in peak_pick(curve, apart) if curve[place] > 0}


def test_the_likeliest_way_is_that_found_by_trying_all() -> None:
    chance = np.random.default_rng(1)
    for _ in range(10):
        seen = chance.uniform(0.05, 1, (3, 6))
        turns = chance.uniform(0.05, 1, (3, 3))
        turns /= turns.sum(axis=1, keepdims=True)
        ways = {
            way: np.prod([seen[state, at] for at, state in enumerate(way)])
            * np.prod([turns[a, b] for a, b in pairwise(way)])
            for way in product(range(3), repeat=6)
        }
        assert tuple(likeliest_states(seen, turns)) == max(ways, key=lambda way: ways[way])


def test_equally_high_peaks_count_from_the_first_on() -> None:
    """As librosa 0.11's ``util.peak_pick`` has it with ``wait``: a row of equals, and both ends."""
    assert peak_pick(np.ones(9), 3).tolist() == [0, 4, 8]
    assert peak_pick(np.array([0, 2, 2, 0, 1, 0, 3]), 2).tolist() == [1, 6]
    assert peak_pick(np.zeros(0), 3).tolist() == []


def test_of_ways_that_are_equally_likely_the_first_is_taken() -> None:
    assert likeliest_states(np.full((3, 4), 0.5), np.full((3, 3), 1 / 3)).tolist() == [0, 0, 0, 0]


def test_nothing_heavy_is_loaded_before_a_song_is_heard() -> None:
    code = "import sys, eavesong.music, eavesong.cli; assert 'scipy' not in sys.modules and 'numba' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_listening_does_without_librosa() -> None:
    """Which compiles for seconds the first time."""
    for module in stands_on("eavesong.music.listening"):
        path = SOURCES.joinpath(*module.split(".")[1:])
        text = (path / "__init__.py" if path.is_dir() else path.with_suffix(".py")).read_text()
        assert "import librosa" not in text, module


def test_what_is_loaded_is_compiled_when_it_is_called_and_for_that_alone() -> None:
    compiled: list[list[str]] = []

    def decorate(signatures: list[str], **how: bool) -> object:
        compiled.append(signatures)
        return lambda function: function

    double = PutOff(decorate, ["float32(float32)", "float64(float64)"], (), {"cache": True}, lambda x: 2 * x)
    assert compiled == []
    assert double(np.float32(1)) == double(np.float32(1)) == 2
    assert compiled == [["float32(float32)"]]
    assert double(np.arange(2)).tolist() == [0, 2]  # whole numbers: numba finds what suits them
    assert compiled[1:] == [["float32(float32)", "float64(float64)"]]


def test_only_what_is_loaded_alone_is_put_off() -> None:
    import numba

    usual = numba.vectorize, numba.guvectorize
    with alone():
        assert isinstance(numba.vectorize(["float64(float64)"])(abs), PutOff)
    assert (numba.vectorize, numba.guvectorize) == usual
