"""From placed wires to what every pixel knows: house coordinates, own coordinates, seeds, footprints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.house import Float32, Frame, Pixels
from eavesong.layout.wire import Floats, Indices, Wire

FLAT = 1e-3
"""Metres: an axis along which a house measures less than this is flat, not a coordinate."""

STEPPED = ("x", "y", "z", "X", "Y", "Z", "u", "along", "px", "py", "turn")
"""The coordinates that have a footprint."""


@dataclass(frozen=True, eq=False)
class PlacedWire:
    """A prop's wire in metres and where it stands."""

    wire: Wire
    at: Floats
    """(3,) metres."""
    rotation: Floats
    """(3, 3): own coordinates to house axes."""
    heading: float
    """Turns counter-clockwise seen from above that the prop's front points away from the street."""
    mirror: float | None = None
    """Metres: x of the upright plane it is mirrored at, if it is."""

    def put(self, own: Floats) -> Floats:
        """House metres (k, 3) of points (k, 3) in the prop's own coordinates."""
        places = own @ self.rotation.T + self.at
        if self.mirror is not None:
            places = places * [-1, 1, 1] + [2 * self.mirror, 0, 0]
        return places


def rotation(x: float, y: float, z: float) -> Floats:
    """The matrix that turns by ``z``, then ``x``, then ``y`` degrees, each right-handed about its axis."""

    def about(axis: int, degrees: float) -> Floats:
        """The matrix (3, 3) of a turn about one axis, right-handed."""
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        matrix = np.eye(3)
        i, j = (axis + 1) % 3, (axis + 2) % 3
        matrix[i, i], matrix[i, j], matrix[j, i], matrix[j, j] = c, -s, s, c
        return matrix

    return about(1, y) @ about(0, x) @ about(2, z)


def in_metres(wire: Wire, metres: float) -> Wire:
    """``wire`` with its lengths multiplied by ``metres``, the metres in one of its units."""
    return replace(
        wire, points=wire.points * metres, along=wire.along * metres, length=wire.length * metres,
        low=wire.low * metres, high=wire.high * metres,
    )  # fmt: skip


def frame_around(places: Floats) -> Frame:
    """The bounding box of ``places`` (n, 3), as the house frame."""
    low, high = places.min(axis=0), places.max(axis=0)
    return Frame(low, high - low)


def in_frame(places: Floats, frame: Frame) -> Floats:
    """``places`` (n, 3) metres as 0..1 across ``frame``; 0.5 along an axis that is flat."""
    return _across(places, frame.origin, frame.size)


def _across(places: Floats, low: Floats, size: Floats) -> Floats:
    flat = size < FLAT
    return np.where(flat, 0.5, (places - low) / np.where(flat, 1.0, size))


def measure(placed: Sequence[PlacedWire], numbers: Sequence[int], frame: Frame) -> Pixels:
    """Everything the pixels of ``placed`` props know, float32, in order; ``numbers`` are places in a row."""
    counts = [len(prop.wire.points) for prop in placed]
    every = np.arange(len(placed)).repeat(counts)
    places = np.concatenate([prop.put(prop.wire.points) for prop in placed])
    house = np.clip(in_frame(places, frame), 0, 1)
    metres = places - frame.origin
    centres = in_frame(np.concatenate([prop.put((prop.wire.low + prop.wire.high)[None] / 2) for prop in placed]), frame)
    own = np.concatenate([_own_box(prop) for prop in placed])
    columns: dict[str, Floats] = {
        "x": house[:, 0], "y": house[:, 1], "z": house[:, 2],
        "X": metres[:, 0], "Y": metres[:, 1], "Z": metres[:, 2],
        "u": np.concatenate([(np.arange(count) + 0.5) / count for count in counts]),
        "along": np.concatenate([prop.wire.along for prop in placed]),
        "px": own[:, 0], "py": own[:, 1],
        "turn": np.concatenate([_turn(prop) for prop in placed]),
    }  # fmt: skip
    step, across = _footprints(columns, placed, every, counts)
    rest = {
        "wire_length": np.array([prop.wire.length for prop in placed])[every],
        "seed": seeds(house),
        "centre_x": centres[every, 0], "centre_y": centres[every, 1], "centre_z": centres[every, 2],
        "number": np.asarray(numbers)[every],
    }  # fmt: skip
    arrays = {name: _single_precision(values) for name, values in (columns | rest).items()}
    return Pixels(**arrays, prop=every.astype(np.int32), step=step, across=across)


def _single_precision(values: NDArray[np.generic]) -> Float32:
    return np.ascontiguousarray(values, dtype=np.float32)


def _own_box(prop: PlacedWire) -> Floats:
    """px and py (n, 2). A mirrored prop is mirrored here too, so that px runs from left to right on the house."""
    wire = prop.wire
    own = np.clip(_across(wire.points, wire.low, wire.high - wire.low)[:, :2], 0, 1)
    if prop.mirror is not None:
        own[:, 0] = 1 - own[:, 0]
    return own


def _turn(prop: PlacedWire) -> Floats:
    """(n,) 0..1 round the upright axis through the middle of the prop's own box; 0 on the axis itself."""
    middle = (prop.wire.low + prop.wire.high) / 2
    x, z = (prop.wire.points - middle)[:, 0], (prop.wire.points - middle)[:, 2]
    off_axis = np.hypot(x, z) > FLAT
    turn = np.where(off_axis, np.arctan2(x, z) / (2 * np.pi) + prop.heading, 0.0)
    turn = np.round(-turn if prop.mirror is not None else turn, 9) % 1
    return np.where(turn >= 1 - 2.0**-25, 0.0, turn)  # what single precision would round up to 1


def _footprints(
    columns: dict[str, Floats], placed: Sequence[PlacedWire], every: Indices, counts: Sequence[int]
) -> tuple[dict[str, Float32], dict[str, Float32]]:
    """The steps along and across the wire.

    Along the wire, places change from pixel to pixel within a strand only: a jump from the end of one strand to
    the beginning of the next is not the width of a pixel. u and along run on from strand to strand.
    """
    firsts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    before = np.concatenate([prop.wire.before + first for prop, first in zip(placed, firsts, strict=True)])
    after = np.concatenate([prop.wire.after + first for prop, first in zip(placed, firsts, strict=True)])
    strands = np.concatenate([prop.wire.strand for prop in placed])
    same_prop = every[1:] == every[:-1]
    same_strand = same_prop & (strands[1:] == strands[:-1])
    step, across = {}, {}
    for name in STEPPED:
        values = columns[name]
        joined = same_prop if name in ("u", "along") else same_strand
        step[name] = _single_precision(_along_step(values, joined, name == "turn"))
        if name in ("u", "along"):
            across[name] = np.zeros(len(values), dtype=np.float32)
        else:
            across[name] = _single_precision(_across_step(values, before, after, name == "turn"))
    return step, across


def _nearest_turn(change: Floats) -> Floats:
    """A change of turn as the short way round, -0.5..0.5."""
    return change - np.round(change)


def _along_step(values: Floats, joined: NDArray[np.bool_], turning: bool) -> Floats:
    """Mean change (n,) to the neighbours on the wire; ``joined`` (n-1,) tells which neighbours are on one wire."""
    change = np.diff(values)
    change = np.where(joined, _nearest_turn(change) if turning else change, 0.0)
    total, sides = np.zeros(len(values)), np.zeros(len(values))
    total[1:] += change
    total[:-1] += change
    sides[1:] += joined
    sides[:-1] += joined
    return total / np.maximum(sides, 1)


def _across_step(values: Floats, before: Indices, after: Indices, turning: bool) -> Floats:
    """Mean change (n,) to the pixels beside, on the strands before and after."""
    back, ahead = values - values[before], values[after] - values
    if turning:
        back, ahead = _nearest_turn(back), _nearest_turn(ahead)
    itself = np.arange(len(values))
    sides = (before != itself).astype(np.float64) + (after != itself)
    mean: Floats = (back + ahead) / np.maximum(sides, 1)
    return mean


def seeds(house: Floats) -> Floats:
    """A random number 0..1 (n,), a multiple of 2^-24, for each place (n, 3) of 0..1, quantised to 2^-13.

    Places are mixed with the finaliser of MurmurHash3 (A. Appleby, public domain). Cells are shifted by a share
    that no simple fraction of the house meets, so that rounding does not move a pixel to the next cell.
    """
    state = np.full(len(house), 0x9E3779B9, dtype=np.uint32)
    for cells in np.floor(house.T * 2.0**13 + 0.382).astype(np.uint32):
        state = _mix_bits(state ^ cells)
    return (state >> np.uint32(8)) / 2.0**24


def _mix_bits(bits: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """MurmurHash3's fmix32: every input bit changes every output bit with probability one half."""
    bits = (bits ^ (bits >> np.uint32(16))) * np.uint32(0x85EBCA6B)
    bits = (bits ^ (bits >> np.uint32(13))) * np.uint32(0xC2B2AE35)
    return bits ^ (bits >> np.uint32(16))
