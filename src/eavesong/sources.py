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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

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
    known = _read_all()
    if module not in known:
        raise ValueError(f"'{module}' is no module of eavesong")
    found: dict[str, str] = {}
    waiting = [module]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = known[name].digest
            waiting += _modules_of(known[name].imports, known)
    return found


def _modules_of(imports: Sequence[Sequence[str]], known: Mapping[str, KnownModule]) -> Iterator[str]:
    """The modules of ours behind imports, (module, name) each; a name that a package hands on leads to its home."""
    for module, name in imports:
        if f"{module}.{name}" in known:
            yield f"{module}.{name}"
        elif module in known and (home := known[module].exports.get(name, "")) in known:
            yield home
        elif module in known:
            yield module


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
    return f"{platform.machine()} {platform.processor()} {flags.strip()}"


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
def _read_all() -> dict[str, KnownModule]:
    """Every module of eavesong.

    Reading them all takes half a second, so that is kept too; a file is read again when its size or time changed.
    """
    paths = {_name_of(path): path for path in PACKAGE.rglob("*.py")}
    own = Path(__file__).read_bytes()  # it says how the others are read
    kept_at = user_cache() / f"sources-{content_hash(str(PACKAGE), own)[:16]}.json"
    kept = _kept(kept_at)
    found: dict[str, KnownModule] = {}
    for name, path in paths.items():
        mark = _mark(path)
        known = kept.get(name)
        found[name] = known if known and known.mark == mark else _read(name, path, mark)
    if found != kept:
        with contextlib.suppress(Exception):  # a full or read-only cache costs half a second, and nothing else
            write_whole(kept_at, json.dumps({name: asdict(source) for name, source in found.items()}))
    return found


def _kept(path: Path) -> dict[str, KnownModule]:
    try:
        return {name: KnownModule(**entry) for name, entry in json.loads(path.read_text(encoding="utf-8")).items()}
    except Exception:  # missing or damaged: made again
        return {}


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
    imports = sorted({pair for node in _running(tree) for pair in _imports_of(node, name)})
    exports: dict[str, str] = {}
    if path.name == "__init__.py":
        stub = path.with_suffix(".pyi")  # where names that are loaded late have their home
        for handed in (tree, *([ast.parse(stub.read_bytes())] if stub.exists() else ())):
            exports |= {label: module for node in ast.walk(handed) for module, label in _imports_of(node, f"{name}.")}
    for node in ast.walk(tree):
        _without_docstring(node)
    data = [Path(file).read_bytes() for file in _files_named(tree, path.parent)]
    return KnownModule(mark, content_hash(ast.dump(tree), *data), [list(pair) for pair in imports], exports)


def _files_named(tree: ast.AST, folder: Path) -> list[str]:
    """The files beside a module whose names, or whose folder's name, stand in it, such as the numbers of a model."""
    texts = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}
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
    """The nodes of a tree, but for what stands below TYPE_CHECKING, which is for type checkers alone."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            waiting += node.orelse
            continue
        yield node
        waiting += ast.iter_child_nodes(node)


def _without_docstring(node: ast.AST) -> None:
    """Take bare texts out of a body: docstrings, and those that tell of the line above them."""
    body = getattr(node, "body", None)
    if isinstance(body, list):
        node.body = [line for line in body if not _is_bare_text(line)]  # type: ignore[attr-defined]


def _is_bare_text(line: ast.AST) -> bool:
    return isinstance(line, ast.Expr) and isinstance(line.value, ast.Constant) and isinstance(line.value.value, str)
