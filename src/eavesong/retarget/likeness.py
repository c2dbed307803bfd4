"""How alike two houses look while their frames play: one figure from 0 to 1.

Both are seen from the street through one grid of house coordinates, CELLS across and up. The light of a cell is the
mean of its pixels' light, each shared between the four cells around it by distance, so that neither how densely nor
at which end a wire is set with pixels matters. Lights are compared in OKLab (B. Ottosson, 2020; CSS Color 4, 9.3),
where distances are near to what eyes see::

    likeness = 1 - sum of w · distance(a, b) / sum of w · (distance(a, black) + distance(b, black))

over all cells and moments; w is the share of pixels that a cell holds, the mean of both houses. The same light
everywhere gives 1, light that never meets 0. What it does not see: detail finer than a cell or shorter than STEP,
depth (x and y only), how bright a house is in all (each is measured against its own brightest pixel), and the music.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import linear_to_oklab
from eavesong.light import light_tables

if TYPE_CHECKING:
    from eavesong.frames import FramesFile

Floats = NDArray[np.float64]

CELLS = (32, 16)
"""Across the house and up."""
STEP = 0.1
"""Seconds between the moments that are compared."""
AT_ONCE = 64
"""Moments compared together."""
PRESENT = 1e-3
"""Share of a pixel below which a cell counts as empty."""


@dataclass(frozen=True, eq=False)
class Raster:
    """A house seen through the grid."""

    file: FramesFile
    cells: Any
    """scipy sparse (cells, pixels): each row adds up to 1, or to 0 where no pixel is near."""
    share: Floats
    """(cells,): of the house's pixels, adding up to 1."""
    light: NDArray[np.float32]
    """(drives, 256): linear light of each byte, the brightest pixel 1."""
    drive: NDArray[np.int64]
    """(pixels,): row of ``light``."""

    def at(self, seconds: Floats) -> Floats:
        """OKLab (moments, cells, 3) of the frames shown at ``seconds``; black before the first and after the last."""
        frames = np.floor((seconds - self.file.start) * self.file.frame_rate + 1e-6).astype(np.int64)
        inside = (frames >= 0) & (frames < self.file.frame_count)
        out = np.zeros((len(seconds), len(self.share), 3))
        for row in np.flatnonzero(inside).tolist():
            linear = self.light[self.drive[:, None], self.file.rgb(int(frames[row]))]
            out[row] = self.cells @ linear
        return linear_to_oklab(out)


def likeness(a: FramesFile, b: FramesFile) -> float:
    """How alike two frames files of one song look, 0..1, see above; 1 where both are dark all the time.

    Their houses, frame rates and ranges may differ; where only one has frames the other is black.
    """
    views = _view(a), _view(b)
    weights = (views[0].share + views[1].share) / 2
    begin = min(file.start for file in (a, b))
    end = max(file.start + file.frame_count / file.frame_rate for file in (a, b))
    moments: Floats = begin + STEP * np.arange(max(1, int(np.ceil((end - begin) / STEP - 1e-6))), dtype=np.float64)
    apart = bright = 0.0
    for at in range(0, len(moments), AT_ONCE):
        one, other = (view.at(moments[at : at + AT_ONCE]) for view in views)
        apart += float(np.linalg.norm(one - other, axis=-1).sum(axis=0) @ weights)
        bright += float((np.linalg.norm(one, axis=-1) + np.linalg.norm(other, axis=-1)).sum(axis=0) @ weights)
    return 1.0 - apart / bright if bright else 1.0


def _view(file: FramesFile) -> Raster:
    from scipy import sparse

    cells, pixels, shares = _spread(file.places[:, :2].astype(np.float64))
    count = CELLS[0] * CELLS[1]
    table = sparse.csr_matrix((shares, (cells, pixels)), shape=(count, len(file.places)))
    held = np.asarray(table.sum(axis=1)).reshape(-1)
    scale = np.where(held > PRESENT, 1 / np.maximum(held, PRESENT), 0.0)
    light, drive = _light(file)
    return Raster(file, sparse.diags(scale) @ table, held / len(file.places), light, drive)


def _spread(places: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """For each pixel the four cells around it, and its share in each: linear in the distance to their middles."""
    grid = np.array(CELLS)
    at = np.clip(places * grid - 0.5, 0, grid - 1)
    low = np.minimum(at.astype(np.int64), np.maximum(grid - 2, 0))
    near = at - low
    cells, pixels, shares = [], [], []
    for right in (0, 1):
        for up in (0, 1):
            cells.append((low[:, 1] + up) * CELLS[0] + low[:, 0] + right)
            pixels.append(np.arange(len(places)))
            shares.append(np.abs(1 - right - near[:, 0]) * np.abs(1 - up - near[:, 1]))
    return np.concatenate(cells), np.concatenate(pixels), np.concatenate(shares)


def _light(file: FramesFile) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """The light of each byte for each way to drive a pixel, and which way each pixel has."""
    drive = np.zeros(len(file.places), np.int64)
    ways = sorted({(row.brightness, row.gamma) for row in file.patch if row.pixel_count})
    for row in file.patch:
        drive[row.first_pixel : row.first_pixel + row.pixel_count] = ways.index((row.brightness, row.gamma))
    return light_tables(ways).astype(np.float32), drive
