"""A frames file that begins as another one: its bytes are copied as they lie, and every chunk is checked on the way."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Self

import numpy as np
from numpy.typing import NDArray

from eavesong.files import whole_file
from eavesong.frames.chunks import Frames, check_sums
from eavesong.frames.format import chunk_frames_for, column_width_for
from eavesong.frames.guard import refuse_foreign
from eavesong.frames.unfinished import Unfinished
from eavesong.processors import processors

AT_ONCE = 4 << 20
"""Bytes that are read, checked and written at once: they stay near the processor, and few are handed on."""

MOST_COPYING = 2
"""Threads that copy, at most: the system writes to one file for one of them at a time."""

MOST_IDLE, IDLE_BYTES = 0.25, 16 << 20
"""Share of a file that may be of no use, or so many bytes of a small one. What is written in place of a chunk rarely
fits where that lay, so each change leaves some more."""

Indices = NDArray[np.int64]
Put = Callable[[np.ndarray, int], None]
"""Writes bytes, uint8 (n,), to a place in the file; safe in any thread, and done with them when it comes back."""


def can_begin(frames: Frames, shape: tuple[int, int]) -> bool:
    """Whether a file of ``shape`` (frames, channels) can begin as the one that holds ``frames``: its chunks are those
    that would be written, and most of it is of use."""
    chunks = chunk_frames_for(shape[1], shape[0]), column_width_for(shape[1])
    plain = [*frames.dataset.attrs] == ["units"] and frames.dataset.fletcher32 and frames.dataset.compression == "gzip"
    return bool(
        frames.shape == shape and frames.dataset.chunks == chunks and plain
        and frames.file_bytes - frames.used <= max(IDLE_BYTES, MOST_IDLE * frames.file_bytes)
    )  # fmt: skip


class Begun:
    """The draft of a file: ``with Begun(path) as begun``, and it is gone at the end unless it was kept.

    Where it is to begin as another file, that one's bytes are copied by threads of its own from now on.
    """

    def __init__(
        self, path: str | Path, *, overwrite: bool = False, upon: Frames | None = None, workers: int | None = None
    ) -> None:
        """``overwrite``: take the place of a file that eavesong did not write; OutputError otherwise, and where the
        folder is missing or cannot be written to. upon, workers: see `Copying`."""
        refuse_foreign(path, overwrite)
        self.upon = upon
        whole = whole_file(path)
        self._whole: AbstractContextManager[object] = whole
        draft = whole.__enter__()
        try:
            self.draft = Unfinished(draft)
            self.copying = None if upon is None else Copying(upon, self.draft.put, workers)
        except BaseException as fault:
            whole.__exit__(type(fault), fault, fault.__traceback__)
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *fault: object) -> None:
        self.give_up()

    def keep(self) -> None:
        """Give the file its name. Whoever wrote the draft has closed it."""
        whole, self._whole = self._whole, contextlib.nullcontext()
        whole.__exit__(None, None, None)

    def give_up(self) -> None:
        """Remove the draft, whatever state it is in; where it was kept, nothing happens."""
        self.draft.give_up()
        if self.copying is not None:
            self.copying.stop()
        with contextlib.suppress(Exception):
            self.draft.close()
        whole, self._whole = self._whole, contextlib.nullcontext()
        with contextlib.suppress(_AbandonedError):
            whole.__exit__(_AbandonedError, _AbandonedError(), None)


class _AbandonedError(Exception):
    """Thrown into ``whole_file`` to have it clean up without another story about why."""


class Copying:
    """The copying of a whole file, begun by threads of its own: ``wait()`` until it has ended, or ``stop()`` it."""

    def __init__(self, frames: Frames, put: Put, workers: int | None = None) -> None:
        """frames: of the file that is copied; put: takes its bytes; workers: as many threads as there are processors
        where None, of which half copy, since others draw meanwhile, and MOST_COPYING at most."""
        self._frames, self._put, self._mine = frames, put, threading.local()
        self._threads = ThreadPoolExecutor(min(MOST_COPYING, max(1, (workers or processors()) // 2)))
        self._parts: list[Future[None]] = []
        self._ended = 0
        self._parting = self._threads.submit(self._part)

    def running(self) -> bool:
        """Whether some of it is still to be copied."""
        while self._ended < len(self._parts) and self._parts[self._ended].done():
            self._ended += 1
        return not (self._parting.done() and self._ended == len(self._parts))

    def wait(self) -> None:
        """Wait until the whole file is copied. FramesError where a chunk is damaged, or lies where it cannot."""
        try:
            self._parting.result()
            for part in self._parts:
                part.result()
        finally:
            self.stop()

    def stop(self) -> None:
        """Copy no more than is just being copied, and wait for that."""
        self._threads.shutdown(cancel_futures=True)

    def _part(self) -> None:
        """Part the file between its chunks and have its parts copied."""
        frames = self._frames
        firsts = np.array([first for first, _ in frames.lying], np.int64)
        begins, sizes, masks = np.array([*frames.lying.values()], np.int64).reshape(-1, 3).T
        order = np.argsort(begins, kind="stable")
        self._firsts, self._begins, self._sizes, self._masks = (part[order] for part in (firsts, begins, sizes, masks))
        ends = self._begins + self._sizes
        over = np.flatnonzero(ends[:-1] > self._begins[1:])
        with frames.told(int(self._firsts[over[0]]) if over.size else 0):
            if over.size or (ends > frames.file_bytes).any():
                raise ValueError("chunks that lie in each other, or beyond the file")
        for span in _spans(self._begins, ends, frames.file_bytes):
            with contextlib.suppress(RuntimeError):  # it was stopped meanwhile
                self._parts.append(self._threads.submit(self._copy, *span))

    def _copy(self, begin: int, end: int) -> None:
        """Copy a part of the file and check the chunks in it."""
        if getattr(self._mine, "held", np.empty(0)).size < end - begin:
            self._mine.held = np.empty(max(end - begin, AT_ONCE), np.uint8)
        data: np.ndarray = self._mine.held[: end - begin]
        held = slice(*np.searchsorted(self._begins, (begin, end)))
        firsts, begins, sizes, masks = (part[held] for part in (self._firsts, self._begins, self._sizes, self._masks))
        with self._frames.told(int(firsts[0]) if firsts.size else 0):
            self._frames.read_at(data, begin)
            try:
                check_sums(data, begins - begin, sizes, int(np.bitwise_or.reduce(masks)))
            except ValueError:
                for at in range(len(firsts)):  # whose fault it is
                    with self._frames.told(int(firsts[at])):
                        check_sums(data, begins[at : at + 1] - begin, sizes[at : at + 1], int(masks[at]))
        self._put(data, begin)


def _spans(begins: Indices, ends: Indices, size: int) -> Iterator[tuple[int, int]]:
    """(begin, end) of parts of a file of ``size`` bytes, none of which cuts a chunk; larger than AT_ONCE only where a
    chunk is."""
    begin = last = 0
    for cut in _cuts(begins, ends, size):
        if cut - begin > AT_ONCE and last > begin:
            yield begin, last
            begin = last
        last = cut
    yield begin, last


def _cuts(begins: Indices, ends: Indices, size: int) -> Iterator[int]:
    """Where a file may be cut, in order: where chunks begin and end, and here and there in what else it holds."""
    upto = 0
    for begin, end in [*zip(begins.tolist(), ends.tolist(), strict=True), (size, size)]:
        yield from range(upto + AT_ONCE, begin, AT_ONCE)
        yield begin
        yield end
        upto = end
