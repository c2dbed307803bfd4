"""Garbage is put off while a thread writes what HDF5 waits for.

Whoever collects garbage closes the HDF5 objects in it, and waits for that until HDF5 has done what it is at. If that is
to wait for the very thread that collects, both wait for ever. Python collects wherever it happens to allocate, so none
does while a file is written; young garbage is looked after between chunks, by the one who appends.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

YOUNG = 1
"""The oldest generation that is collected between chunks."""

_gate = Lock()
_writing = 0
_was_enabled = False


def put_off() -> None:
    """Collect nothing of itself from now on, until as many have said `go_on`."""
    global _writing, _was_enabled
    with _gate:
        if not _writing:
            _was_enabled = gc.isenabled()
            gc.disable()
        _writing += 1


def go_on() -> None:
    """Collect as before, if nobody else writes."""
    global _writing
    with _gate:
        _writing -= 1
        if not _writing and _was_enabled:
            gc.enable()


def look_after() -> None:
    """Collect what has become garbage of late: where nobody is waited for, and none waits."""
    if _was_enabled:
        gc.collect(YOUNG)


@contextmanager
def none_collected() -> Iterator[None]:
    """Within it nothing is collected: for what is over in a second, and would be held up by all that is in memory."""
    put_off()
    try:
        yield
    finally:
        go_on()
