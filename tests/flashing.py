"""An independent count of flashes: the definitions of the standards, tried on every pair of frames of every second.

Slow and plain; nothing of it comes from the package. WCAG 2.2 ("general flash and red flash thresholds"): a pair of
opposing changes of relative luminance of 10 % of the maximum or more where the darker state is below 0.80; a pair of
opposing transitions involving a saturated red, R/(R+G+B) >= 0.8, that differ by more than 0.2 in CIE 1976 u'v'.
Technique G19: six changes in a second pass, seven fail.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout

Floats = NDArray[np.float64]
LIMIT = 6
CLOSE = 1e-6
"""What single precision may take for a tenth."""


def changes(light: Floats, second: int) -> NDArray[np.int8]:
    """(2, f, n): the most general and red changes that follow one another in the second up to each frame.

    light: linear (f, n, 3). second: frames in a second; a change in each of them takes one frame more.
    """
    light = np.asarray(light, np.float64)
    still = np.repeat(light[:1], second, axis=0)  # before its beginning a film stands still
    y, uv, red = looks(np.concatenate([still, light]))
    return np.stack([_most(_general(y), len(light), second), _most(_red(uv, red), len(light), second)])


def looks(light: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Relative luminance (IEC 61966-2-1), u'v' (CIE 1976, by colour-science) and saturated red of linear light."""
    import colour

    total = light.sum(axis=-1)
    coloured = np.where((total < 0.02)[..., None], 1.0, light)  # black has no colour: our reading, neutral
    xyz = coloured @ np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                               [0.0193339, 0.1191920, 0.9503041]]).T  # fmt: skip
    uv = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))
    red = light[..., 0] >= (0.8 - CLOSE) * np.maximum(total, 0.02)
    return light @ [0.2126, 0.7152, 0.0722], uv, red


def _general(y: Floats):
    """Whether an earlier and a later state are a change, and whether it goes up."""

    def pair(earlier, later):
        apart = y[later] - y[earlier]
        return (np.abs(apart) >= 0.1 - CLOSE) & (np.minimum(y[later], y[earlier]) < 0.8), apart > 0

    return pair


def _red(uv: Floats, red: NDArray[np.bool_]):
    """Whether an earlier and a later state are a change, and whether it goes into red."""
    u, v = np.moveaxis(uv, -1, 0)

    def pair(earlier, later):
        apart = (u[later] - u[earlier]) ** 2 + (v[later] - v[earlier]) ** 2
        return (apart > 0.2**2) & (red[later] | red[earlier]), red[later]

    return pair


def _most(pair, frames: int, second: int) -> NDArray[np.int8]:
    """(f, n): the longest row of changes, in turn one way and the other, each beginning where the last ended or later.

    For every second by itself, all of them side by side: after each of its frames, the most that have ended by then,
    by the way of the last.
    """
    shift = [slice(frame, frame + frames) for frame in range(second + 1)]
    best = [[np.zeros_like(pair(shift[0], shift[0])[0], np.int8)] * 2]
    for later in range(1, second + 1):
        best.append(list(best[-1]))
        for earlier in range(later):
            change, up = pair(shift[earlier], shift[later])
            for way, now in ((0, change & ~up), (1, change & up)):
                best[later][way] = np.maximum(best[later][way], now * (best[earlier][1 - way] + np.int8(1)))
    return np.maximum(*best[second])


def mixes(light: Floats, layout: Layout, distance: float) -> Floats:
    """(f, parts, 3): the display's mean, and what squares of 5 and of 10 degrees show, slid by 2.5 degrees.

    A square's light is the sum of its pixels' light times their areas, over the area of those pixels, or over a
    quarter of the square where they cover less.
    """
    x, y = np.float64(layout.pixels.X), np.float64(layout.pixels.Y)
    across = np.sqrt(sum(np.float64(layout.pixels.across[axis]) ** 2 for axis in "XYZ"))
    places = np.stack([x, y, np.float64(layout.pixels.Z)])
    along = np.array([_pitch(layout, places, pixel) for pixel in range(len(x))])
    areas = along * np.where(across > 0, across, along)
    slide = 2 * distance * np.tan(np.radians(5)) / 4
    row, column = (np.floor((axis - axis.min()) / slide) for axis in (y, x))
    out = [light.mean(axis=1)]
    for cells in (2, 4):
        for low in range(max(1, int(row.max()) + 2 - cells)):
            for left in range(max(1, int(column.max()) + 2 - cells)):
                inside = (row >= low) & (row < low + cells) & (column >= left) & (column < left + cells)
                room = max(areas[inside].sum(), (cells * slide) ** 2 / 4)
                out.append((light[:, inside] * areas[inside, None]).sum(axis=1) / room)
    return np.stack(out, axis=1)


def _pitch(layout: Layout, places: Floats, pixel: int) -> float:
    """Metres to the nearer neighbour on the wire; 0.05 for a pixel that has none."""
    near = [other for other in (pixel - 1, pixel + 1) if 0 <= other < len(layout.pixels.prop)]
    near = [other for other in near if layout.pixels.prop[other] == layout.pixels.prop[pixel]]
    return min((float(np.linalg.norm(places[:, other] - places[:, pixel])) for other in near), default=0.05) or 0.05


def passes(light: Floats, second: int, layout: Layout | None = None, distance: float = 10.0) -> bool:
    """Whether nothing of a film, linear (f, n, 3), has more than three flashes in any second."""
    places = light if layout is None else np.concatenate([light, mixes(light, layout, distance)], axis=1)
    return bool((changes(places, second) <= LIMIT).all())
