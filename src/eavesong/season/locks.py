"""Locks between processes, by files: held by a living process only, whatever becomes of it."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from eavesong.errors import OutputError, Problem

PATIENCE = 0.2
"""Seconds between attempts to get a lock that another process holds."""


@contextlib.contextmanager
def held(path: Path, waiting: Callable[[], None] | None = None) -> Iterator[None]:
    """Hold the lock file at ``path``, which is removed afterwards; ``waiting`` is called once if another holds it.

    Where the system has no such locks (fcntl), go on without. Raises OutputError when the file cannot be made.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    told = False
    while True:
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as fault:
            raise OutputError(Problem(str(path.parent), "", f"cannot be written to: {fault.strerror}")) from None
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_still(handle, path):
                break
        except BlockingIOError:
            if waiting is not None and not told:
                waiting()
                told = True
            time.sleep(PATIENCE)
        except OSError:  # a network folder without locks
            break
        os.close(handle)
    try:
        yield
    finally:
        # Removed while held: whoever waits on the old file sees that it has no name any more, and begins again.
        with contextlib.suppress(OSError):
            os.unlink(path)
        os.close(handle)


def _is_still(handle: int, path: Path) -> bool:
    """Whether the locked file is the one that has the name."""
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except OSError:
        return False
