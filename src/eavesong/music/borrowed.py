"""What listening has in common with librosa: picking peaks, and the likeliest way through a row of states.

Both give what librosa's functions of the same purpose give, without loading it, which compiles for seconds the
first time. Where it is loaded for more than that, it is loaded alone.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

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

    Its functions are compiled by numba and kept on disk; where several processes fill that store at once it breaks for
    good. The lock lies in the folder of all kernels, as the store does, wherever the rest of the cache may be. What is
    imported here is compiled when it is first called, for what it is called with: most of it never is.
    """
    import numba

    usual = numba.vectorize, numba.guvectorize
    with _locked(all_kernels() / "librosa.lock"), kept_between_runs():
        numba.vectorize, numba.guvectorize = (_putting_off(decorate) for decorate in usual)
        try:
            yield
        finally:
            numba.vectorize, numba.guvectorize = usual


def _putting_off(decorate: Callable[..., Any]) -> Callable[..., Any]:
    """``decorate`` of numba's, which would compile all signatures at once."""
    return lambda signatures, *more, **how: lambda function: PutOff(decorate, signatures, more, how, function)


class PutOff:
    """A function of numba's that is compiled when it is first called, for numbers like those it is called with."""

    def __init__(
        self, decorate: Callable[..., Any], signatures: list[str], more: tuple[Any, ...], how: dict[str, Any],
        function: Callable[..., Any],
    ) -> None:  # fmt: skip
        self.made: dict[np.dtype[Any], Callable[..., Any]] = {}
        self._make: Callable[[list[str]], Any] = lambda wanted: decorate(wanted, *more, **how)(function)
        self._signatures = signatures

    def __call__(self, first: Any, *more: Any, **how: Any) -> Any:
        """What the function gives for these."""
        dtype = np.asarray(first).dtype
        if dtype not in self.made:
            wanted = [signature for signature in self._signatures if f"({dtype}" in signature]
            self.made[dtype] = self._make(wanted or self._signatures)
        return self.made[dtype](first, *more, **how)


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
