"""The plan: a show on a house to a song, with everything worked out that is the same in every frame."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import palette_table
from eavesong.kernels import exact
from eavesong.kernels.drive import ORDER_LETTERS, drive_curve
from eavesong.kernels.lanes import TILE
from eavesong.kernels.store import compiled
from eavesong.language.emit import emit
from eavesong.language.evaluate import Surroundings, evaluate

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid, Signals
    from eavesong.show import PlacedCue

TILES_AT_ONCE = 16
"""Tiles whose planes are worked out together, so that what is worked out on the way needs little memory."""

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class PlannedCue:
    """A cue, compiled and placed: what the loop needs of it."""

    cue: PlacedCue
    kernel: Any
    """The compiled effect and its blend mode; kept so that the machine code stays."""
    parameters: dict[str, float]
    palette: Singles
    """(3, PALETTE_SIZE) linear light."""
    tiles: NDArray[np.int64]
    """The tiles it reaches into."""
    planes: Singles
    """(tiles, planes, TILE)."""
    weights: Singles
    """(tiles it lights only in part, TILE): 1 where it lights, 0 elsewhere."""
    partial: NDArray[np.bool_]
    """(tiles,): which those are; of the others it lights every pixel."""
    first_scalar: int

    @property
    def scalar_count(self) -> int:
        """How many numbers a frame it needs."""
        return len(self.cue.effect.program.scalars)


@dataclass(frozen=True, eq=False)
class Plan:
    """What is computed for every frame, and where its bytes go."""

    frame_rate: float
    grid: BeatGrid
    signals: Signals | None
    cues: tuple[PlannedCue, ...]
    pixel_count: int
    channel_count: int
    strings: NDArray[np.int64]
    """Runs of pixels with one colour order and drive curve, see ``kernels.drive``."""
    string_at: NDArray[np.int64]
    """The first string that reaches into each tile."""
    curves: NDArray[np.uint8]
    table: NDArray[np.int64]
    """The cues as the loop reads them, see ``kernels.sample``."""
    places: NDArray[np.int64]
    """Addresses of each cue's planes and weights in each tile."""

    @property
    def tile_count(self) -> int:
        """Tiles of the house."""
        return len(self.string_at)


def make_plan(
    cues: Sequence[PlacedCue],
    layout: Layout,
    grid: BeatGrid,
    signals: Signals | None,
    frame_rate: float,
    props: Collection[int] | None = None,
) -> Plan:
    """Compile and place ``cues`` on ``layout``.

    frame_rate: frames a second. props: indices of the props to be computed, the others stay dark; None for all.
    A cue's values at a pixel depend on that pixel alone: arrays are cut into whole tiles before anything is
    evaluated, so that no other pixel, prop or cue can change a bit of it.
    """
    wanted = np.ones(layout.pixel_count, bool) if props is None else np.isin(layout.pixels.prop, list(props))
    planned, column = [], 0
    for cue in cues:
        weight = cue.weight * wanted
        if weight.any() and cue.spans and cue.opacity > 0:
            planned.append(_planned(cue, weight, layout, column))
            column += planned[-1].scalar_count
    strings, curves = _strings(layout, wanted)
    tile_count = -(-layout.pixel_count // TILE)
    table, places = _addresses(planned, tile_count)
    return Plan(
        frame_rate=frame_rate,
        grid=grid,
        signals=signals,
        cues=tuple(planned),
        pixel_count=layout.pixel_count,
        channel_count=layout.patch.channel_count,
        strings=strings,
        string_at=np.searchsorted(strings[:, 1], np.arange(tile_count) * TILE, side="right"),
        curves=curves,
        table=table,
        places=places,
    )


def _planned(cue: PlacedCue, weight: Singles, layout: Layout, column: int) -> PlannedCue:
    program = cue.effect.program
    parameters = flat_parameters(cue.parameters)
    palette = np.ascontiguousarray(palette_table(cue.palette, exact.PALETTE_SIZE).T)
    weights = _tiled(weight)
    tiles = np.flatnonzero(weights.any(axis=1))
    weights = weights[tiles]
    beyond = _tiled(np.ones_like(weight))[tiles] == 0  # what fills the last tile up belongs to no pixel
    partial = ~((weights == 1) | beyond).all(axis=1)
    planes = np.empty((len(tiles), len(program.planes), TILE), np.float32)
    for at in range(0, len(tiles), TILES_AT_ONCE):
        part = slice(at, at + TILES_AT_ONCE)
        around = _on_pixels(program.pixel_inputs(), layout, tiles[part], parameters, palette)
        with np.errstate(over="ignore"):
            for slot, value in enumerate(evaluate(program.graph, program.planes, around).values()):
                planes[part, slot] = value.reshape(-1, TILE)
    return PlannedCue(
        cue=cue,
        kernel=compiled(emit(program, cue.effect.title, cue.blend)),
        parameters=parameters,
        palette=palette,
        tiles=tiles,
        planes=planes,
        weights=weights[partial],
        partial=partial,
        first_scalar=column,
    )


def flat_parameters(parameters: Mapping[str, float | tuple[float, float, float]]) -> dict[str, float]:
    """Parameters as programs read them: a colour as ``name.0``, ``name.1``, ``name.2``."""
    flat: dict[str, float] = {}
    for name, value in parameters.items():
        if isinstance(value, tuple):
            flat |= {f"{name}.{channel}": part for channel, part in enumerate(value)}
        else:
            flat[name] = value
    return flat


def _on_pixels(
    names: set[tuple[str, str]],
    layout: Layout,
    tiles: NDArray[np.int64],
    parameters: dict[str, float],
    palette: Singles,
) -> Surroundings:
    """Every pixel of ``tiles`` for a program that reads ``names``, as float64 (1, pixels)."""
    sources = {"step_along": layout.pixels.step, "step_across": layout.pixels.across}
    found: dict[str, dict[str, Floats]] = {"input": {}, "step_along": {}, "step_across": {}}
    for kind, name in names:
        values = sources[kind][name] if kind in sources else getattr(layout.pixels, name)
        found[kind][name] = _tiled(values)[tiles].reshape(1, -1).astype(np.float64)
    return Surroundings(
        parameters=parameters,
        inputs=found["input"],
        step=found["step_along"],
        across=found["step_across"],
        palette=palette.astype(np.float64),
    )


def _tiled(values: Singles) -> Singles:
    """(tiles, TILE): the values of the pixels, the last tile filled up with zeros."""
    full = np.zeros(-(-len(values) // TILE) * TILE, np.float32)
    full[: len(values)] = values
    return full.reshape(-1, TILE)


def _strings(layout: Layout, wanted: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """Runs of wanted pixels that are driven alike and whose channels follow each other, and their drive curves."""
    patch = layout.patch
    drives, curve = np.unique(np.stack([patch.brightness, patch.gamma]), axis=1, return_inverse=True)
    curve = np.asarray(curve).reshape(-1)
    curves = np.stack([drive_curve(float(brightness), float(gamma)) for brightness, gamma in drives.T])
    rows = []
    for first, end in _runs(layout, curve, wanted):
        order = patch.orders[patch.order[first]]
        letters = [order.find(letter) for letter in ORDER_LETTERS]
        rows.append((first, end, int(patch.channel_start[first]), int(curve[first]), *letters))
    return np.array(rows, np.int64).reshape(-1, 8), curves


def _runs(layout: Layout, curve: NDArray[Any], wanted: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    patch = layout.patch
    follows = patch.channel_start[1:] == patch.channel_start[:-1] + patch.channel_width[:-1]
    same = (patch.order[1:] == patch.order[:-1]) & (curve[1:] == curve[:-1]) & (wanted[1:] == wanted[:-1])
    borders = [0, *(np.flatnonzero(~(follows & same)) + 1).tolist(), layout.pixel_count]
    for first, end in pairwise(borders):
        if wanted[first]:
            yield first, end


_WHOLE = np.ones(TILE, np.float32)
"""The weights of every tile that a cue lights wholly: one for all, so that it stays in the nearest cache."""


def _addresses(cues: Sequence[PlannedCue], tile_count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    table = np.zeros((len(cues), 3), np.int64)
    places = np.zeros((len(cues), 2, tile_count), np.int64)
    for row, planned in enumerate(cues):
        table[row] = (planned.kernel.address, planned.palette.ctypes.data, planned.first_scalar)
        # A cue without planes still needs an address that is not 0, the mark of a tile it does not light.
        places[row, 0, planned.tiles] = _rows(planned.planes) if planned.planes.size else _WHOLE.ctypes.data
        places[row, 1, planned.tiles] = _WHOLE.ctypes.data
        places[row, 1, planned.tiles[planned.partial]] = _rows(planned.weights)
    return table, places


def _rows(array: Singles) -> NDArray[np.int64]:
    """The address of each entry along the first axis."""
    return array.ctypes.data + np.arange(len(array), dtype=np.int64) * array.strides[0]
