"""Where compiled kernels are kept between runs.

numba looks at one source file to decide whether what it kept is still right, and does not notice when a function
that was inlined from another file has changed. So everything is kept in a folder named by all of the kernels'
sources and numba's version: what is found there cannot be out of date.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from eavesong.files import content_hash, user_cache


@cache
def kernel_folder() -> Path:
    """The folder for kernels compiled from these sources with this numba."""
    import numba

    sources = sorted(Path(__file__).parent.glob("*.py"))
    name = content_hash(numba.__version__, *(source.read_bytes() for source in sources))[:16]
    folder = user_cache() / "kernels" / name
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@contextlib.contextmanager
def kept_between_runs() -> Iterator[None]:
    """Functions decorated with ``cache=True`` inside this block are kept in ``kernel_folder()``."""
    from numba import config

    before = config.CACHE_DIR
    config.CACHE_DIR = str(kernel_folder())
    try:
        yield
    finally:
        config.CACHE_DIR = before
