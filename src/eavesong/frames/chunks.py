"""The frames of an open file, read chunk by chunk; nothing of a chunk is believed unchecked."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import FramesError, Problem
from eavesong.frames import guard
from eavesong.frames.encode import Chunk, decode_chunk
from eavesong.frames.format import CHECKSUM_BYTES, INFLATION, SKIP_DEFLATE
from eavesong.words import clock_text

if TYPE_CHECKING:
    import h5py


class Frames:
    """The frames of a file, uint8 (frame, channel), read from the disk when indexed as a numpy array is."""

    dtype = np.dtype(np.uint8)
    ndim = 2

    def __init__(self, path: Path, dataset: h5py.Dataset, seconds: Callable[[int], float]) -> None:
        """``seconds`` of a frame: when in the song it is shown."""
        self._path, self._seconds = path, seconds
        self.dataset = dataset
        self.shape: tuple[int, int] = dataset.shape
        self._large: dict[int, list[h5py.h5d.StoreInfo]] = {}
        """Chunks that have to be looked at before HDF5 unpacks them, by the row they are in."""

    def __len__(self) -> int:
        return self.shape[0]

    def __getitem__(self, key: Any) -> np.ndarray:
        """``frames[frame]``, ``frames[start:stop]``, ``frames[start:stop, channels]``; FramesError if damaged."""
        try:
            self._look_at(key)
            values: np.ndarray = self.dataset[key]
            return values
        except OSError:
            wanted = self._wanted(key)
            found = list(self.damaged(min(wanted), max(wanted) + 1))
            raise FramesError(found or guard.damaged(self._path, "/frames", "cannot be read")) from None

    def _wanted(self, key: Any) -> range:
        """The frames that an index asks for, or all where it is of an unusual kind."""
        rows = key[0] if isinstance(key, tuple) else key
        if isinstance(rows, int | np.integer):
            return range(int(rows) % len(self), int(rows) % len(self) + 1)
        return range(*rows.indices(len(self))) if isinstance(rows, slice) else range(len(self))

    def _look_at(self, key: Any) -> None:
        """OSError where a chunk would make more than a chunk holds; each is looked at once."""
        _ = self.written
        if self._large and (wanted := self._wanted(key)):
            size = self.dataset.chunks[0]
            for row in {frame // size for frame in wanted} & self._large.keys():
                if not all(guard.inflates(self.dataset, chunk) for chunk in self._large[row]):
                    raise OSError("a chunk that makes more than it holds")
                del self._large[row]

    @cached_property
    def written(self) -> np.ndarray:
        """For each row of chunks, whether all of them lie in the file with a checksum: bool (row,). HDF5 reads others
        as zeros."""
        size, width = self.dataset.chunks
        there = np.zeros(-(-len(self) // size), np.int64)

        def look(chunk: h5py.h5d.StoreInfo) -> None:
            """Note of one chunk whether it can be read here, and whether it inflates to more than is held at once."""
            row = chunk.chunk_offset[0] // size
            there[row] += chunk.byte_offset is not None and not chunk.filter_mask & ~SKIP_DEFLATE
            if chunk.size * INFLATION > guard.LARGEST_INFLATED:
                self._large.setdefault(row, []).append(chunk)

        with guard.readable(self._path, "/frames"):
            self.dataset.id.chunk_iter(look)
        whole: np.ndarray = there == -(-self.shape[1] // width)
        return whole

    def where(self) -> list[tuple[int, int]]:
        """Where in the file each chunk lies, and how many bytes it takes. FramesError where that cannot be read."""
        found: list[tuple[int, int]] = []
        with guard.readable(self._path, "/frames"):
            self.dataset.id.chunk_iter(lambda chunk: found.append((chunk.byte_offset, chunk.size)))
        return [(begin, size) for begin, size in found if begin is not None]

    @cached_property
    def lying(self) -> dict[tuple[int, int], tuple[int, int, int]]:
        """Of each chunk, by its first frame and channel: where in the file it lies, its bytes, its filter mask."""
        found: dict[tuple[int, int], tuple[int, int, int]] = {}

        def note(chunk: h5py.h5d.StoreInfo) -> None:
            """Note where one chunk lies."""
            if chunk.byte_offset is not None:
                found[chunk.chunk_offset] = chunk.byte_offset, chunk.size, chunk.filter_mask

        with guard.readable(self._path, "/frames"):
            self.dataset.id.chunk_iter(note)
        return found

    @cached_property
    def used(self) -> int:
        """Bytes of all chunks."""
        return sum(size for _, size, _ in self.lying.values())

    @cached_property
    def _handle(self) -> int:
        """The open file as the system knows it."""
        handle: int = self.dataset.file.id.get_vfd_handle()
        return handle

    @cached_property
    def file_bytes(self) -> int:
        """Bytes of the whole file."""
        return os.path.getsize(self._path)

    def read_at(self, into: np.ndarray, at: int) -> None:
        """Fill ``into``, uint8 (n,), with the file's bytes from ``at`` on, as they lie: without HDF5 and its lock.
        OSError or ValueError where that cannot be done. Safe in any thread."""
        if hasattr(os, "preadv"):
            count = os.preadv(self._handle, [into.data], at)
        else:
            with open(self._path, "rb", buffering=0) as file:
                file.seek(at)
                count = file.readinto(into.data)
        if count != into.size:
            raise ValueError("a chunk that is not in the file")

    def stored(self, first: int, channels: Iterable[int] = (0,), *, checked: bool = True) -> list[Chunk]:
        """The chunks that begin with frame ``first`` and ``channels``, as they lie on the disk. FramesError when one is
        damaged; checked: False where others look at all checksums."""
        chunks: list[Chunk] = []
        with self.told(first):
            for channel in channels:
                at, size, mask = self._where(first, channel)
                if at is None or size > self.file_bytes:
                    raise ValueError("a chunk that is not in the file")
                data = np.empty(size, np.uint8)
                self.read_at(data, at)
                if checked:
                    check_sums(data, np.zeros(1, np.int64), np.array([size]), mask)
                chunks.append(Chunk(data, mask))
        return chunks

    def _where(self, first: int, channel: int) -> tuple[int | None, int, int]:
        """What ``lying`` says of a chunk; of one alone it is found sooner without going through all of them."""
        if "lying" in self.__dict__:
            return self.lying[first, channel]
        found = self.dataset.id.get_chunk_info_by_coord((first, channel))
        return found.byte_offset, found.size, found.filter_mask

    @contextlib.contextmanager
    def told(self, first: int) -> Iterator[None]:
        """Turn what is raised where the chunks that begin with frame ``first`` are damaged into a FramesError."""
        try:
            yield
        except (OSError, RuntimeError, ValueError, KeyError, IndexError):
            end = min(first + self.dataset.chunks[0], len(self))
            found = list(self.damaged(first, end))
            raise FramesError(found or guard.damaged(self._path, "/frames", "cannot be read")) from None

    def unpacked(self, chunk: Chunk, rows: int | None = None) -> np.ndarray:
        """What a chunk that was ``stored`` holds, uint8 (frames, channels) of a whole chunk, or the first ``rows`` of
        it, not to be changed. FramesError where it holds something else."""
        held = decode_chunk(chunk, self.dataset.chunks, rows)
        if held is None:
            raise FramesError(guard.damaged(self._path, "/frames", "cannot be read"))
        return held

    def lit(self, first: int, channels: np.ndarray, most: int | None = None) -> np.ndarray:
        """Whether each of ``channels``, int64 (n,), is ever above 0 in the frames that are stored together from
        ``first`` on, in ``most`` of them at most: bool (n,). Only chunks that hold one are read; FramesError where they
        are damaged."""
        width = self.dataset.chunks[1]
        columns, column = np.unique(channels // width, return_inverse=True)
        chunks = self.stored(first, (columns * width).tolist())
        rows = None if most is None else min(most, self.dataset.chunks[0])
        held = np.array([self.unpacked(chunk, rows).any(axis=0) for chunk in chunks])
        lit: np.ndarray = held[column, channels % width]
        return lit

    def chunk_is_sound(self, first: int, end: int) -> bool:
        """Whether the chunks of frames ``first`` to ``end`` can be read and fit their checksums."""
        try:
            self._look_at(slice(first, end))
            self.dataset[first:end]
        except (OSError, RuntimeError, ValueError):
            return False
        return True

    def damaged(self, start: int, stop: int) -> Iterator[Problem]:
        """One problem for each unbroken run of rows with damaged chunks that touch frames ``start`` to ``stop``."""
        run: list[int] = []
        size = self.dataset.chunks[0]
        for first in range(start - start % size, stop, size):
            end = min(first + size, len(self))
            if not (self.written[first // size] and self.chunk_is_sound(first, end)):
                run = [run[0] if run else first, end]
            elif run:
                yield self._damaged_run(*run)
                run = []
        if run:
            yield self._damaged_run(*run)

    def _damaged_run(self, first: int, end: int) -> Problem:
        times = f"{clock_text(self._seconds(first))} to {clock_text(self._seconds(end))}"
        return guard.damaged(self._path, f"frames {first} to {end - 1}, {times}", "do not fit their checksum")


def check_sums(data: np.ndarray, begins: np.ndarray, sizes: np.ndarray, masks: int) -> None:
    """Raise ValueError where pieces of ``data``, uint8 (n,), are no chunks with the checksum that stands behind them.

    begins, sizes: int64 (chunks,), bytes; masks: their filter masks, or of several all their bits.
    """
    from eavesong.kernels.checksum import fletcher32_of

    bodies = sizes - CHECKSUM_BYTES
    if masks & ~SKIP_DEFLATE or (bodies <= 0).any():
        raise ValueError("a chunk that cannot be read here")
    told = data[(begins + bodies)[:, None] + np.arange(CHECKSUM_BYTES)].view("<u4")[:, 0]
    if (fletcher32_of(data, begins, bodies) != told).any():
        raise ValueError("a chunk that does not fit its checksum")
