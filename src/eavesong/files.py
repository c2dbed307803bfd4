"""Reading descriptions and writing results: TOML with places, content hashes, files that are whole or absent."""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import stat
import tempfile
import tomllib
import unicodedata
from collections.abc import Iterator
from contextvars import ContextVar
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from eavesong.errors import EavesongError, MisfitError, OutputError, Problem, nearest
from eavesong.leftovers import clear_once, fitting_name, mark, marked_folder
from eavesong.misfits import problems_of
from eavesong.statements import too_much
from eavesong.words import no_text

if TYPE_CHECKING:
    from pydantic import BaseModel

    Model = TypeVar("Model", bound=BaseModel)

LARGEST_TEXT = 8 << 20
"""Bytes of the largest text file that is read: a description is written by hand, a points file by a survey."""


def content_hash(*parts: bytes | str) -> str:
    """SHA-256 (FIPS 180-4) of the parts in order, each preceded by its length, as 64 hex digits."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "little"))
        digest.update(data)
    return digest.hexdigest()


_READ: ContextVar[dict[str, str] | None] = ContextVar("texts that have been read", default=None)


@contextlib.contextmanager
def each_read_once(read: dict[str, str]) -> Iterator[None]:
    """Within, every text is read from the disk once, and kept in ``read`` by its path: what is hashed is what was used,
    whoever writes into the file meanwhile."""
    before = _READ.set(read)
    try:
        yield
    finally:
        _READ.reset(before)


def read_text(path: str | Path, error: type[EavesongError]) -> str:
    """The UTF-8 text of ``path``, or ``error`` when it is missing, a folder, too large or not text."""
    name = str(path)
    if (read := _READ.get()) is None:
        return _read(name, path, error)
    if name not in read:
        read[name] = _read(name, path, error)
    return read[name]


def _read(name: str, path: str | Path, error: type[EavesongError]) -> str:
    try:
        if os.path.getsize(path) > LARGEST_TEXT:
            advice = "Split it." if name.endswith(".toml") else "Is it a text? Perhaps two names were exchanged."
            what = f"is {no_text(name, b'')}, and" if no_text(name, b"") else "is"
            raise error(Problem(name, "", f"{what} larger than 8 MiB", advice))
        if not os.path.isfile(path):
            inside = sorted(
                each for each in _files_beside(Path(path, "x")) if each.endswith(Path(name).suffix or ".toml")
            )
            raise error(Problem(name, "", "is not a file", f"Name a file in it: {', '.join(inside[:6])}." if inside
                                else "Name a file."))  # fmt: skip
        data = Path(path).read_bytes()
        return data.decode("utf-8-sig")
    except FileNotFoundError:
        beside = _files_beside(Path(path))
        close = f"{Path(path).name}.toml" if f"{Path(path).name}.toml" in beside else nearest(Path(path).name, beside)
        advice = f"Did you mean '{close}'?" if close else ""
        raise error(Problem(name, "", "there is no such file", advice)) from None
    except UnicodeDecodeError as fault:
        if what := no_text(name, data):
            raise error(Problem(name, "", f"is {what}, where a text belongs", "Were two names exchanged?")) from None
        raise error(Problem(name, f"byte {fault.start}", "is not UTF-8 text", "Save the file as UTF-8.")) from None
    except OSError as fault:
        raise error(Problem(name, "", f"cannot be read: {fault.strerror or fault}")) from None
    except ValueError:  # a NUL character, which no path can hold
        raise error(Problem(name.replace("\0", "?"), "", "is no path")) from None


def _files_beside(path: Path) -> list[str]:
    try:
        return [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return []


def parse_toml(text: str, name: str, error: type[EavesongError]) -> dict[str, Any]:
    """The tables of a TOML 1.0 text, or ``error`` with the line and column where it stops being TOML."""
    if beyond := too_much(text):
        raise error(Problem(name, *beyond, "Name the right file, or split it."))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        found, _, where = str(fault).partition(" (at ")
        where = where.rstrip(")").replace("end of document", f"line {text.rstrip().count(chr(10)) + 1}, end of file")
        raise error(Problem(name, where, f"is not TOML: {found[:1].lower()}{found[1:]}")) from None
    except (RecursionError, ValueError):
        raise error(Problem(name, "", "is not TOML that can be read: nested too deeply or a number too long")) from None


def read_model(
    model: type[Model], text: str, name: str, error: type[EavesongError], tables: dict[str, Any] | None = None
) -> Model:
    """Validate TOML ``text`` against a pydantic ``model``; every misfit becomes a problem with its place.

    ``tables`` are the parsed tables when the caller has changed them after reading.
    """
    from pydantic import ValidationError

    if tables is None:
        tables = parse_toml(text, name, error)
    try:
        return model.model_validate(tables)
    except ValidationError as fault:
        raise error(problems_of(fault, text, name, model, tables)) from None


@contextlib.contextmanager
def whole_file(path: str | Path, *, synced: bool = True) -> Iterator[Path]:
    """A temporary path beside ``path`` that takes its name only if the block ends well.

    Whatever interrupts the block, ``path`` is either what it was or complete: the temporary file is flushed to
    the disk before it is renamed, and removed when the block fails; a killed process leaves it to the next one that
    writes to the folder. A link is followed; a file that is replaced hands its permissions on. Raises OutputError
    when the folder is missing or cannot be written to, the disk is full, or a folder, pipe or device stands in the way.
    synced: False for what bears a checksum and can be made again; it is not flushed.
    """
    target = Path(os.path.realpath(path))
    if target.exists() and not target.is_file():
        raise OutputError(Problem(str(path), "", "is not a file that could be written anew", "Choose another name."))
    try:
        clear_once(Path(tempfile.gettempdir()))
        clear_once(target.parent)
        name = fitting_name(target.name, room=len(mark()) + 20)
        handle, draft = tempfile.mkstemp(prefix=f".{name}.{mark()}.", suffix=".part", dir=target.parent)
        os.close(handle)
    except OSError as fault:
        raise _cannot_write(target, fault) from None
    try:
        yield Path(draft)
        if synced:
            with open(draft, "rb+") as written:
                os.fsync(written.fileno())
        os.chmod(draft, stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666 & ~_umask())
        os.replace(draft, target)
    except OSError as fault:
        raise _cannot_write(target, fault) from None
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(draft)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _cannot_write(target: Path, fault: OSError) -> OutputError:
    advice = "Make the folder first, or write elsewhere." if isinstance(fault, FileNotFoundError) else ""
    return OutputError(Problem(str(target), "", f"cannot be written: {fault.strerror or fault}", advice))


def plain_text(text: str) -> str:
    """``text`` itself; MisfitError where it holds control characters, which could command the terminal showing it."""
    if any(unicodedata.category(letter) == "Cc" and letter not in "\n\r\t" for letter in text):
        raise MisfitError("this holds control characters", "Write plain text.")
    return text


def write_whole(path: str | Path, data: bytes | str, *, synced: bool = True) -> None:
    """Write ``data`` to ``path`` in one step: readers see the old file or the new one, never a part (`whole_file`)."""
    with whole_file(path, synced=synced) as draft:
        draft.write_bytes(data.encode() if isinstance(data, str) else data)


PROBE = 1 << 20
"""Bytes that a cache has to have room for to be worth using: what is kept of one song takes about as much."""


def user_cache() -> Path:
    """The folder for what can be made again: ``EAVESONG_CACHE`` where set, else the system's usual place.

    Where nothing can be written there (full, read-only), a temporary folder until this process ends, and that is said.
    """
    from platformdirs import user_cache_path

    chosen = os.environ.get("EAVESONG_CACHE")
    return _usable(Path(chosen) if chosen else user_cache_path("eavesong", appauthor=False))


@lru_cache
def _usable(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        clear_once(folder)
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(bytes(PROBE))
            probe.flush()
    except OSError as fault:
        tell_no_cache(f"{folder}: {fault.strerror or fault}")
        temporary = marked_folder("cache")
        atexit.register(temporary.__exit__, None, None, None)
        return temporary.__enter__()
    return folder


@lru_cache(maxsize=1)
def tell_no_cache(reason: str) -> None:
    """Say, once, that what is made now is not kept for the next time."""
    import logging

    logging.getLogger("eavesong").warning("The cache is of no use; going on without it, only slower. (%s)", reason)


def shipped(kind: str) -> Path:
    """The folder of files that come with eavesong: ``kind`` is ``effects`` or ``layouts``."""
    package = Path(__file__).parent
    installed = package / "shipped" / kind
    return installed if installed.is_dir() else package.parents[1] / kind
