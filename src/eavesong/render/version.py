"""The version that matters: two frames files with equal inputs are equal when they were made by the same one."""

from __future__ import annotations

from functools import cache
from pathlib import Path

ROOMS = ("kernels", "language", "layout", "music", "show", "render", "frames")
"""Whose sources decide over bytes; the command line, pictures, checks and playback do not."""

ASIDE = {
    "likeness.py", "reuse.py", "changes.py", "retarget.py", "retarget_text.py", "retarget_page.py",
    "report.py", "findings.py", "draw.py", "paint.py", "summary.py", "setlist.py",
}  # fmt: skip
"""Files in those rooms that only look at frames, compare houses or tell of them."""


@cache
def renderer_hash() -> str:
    """SHA-256, in hex, over every source that decides over bytes, and the versions of numpy and numba."""
    from importlib.metadata import version

    from eavesong.files import content_hash

    package = Path(__file__).parents[1]
    files = [*(package / name for name in ("colours.py", "easing.py"))]
    for room in ROOMS:
        files += sorted(path for path in (package / room).glob("*.py") if path.name not in ASIDE)
    versions = [f"{name} {version(name)}" for name in ("numpy", "numba", "llvmlite")]
    return content_hash(*versions, *(part for path in files for part in (path.name, path.read_bytes())))
