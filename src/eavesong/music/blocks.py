"""Long songs block by block: what a net or a window makes of each row, without the memory of a whole song at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def in_blocks(count: int, size: int, margin: int, told: Callable[[slice], NDArray[Any]]) -> NDArray[Any]:
    """What ``told`` says of each of ``count`` rows (count, ...), asked for ``size`` of them at a time.

    ``told`` gets a slice of rows and answers with a row for each. What it says of a row may depend on ``margin`` rows
    on either side: so many more are asked about, and what it says of those is dropped.
    """
    whole = None
    for start in range(0, max(count, 1), size):
        begin = max(0, start - margin)
        part = told(slice(begin, min(count, start + size + margin)))[start - begin :][:size]
        if whole is None:  # filled as parts come: parts that are joined at the end are there twice
            whole = np.empty((count, *part.shape[1:]), part.dtype)
        whole[start : start + size] = part
    assert whole is not None
    return whole


def moved(rows: NDArray[Any], shift: int) -> NDArray[Any]:
    """Rows (f, ...) in whose place those ``shift`` later stand, zeros beyond the ends."""
    there = np.zeros_like(rows)
    if abs(shift) >= len(rows):
        return there
    if shift < 0:
        there[-shift:] = rows[:shift]
    else:
        there[: len(rows) - shift] = rows[shift:]
    return there
