"""Light as a small picture in a terminal: rows of slots, or the house as seen from the street."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.playback.packets import universes_told

if TYPE_CHECKING:
    from uuid import UUID

    from eavesong.layout import Layout
    from eavesong.playback.listen import Listener, Stream

WIDTH = 80
HOUSE_ROWS = 24
"""Lines of text; each holds two rows of the picture."""
ABOUT = 16
"""Steps of 255 within which lamps are about as bright."""
UPPER_HALF = "▀"
RESET = "\x1b[0m"


def blocks(picture: NDArray[np.uint8]) -> list[str]:
    """A picture, uint8 (row, column, 3), in lines of half blocks with 24-bit colours (ECMA-48; ISO 8613-6)."""
    if len(picture) % 2:
        picture = np.concatenate([picture, np.zeros_like(picture[:1])])
    lines = []
    for upper, lower in zip(picture[::2], picture[1::2], strict=True):
        cells, last = [], ""
        for above, below in zip(upper.tolist(), lower.tolist(), strict=True):
            code = "\x1b[38;2;{};{};{};48;2;{};{};{}m".format(*above, *below)
            cells.append((code if code != last else "") + UPPER_HALF)
            last = code
        lines.append("".join(cells) + RESET)
    return lines


def strip(slots: bytes, width: int = WIDTH) -> list[str]:
    """One universe as pixels of three slots, 170 of them, from left to right in rows of ``width``."""
    pixels = np.frombuffer(slots[:510].ljust(510, b"\0"), np.uint8).reshape(-1, 3)
    rows = -(-len(pixels) // width)
    picture = np.zeros((rows * width, 3), np.uint8)
    picture[: len(pixels)] = pixels
    return blocks(picture.reshape(rows, width, 3))


class HousePicture:
    """The house from the street, lit by what is heard.

    Each cell shows its brightest pixel, and of several that are about as bright the most colourful: one green lamp at
    the beginning of a white wire is seen.
    """

    def __init__(self, layout: Layout, width: int = WIDTH, rows: int = HOUSE_ROWS) -> None:
        pixels, patch = layout.pixels, layout.patch
        self.universes = tuple(patch.universes())
        shape = _fitting(layout, width, 2 * rows)
        column = np.minimum((pixels.x * shape[1]).astype(int), shape[1] - 1)
        row = np.minimum(((1 - pixels.y) * shape[0]).astype(int), shape[0] - 1)
        self._shape = shape
        self._cell = row * shape[1] + column
        self._channels = np.stack(
            [
                patch.channel_start + [patch.orders[order].index(letter) for order in patch.order.tolist()]
                for letter in "RGB"
            ],
            axis=1,
        )
        self._frame = np.zeros(patch.channel_count, np.uint8)
        self._slots = patch.universes()

    def draw(self, slots: Mapping[int, bytes]) -> list[str]:
        """Lines of text for the ``slots`` of each universe."""
        self._frame[:] = 0
        for universe, channels in self._slots.items():
            heard = np.frombuffer(slots.get(universe, b"").ljust(512, b"\0"), np.uint8)[: len(channels)]
            used = channels >= 0
            self._frame[channels[used]] = heard[used]
        colours = self._frame[self._channels].astype(np.int64)
        bright = colours.max(axis=1)
        ranks = (bright // ABOUT << 8) + bright - colours.min(axis=1)
        red, green, blue = colours.T
        best = np.zeros(self._shape[0] * self._shape[1], np.int64)
        np.maximum.at(best, self._cell, ranks << 24 | red << 16 | green << 8 | blue)
        picture = np.stack([best >> 16 & 255, best >> 8 & 255, best & 255], axis=1).astype(np.uint8)
        return blocks(picture.reshape(*self._shape, 3))


def _fitting(layout: Layout, width: int, height: int) -> tuple[int, int]:
    """Rows and columns in the house's own proportions: half a cell of a terminal is about square."""
    across, up = float(layout.frame.size[0]) or 1.0, float(layout.frame.size[1]) or 1.0
    columns = min(width, max(8, round(height * across / up)))
    return max(2, min(height, round(columns * up / across))), columns


def _called(source: Stream, shared: bool) -> str:
    """A source's name in 20 columns; where another one has the same, with the beginning of what tells them apart."""
    return f"{source.source_name[:13]} {source.cid.hex[:6]}" if shared else source.source_name[:20]


def table(ear: Listener) -> list[str]:
    """Who sends what, a line for each source in each universe, and who did; universes without any in one line."""
    lines = [f"{'universe':>8}  {'from':<20} {'priority':>8} {'a second':>8} {'packets':>8} {'lost':>5} {'late':>5}"]
    heard = ear.heard()
    named_by: dict[str, set[UUID]] = {}
    for universe in heard:
        for source in (*universe.sources.values(), *universe.past.values()):
            named_by.setdefault(source.source_name, set()).add(source.cid)
    for universe in heard:
        for source in (*universe.sources.values(), *universe.past.values()):
            name = _called(source, len(named_by[source.source_name]) > 1)
            lines.append(
                f"{universe.number:>8}  {name:<20} {source.priority:>8} {source.rate:>8.1f} "
                f"{source.packets:>8} {source.lost:>5} {source.discarded:>5}  {source.ended}".rstrip()
            )
    named = {universe.number for universe in heard if universe.sources or universe.past}
    if silent := [number for number in ear.universes if number not in named]:
        lines.append(f"  nothing in {universes_told(silent)}")
    return lines
