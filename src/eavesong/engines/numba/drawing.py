"""A scene as the compiled loop reads it: addresses of kernels, planes and weights; then blocks of frames."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from eavesong.engines.numba.rows import Rows
from eavesong.kernels.calls import sample
from eavesong.kernels.code import looks_up_fast
from eavesong.kernels.exact import TILE
from eavesong.kernels.planes import ADDRESSES
from eavesong.language.emit import emit
from eavesong.scene.values import WINDOW

if TYPE_CHECKING:
    from eavesong.engines import Tiles
    from eavesong.scene import Scene
    from eavesong.scene.layers import Layer
    from eavesong.scene.place import PlacedCue

_WHOLE = np.ones(TILE, np.float32)
"""The weights of every tile that a cue lights wholly: one for all, so that it stays in the nearest cache."""

_SOURCES: WeakKeyDictionary[PlacedCue, tuple[str, str]] = WeakKeyDictionary()
"""What cues are compiled from: one that many scenes share is written once."""


class Drawing:
    """The frames of a scene, in any order and any portion; safe to use from several threads."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        strings = scene.strings
        self.runs, self.curves = strings.runs, np.pad(strings.curves, ((0, 1), (0, 0)))
        """The curves with one more, as four bytes of them are read at once."""
        self.orders = np.array(8 * self.runs[:, 4:7], np.float32)
        self.tile_count = -(-scene.layout.pixel_count // TILE)
        self.run_at = np.searchsorted(self.runs[:, 1], np.arange(self.tile_count) * TILE, side="right")
        """The first run that reaches into each tile."""
        lit = np.flatnonzero(scene.wanted)
        self.first_tile, self.end_tile = (int(lit[0]) // TILE, int(lit[-1]) // TILE + 1) if lit.size else (0, 0)
        self.layers = scene.layers
        """Kept, so that what has an address in the table stays."""
        self.table, self.places = _addresses(self.layers, self.tile_count)
        sources = [sources_of(layer) for layer in self.layers]
        self.rows = Rows(sources, _reach(self.layers, self.tile_count), self._at_once())

    def _at_once(self) -> NDArray[np.bool_]:
        """(tiles,): whose last step makes bytes: those in one run of three bytes a pixel, where that is fast."""
        if not len(self.runs) or not looks_up_fast():
            return np.zeros(self.tile_count, np.bool_)
        first = np.arange(self.tile_count) * TILE
        run = self.runs[np.minimum(self.run_at, len(self.runs) - 1)]
        return (run[:, 0] <= first) & (first + TILE <= run[:, 1]) & (run[:, 7] < 0)

    def block(self, first: int, count: int) -> NDArray[np.uint8]:
        """The bytes (count, channels) of the frames from ``first`` on; see `eavesong.engines.Engine`."""
        out = np.zeros((count, self.scene.layout.patch.channel_count), np.uint8)
        self.fill(out, first)
        return out

    def fill(self, out: NDArray[np.uint8], first: int, tiles: Tiles | None = None) -> None:
        """Write the frames from ``first`` on into ``out`` (count, channels); see `eavesong.engines.Engine`."""
        begin, end = tiles or (0, self.tile_count)
        begin, end = max(begin, self.first_tile), min(end, self.end_tile)
        frame, scratch, taken = first, np.empty((3, TILE), np.float32), np.empty(ADDRESSES, np.int64)
        while frame < first + len(out):
            number, offset = divmod(frame, WINDOW)
            window = self.scene.values.window(number)
            count = _alike(window.strength[:, offset : offset + first + len(out) - frame] > 0)
            rows = slice(offset, offset + count)
            plan = self.rows.plan(window.strength[:, offset] > 0)
            sample(
                plan.steps,
                plan.begins,
                plan.row_of,
                plan.lit,
                self.table,
                self.places,
                np.ascontiguousarray(window.strength[:, rows]),
                window.spectra[rows],
                window.scalars[rows],
                self.runs,
                self.run_at,
                self.orders,
                self.curves,
                begin,
                end,
                scratch,
                taken,
                out[frame - first : frame - first + count],
            )
            self.rows.count(plan, count, begin, end)
            frame += count


def _alike(on: NDArray[np.bool_]) -> int:
    """In how many frames of (cues, frames), from the first on, the same cues are on."""
    other = (on != on[:, :1]).any(axis=0)
    return int(other.argmax()) if other.any() else on.shape[1]


def sources_of(layer: Layer) -> tuple[str, str]:
    """The sources of the effect of a layer with its blend mode, for any tile and for one that it lights wholly."""
    if layer.cue not in _SOURCES:
        what = layer.program, layer.cue.effect.title, layer.cue.blend
        _SOURCES[layer.cue] = emit(*what), emit(*what, whole=True)
    return _SOURCES[layer.cue]


def _reach(layers: Sequence[Layer], tile_count: int) -> NDArray[np.int8]:
    """(cues, tiles): 0 where a cue lights nothing, 1 where it lights something, 2 where everything."""
    reach = np.zeros((len(layers), tile_count), np.int8)
    for row, layer in enumerate(layers):
        reach[row, layer.tiles] = 2 - layer.partial
    return reach


def _addresses(layers: Sequence[Layer], tile_count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The layers as the loop reads them, and the addresses of each one's planes and weights in each tile."""
    table = np.zeros((len(layers), 2), np.int64)
    places = np.zeros((len(layers), 2, tile_count), np.int64)
    for row, layer in enumerate(layers):
        table[row] = (layer.palette.ctypes.data, layer.first_scalar)
        # A cue without planes still needs an address that is not 0, the mark of a tile it does not light.
        places[row, 0, layer.tiles] = _rows(layer.planes) if layer.planes.size else _WHOLE.ctypes.data
        places[row, 1, layer.tiles] = _WHOLE.ctypes.data
        places[row, 1, layer.tiles[layer.partial]] = _rows(layer.weights)
    return table, places


def _rows(array: NDArray[np.float32]) -> NDArray[np.int64]:
    """The address of each entry along the first axis."""
    return array.ctypes.data + np.arange(len(array), dtype=np.int64) * array.strides[0]
