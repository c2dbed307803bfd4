"""A version of the show: a scene, drawn as light that is seen, and what of its time differs from another version."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.engines import Engine, draw
from eavesong.scene.strings import Strings

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene import Scene
    from eavesong.scene.layers import Layer

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
        self.scene.__dict__["strings"] = seen_strings(self.scene.layout)
        return draw(self.scene)

    def block(self, index: int) -> NDArray[np.uint8]:
        """The light (frames, 3 * pixels) of a block, linear, 255 full."""
        first = index * BLOCK
        count = min(BLOCK, self.frame_count - first)
        out = np.zeros((count, 3 * self.scene.layout.pixel_count), np.uint8)
        self.drawing.fill(out, first)
        return out

    def changed_from(self, other: Version) -> NDArray[np.bool_]:
        """(blocks,): which blocks may look unlike those of ``other``."""
        if not self._alike(other):
            return np.ones(self.block_count, bool)
        out = np.zeros(self.block_count, bool)
        mine, theirs = self.marks, other.marks
        for kind, a, b, c, d in SequenceMatcher(None, theirs, mine, autojunk=False).get_opcodes():
            if kind != "equal":
                for layer in (*other.scene.layers[a:b], *self.scene.layers[c:d]):
                    self._note(layer, out)
        return out

    def _alike(self, other: Version) -> bool:
        mine, theirs = self.scene, other.scene
        same = mine.grid == theirs.grid and mine.signals is theirs.signals and mine.layout is theirs.layout
        return same and self.frame_count == other.frame_count

    def _note(self, layer: Layer, out: NDArray[np.bool_]) -> None:
        rate = self.scene.frame_rate
        for span in layer.cue.spans:
            first, last = (int(at * rate // BLOCK) for at in (span.start, span.end))
            out[max(0, first) : max(0, last + 1)] = True

    @cached_property
    def marks(self) -> tuple[int, ...]:
        """A number for each layer; layers of equal numbers look alike."""
        return tuple(hash(mark_of(layer)) for layer in self.scene.layers)


def mark_of(layer: Layer) -> tuple[Any, ...]:
    """All that decides what a layer looks like on a house in a song; equal for layers that look alike."""
    cue = layer.cue
    return (
        cue.effect.code, tuple(sorted((name, repr(value)) for name, value in cue.parameters.items())),
        layer.palette.tobytes(), cue.blend, cue.opacity, layer.tiles.tobytes(), layer.weights.tobytes(), cue.spans,
        layer.planes.tobytes(),
        tuple(sorted((name, value.model_dump_json()) for name, value in cue.effect.parameters.items())),
    )  # fmt: skip


def seen_strings(layout: Layout) -> Strings:
    """Every pixel in three channels, red, green and blue, each as bright as its output drives it at most."""
    drives, drive = np.unique(layout.patch.brightness, return_inverse=True)
    drive = np.asarray(drive).reshape(-1)
    edges = [0, *(np.flatnonzero(np.diff(drive)) + 1).tolist(), layout.pixel_count]
    rows = [(first, end, 3 * first, int(drive[first]), 0, 1, 2, -1) for first, end in pairwise(edges) if end > first]
    return Strings(np.array(rows, np.int64).reshape(-1, 8), tuple((float(brightness), 1.0) for brightness in drives))


def near_first(count: int, at: int, wanted: Iterable[int]) -> list[int]:
    """The ``wanted`` blocks of ``count``, those that are heard next from block ``at`` on first."""
    return sorted((index for index in wanted if 0 <= index < count), key=lambda index: (index - at) % max(count, 1))
