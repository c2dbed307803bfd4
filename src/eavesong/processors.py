"""How many processors there are to work with."""

from __future__ import annotations

import os


def processors() -> int:
    """Processors that this process may use, at least 1: a container, or whoever pins it, may grant it fewer than there
    are."""
    granted = getattr(os, "sched_getaffinity", None)  # not on Windows and macOS
    return len(granted(0)) if granted is not None else os.cpu_count() or 1
