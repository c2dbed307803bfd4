"""Light of parts of the view: what the pixels of a part add up to, as an eye that does not tell them apart sees it."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.lanes import floats_at, inner
from eavesong.kernels.lights import light_of_four, light_of_three, look_up
from eavesong.kernels.planes import LANES


@inner
def _add(scratch, whole, sums, cell, area):
    """Add a tile's light (3 planes) to that of the display, lane by lane, and to that of the cells."""
    count = len(cell)
    for colour in range(3):
        plane = scratch[colour * LANES : colour * LANES + count]
        for n in range(len(plane)):
            whole[colour, n] += plane[n]
    red = green = blue = 0.0
    own = cell[0]
    for n in range(count):
        if cell[n] != own:
            sums[own, 0] += red
            sums[own, 1] += green
            sums[own, 2] += blue
            red, green, blue, own = 0.0, 0.0, 0.0, cell[n]
        amount = area[n]
        red += amount * scratch[n]
        green += amount * scratch[LANES + n]
        blue += amount * scratch[2 * LANES + n]
    sums[own, 0] += red
    sums[own, 1] += green
    sums[own, 2] += blue


@inner
def _parts(whole, sums, count, starts, members, room, out):
    """Light of the display and of the parts in one frame, out (3, 1 + m)."""
    for colour in range(3):
        total = 0.0
        for n in range(LANES):
            total += whole[colour, n]
        out[colour, 0] = total / max(1, count)
    for part in range(len(room)):
        red = green = blue = 0.0  # side by side, as each sum waits for itself
        for k in range(starts[part], starts[part + 1]):
            cell = members[k]
            red += sums[cell, 0]
            green += sums[cell, 1]
            blue += sums[cell, 2]
        out[0, 1 + part] = red / room[part]
        out[1, 1 + part] = green / room[part]
        out[2, 1 + part] = blue / room[part]


def mix(frames, places, curves, tables, cell, area, starts, members, room, first, last, out, scratch, whole, sums):
    """Linear light of the whole display and of its parts in the frames ``first`` to ``last``.

    frames: uint8 (f, channels). places, curves, tables: see ``watch.follow``. cell: int32 (n,): each pixel's cell;
    area: float64 (n,): how much it adds to it. starts: int32 (m + 1,): where each part's cells begin in members,
    int32 (k,). room: float64 (m,): the area that makes a part's light 1. out: float32 (f, 3, 1 + m): the display's
    mean, in which pixels count alike, then the parts. All is added up in one order, whatever the frames.
    scratch: float32 (MIXED,). whole: float32 (last - first, 3, LANES), sums: float64 (last - first, cells, 3): zeros.
    """
    count = len(cell)
    planes, table = floats_at(np.int64(scratch.ctypes.data)), floats_at(np.int64(tables.ctypes.data))
    channels = floats_at(np.int64(scratch[3 * LANES :].ctypes.data))
    for start in range(0, count, LANES):
        lanes = min(LANES, count - start)
        white = look_up(channels, places, curves, start, lanes)
        cells, areas = cell[start : start + lanes], area[start : start + lanes]
        for f in range(last - first):
            row = np.int64(frames[first + f].ctypes.data)
            if white:
                light_of_four(row, table, channels, planes, 0)
            else:
                light_of_three(row, table, channels, planes, 0)
            _add(scratch, whole[f], sums[f], cells, areas)
    for f in range(last - first):
        _parts(whole[f], sums[f], count, starts, members, room, out[first + f])
