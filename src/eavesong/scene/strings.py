"""Strings: where the light of each pixel goes in a frame, and the law by which it becomes bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.light import drive_curve

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.layout.patch import Patch

LETTERS = "RGBW"


@dataclass(frozen=True, eq=False)
class Strings:
    """Runs of pixels that are driven alike and whose channels follow each other."""

    runs: NDArray[np.int64]
    """(s, 8), sorted: first pixel, end pixel, first channel, drive, and the places of red, green, blue and white within
    the pixel's bytes, -1 where there is none."""
    drives: tuple[tuple[float, float], ...]
    """The brightness and gamma of each drive, see `eavesong.light`."""

    @property
    def curves(self) -> NDArray[np.uint8]:
        """(drives, LEVELS): the byte for each step of light."""
        return np.stack([drive_curve(brightness, gamma) for brightness, gamma in self.drives])


def strings_of(layout: Layout, wanted: NDArray[np.bool_]) -> Strings:
    """The strings of the ``wanted`` pixels (n,) of a house; what stands in none stays dark."""
    patch = layout.patch
    drives, drive = _drives(patch)
    rows = []
    for first, end in _runs(layout, drive, wanted):
        order = patch.orders[patch.order[first]]
        letters = [order.find(letter) for letter in LETTERS]
        rows.append((first, end, int(patch.channel_start[first]), int(drive[first]), *letters))
    return Strings(np.array(rows, np.int64).reshape(-1, 8), drives)


def _drives(patch: Patch) -> tuple[tuple[tuple[float, float], ...], NDArray[np.int64]]:
    """Brightness and gamma of each drive in growing order, and for each pixel (n,) which of them it has."""
    # Both in one number: of floats that are not negative, the bits grow as the numbers do.
    pairs = np.stack([patch.gamma, patch.brightness], axis=1).astype("<f4").view("<u8").reshape(-1)
    if pairs.size and (pairs == pairs[0]).all():  # most houses; telling them apart sorts all pixels
        found, drive = pairs[:1], np.zeros(len(pairs), np.int64)
    else:
        found, drive = np.unique(pairs, return_inverse=True)
    return tuple((float(pair[1]), float(pair[0])) for pair in found.view("<f4").reshape(-1, 2)), drive


def _runs(layout: Layout, drive: NDArray[Any], wanted: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    patch = layout.patch
    follows = patch.channel_start[1:] == patch.channel_start[:-1] + patch.channel_width[:-1]
    same = (patch.order[1:] == patch.order[:-1]) & (drive[1:] == drive[:-1]) & (wanted[1:] == wanted[:-1])
    borders = [0, *(np.flatnonzero(~(follows & same)) + 1).tolist(), layout.pixel_count]
    for first, end in pairwise(borders):
        if wanted[first]:
            yield first, end
