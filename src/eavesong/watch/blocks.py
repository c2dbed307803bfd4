"""The blocks of a version: drawn by threads, those that somebody looks at first, and kept compressed."""

from __future__ import annotations

import contextlib
import hashlib
import os
import threading
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.exact import TILE
from eavesong.processors import processors
from eavesong.watch.version import BLOCK, both, near_first

if TYPE_CHECKING:
    from eavesong.engines import Tiles
    from eavesong.watch.version import Version

POLITE = 10
"""How much less urgent (nice) threads are that draw what nobody looks at: they leave the processors to the song."""


TOLD = 24
"""Blocks that are drawn until pages are told how far it is."""


@dataclass(frozen=True, eq=False)
class PackedTile:
    """A tile of a block as it is sent."""

    name: bytes
    """A hash of its data: pieces of equal names look alike."""
    data: bytes
    """The light, uint8 (frames, pixels, 3), deflated (RFC 1951) up to a byte's end and not ended: pieces in a row, and
    END behind them, are one stream."""
    sums: tuple[int, int, int]
    """Red, green and blue of all its pixels in the middle frame."""


END = zlib.compressobj(wbits=-zlib.MAX_WBITS).flush()


@dataclass(frozen=True, eq=False)
class Block:
    """A block as it is sent, tile by tile."""

    first: int
    """Frame."""
    frames: int
    pieces: tuple[PackedTile, ...]
    glow: tuple[int, int, int]
    """The mean colour of its middle frame: square roots of light, 0..255."""

    @property
    def names(self) -> tuple[bytes, ...]:
        """Of its pieces: blocks of equal names look alike."""
        return tuple(piece.name for piece in self.pieces)


def _as_large(one: Version, other: Version) -> bool:
    same_house = one.scene.layout.pixel_count == other.scene.layout.pixel_count
    return same_house and one.frame_count == other.frame_count


def block_of(version: Version, index: int, was: Block | None = None, tiles: Tiles | None = None) -> Block:
    """A block, drawn and compressed. was: the block of another version, of which only ``tiles`` are drawn anew."""
    if was is None or tiles is None:
        tiles, pieces = (0, version.tile_count), []
    else:
        pieces = list(was.pieces)
    light = version.block(index, tiles)
    begin, end = tiles
    pieces[begin:end] = [_piece(light[:, 3 * TILE * tile : 3 * TILE * (tile + 1)]) for tile in range(begin, end)]
    means = np.sum([piece.sums for piece in pieces], axis=0) / max(1, light.shape[1] // 3)
    red, green, blue = np.round(255 * (means / 255) ** 0.5).astype(int).tolist()
    return Block(index * BLOCK, len(light), tuple(pieces), (red, green, blue))


def _piece(light: NDArray[np.uint8]) -> PackedTile:
    middle = light[len(light) // 2].reshape(-1, 3).sum(axis=0, dtype=np.int64)
    red, green, blue = middle.tolist()
    data = _deflated(np.ascontiguousarray(light))
    return PackedTile(hashlib.blake2b(data, digest_size=8).digest(), data, (red, green, blue))


def _deflated(light: NDArray[np.uint8]) -> bytes:
    packer: Any = zlib
    with contextlib.suppress(ImportError):
        from isal import isal_zlib

        packer = isal_zlib
    pen = packer.compressobj(1, zlib.DEFLATED, -zlib.MAX_WBITS)
    return bytes(pen.compress(light.data) + pen.flush(zlib.Z_FULL_FLUSH))


class Store:
    """The blocks of the version that is shown, and threads that draw those that are missing. Safe from any thread."""

    def __init__(self, changed: Callable[[], None], threads: int | None = None) -> None:
        """changed: called from a thread that has drawn something. threads: that draw what nobody looks at."""
        self._changed = changed
        self._version: Version | None = None
        self._blocks: dict[int, Block] = {}
        self._stale: dict[int, Tiles] = {}
        """The blocks that no longer look as they are kept, and which tiles of them."""
        self._taken: set[int] = set()
        self._looked: Callable[[], tuple[int, list[int]]] = lambda: (0, [])
        self._held = False
        self._wake = threading.Condition()
        self._ended = False
        count = threads or processors()
        work = [threading.Thread(target=self._draw, args=(True,), daemon=True, name="blocks that are looked at")]
        work += [
            threading.Thread(target=self._draw, args=(False,), daemon=True, name=f"blocks {at}") for at in range(count)
        ]
        self._threads = work
        for thread in work:
            thread.start()

    def looked_at(self, ask: Callable[[], tuple[int, list[int]]]) -> None:
        """``ask`` tells the block that is heard and those that somebody wants to see."""
        self._looked = ask

    def show(self, version: Version) -> bool:
        """Show another version: what may differ is drawn anew, the rest stays. Whether anything may differ."""
        shown, whole = self._version, (0, version.tile_count)
        fits = shown is not None and shown.tile_count == version.tile_count and _as_large(shown, version)
        changes = version.changes_from(shown) if shown is not None and fits else {}
        with self._wake:
            if not fits:
                self._blocks, self._stale = {}, {}
            for index, tiles in changes.items():
                self._stale[index] = both(self._stale.get(index, tiles), tiles)
            missing = set(range(version.block_count)) - self._blocks.keys()
            self._stale |= dict.fromkeys(missing, whole)
            self._version = version
            self._taken.clear()
            self._wake.notify_all()
        return not fits or bool(changes)

    def hold(self, held: bool) -> None:
        """While another version is being made, nothing is begun that nobody looks at."""
        with self._wake:
            self._held = held
            self._wake.notify_all()

    def poke(self) -> None:
        """Somebody looks elsewhere."""
        with self._wake:
            self._wake.notify_all()

    def get(self, index: int) -> Block | None:
        """A block as it looks now; None while it has not been drawn, or no longer looks so."""
        with self._wake:
            return None if index in self._stale else self._blocks.get(index)

    @property
    def left(self) -> int:
        """Blocks that have still to be drawn."""
        with self._wake:
            return len(self._stale)

    def glow(self) -> list[tuple[int, int, int]]:
        """The mean colour of each block as far as it is known."""
        with self._wake:
            count = self._version.block_count if self._version else 0
            return [self._blocks[at].glow if at in self._blocks else (0, 0, 0) for at in range(count)]

    def end(self) -> None:
        """End the threads; what one of them is drawing is drawn before."""
        with self._wake:
            self._ended = True
            self._wake.notify_all()
        for thread in self._threads:
            thread.join()

    def _draw(self, urgent: bool) -> None:
        if not urgent:
            with contextlib.suppress(OSError, AttributeError):
                os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), POLITE)
        while (chosen := self._next(urgent)) is not None:
            self._draw_one(*chosen)
            del chosen  # a version that is past shall not stay in memory while this thread waits

    def _next(self, urgent: bool) -> tuple[Version, int, Block | None, Tiles] | None:
        """What is to be drawn next, once there is something; None at the end."""
        with self._wake:
            while not self._ended and (chosen := self._choose(urgent)) is None:
                self._wake.wait()
            if self._ended:
                return None
            version, index = chosen  # type: ignore[misc]
            self._taken.add(index)
            return version, index, self._blocks.get(index), self._stale[index]

    def _draw_one(self, version: Version, index: int, was: Block | None, tiles: Tiles) -> None:
        block = block_of(version, index, was, tiles)
        with self._wake:
            if version is not self._version:
                return
            self._blocks[index] = block
            self._stale.pop(index, None)
            self._taken.discard(index)
            left = len(self._stale)
        if left % TOLD == 0 or index in self._looked()[1]:
            self._changed()

    def _choose(self, urgent: bool) -> tuple[Version, int] | None:
        version, free = self._version, self._stale.keys() - self._taken
        if version is None or not free:
            return None
        at, wanted = self._looked()
        if not urgent and self._held:
            return None
        if not urgent:
            return version, min(free, key=lambda index: (index - at) % version.block_count)
        near = near_first(version.block_count, at, free.intersection(wanted))
        return (version, near[0]) if near else None
