"""Where compiled kernels are kept between runs.

numba looks at one source file to decide whether what it kept is still right, and does not notice when a function
that was inlined from another file has changed. So each module's kernels are kept in a folder named by the fingerprint
of all code that it stands on, the compiler and the processor: what is found there cannot be out of date.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.errors import OutputError
from eavesong.files import content_hash, tell_no_cache, user_cache
from eavesong.kernels.code import Code, Object, assembled, keep, linked, listing, load, object_of, pixels_at_once
from eavesong.sources import fingerprint

CODE = ".code"
"""Ending of files of machine code."""

GENERATED = "eavesong.kernels.ends"
"""The module that stands on all that generated kernels do."""


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
def compiled(*sources: str) -> Code:
    """The machine code of the functions called ``kernel`` in ``sources``, one after the other on the same pixels: what
    is kept of it, else compiled and kept.

    What is damaged is made again; where the cache is full or read-only, nothing is kept.
    """
    return _code("\n".join(sources), GENERATED, lambda: object_of_sources(*sources))


def is_kept(*sources: str) -> bool:
    """Whether ``compiled`` need not compile them."""
    with _cache_may_fail():
        return place_of("\n".join(sources), GENERATED).exists()
    return False


def _code(key: str, module: str, make: Callable[[], Object]) -> Code:
    """What ``make`` compiles, kept in the folder of ``module`` under ``key``."""
    path = None
    with _cache_may_fail():
        path = place_of(key, module)
        if found := load(path):
            return found
    with one_at_a_time(path):
        if path and (found := load(path)):
            return found
        made = make()
        if path and made.alone:
            with _cache_may_fail():
                keep(path, made)
    return linked(made)


PATIENCE = 60.0
"""Seconds that a process waits for another to compile what both want, at most."""


@contextlib.contextmanager
def one_at_a_time(path: Path | None) -> Iterator[None]:
    """Of processes and threads that make what ``path`` is to hold, one does; the others wait, and find it there.

    The system lets go of what a process held that ended, however it did. One that stands still is waited for
    ``PATIENCE`` seconds. Where files cannot be locked, or nothing can be kept, nobody waits.
    """
    with contextlib.ExitStack() as stack:
        try:
            import fcntl

            lock = stack.enter_context(open(f"{path}.lock", "wb")) if path else None
        except (ImportError, OSError):
            lock = None
        until, mine = time.monotonic() + PATIENCE, False
        while lock and not mine and time.monotonic() < until:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                mine = True
            except BlockingIOError:
                time.sleep(0.01)
            except OSError:
                break
        yield
        if lock and mine:  # whoever still waits for it looks first whether what it wants is there
            with contextlib.suppress(OSError):
                os.unlink(lock.name)


def place_of(key: str, module: str = GENERATED) -> Path:
    """Where the machine code that ``key`` stands for is kept, in the folder of ``module``."""
    return kernel_folder(module) / f"{content_hash(key, *_settings())[:20]}{CODE}"


@contextlib.contextmanager
def _cache_may_fail() -> Iterator[None]:
    """A full or read-only cache costs a compilation, and nothing else."""
    try:
        yield
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))


ELSEWHERE = frozenset({"NUMBA_NUM_THREADS", "NUMBA_CACHE_DIR"})
"""What the environment tells numba that makes no other code; workers of a batch are told the first of them."""


def _settings() -> list[str]:
    """What the environment tells numba to compile for, or how."""
    told = {name: value for name, value in os.environ.items() if name.startswith("NUMBA_") and name not in ELSEWHERE}
    return sorted(f"{name}={value}" for name, value in told.items())


def object_of_sources(*sources: str) -> Object:
    """The machine code of the functions called ``kernel`` in ``sources``, compiled now and not kept."""
    return assembled(_written(sources), "kernel")


def compiled_anew(source: str) -> str:
    """The assembly of generated source, compiled for this processor without the cache."""
    return listing(_written([source]))


def _written(sources: Sequence[str]) -> str:
    from eavesong.kernels import ends  # noqa: F401  as the sources do; now it counts in fingerprints, too
    from eavesong.kernels.words import assembly

    kernels = []
    for source in sources:
        namespace: dict[str, Any] = {}
        exec(compile(source, "<kernel>", "exec"), namespace)
        kernels.append(namespace["kernel"])
    return assembly(kernels, pixels_at_once())


@dataclass(frozen=True)
class Kernel:
    """A function that is called in machine code; it gives nothing back, allocates nothing and holds no lock."""

    find: Callable[[], Callable[..., None]]
    """Gives the function; not called where its machine code is kept."""
    takes: tuple[str, ...]
    """Of each argument its type in numpy; of an array, how many axes it has as well: ``float32[2]``."""
    fastmath: frozenset[str]

    def __call__(self, *arguments: Any) -> None:
        """Call it. Raises TypeError for an array of another type or shape, or one that does not lie in one piece;
        RuntimeError where the function itself fails."""
        given: list[Any] = []
        for (dtype, axes), argument in zip(self._arguments, arguments, strict=True):
            if axes:
                if argument.dtype != dtype or argument.ndim != axes or not argument.flags.c_contiguous:
                    raise TypeError(f"{self.name} takes {dtype} of {axes} axes in one piece, not {argument.dtype}")
                # As numba takes an array apart; the first two would tell who owns the memory. ``ctypes.data`` tells the
                # address as well, and takes five times as long.
                at = argument.__array_interface__["data"][0]
                given += [None, None, argument.size, argument.itemsize, at]
                given += [*argument.shape, *argument.strides]
            else:
                given.append(argument)
        function, _home = self._called  # both: from Python 3.12 on another thread may find them anew meanwhile
        if function(_NOWHERE, _NOWHERE, *given):
            raise RuntimeError(f"{self.name} failed")

    @property
    def name(self) -> str:
        """What it is called in messages, and where it is kept."""
        return self.find.__name__

    @property
    def key(self) -> str:
        """What its machine code is kept under: its name and what it takes."""
        return f"{self.name}({', '.join(self.takes)})"

    def ready(self) -> None:
        """Have the machine code at hand, compiled now where it is not kept; else the first call does that."""
        _ = self._called

    @cached_property
    def _arguments(self) -> list[tuple[np.dtype[Any], int]]:
        parts = (text.rstrip("]").split("[") for text in self.takes)
        return [(np.dtype(name), int(axes[0]) if axes else 0) for name, *axes in parts]

    @cached_property
    def _called(self) -> tuple[Any, Code]:
        """The function as Python calls it, and the code that has to live as long."""
        code = _code(self.key, self.find.__module__, self.compiled)
        kinds: list[Any] = [ctypes.c_void_p, ctypes.c_void_p]
        for dtype, axes in self._arguments:
            array = [ctypes.c_void_p] * 2 + [ctypes.c_int64] * 2 + [ctypes.c_void_p] + [ctypes.c_int64] * (2 * axes)
            kinds += array if axes else [np.ctypeslib.as_ctypes_type(dtype)]
        return ctypes.CFUNCTYPE(ctypes.c_int32, *kinds)(code.address), code

    def compiled(self) -> Object:
        """Compile it now. Without numba's runtime, which would count who holds an array: no kernel allocates one."""
        from numba import njit, types

        plain = [(getattr(types, str(dtype)), axes) for dtype, axes in self._arguments]
        kinds = [types.Array(kind, axes, "C") if axes else kind for kind, axes in plain]
        options: dict[str, Any] = {"error_model": "numpy", "fastmath": set(self.fastmath), "_nrt": False}
        nobody: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}  # calls it but ``__call__``
        with _no_search_for_garbage():
            made: Any = next(iter(njit(types.void(*kinds), **options, **nobody)(self.find()).overloads.values()))
        return object_of(made.library, made.fndesc.llvm_func_name)


def kernel(*takes: str, fastmath: frozenset[str] = frozenset()) -> Callable[[Callable[[], Any]], Kernel]:
    """Make a kernel of a function that finds one, and imports its module for that: neither it nor numba is imported
    where machine code is kept. takes: see ``Kernel``; fastmath: liberties with arithmetic, as numba names them."""
    return lambda find: Kernel(find, takes, fastmath)


@contextlib.contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """numba makes millions of small objects and keeps most: looking through them was a sixth of the time it took."""
    from numba.core.compiler_lock import global_compiler_lock

    with global_compiler_lock:  # whoever compiles meanwhile, in another thread, would else put back what we set
        before = gc.get_threshold()
        gc.set_threshold(0)
        try:
            yield
        finally:
            gc.set_threshold(*before)


_NOWHERE = ctypes.create_string_buffer(16)
"""Where numba's functions put what they give back, which is nothing, and where they tell of errors."""


def kept(function: Callable[..., Any], signature: Any, *, joined: bool = False, **options: Any) -> Any:
    """``numba.njit(signature, cache=True, **options)`` of ``function``, kept in the folder of its module.

    joined: let LLVM do in one step what is written out for a few neighbours.
    """
    from numba import njit

    module = function.__module__
    try:
        with (
            one_at_a_time(kernel_folder(module) / function.__name__), kept_between_runs(module),
            _no_search_for_garbage(), _neighbours_joined() if joined else contextlib.nullcontext(),
        ):  # fmt: skip
            return _made_again_if_damaged(
                lambda: njit(signature, cache=True, **options)(function), function.__name__, module
            )
    except OSError as fault:
        tell_no_cache(str(fault))
        return njit(signature, **options)(function)


@contextlib.contextmanager
def _neighbours_joined() -> Iterator[None]:
    """LLVM's SLP vectoriser, which numba leaves out, for what is compiled in this block; others wait meanwhile, so that
    nothing else is compiled with it."""
    from numba import config
    from numba.core.compiler_lock import global_compiler_lock

    with global_compiler_lock:
        before = getattr(config, "SLP_VECTORIZE", 0)
        setattr(config, "SLP_VECTORIZE", 1)  # noqa: B010
        try:
            yield
        finally:
            setattr(config, "SLP_VECTORIZE", before)  # noqa: B010


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
