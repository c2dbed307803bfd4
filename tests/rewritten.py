"""Assertions of all tests, rewritten ahead and side by side, and kept where pytest looks for them.

Half the time of collecting goes there, and each process of pytest-xdist would do all of it for itself: they begin
together, so none finds what another has made.
"""

from __future__ import annotations

import multiprocessing
import os
from pathlib import Path

import pytest


def for_all(config: pytest.Config, folder: Path) -> None:
    """Rewrite what has changed below ``folder``.

    How is pytest's own affair: where that has other names by now, each process does it for itself, as without this.
    """
    paths = sorted([*folder.rglob("test_*.py"), *folder.rglob("conftest.py")])
    processes = os.cpu_count() or 1
    try:
        with multiprocessing.get_context("fork").Pool(processes, _begin, (config,)) as pool:
            pool.map(_rewrite, paths, chunksize=4)
    except (ImportError, AttributeError, TypeError, ValueError, OSError, SyntaxError):
        return


def _begin(config: pytest.Config) -> None:
    global CONFIG
    CONFIG = config


def _rewrite(path: Path) -> None:
    from _pytest.assertion import rewrite

    kept = rewrite.get_cache_dir(path) / (path.stem + rewrite.PYC_TAIL)
    if rewrite._read_pyc(path, kept) is None and rewrite.try_makedirs(kept.parent):
        made, code = rewrite._rewrite_test(path, CONFIG)
        rewrite._write_pyc(CONFIG.stash[rewrite.assertstate_key], code, made, kept)
