"""What processes that run tests side by side do once for all of them: rewrite assertions, play songs.

They begin together, so each would do all of it for itself before it finds what another has kept.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar, cast

import pytest
from filelock import FileLock

Made = TypeVar("Made")


def rewrite_assertions(config: pytest.Config, folder: Path) -> None:
    """Rewrite what has changed below ``folder``, on all processors: half the time of collecting goes there.

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


def once(folders: pytest.TempPathFactory, name: str, make: Callable[[Path], Made]) -> Made:
    """What ``make`` gives for a folder that is called ``name``, and what it writes there: made by one process, read by
    the others."""
    base = folders.getbasetemp()
    shared = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "once"
    shared.mkdir(exist_ok=True)
    given = shared / f"{name}.pickle"
    with FileLock(shared / f"{name}.lock"):
        if not given.exists():
            made = make(shared / name)
            given.write_bytes(pickle.dumps(made))
    return cast(Made, pickle.loads(given.read_bytes()))


def settle_kernels() -> None:
    """Settle where kernels are kept before any test gives itself a cache of its own."""
    from eavesong.kernels import store

    store.all_kernels()
