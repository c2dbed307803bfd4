"""Which cues light which tiles at a time, and the steps in which each such row of cues is drawn.

A step is one pass over a tile. At first each cue is one by itself, compiled for all shows. A row that is drawn often is
compiled as a whole: its light stays in the processor from the first cue to the last. Both give the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.code import Code
from eavesong.kernels.exact import TILE
from eavesong.kernels.planes import MOST
from eavesong.kernels.store import compiled, is_kept

DARK, STEPS, BYTES = (f"from eavesong.kernels.ends import {name} as kernel\n" for name in ("dark", "steps", "driven"))
"""Sources of what every row begins with, and of what it may end with."""

WORTH = 1 << 25
"""Pixels times frames after which a row is compiled as a whole; drawing so many takes longer than that."""

PATTERNS = 256
"""Ways in which cues may be on at once of which is known what is lit where."""


@dataclass(eq=False)
class Row:
    """Cues that light a tile, in painting order, and how they are drawn."""

    cues: tuple[int, ...]
    sources: tuple[str, ...]
    """From darkness to its end."""
    parts: list[tuple[Code, int, bool]]
    """Compiled code, how many of the cues it draws, and whether it ends in bytes."""
    whole: bool
    drawn: int = 0
    """Pixels times frames so far, about: threads do not wait for each other here."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """What `eavesong.kernels.sample` takes of the rows that are drawn while the same cues are on."""

    rows: Sequence[Row]
    steps: NDArray[np.int64]
    begins: NDArray[np.int64]
    row_of: NDArray[np.int64]
    lit: NDArray[np.int64]
    code: Sequence[Code] = field(repr=False)
    """Kept for as long as it may be run."""


class Rows:
    """The rows of a scene's cues; safe to ask from several threads."""

    def __init__(self, sources: Sequence[tuple[str, str]], reach: NDArray[np.int8], at_once: NDArray[np.bool_]) -> None:
        """sources: of each cue's kernel, for any tile and for one that it lights wholly. reach: (cues, tiles), 0 where
        a cue lights nothing, 1 where it lights something, 2 where everything. at_once: (tiles,), which are turned into
        bytes by the last step itself."""
        self.sources, self.reach, self.at_once = sources, reach, at_once
        self._rows: dict[tuple[tuple[tuple[int, int], ...], str], Row] = {}
        self._plans: dict[bytes, Drawn] = {}
        self._lock = Lock()

    def plan(self, on: NDArray[np.bool_]) -> Drawn:
        """How tiles are drawn while the cues ``on`` (cues,) are."""
        key = on.tobytes()
        if (known := self._plans.get(key)) is not None:
            return known
        with self._lock:
            cues = np.flatnonzero(on)
            patterns, row_of = np.unique(np.vstack([self.reach[cues], self.at_once]), axis=1, return_inverse=True)
            rows = []
            for *lit, at_once in patterns.T.tolist():
                reached = tuple((cue, reach) for cue, reach in zip(cues.tolist(), lit, strict=True) if reach)
                rows.append(self._row(reached, BYTES if at_once else STEPS))
            if len(self._plans) >= PATTERNS:
                self._plans.clear()
            self._plans[key] = _plan(rows, row_of.reshape(-1).astype(np.int64))
            return self._plans[key]

    def count(self, plan: Drawn, frames: int, begin: int, end: int) -> None:
        """Take note that tiles were drawn; compile as a whole what is worth it, while other threads go on."""
        tiles = np.bincount(plan.row_of[begin:end], minlength=len(plan.rows))
        for row, count in zip(plan.rows, tiles.tolist(), strict=True):
            row.drawn += frames * count * TILE
            if not row.whole and row.drawn >= WORTH and self._lock.acquire(blocking=False):
                try:
                    row.parts, row.whole = _parts(_cut(row.sources)), True
                    self._plans.clear()
                finally:
                    self._lock.release()

    def _row(self, lit: tuple[tuple[int, int], ...], end: str) -> Row:
        """The row of cues of which is known how far each lights its tiles, see ``reach``, and what it ends with."""
        if (lit, end) not in self._rows:
            sources = (DARK, *(self.sources[cue][reach - 1] for cue, reach in lit), end)
            whole = all(is_kept(*part) for part in _cut(sources))
            singly = (DARK, *(self.sources[cue][0] for cue, _ in lit), end)
            parts = _parts(_cut(sources) if whole else [(source,) for source in singly])
            self._rows[lit, end] = Row(tuple(cue for cue, _ in lit), sources, parts, whole)
        return self._rows[lit, end]


def _cut(sources: Sequence[str]) -> list[tuple[str, ...]]:
    """The sources of a row, from darkness to its end, in steps of not more than MOST cues."""
    cues = sources[1:-1]
    parts = [tuple(cues[at : at + MOST]) for at in range(0, max(1, len(cues)), MOST)]
    parts[0] = (sources[0], *parts[0])
    parts[-1] = (*parts[-1], sources[-1])
    return parts


def _parts(cut: Sequence[tuple[str, ...]]) -> list[tuple[Code, int, bool]]:
    ends = {DARK, STEPS, BYTES}
    return [(compiled(*part), sum(source not in ends for source in part), part[-1] == BYTES) for part in cut]


def _plan(rows: Sequence[Row], row_of: NDArray[np.int64]) -> Drawn:
    steps, begins, at = [], [0], 0
    for row in rows:
        for code, count, in_bytes in row.parts:
            steps.append((code.address, at, at + count, in_bytes))
            at += count
        begins.append(len(steps))
    return Drawn(
        rows,
        np.array(steps, np.int64).reshape(-1, 4),
        np.array(begins, np.int64),
        row_of,
        np.array([cue for row in rows for cue in row.cues], np.int64),
        [code for row in rows for code, _, _ in row.parts],
    )
