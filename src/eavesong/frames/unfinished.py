"""The draft of a frames file: HDF5 says where everything goes, and a thread of its own writes the chunks there.

HDF5 writes what it is given before it comes back, under a lock, and whoever appends waits. Through this file it still
decides where each chunk lies and keeps the index; the bytes themselves are written meanwhile, as many as WAITING
behind.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from eavesong.frames.garbage import go_on, look_after, put_off

WAITING = 4 << 20
"""Bytes of chunks that wait to be written, at most; one chunk may always wait."""

TOGETHER = 2 << 20
"""Bytes of chunks that are handed to the thread at once: waking it takes as long as writing some 100,000 bytes."""

AT_ONCE = 512
"""Chunks that are written by one call at most; POSIX grants 16, Linux and macOS take 1,024."""

UNSYNCED = 16 << 20
"""Bytes that are handed to the system before it is asked to bring them to the disk, so that less is left to do when
the file is complete."""


class Unfinished:
    """A file that HDF5 writes through, as it does through any file object.

    What cannot be written is told by ``fault`` and makes ``check`` raise; from then on nothing is written any more, and
    HDF5, which knows nothing of it, can close what will be thrown away.
    """

    def __init__(self, path: Path) -> None:
        """path: of a file that is there, and empty. Raises OSError where it cannot be opened."""
        self.fault: OSError | None = None
        """Why something could not be written; None while all is well."""
        self._file = open(path, "rb+", buffering=0)  # noqa: SIM115  closed by ``close``
        self._at, self._lock = 0, Lock()
        self._thread, self._syncing = ThreadPoolExecutor(1), ThreadPoolExecutor(1)
        self._synced: Future[None] | None = None
        self._unsynced = 0
        self._waiting: deque[tuple[int, Future[None]]] = deque()
        self._gathered: list[tuple[np.ndarray, int]] = []
        self._bytes_waiting = self._bytes_gathered = 0
        self._due: np.ndarray | None = None
        self._given_up = False
        self._open = True
        put_off()

    def expect(self, chunk: np.ndarray) -> None:
        """Leave ``chunk``, uint8 (n,), to the thread when HDF5 comes to write it; nobody may change it from now on."""
        if not self._gathered:
            look_after()
        self._due = chunk

    def put(self, data: np.ndarray, at: int) -> None:
        """Write bytes, uint8 (n,), to a place in the file at once, before HDF5 knows the file; safe in any thread."""
        self._write_all([(data, at)])
        with self._lock:
            self._bring(data.size)

    def check(self) -> None:
        """Raise the OSError of what could not be written, if there is any."""
        if self.fault:
            raise self.fault

    def settle(self) -> None:
        """Wait until all that was handed to the thread is written, or found to be impossible to write."""
        self._hand_over()
        while self._waiting:
            self._settle_one()

    def give_up(self) -> None:
        """Write nothing any more: the draft will be thrown away."""
        self._given_up = True

    def close(self) -> None:
        """Write what is left and close the file; doing it twice does no harm."""
        try:
            self.settle()
            for threads in (self._thread, self._syncing):
                threads.shutdown()
            self._file.close()
        finally:
            if self._open:
                self._open = False
                go_on()

    # What HDF5 calls, as the methods of ``io.RawIOBase``.

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Go to a place."""
        self._at = offset if whence == os.SEEK_SET else os.fstat(self._file.fileno()).st_size + offset
        return self._at

    def tell(self) -> int:
        """Where the next byte is read or written."""
        return self._at

    def readinto(self, buffer: Any) -> int:
        """Read what HDF5 wrote before: never a chunk."""
        with self._lock:
            self._file.seek(self._at)
            count: int = self._file.readinto(buffer)
        self._at += count
        return count

    def read(self, size: int) -> bytes:
        """Read some bytes."""
        held = bytearray(size)
        return bytes(held[: self.readinto(held)])

    def write(self, data: Any) -> int:
        """Write what HDF5 knows itself now, and a chunk that was expected later."""
        size, at = len(data), self._at
        if self._due is not None and _is_same(self._due, data):
            self._later(self._due, at)
            self._due = None
        else:
            self._write_at(data, at)
        self._at += size
        return size

    def truncate(self, size: int) -> int:
        """End the file after ``size`` bytes."""
        self.settle()
        self._try(lambda: self._file.truncate(size))
        return size

    def flush(self) -> None:
        """Hand all that was written to the system."""
        self.settle()

    def _later(self, chunk: np.ndarray, at: int) -> None:
        self._gathered.append((chunk, at))
        self._bytes_gathered += chunk.size
        if self._bytes_gathered >= TOGETHER:
            self._hand_over()
        while self._bytes_waiting > WAITING and len(self._waiting) > 1:
            self._settle_one()

    def _hand_over(self) -> None:
        """Leave what was gathered to the thread."""
        if size := self._bytes_gathered:
            self._waiting.append((size, self._thread.submit(self._write_all, self._gathered)))
            self._bytes_waiting += size
            self._gathered, self._bytes_gathered = [], 0

    def _settle_one(self) -> None:
        size, written = self._waiting.popleft()
        self._bytes_waiting -= size
        written.result()
        self._bring(size)

    def _bring(self, size: int) -> None:
        """Have what was written brought to the disk, some of it at a time: ``size`` bytes more."""
        self._unsynced += size
        if self._unsynced >= UNSYNCED and (self._synced is None or self._synced.done()):
            self._unsynced = 0
            self._synced = self._syncing.submit(self._sync)

    def _write_all(self, chunks: list[tuple[np.ndarray, int]]) -> None:
        """Write chunks: neighbours at once, where the system can do it."""
        if not hasattr(os, "pwritev"):
            for chunk, at in chunks:
                self._write_at(chunk, at)
            return
        run: list[np.ndarray] = []
        begin = upto = -1
        for chunk, at in chunks:
            if at != upto or len(run) == AT_ONCE:
                self._write_run(run, begin)
                run, begin = [], at
            run.append(chunk)
            upto = at + chunk.size
        self._write_run(run, begin)

    def _write_run(self, chunks: list[np.ndarray], at: int) -> None:
        """Write chunks one behind the other; what the system leaves of them, one by one."""
        done, held = 0, [chunk.data for chunk in chunks]

        def write() -> None:
            """Write as much as goes at once."""
            nonlocal done
            done = os.pwritev(self._file.fileno(), held, at)

        if chunks:
            self._try(write)
        for chunk in chunks:
            if done < chunk.size:
                self._write_at(chunk[done:], at + done)
            done = max(0, done - chunk.size)
            at += chunk.size

    def _write_at(self, data: Any, at: int) -> None:
        def write() -> None:
            """Write all of it, in as many pieces as the system takes."""
            rest = memoryview(data)
            self._file.seek(at)
            while rest.nbytes:  # a system takes 2 GiB at once at most, and less where a disk is nearly full
                rest = rest[self._file.write(rest) :]

        self._try(write)

    def _sync(self) -> None:
        if self.fault or self._given_up:
            return
        try:  # without the lock: the thread that writes need not wait
            os.fsync(self._file.fileno())
        except OSError as fault:  # Linux tells it once, so nobody else will hear of it
            self.fault = self.fault or fault

    def _try(self, what: Callable[[], object]) -> None:
        """Do something with the file, unless that is of no use any more; the first fault is kept."""
        with self._lock:
            if self.fault or self._given_up:
                return
            try:
                what()
            except OSError as fault:
                self.fault = fault


def _is_same(chunk: np.ndarray, data: Any) -> bool:
    """Whether ``data`` is the memory of ``chunk`` and not some other bytes of that length."""
    return len(data) == chunk.size and _address(np.frombuffer(data, np.uint8)) == _address(chunk)


def _address(held: np.ndarray) -> int:
    """Where in memory an array lies; ``ctypes.data`` tells it as well, and takes five times as long."""
    at: int = held.__array_interface__["data"][0]
    return at
