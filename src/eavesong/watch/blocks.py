"""The blocks of a version: drawn by threads, those that somebody looks at first, and kept compressed."""

from __future__ import annotations

import contextlib
import hashlib
import os
import threading
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.watch.version import BLOCK, near_first

if TYPE_CHECKING:
    from eavesong.watch.version import Version

POLITE = 10
"""How much less urgent (nice) threads are that draw what nobody looks at: they leave the processors to the song."""


@dataclass(frozen=True, eq=False)
class Block:
    """A block as it is sent."""

    name: int
    """A number made of its bytes: blocks of equal names look alike."""
    first: int
    """Frame."""
    frames: int
    data: bytes
    """A zlib stream (RFC 1950) of the light, uint8 (frames, pixels, 3)."""
    glow: tuple[int, int, int]
    """The mean colour of its middle frame: square roots of light, 0..255."""


def block_of(version: Version, index: int) -> Block:
    """A block, drawn and compressed."""
    light = version.block(index)
    middle = light[len(light) // 2].reshape(-1, 3)
    red, green, blue = np.round(255 * np.sqrt(middle.mean(axis=0) / 255)).astype(int).tolist()
    data = _compressed(light)
    name = int.from_bytes(hashlib.blake2b(data, digest_size=6).digest(), "big")
    return Block(name, index * BLOCK, len(light), data, (red, green, blue))


def _compressed(light: NDArray[np.uint8]) -> bytes:
    try:
        from isal import isal_zlib
    except ImportError:
        return zlib.compress(light.data, 1)
    return bytes(isal_zlib.compress(light.data, 1))


class Store:
    """The blocks of the version that is shown, and threads that draw those that are missing. Safe from any thread."""

    def __init__(self, changed: Callable[[], None], threads: int | None = None) -> None:
        """changed: called from a thread that has drawn something. threads: that draw what nobody looks at."""
        self._changed = changed
        self._version: Version | None = None
        self._blocks: dict[int, Block] = {}
        self._stale: set[int] = set()
        self._taken: set[int] = set()
        self._looked: Callable[[], tuple[int, list[int]]] = lambda: (0, [])
        self._wake = threading.Condition()
        self._ended = False
        count = threads or os.cpu_count() or 1
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
        stale = np.ones(version.block_count, bool) if self._version is None else version.changed_from(self._version)
        with self._wake:
            everything = set(range(version.block_count))
            self._blocks = {index: block for index, block in self._blocks.items() if index in everything}
            left = self._stale & everything
            self._version = version
            self._stale = set(np.flatnonzero(stale).tolist()) | left | (everything - self._blocks.keys())
            self._taken.clear()
            self._wake.notify_all()
        return bool(stale.any())

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
        """End the threads."""
        with self._wake:
            self._ended = True
            self._wake.notify_all()
        for thread in self._threads:
            thread.join(timeout=2)

    def _draw(self, urgent: bool) -> None:
        if not urgent:
            with contextlib.suppress(OSError, AttributeError):
                os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), POLITE)
        while True:
            with self._wake:
                while not self._ended and (chosen := self._choose(urgent)) is None:
                    self._wake.wait()
                if self._ended:
                    return
                version, index = chosen  # type: ignore[misc]
                self._taken.add(index)
            block = block_of(version, index)
            with self._wake:
                if version is self._version:
                    self._blocks[index] = block
                    self._stale.discard(index)
                    self._taken.discard(index)
            self._changed()

    def _choose(self, urgent: bool) -> tuple[Version, int] | None:
        version, free = self._version, self._stale - self._taken
        if version is None or not free:
            return None
        at, wanted = self._looked()
        if not urgent:
            return version, min(free, key=lambda index: (index - at) % version.block_count)
        near = near_first(version.block_count, at, free.intersection(wanted))
        return (version, near[0]) if near else None
