"""Locks between processes, by files: held by a living process only, whatever becomes of it."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import OutputError, Problem

if TYPE_CHECKING:
    from filelock import FileLock

PATIENCE = 0.2
"""Seconds between attempts to get a lock that another process holds."""

NO_LOCKS = (errno.ENOSYS, errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOTSUP)
"""What flock(2) fails with where a system or a network folder has no locks."""


@contextlib.contextmanager
def held(path: Path, waiting: Callable[[], None] | None = None) -> Iterator[None]:
    """Hold the lock file at ``path``, which is removed afterwards; ``waiting`` is called once if another holds it.

    A file that a killed process has left behind holds nothing. Where the folder has no locks, go on without. Raises
    OutputError when the file cannot be made.
    """
    # Imported here, for its 0.1 s. Its fall-back, a file that merely is there, would outlive a killed process.
    from filelock import FileLock

    if not path.parent.is_dir():  # the library would make it
        raise _cannot_write(path, "No such file or directory")
    lock = FileLock(path, fallback_to_soft=False)
    try:
        _acquire(lock, waiting)
    except OSError as fault:
        if fault.errno not in NO_LOCKS:
            raise _cannot_write(path, fault.strerror or str(fault)) from None
    try:
        yield
    finally:
        # Removed while held: whoever waits on the old file sees that it has no name any more, and begins again.
        with contextlib.suppress(OSError):
            path.unlink()
        lock.release()


def _acquire(lock: FileLock, waiting: Callable[[], None] | None) -> None:
    from filelock import Timeout

    try:
        lock.acquire(blocking=False)
    except Timeout:
        if waiting is not None:
            waiting()
        lock.acquire(poll_interval=PATIENCE)


def _cannot_write(path: Path, reason: str) -> OutputError:
    return OutputError(Problem(str(path.parent), "", f"cannot be written to: {reason}"))
