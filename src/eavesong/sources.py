"""Which code made this: one fingerprint for everything that is kept between runs.

What is kept (compiled kernels, heard songs, frames) is right for as long as the code that it came from is the same. A
fingerprint of a module covers its own source and that of every eavesong module that it imports, at its head or inside
a function, and so on down; found by reading the sources, so that nobody has to keep a list. What makes no difference
to what runs (comments, docstrings, layout of the text) makes none to the fingerprint; the versions of the packages that
compute, and the processor where machine code is kept, do.
"""

from __future__ import annotations

import ast
import contextlib
import json
import os
import platform
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from types import CodeType

from eavesong.files import content_hash, user_cache, write_whole

PACKAGE = Path(__file__).parent
COMPUTING = ("numpy", "scipy", "numba", "llvmlite", "librosa", "soundfile", "av")
"""Packages whose version may change a result."""


@cache
def fingerprint(module: str, *, machine: bool = False) -> str:
    """SHA-256, in hex, of all code that ``module`` stands on, and of the versions of what computes.

    module: its full name, ``eavesong.music.listening``. machine: whether the processor counts too, as it does for
    machine code. Raises ValueError for a module that is none of ours.
    """
    parts = [f"{name} {digest}" for name, digest in sorted(_below(module).items())]
    return content_hash(*parts, *_versions(), *([_processor()] if machine else []))


def stands_on(module: str) -> tuple[str, ...]:
    """The modules whose code counts in the fingerprint of ``module``, itself among them, in alphabetical order."""
    return tuple(sorted(_below(module)))


@cache
def _below(module: str) -> dict[str, str]:
    """The hash of the code of every module that ``module`` stands on, by its name."""
    if module not in _paths():
        raise ValueError(f"'{module}' is no module of eavesong")
    found: dict[str, str] = {}
    waiting = [module]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = _known(name).digest
            waiting += _modules_of(_known(name).imports)
    _keep()
    return found


def _modules_of(imports: Sequence[Sequence[str]]) -> Iterator[str]:
    """The modules of ours behind imports, (module, name) each; a name that a package hands on leads to its home."""
    for module, name in imports:
        if f"{module}.{name}" in _paths():
            yield f"{module}.{name}"
        elif module in _paths():
            home = _known(module).exports.get(name, "")
            yield home if home in _paths() else module


@cache
def _versions() -> tuple[str, ...]:
    found: dict[str, str] = {}
    for folder in sys.path:
        for name, told in _installed(folder).items():
            found.setdefault(name, told)
    versions = {name: found.get(name) or _told_by_python(name) for name in COMPUTING}
    return tuple(f"{name} {version}" for name, version in versions.items() if version)


def _told_by_python(name: str) -> str:
    """The version of a package that was installed in another way; empty where there is none."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _installed(folder: str) -> dict[str, str]:
    """The versions of those of COMPUTING that are installed in a folder, by their names.

    Told by the names of the folders ``name-version.dist-info`` that installers make ("Recording installed projects",
    PyPA specifications): the standard library's way takes longer to import than all of this.
    """
    try:
        entries = sorted(os.listdir(folder or "."))
    except OSError:
        return {}
    parted = (entry.removesuffix(".dist-info").rpartition("-") for entry in entries if entry.endswith(".dist-info"))
    return {name.lower(): told for name, _, told in parted if name.lower() in COMPUTING}


def _processor() -> str:
    """The kind of processor, with what it can do where the system tells."""
    flags = ""
    with contextlib.suppress(OSError), open("/proc/cpuinfo", encoding="utf-8", errors="replace") as told:
        flags = next((line for line in told if line.startswith(("flags", "Features"))), "")
    # Python has another program tell the processor's name, and imports what starts one: only where nothing else does.
    return f"{platform.machine()} {flags.strip() or platform.processor()}"


@dataclass(frozen=True)
class KnownModule:
    """What is known of one module."""

    mark: str
    """Size and times of its file: while they are the same, so is the rest."""
    digest: str
    """SHA-256 of its code, without comments and docstrings."""
    imports: list[list[str]]
    """(module, name) of what it imports from eavesong; the name is empty for a whole module."""
    exports: dict[str, str]
    """The home of each name that a package hands on."""


@cache
def _paths() -> dict[str, Path]:
    """Every module of eavesong, by its name."""
    return {_name_of(path): path for path in PACKAGE.rglob("*.py")}


@cache
def _known(name: str) -> KnownModule:
    """What is known of a module: what was kept of it while its file is the same, else it is read."""
    path = _paths()[name]
    mark = _mark(path)
    known = _kept().get(name)
    if known is None or known.mark != mark:
        known = _kept()[name] = _read(name, path, mark)
        _unkept.add(name)
    return known


_unkept: set[str] = set()
"""Modules that were read and not written to the cache yet. Reading takes a millisecond each, so it is kept as well."""


@cache
def _kept() -> dict[str, KnownModule]:
    """What is known of modules by their names; some of it of files that have changed since."""
    try:
        told = json.loads(_kept_at().read_text(encoding="utf-8"))
        return {name: KnownModule(**entry) for name, entry in told.items()}
    except Exception:  # missing or damaged: made again
        return {}


@cache
def _kept_at() -> Path:
    own = Path(__file__).read_bytes()  # it says how the others are read
    return user_cache() / f"sources-{content_hash(str(PACKAGE), sys.version, own)[:16]}.json"


def _keep() -> None:
    """Write what is known to the cache, if any of it is new."""
    if _unkept:
        _unkept.clear()
        with contextlib.suppress(Exception):  # a full or read-only cache costs half a second, and nothing else
            write_whole(_kept_at(), json.dumps({name: asdict(source) for name, source in list(_kept().items())}))


def _mark(path: Path) -> str:
    """Sizes and times of a module's file, and of what lies beside it and is no module: its stub, data it may read."""
    return f"{_stamp(path)}{_marks_beside(path.parent)}"


def _stamp(path: str | Path) -> str:
    """Size and times of a file. Whoever copies one may give it an old time, but not an old time of change."""
    stat = os.stat(path)
    return f" {stat.st_size} {stat.st_mtime_ns} {stat.st_ctime_ns}"


@cache
def _marks_beside(folder: Path) -> str:
    return "".join(map(_stamp, sorted(file for files in _data_beside(folder).values() for file in files)))


@cache
def _data_beside(folder: Path) -> dict[str, list[str]]:
    """The paths of what is no module, by the name that a module would read it by: its own, or that of its folder."""
    found: dict[str, list[str]] = {}
    for entry in os.scandir(folder):
        if entry.is_dir() and entry.name != "__pycache__":
            inside = [each.path for each in os.scandir(entry) if each.is_file()]
            found |= {entry.name: inside} if not any(path.endswith(".py") for path in inside) else {}
        elif entry.is_file() and not entry.name.endswith(".py"):
            found[entry.name] = [entry.path]
    return found


def _name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _read(name: str, path: Path, mark: str) -> KnownModule:
    tree = ast.parse(path.read_bytes())
    imports = sorted({pair for line in _running(tree) for pair in _imports_of(line, name)})
    exports: dict[str, str] = {}
    if path.name == "__init__.py":
        stub = path.with_suffix(".pyi")  # where names that are loaded late have their home
        for handed in (tree, *([ast.parse(stub.read_bytes())] if stub.exists() else ())):
            exports |= {label: module for line in ast.walk(handed) for module, label in _imports_of(line, f"{name}.")}
    for line in _statements(tree):
        _without_docstring(line)
    parts = list(_parts(compile(tree, "", "exec", dont_inherit=True, optimize=0)))
    data = [Path(file).read_bytes() for file in _files_named(set(parts), path.parent)]
    return KnownModule(mark, content_hash(ascii(parts), *data), [list(pair) for pair in imports], exports)


def _parts(code: CodeType) -> Iterator[str]:
    """All of compiled code that runs, and nothing of where it stood in its file; texts in it as they are."""
    shape = (code.co_argcount, code.co_posonlyargcount, code.co_kwonlyargcount, code.co_flags, code.co_name)
    names = (code.co_names, code.co_varnames, code.co_freevars, code.co_cellvars)
    yield repr((shape, names, code.co_code, code.co_exceptiontable, len(code.co_consts)))
    for constant in code.co_consts:
        yield from _parts_of(constant)


def _parts_of(constant: object) -> Iterator[str]:
    """One constant of compiled code, told apart from any other."""
    yield type(constant).__name__
    if isinstance(constant, CodeType):
        yield from _parts(constant)
    elif isinstance(constant, str):
        yield constant
    elif isinstance(constant, tuple):
        yield str(len(constant))
        for each in constant:
            yield from _parts_of(each)
    else:  # a set has no order of its own
        yield repr(sorted(map(repr, constant)) if isinstance(constant, frozenset) else constant)


def _files_named(texts: set[str], folder: Path) -> list[str]:
    """The files beside a module whose names, or whose folder's name, stand in it, such as the numbers of a model."""
    return sorted(file for name, files in _data_beside(folder).items() if name in texts for file in files)


def _imports_of(node: ast.AST, name: str) -> Iterator[tuple[str, str]]:
    """(module, name) of what a statement in the module ``name`` imports from eavesong."""
    if isinstance(node, ast.Import):
        yield from ((alias.name, "") for alias in node.names if alias.name.startswith("eavesong"))
    elif isinstance(node, ast.ImportFrom):
        above = name.split(".")[: -node.level] if node.level else []
        home = ".".join([*above, *([node.module] if node.module else [])])
        if home.split(".")[0] == "eavesong":
            yield from ((home, alias.name) for alias in node.names)


def _running(tree: ast.AST) -> Iterator[ast.AST]:
    """The statements of a module, but for those below TYPE_CHECKING, which are for type checkers alone."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        line = waiting.pop()
        if isinstance(line, ast.If) and isinstance(line.test, ast.Name) and line.test.id == "TYPE_CHECKING":
            waiting += line.orelse
            continue
        yield line
        waiting += _inside(line)


def _statements(tree: ast.AST) -> Iterator[ast.AST]:
    """A module and all statements in it."""
    waiting = [tree]
    while waiting:
        line = waiting.pop()
        yield line
        waiting += _inside(line)


def _inside(line: ast.AST) -> Iterator[ast.AST]:
    """The statements right inside a statement, a handler or a case; expressions hold none."""
    for block in ("body", "orelse", "finalbody", "handlers", "cases"):
        inside = getattr(line, block, None)
        if isinstance(inside, list):
            yield from inside


def _without_docstring(node: ast.AST) -> None:
    """Take bare texts out of a body: docstrings, and those that tell of the line above them."""
    body = getattr(node, "body", None)
    if isinstance(body, list):
        kept = [line for line in body if not _is_bare_text(line)]
        node.body = kept or [ast.Pass(lineno=1, col_offset=0)]  # type: ignore[attr-defined]


def _is_bare_text(line: ast.AST) -> bool:
    return isinstance(line, ast.Expr) and isinstance(line.value, ast.Constant) and isinstance(line.value.value, str)
