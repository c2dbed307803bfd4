"""Frames read ahead of their moment, in a thread of its own: a disk that is slow costs frames, never the streams."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from eavesong.playback.urgency import close_behind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.playback.source import Source

BYTES_AHEAD = 8 << 20
"""Of frames that lie ready."""
MOST_AHEAD = 40
"""Frames that lie ready at most: a second or so."""
LEAVING = 0.5
"""Seconds that the end waits for a read which still goes on."""


class Ahead:
    """Reads the frames of ``source`` in order, a little ahead of the one that was last asked for."""

    def __init__(self, source: Source) -> None:
        self.ready = threading.Event()
        """Whether the frame that is wanted has been read, or could not be."""
        self._source = source
        self._depth = 2
        self._wanted = 0
        self._frames: dict[int, NDArray[np.uint8] | Exception] = {}
        self._changed = threading.Condition()
        self._closed = False
        self._thread = threading.Thread(target=self._read_on, name="reader", daemon=True)
        self._thread.start()

    def want(self, number: int) -> None:
        """Frame ``number`` is what comes next; what lies before it is not needed any more."""
        with self._changed:
            self._wanted = number
            for old in [each for each in self._frames if each < number]:
                del self._frames[old]
            if number in self._frames:
                self.ready.set()
            else:
                self.ready.clear()
            self._changed.notify()

    def take(self) -> NDArray[np.uint8]:
        """The frame that is wanted, uint8 (channel,), once ``ready``. Raises FramesError when it cannot be read."""
        with self._changed:
            frame = self._frames[self._wanted]
        if isinstance(frame, Exception):
            raise frame
        return frame

    def close(self) -> None:
        """Read no more. A read that the disk does not answer is left to itself."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join(LEAVING)

    def _read_on(self) -> None:
        close_behind()
        while (number := self._next()) is not None:
            frame: NDArray[np.uint8] | Exception
            try:
                frame = self._source.read(number)
                self._depth = max(2, min(MOST_AHEAD, BYTES_AHEAD // max(1, frame.nbytes)))
            except Exception as fault:  # for the thread that plays to know what to do with
                frame = fault
            with self._changed:
                self._frames[number] = frame
                if number == self._wanted:
                    self.ready.set()

    def _next(self) -> int | None:
        """The next frame to read, when there is one; None at the end."""
        with self._changed:
            while not self._closed:
                end = min(self._wanted + self._depth, self._source.frame_count)
                missing = (each for each in range(self._wanted, int(end)) if each not in self._frames)
                if (number := next(missing, None)) is not None:
                    return number
                self._changed.wait()
        return None
