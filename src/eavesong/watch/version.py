"""A version of the show: a scene, drawn as light that is seen, and what of its time differs from another version."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from eavesong.engines import Engine, Tiles
    from eavesong.layout import Layout
    from eavesong.scene import Scene
    from eavesong.scene.layers import Layer
    from eavesong.scene.strings import Strings

BLOCK = 20
"""Frames that are drawn and sent together: half a second at 40 a second."""


@dataclass(frozen=True, eq=False)
class Version:
    """A scene that can be looked at."""

    scene: Scene

    @cached_property
    def frame_count(self) -> int:
        """Frames of the whole song."""
        return self.scene.terms.frame_range(self.scene.grid.duration)[1]

    @cached_property
    def block_count(self) -> int:
        """Blocks of the whole song; the last one may be shorter."""
        return -(-self.frame_count // BLOCK)

    @cached_property
    def drawing(self) -> Engine:
        """What draws it. Light is drawn, not bytes for wires: in red, green, blue, as bright as its output may be."""
        from eavesong.engines import draw

        self.scene.__dict__["strings"] = seen_strings(self.scene.layout)
        return draw(self.scene)

    @property
    def tile_count(self) -> int:
        """Tiles of TILE pixels that the house is drawn in."""
        from eavesong.kernels.exact import TILE

        return -(-self.scene.layout.pixel_count // TILE)

    def follow(self, other: Version) -> None:
        """Take from another version what holds in this one too; to be called before it is drawn."""
        self.scene.take_from(other.scene)

    def block(self, index: int, tiles: Tiles | None = None) -> NDArray[np.uint8]:
        """The light (frames, 3 * pixels) of a block, linear, 255 full; dark beyond ``tiles`` where those are given."""
        first = index * BLOCK
        return self.frames(first, min(BLOCK, self.frame_count - first), tiles)

    def frames(self, first: int, count: int, tiles: Tiles | None = None) -> NDArray[np.uint8]:
        """The light (count, 3 * pixels) of the frames from ``first`` on, likewise."""
        out = np.zeros((count, 3 * self.scene.layout.pixel_count), np.uint8)
        self.drawing.fill(out, first, tiles)
        return out

    def changes_from(self, other: Version) -> dict[int, Tiles]:
        """The blocks that may look unlike those of ``other``, and which of their tiles may."""
        if not self._alike(other):
            return dict.fromkeys(range(self.block_count), (0, self.tile_count))
        out: dict[int, Tiles] = {}
        mine, theirs = self.marks, other.marks
        for kind, a, b, c, d in SequenceMatcher(None, theirs, mine, autojunk=False).get_opcodes():
            old, new = other.scene.layers[a:b], self.scene.layers[c:d]
            if kind == "equal":
                for was, layer in zip(old, new, strict=True):
                    self._note(layer, moved_tiles(was, layer), out)
            else:
                for layer in (*old, *new):
                    self._note(layer, layer.tiles, out)
        return out

    def _alike(self, other: Version) -> bool:
        mine, theirs = self.scene, other.scene
        same_song = mine.grid == theirs.grid and mine.signals is theirs.signals
        same_size = mine.layout.pixel_count == theirs.layout.pixel_count and self.frame_count == other.frame_count
        same_drives = np.array_equal(mine.layout.patch.brightness, theirs.layout.patch.brightness)
        return same_song and same_size and same_drives

    def _note(self, layer: Layer, tiles: NDArray[np.int64], out: dict[int, Tiles]) -> None:
        if not tiles.size:
            return
        own = int(tiles.min()), int(tiles.max()) + 1
        rate = self.scene.frame_rate
        for span in layer.cue.spans:
            first, last = (int(at * rate // BLOCK) for at in (span.start, span.end))
            for index in range(max(0, first), min(last + 1, self.block_count)):
                out[index] = both(out.get(index, own), own)

    @cached_property
    def marks(self) -> tuple[int, ...]:
        """A number for each layer; layers of equal numbers give a pixel the same light."""
        return tuple(hash(mark_of(layer)) for layer in self.scene.layers)


def both(one: Tiles, other: Tiles) -> Tiles:
    """The run of tiles that reaches over two."""
    return min(one[0], other[0]), max(one[1], other[1])


def mark_of(layer: Layer) -> tuple[Any, ...]:
    """All that decides what a layer looks like in a song, but for the places of pixels."""
    cue = layer.cue
    return (
        cue.effect.code, tuple(sorted((name, repr(value)) for name, value in cue.parameters.items())),
        layer.palette.tobytes(), cue.blend, cue.opacity, cue.spans,
        tuple(sorted((name, value.model_dump_json()) for name, value in cue.effect.parameters.items())),
    )  # fmt: skip


def moved_tiles(one: Layer, other: Layer) -> NDArray[np.int64]:
    """The tiles in which two layers of equal marks differ: in what they light, or in the places of it."""
    if one.planes is other.planes and one.weights is other.weights and one.tiles is other.tiles:
        return one.tiles[:0]
    mine, theirs = (dict(zip(layer.tiles.tolist(), _looks(layer), strict=True)) for layer in (one, other))
    differ = [tile for tile in mine.keys() | theirs.keys() if mine.get(tile) != theirs.get(tile)]
    return np.array(sorted(differ), np.int64)


def _looks(layer: Layer) -> Iterator[tuple[bytes, bytes]]:
    weights = iter(layer.weights)
    for planes, partial in zip(layer.planes, layer.partial, strict=True):
        yield planes.tobytes(), next(weights).tobytes() if partial else b""


def seen_strings(layout: Layout) -> Strings:
    """Every pixel in three channels, red, green and blue, each as bright as its output drives it at most."""
    from eavesong.scene.strings import Strings

    drives, drive = np.unique(layout.patch.brightness, return_inverse=True)
    drive = np.asarray(drive).reshape(-1)
    edges = [0, *(np.flatnonzero(np.diff(drive)) + 1).tolist(), layout.pixel_count]
    rows = [(first, end, 3 * first, int(drive[first]), 0, 1, 2, -1) for first, end in pairwise(edges) if end > first]
    return Strings(np.array(rows, np.int64).reshape(-1, 8), tuple((float(brightness), 1.0) for brightness in drives))


def near_first(count: int, at: int, wanted: Iterable[int]) -> list[int]:
    """The ``wanted`` blocks of ``count``, those that are heard next from block ``at`` on first."""
    return sorted((index for index in wanted if 0 <= index < count), key=lambda index: (index - at) % max(count, 1))
