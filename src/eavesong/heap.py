"""Memory that the threads of a command share."""

from __future__ import annotations

import contextlib
import ctypes
import sys

M_ARENA_MAX = -8
"""Of glibc's mallopt(3): heaps that a process has at most."""

FEW = 4
"""Threads that draw and share a heap without waiting for each other's turn at it; with sixteen it was slower."""


def one_heap(threads: int) -> None:
    """Have all threads of this process take memory from one heap where no more than FEW ``threads`` draw; where the C
    library has no such setting, as any but glibc, nothing happens. To be called by a command, before it starts any.

    glibc keeps a heap for each thread, and what one makes and another one frees leaves holes in it: over an hour of
    song they were as much as all frames that wait to be written.
    """
    if sys.platform == "linux" and threads <= FEW:
        with contextlib.suppress(AttributeError, OSError, TypeError):
            ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)
