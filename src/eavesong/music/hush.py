"""Decoders that say things of their own accord are not heard."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator

ERRORS = 2
"""The descriptor of the standard error output."""

_lock = threading.Lock()
_within: list[int] = []
"""Of each block that is under way, the descriptor that is to be restored after all of them."""


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Nothing that a decoder says of its own accord reaches the screen: what is wrong, our errors say.

    Decoders write to the process's standard error itself, past Python; so that goes nowhere for as long as this lasts,
    or another thread is within it.
    """
    try:
        with _lock:
            _within.append(_within[-1] if _within else _hushed())
    except OSError:  # closed
        yield
        return
    try:
        yield
    finally:
        with _lock:
            kept = _within.pop()
            if not _within:
                os.dup2(kept, ERRORS)
                os.close(kept)


def _hushed() -> int:
    """Let what is written to standard error go nowhere; a descriptor of where it went."""
    kept = os.dup(ERRORS)
    with open(os.devnull, "wb") as nowhere:
        sys.stderr.flush()
        os.dup2(nowhere.fileno(), ERRORS)
    return kept
