"""From source to machine code: written to the user's cache, compiled once, loaded in milliseconds after that."""

from __future__ import annotations

import contextlib
import importlib.util
import sys
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from eavesong.files import content_hash, write_whole
from eavesong.kernels.store import kept_between_runs, kernel_folder


def source_path(source: str) -> Path:
    """Where the file of a kernel's source stands; its name is the hash of the source."""
    return kernel_folder() / f"effect_{content_hash(source)[:20]}.py"


@cache
def load(source: str) -> Any:
    """The compiled kernel of ``source``: a numba cfunc whose ``address`` can be called from other kernels.

    A file or compiled code in the cache that is damaged is thrown away and made again.
    """
    path = source_path(source)
    if not path.is_file() or path.read_text() != source:
        write_whole(path, source)
    try:
        return _import(path).kernel
    except Exception:
        _forget(path)
        return _import(path).kernel


def _import(path: Path) -> ModuleType:
    """Import a generated file. numba keeps compiled code only for modules that are registered by name."""
    name = f"eavesong_{path.stem}"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    try:
        with kept_between_runs():
            spec.loader.exec_module(module)
    except BaseException:
        del sys.modules[name]
        raise
    return module


def _forget(path: Path) -> None:
    for kept in path.parent.rglob(f"{path.stem}*"):
        if kept != path:
            with contextlib.suppress(OSError):
                kept.unlink()
