"""The light of frames as the figures take it: what each prop shows, how much is lit, how much changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.frames import FramesFile

    Floats = NDArray[np.float64]

BLOCK = 256
"""Frames that are read together."""
LIT = 0.08
"""Drive from which a pixel is lit."""


@dataclass(frozen=True, eq=False)
class Light:
    """What f frames show on p props."""

    names: tuple[str, ...]
    """Of the props that have pixels."""
    unlit: frozenset[str]
    """Those of them that the house wishes to be dark."""
    pixels: Floats
    """(p,): how many."""
    colours: Floats
    """(f, p, 3): mean drive of each prop, 0 to 1."""
    lit: Floats
    """(f, p): share of each prop's pixels that are lit."""
    change: Floats
    """(f,): mean change of a channel since the frame before, 0 to 1; 0 in the first frame."""
    frame_rate: float
    start: float
    """Seconds into the song at which the first frame is shown."""

    @property
    def times(self) -> Floats:
        """(f,) seconds of the song."""
        return self.start + np.arange(len(self.change)) / self.frame_rate

    @property
    def share(self) -> Floats:
        """(p,): of all pixels."""
        share: Floats = self.pixels / self.pixels.sum()
        return share

    @property
    def drive(self) -> Floats:
        """(f,): mean drive of the house, 0 to 1."""
        drive: Floats = self.colours.mean(axis=2) @ self.share
        return drive

    def frames_of(self, edges: Floats) -> list[slice]:
        """The frames of each stretch between ``edges`` (n + 1,) seconds: at least one."""
        bounds = np.clip(np.round((edges - self.start) * self.frame_rate).astype(int), 0, len(self.change))
        return [slice(a, max(b, a + 1)) for a, b in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)]

    def looks(self, edges: Floats) -> Floats:
        """The look of each bar (n, 6 p): cube roots of each prop's mean colour and of its spread over time.

        Each prop counts as the root of its share of the pixels. Cube roots, as lightness goes (CIE L*).
        """
        weights = np.sqrt(self.share)[:, None]
        rows = []
        for span in self.frames_of(edges):
            seen = self.colours[span]
            rows.append(np.concatenate([np.cbrt(seen.mean(axis=0)) * weights, np.cbrt(seen.std(axis=0)) * weights]))
        return np.array(rows).reshape(len(rows), -1)


def light_of(frames: FramesFile) -> Light:
    """The light of an open frames file, read a few frames at a time."""
    from eavesong.scene import Reopened

    props = [row for row in frames.props if row.pixel_count]
    starts = np.array([row.first_pixel for row in props])
    pixels = np.array([row.pixel_count for row in props], np.float64)
    count = frames.frame_count
    colours = np.zeros((count, len(props), 3))
    lit = np.zeros((count, len(props)))
    change = np.zeros(count)
    before = frames.frames[0].astype(np.int16)
    for first in range(0, count, BLOCK):
        block = frames.frames[first : first + BLOCK]
        seen = frames.colours(block)
        here = slice(first, first + len(block))
        colours[here] = np.add.reduceat(seen, starts, axis=1, dtype=np.float64) / (255 * pixels[:, None])
        bright = (seen.max(axis=2) > 255 * LIT).astype(np.float64)
        lit[here] = np.add.reduceat(bright, starts, axis=1) / pixels
        steps = np.abs(np.diff(np.concatenate([before[None], block.astype(np.int16)]), axis=0))
        change[here] = steps.mean(axis=1) / 255
        before = block[-1].astype(np.int16)
    names = tuple(row.name for row in props)
    unlit = frozenset(prop.name for prop in Reopened(frames).layout.props if not prop.lit)
    return Light(names, unlit, pixels, colours, lit, change, frames.frame_rate, frames.start)
