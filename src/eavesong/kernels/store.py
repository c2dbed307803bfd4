"""Where compiled kernels are kept between runs.

numba looks at one source file to decide whether what it kept is still right, and does not notice when a function
that was inlined from another file has changed. So each module's kernels are kept in a folder named by the fingerprint
of all code that it stands on, the compiler and the processor: what is found there cannot be out of date.
"""

from __future__ import annotations

import contextlib
import importlib.util
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from eavesong.errors import OutputError
from eavesong.files import content_hash, tell_no_cache, user_cache, write_whole
from eavesong.sources import fingerprint

GENERATED = "eavesong.kernels.blend_fast"
"""The module that generated kernels import; it stands on all the others that they do."""


@cache
def all_kernels() -> Path:
    """The folder of the folders of kernels, settled when it is first asked for."""
    return user_cache() / "kernels"


@cache
def kernel_folder(module: str = GENERATED) -> Path:
    """The folder for kernels of ``module``, as its code is now, compiled for this processor."""
    folder = all_kernels() / fingerprint(module, machine=True)[:16]
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@contextlib.contextmanager
def kept_between_runs(module: str = GENERATED) -> Iterator[None]:
    """Functions decorated with ``cache=True`` inside this block are kept in ``kernel_folder(module)``."""
    from numba import config

    # The attribute is made by numba as it reads its environment, so a type checker cannot see it.
    before = getattr(config, "CACHE_DIR", "")
    setattr(config, "CACHE_DIR", str(kernel_folder(module)))  # noqa: B010
    try:
        yield
    finally:
        setattr(config, "CACHE_DIR", before)  # noqa: B010


def source_path(source: str) -> Path:
    """Where the file of generated source stands; its name is the hash of the source."""
    return kernel_folder() / f"kernel_{content_hash(source)[:20]}.py"


@cache
def compiled(source: str) -> Any:
    """The numba cfunc called ``kernel`` of generated source: written to the cache, compiled once, then loaded.

    Its ``address`` can be called from other kernels for as long as the process lives. A file or machine code in
    the cache that is damaged is thrown away and made again; where the cache is full, nothing is kept.
    """
    try:
        path = source_path(source)
        if not path.is_file() or path.read_bytes() != source.encode():
            write_whole(path, source)
        return _made_again_if_damaged(lambda: _import(path).kernel, path.stem)
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))
        return _in_memory(source)


def kept(function: Callable[..., Any], signature: Any, **options: Any) -> Any:
    """``numba.njit(signature, cache=True, **options)`` of ``function``, kept in the folder of its module."""
    from numba import njit

    module = function.__module__
    try:
        with kept_between_runs(module):
            return _made_again_if_damaged(
                lambda: njit(signature, cache=True, **options)(function), function.__name__, module
            )
    except OSError as fault:
        tell_no_cache(str(fault))
        return njit(signature, **options)(function)


def _made_again_if_damaged(make: Callable[[], Any], name: str, module: str = GENERATED) -> Any:
    """What ``make`` compiles or loads; where that fails, what is kept under ``name`` is thrown away and made again."""
    try:
        return make()
    except Exception:
        _forget(name, module)
        return make()


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


def _forget(name: str, module: str) -> None:
    """Remove the machine code kept of the function or module called ``name``."""
    for damaged in kernel_folder(module).rglob(f"*{name}*.nb[ic]"):
        with contextlib.suppress(OSError):
            damaged.unlink()


def compiled_anew(source: str) -> str:
    """The assembly of generated source, compiled for this processor without the cache."""
    assembly: str = _in_memory(source)._library.get_asm_str()
    return assembly


def _in_memory(source: str) -> Any:
    namespace: dict[str, Any] = {}
    exec(compile(source.replace("cache=True, ", ""), "<kernel>", "exec"), namespace)
    return namespace["kernel"]
