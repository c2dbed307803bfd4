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

DARK, STEPS = (f"from eavesong.kernels.ends import {name} as kernel\n" for name in ("dark", "steps"))
"""Sources of what every row begins and ends with."""

WORTH = 1 << 25
"""Pixels times frames after which a row is compiled as a whole; drawing so many takes longer than that."""

PATTERNS = 256
"""Ways in which cues may be on at once of which is known what is lit where."""


@dataclass(eq=False)
class Row:
    """Cues that light a tile, in painting order, and how they are drawn."""

    cues: tuple[int, ...]
    sources: tuple[str, ...]
    parts: list[tuple[Code, int]]
    """Compiled code, and how many of the cues it draws."""
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

    def __init__(self, sources: Sequence[tuple[str, str]], reach: NDArray[np.int8]) -> None:
        """sources: of each cue's kernel, for any tile and for one that it lights wholly. reach: (cues, tiles), 0 where
        a cue lights nothing, 1 where it lights something, 2 where everything."""
        self.sources, self.reach = sources, reach
        self._rows: dict[tuple[tuple[int, int], ...], Row] = {}
        self._plans: dict[bytes, Drawn] = {}
        self._lock = Lock()

    def plan(self, on: NDArray[np.bool_]) -> Drawn:
        """How tiles are drawn while the cues ``on`` (cues,) are."""
        key = on.tobytes()
        if (known := self._plans.get(key)) is not None:
            return known
        with self._lock:
            cues = np.flatnonzero(on)
            patterns, row_of = np.unique(self.reach[cues], axis=1, return_inverse=True)
            rows = [
                self._row(tuple(zip(cues[lit > 0].tolist(), lit[lit > 0].tolist(), strict=True))) for lit in patterns.T
            ]
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
                    row.parts, row.whole = _parts(row.sources, MOST), True
                    self._plans.clear()
                finally:
                    self._lock.release()

    def _row(self, lit: tuple[tuple[int, int], ...]) -> Row:
        """The row of cues of which is known how far each lights its tiles, see ``reach``."""
        if lit not in self._rows:
            sources = tuple(self.sources[cue][reach - 1] for cue, reach in lit)
            whole = all(is_kept(*part) for part in _cut(sources, MOST))
            singly = [self.sources[cue][0] for cue, _ in lit]
            parts = _parts(sources, MOST) if whole else _parts(singly, 1)
            self._rows[lit] = Row(tuple(cue for cue, _ in lit), sources, parts, whole)
        return self._rows[lit]


def _cut(sources: Sequence[str], most: int) -> list[tuple[str, ...]]:
    """The sources of each step that draws as many cues, from darkness to steps of light."""
    if most == 1:
        return [(DARK,), *((source,) for source in sources), (STEPS,)]
    parts = [tuple(sources[at : at + most]) for at in range(0, max(1, len(sources)), most)]
    parts[0] = (DARK, *parts[0])
    parts[-1] = (*parts[-1], STEPS)
    return parts


def _parts(sources: Sequence[str], most: int) -> list[tuple[Code, int]]:
    ends = {DARK, STEPS}
    return [(compiled(*part), sum(source not in ends for source in part)) for part in _cut(sources, most)]


def _plan(rows: Sequence[Row], row_of: NDArray[np.int64]) -> Drawn:
    steps, begins, at = [], [0], 0
    for row in rows:
        for code, count in row.parts:
            steps.append((code.address, at, at + count))
            at += count
        begins.append(len(steps))
    return Drawn(
        rows,
        np.array(steps, np.int64).reshape(-1, 3),
        np.array(begins, np.int64),
        row_of,
        np.array([cue for row in rows for cue in row.cues], np.int64),
        [code for row in rows for code, _ in row.parts],
    )
