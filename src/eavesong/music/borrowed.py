"""What listening has in common with librosa: picking peaks, and the likeliest way through a row of states.

Both give what librosa's functions of the same purpose give, without loading it, which compiles for half a minute the
first time. Where it is loaded for more than that, it is loaded alone.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.kernels.store import all_kernels, kept_between_runs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def peak_pick(values: NDArray[np.floating], apart: int) -> NDArray[np.int64]:
    """The frames (n,) at which ``values`` (f,) are highest within ``apart`` frames on either side, as many apart.

    Of those that are too near each other the first counts (as in Böck et al. 2012, "Evaluating the online capabilities
    of onset detection methods").
    """
    from scipy.ndimage import maximum_filter1d

    if not len(values):
        return np.zeros(0, np.int64)
    curve = np.asarray(values, np.float64)
    found = [-apart - 1]
    for frame in np.flatnonzero(curve == maximum_filter1d(curve, 2 * apart + 1, mode="nearest")).tolist():
        if frame > found[-1] + apart:
            found.append(frame)
    return np.array(found[1:], np.int64)


def likeliest_states(chances: Floats, turns: Floats) -> NDArray[np.int64]:
    """The likeliest state (g,) at each moment, by Viterbi's algorithm (1967); of equally likely ones the first.

    ``chances`` (s, g) of what is seen in each state, ``turns`` (s, s) of going from one (row) to the next. At first
    every state is as likely as the others.
    """
    least = np.finfo(chances.dtype).tiny
    seen, going = np.log(chances.T + least), np.log(turns + least).T
    best = seen[0] + np.log(1 / len(going) + least)
    came = np.zeros(seen.shape, np.int64)
    for moment in range(1, len(seen)):
        ways = best + going
        came[moment] = ways.argmax(axis=1)
        best = seen[moment] + ways[np.arange(len(going)), came[moment]]
    states = [int(best.argmax())]
    for back in came[:0:-1]:
        states.append(int(back[states[-1]]))
    return np.array(states[::-1], np.int64)


@contextlib.contextmanager
def alone() -> Iterator[None]:
    """Whoever imports librosa or calls into it does so inside this block: no other process fills the same store then.

    Its functions are compiled by numba as they are loaded and kept on disk; where several processes fill that store at
    once it breaks for good. The lock lies in the folder of all kernels, as the store does, wherever the rest of the
    cache may be.
    """
    with _locked(all_kernels() / "librosa.lock"), kept_between_runs():
        yield


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
