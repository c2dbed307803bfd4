"""What librosa does for us: picking peaks, and the likeliest way through a row of states.

librosa's functions are compiled by numba as they are loaded and kept on disk. Where several processes fill that store
at once it breaks for good, so one at a time loads them, under a lock, from a store among our own kernels; one that is
damaged is thrown away and filled anew. Nothing is loaded before a song is heard.
"""

from __future__ import annotations

import contextlib
import shutil
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.kernels.store import all_kernels, kept_between_runs, kernel_folder

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def peak_pick(values: NDArray[np.floating], apart: int) -> NDArray[np.int64]:
    """The frames (n,) at which ``values`` (f,) are highest within ``apart`` frames on either side, as many apart."""
    if not len(values):
        return np.zeros(0, np.int64)
    found = _util().peak_pick(
        np.asarray(values, np.float64), pre_max=apart, post_max=apart + 1, pre_avg=1, post_avg=1, delta=0.0, wait=apart
    )
    return np.asarray(found, np.int64)


def likeliest_states(chances: Floats, turns: Floats) -> NDArray[np.int64]:
    """The likeliest state (g,) at each moment, by Viterbi's algorithm.

    ``chances`` (s, g) of what is seen in each state, ``turns`` (s, s) of going from one (row) to the next.
    """
    return np.asarray(_sequence().viterbi(chances, turns), np.int64)


@cache
def _util() -> Any:
    """librosa's tools, among them its peaks."""
    return _loaded("librosa.util", lambda util: util.peak_pick(
        np.eye(1, 9, 4)[0], pre_max=1, post_max=2, pre_avg=1, post_avg=1, delta=0.0, wait=1))  # fmt: skip


@cache
def _sequence() -> Any:
    """librosa's sequences, among them Viterbi's algorithm."""
    _util()
    return _loaded("librosa.sequence", lambda sequence: sequence.viterbi(np.full((2, 3), 0.5), np.full((2, 2), 0.5)))


def _loaded(name: str, warm: Any) -> Any:
    """The module of that name, its functions compiled by using them once."""
    import importlib

    with alone():
        try:
            warm(module := importlib.import_module(name))
        except Exception:  # whatever a damaged store makes of itself
            for folder in _stores():
                shutil.rmtree(folder, ignore_errors=True)
            for loaded in [each for each in sys.modules if each.partition(".")[0] == "librosa"]:
                del sys.modules[loaded]
            warm(module := importlib.import_module(name))
        return module


@contextlib.contextmanager
def alone() -> Iterator[None]:
    """Whoever imports librosa or calls into it does so inside this block: no other process fills the same store then.

    The lock lies in the folder of all kernels, as the store does, wherever the rest of the cache may be.
    """
    with _locked(all_kernels() / "librosa.lock"), kept_between_runs():
        yield


def _stores() -> Iterator[Path]:
    """The folders in which numba keeps librosa's compiled functions: named after the folders of their sources."""
    yield from (folder for word in ("librosa", "util") for folder in kernel_folder().glob(f"{word}_*"))


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold the lock file at ``path``; where the system has no such locks, go on without."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(path, "w", encoding="utf-8") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
