"""Where frames come from: a frames file, or one look that stays."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import FramesError, Problem
from eavesong.light import bytes_of
from eavesong.playback.wiring import Wiring, wire
from eavesong.words import song_and_show

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from eavesong.frames import FramesFile, PatchRow

NUDGE = 1e-6
"""Share of a frame by which rounding may put a moment before the frame that it begins."""

BRIGHTEST_STILL = 0.5
"""Share of full drive that a look which stays may have at most: no full white by accident, for hours."""


class Source(Protocol):
    """Frames at a rate, from a place in the song on."""

    title: str
    wiring: Wiring
    frame_rate: float
    frame_count: float
    """inf for one that goes on."""
    start: float
    """Seconds into the song at which frame 0 is shown."""

    def read(self, number: int) -> NDArray[np.uint8]:
        """Frame ``number``, uint8 (channel,). Raises FramesError when it cannot be read."""
        ...

    def close(self) -> None:
        """Close what is open."""
        ...


def frame_at(source: Source, seconds: float) -> int:
    """The frame shown at ``seconds`` into the song; negative before the first."""
    return math.floor((seconds - source.start) * source.frame_rate + NUDGE)


def time_of(source: Source, number: int) -> float:
    """Seconds into the song at which frame ``number`` is shown."""
    return source.start + number / source.frame_rate


class FileSource:
    """A frames file as a source; once, or over and over with ``loop``.

    Raises FramesError when it cannot be used, or names an address that nothing may be sent to.
    """

    def __init__(self, path: str | Path, *, allow_public: bool = False, loop: bool = False) -> None:
        from eavesong.frames import open_frames

        self.file: FramesFile = open_frames(path)
        try:
            self.wiring = wire(self.file.patch, self.file.channel_count, str(path), allow_public=allow_public)
        except BaseException:
            self.file.close()
            raise
        self.title = song_and_show(self.file.title, self.file.song) or Path(path).stem
        self.frame_rate = self.file.frame_rate
        self._count = self.file.frame_count
        self._loop = loop
        self._stat = os.stat(path)
        self.frame_count = math.inf if loop else self._count
        self.start = 0.0 if loop else self.file.start

    def read(self, number: int) -> NDArray[np.uint8]:
        """Frame ``number``, uint8 (channel,), from the disk."""
        if self._was_cut():
            raise FramesError(Problem(str(self.file.path), "", "was cut short while it was played"))
        try:
            return self.file.frames[number % self._count if self._loop else number]
        except (ValueError, RuntimeError) as fault:  # the file was closed, or changed under HDF5's feet
            raise FramesError(Problem(str(self.file.path), f"frame {number}", f"cannot be read: {fault}")) from None

    def _was_cut(self) -> bool:
        """Whether the file has lost its end since: HDF5 reads zeros there, whose checksum is zero and fits."""
        try:
            now = os.stat(self.file.path)
        except OSError:  # deleted, or renamed: what is open stays readable
            return False
        return now.st_ino == self._stat.st_ino and now.st_size < self._stat.st_size

    def close(self) -> None:
        """Close the file."""
        self.file.close()


class Still:
    """One frame that stays, for some ``seconds`` or for good; black where none is given."""

    frame_rate = 10.0
    start = 0.0

    def __init__(
        self, title: str, wiring: Wiring, frame: NDArray[np.uint8] | None = None, seconds: float = math.inf
    ) -> None:
        self.frame_count = math.inf if seconds == math.inf else math.ceil(seconds * self.frame_rate)
        self.title = title
        self.wiring = wiring
        self._frame = np.zeros(wiring.channel_count, np.uint8) if frame is None else frame

    def read(self, number: int) -> NDArray[np.uint8]:
        """The frame."""
        return self._frame

    def close(self) -> None:
        """Nothing is open."""


def one_colour(
    patch: Sequence[PatchRow], channel_count: int, light: tuple[float, float, float], level: float, *,
    dark: Collection[str] = (),
) -> NDArray[np.uint8]:  # fmt: skip
    """A frame, uint8 (channel,), with every pixel in one colour: linear ``light`` 0..1, times ``level`` 0..0.5.

    The white of an RGBW pixel stays off, and so do the props called as in ``dark``. Each pixel's brightness and gamma
    are those of its patch row.
    """
    frame = np.zeros(channel_count, np.uint8)
    level = min(max(level, 0.0), BRIGHTEST_STILL)
    for row in (each for each in patch if each.prop not in dark):
        shares = [level * light["RGB".index(letter)] if letter in "RGB" else 0.0 for letter in row.order]
        drive = bytes_of(shares, row.brightness, row.gamma)
        # A split pixel's second row begins in the middle of the order.
        whole = np.tile(drive, row.channel_count // max(1, len(row.order)) + 2)
        offset = _offset_in_pixel(row, patch)
        frame[row.first_channel : row.first_channel + row.channel_count] = whole[offset : offset + row.channel_count]
    return frame


def _offset_in_pixel(row: PatchRow, patch: Sequence[PatchRow]) -> int:
    """How many channels of its first pixel stand in other rows, before this one."""
    if row.channel_count >= len(row.order):
        return 0
    first = min(
        other.first_channel for other in patch if other.prop == row.prop and other.first_pixel == row.first_pixel
    )
    return row.first_channel - first
