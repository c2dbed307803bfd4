"""Where compiled kernels are kept between runs.

numba looks at one source file to decide whether what it kept is still right, and does not notice when a function
that was inlined from another file has changed. So each module's kernels are kept in a folder named by the fingerprint
of all code that it stands on, the compiler and the processor: what is found there cannot be out of date.
"""

from __future__ import annotations

import contextlib
import ctypes
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.errors import OutputError
from eavesong.files import content_hash, tell_no_cache, user_cache
from eavesong.kernels.code import Code, keep, load
from eavesong.sources import fingerprint

CODE = ".code"
"""Ending of files of machine code."""

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


@cache
def compiled(source: str) -> Code:
    """The machine code of the numba cfunc called ``kernel`` in ``source``: what is kept of it, else compiled and kept.

    What is damaged is made again; where the cache is full or read-only, nothing is kept.
    """
    return _code(source, GENERATED)


def _code(source: str, module: str) -> Code:
    """The same, kept in the folder of ``module``."""
    function = None
    try:
        path = kernel_folder(module) / f"{content_hash(source)[:20]}{CODE}"
        if found := load(path):
            return found
        function = cfunc_of(source)
        keep(path, function)
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))
        function = function or cfunc_of(source)
    return Code(function.address, function)


def cfunc_of(source: str) -> Any:
    """The cfunc called ``kernel`` in ``source``, compiled now."""
    namespace: dict[str, Any] = {}
    exec(compile(source, "<kernel>", "exec"), namespace)
    return namespace["kernel"]


def compiled_anew(source: str) -> str:
    """The assembly of generated source, compiled for this processor without the cache."""
    assembly: str = cfunc_of(source)._library.get_asm_str()
    return assembly


@dataclass(frozen=True)
class Kernel:
    """A function of a module of kernels that is called in machine code: neither numba nor its module is imported where
    that is kept.

    It gives nothing back, allocates nothing and raises nothing; it holds no lock while it runs.
    """

    module: str
    function: str
    takes: tuple[str, ...]
    """Of each argument its type in numpy; of an array, how many axes it has as well: ``float32[2]``."""

    def __call__(self, *arguments: Any) -> None:
        """Call it. Raises TypeError for an array of another type or shape, or one that does not lie in one piece."""
        given: list[Any] = []
        for (dtype, axes), argument in zip(self._arguments, arguments, strict=True):
            if axes:
                if argument.dtype != dtype or argument.ndim != axes or not argument.flags.c_contiguous:
                    raise TypeError(f"{self.function} takes {dtype} of {axes} axes in one piece, not {argument.dtype}")
                given += [argument.ctypes.data, *argument.shape]
            else:
                given.append(argument)
        self._called[0](*given)

    @cached_property
    def _arguments(self) -> list[tuple[np.dtype[Any], int]]:
        parts = (text.rstrip("]").split("[") for text in self.takes)
        return [(np.dtype(name), int(axes[0]) if axes else 0) for name, *axes in parts]

    @cached_property
    def _called(self) -> tuple[Any, Code]:
        """The function as Python calls it, and the code that has to live as long."""
        code = _code(self.source(), self.module)
        kinds: list[Any] = []
        for dtype, axes in self._arguments:
            own = np.ctypeslib.as_ctypes_type(dtype)
            kinds += [ctypes.c_void_p, *[ctypes.c_int64] * axes] if axes else [own]
        return ctypes.CFUNCTYPE(None, *kinds)(code.address), code

    def source(self) -> str:
        """The source of a numba cfunc that takes each array as its address and the lengths of its axes."""
        kinds, names, values = [], [], []
        for n, (dtype, axes) in enumerate(self._arguments):
            lengths = [f"a{n}_{axis}" for axis in range(axes)]
            kinds += [f"types.CPointer(types.{dtype})", *["types.int64"] * axes] if axes else [f"types.{dtype}"]
            names += [f"a{n}", *lengths]
            values.append(f"carray(a{n}, ({', '.join(lengths)},))" if axes else f"a{n}")
        return _CALL.format(
            module=self.module, function=self.function, kinds=", ".join(kinds), names=", ".join(names),
            values=", ".join(values),
        )  # fmt: skip


_CALL = """
from numba import carray, cfunc, njit, types

from {module} import {function}

function = njit(error_model="numpy")({function})


@cfunc(types.void({kinds}), error_model="numpy")
def kernel({names}):
    function({values})
"""


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


def _forget(name: str, module: str) -> None:
    """Remove the machine code kept of the function or module called ``name``."""
    for damaged in kernel_folder(module).rglob(f"*{name}*.nb[ic]"):
        with contextlib.suppress(OSError):
            damaged.unlink()
