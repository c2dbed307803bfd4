"""Reading descriptions and writing results: TOML with places, content hashes, files that are whole or absent."""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import re
import stat
import tempfile
import tomllib
import unicodedata
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from eavesong.errors import EavesongError, MisfitError, OutputError, Problem, advise, nearest
from eavesong.leftovers import clear_once, fitting_name, mark, marked_folder
from eavesong.meant import meant, rest_meant, telling
from eavesong.statements import lines_by_path, too_much
from eavesong.words import elsewhere, no_text

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

    Model = TypeVar("Model", bound=BaseModel)

LARGEST_TEXT = 8 << 20
"""Bytes of the largest text file that is read: a description is written by hand, a points file by a survey."""

MOST_TOLD = 100
"""Problems of one file that are put into words one by one."""

MOST_MISFITS = 50_000
"""Values of one file that do not fit, beyond which they are only counted."""


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
        if (count := fault.error_count()) > MOST_MISFITS:
            advice = "Name the right file."
            raise error(Problem(name, "", f"{count:,} values do not fit", advice, count)) from None
        found = telling(fault.errors(include_url=False), nearest)
        found.sort(key=lambda details: _line_of(text, _path_in_file(details["loc"], tables)))
        problems = [_problem(details, text, name, model, tables) for details in found[:MOST_TOLD]]
        if more := len(found[MOST_TOLD:]):
            problems.append(Problem(name, "", f"{more:,} more problems follow", count=more))
        raise error(dict.fromkeys(problems)) from None


def _problem(details: ErrorDetails, text: str, name: str, model: type[BaseModel], tables: dict[str, Any]) -> Problem:
    kind, location = details["type"], details["loc"]
    path = _path_in_file(location, tables)
    key = str(location[-1]) if location else ""
    if kind == "extra_forbidden":
        if len(location) > 1 and key in _keys_beside(model, ()):
            advice = "A key belongs to the [header] above it: move the line up, above the first [header] of the file."
            return Problem(name, place(text, path), f"'{key}' is no key of this table, but of the whole file", advice)
        instead = elsewhere(key) or advise(key, _keys_beside(model, location[:-1]), "key")
        return Problem(name, place(text, path), f"'{key}' is not a key here", instead)
    if kind == "union_tag_not_found":
        kind, key = "missing", details["ctx"]["discriminator"].strip("'")
        if isinstance(details["input"], dict) and (slip := nearest(key, details["input"])):
            return Problem(name, place(text, (*path, slip)), f"'{slip}' is not a key here", f"Did you mean '{key}'?")
    if details["type"] == "missing" and location and isinstance(location[-1], int):
        return Problem(name, place(text, path), *rest_meant(details["input"], location[-1]))
    if kind == "missing":
        parent = str(location[-2]) if len(location) > 1 else ""
        braces = re.search(rf"^\s*{re.escape(parent)}\s*=\s*\{{", text, re.MULTILINE) if parent else None
        advice = f"Write '{key} = …' inside the braces of '{parent}'." if braces else f"Add a line '{key} = …'."
        return Problem(name, place(text, path), f"'{key}' is missing", advice)
    if kind == "union_tag_invalid":
        key, wrong = details["ctx"]["discriminator"].strip("'"), details["ctx"]["tag"]
        tags = re.findall(r"'([^']*)'", details["ctx"]["expected_tags"])
        return Problem(name, place(text, (*path, key)), f"'{wrong:.60}' is no {key}", advise(wrong, tags, key))
    given = _as_written(details["input"])
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", details["ctx"]["expected"])
        advice = advise(details["input"], choices, "choice") if isinstance(details["input"], str) else ""
        advice = advice or f"Write one of {details['ctx']['expected']}."
        return Problem(name, place(text, path), f"{given} is not one of the choices", advice)
    fault = details.get("ctx", {}).get("error")
    if isinstance(fault, MisfitError):
        shown = f" (found {given})" if given and given not in fault.found else ""
        return Problem(name, place(text, path), fault.found + shown, fault.instead)
    units = str(tables.get("units", "m")) if "units" in model.model_fields else ""
    advice = meant(kind, details["input"], details.get("ctx", {}), units)
    return Problem(name, place(text, path), _told(details["msg"], kind, given), advice)


def _as_written(given: Any) -> str:
    """A value as it stands in a TOML file, shortened; empty for what is written as a table or an array."""
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, int) and given.bit_length() > 200:  # str() itself refuses the longest
        return "a number of more than 60 digits"
    if isinstance(given, str) and len(given) > 60:
        given = given[:59] + "…"
    return repr(given) if isinstance(given, str | int | float) else ""


_PLAINLY = (
    (" after validation", ""),
    ("Tuple should", "Array should"),
    ("List should", "Array should"),
    ("a valid list", "an array"),
    ("tuple", "array"),
    ("a valid integer", "a whole number"),
    ("a valid number", "a number"),
    ("a valid string", "text in quotes"),
    ("a valid boolean", "true or false"),
    ("a valid array", "an array"),
    ("greater than or equal to", "at least"),
    ("less than or equal to", "at most"),
)
"""Words of pydantic's messages, and those of TOML or of everyone."""


def _told(sentence: str, kind: str, given: str) -> str:
    """A pydantic message as a part of a sentence, with the value it is about."""
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        sentence = "Input should be a table"
    for theirs, plain in _PLAINLY:
        sentence = sentence.replace(theirs, plain)
    if sentence.startswith("Input should be "):
        return sentence.replace("Input should be ", "must be ") + (f", not {given}" if given else "")
    shown = f" (found {given})" if given else ""
    return f"{sentence[:1].lower()}{sentence[1:]}{shown}"


def _path_in_file(location: Sequence[str | int], tables: Any) -> tuple[str | int, ...]:
    """Drop from a pydantic location what does not stand in the file: union branches, keys that are missing."""
    path: list[str | int] = []
    here = tables
    for part in location:
        known = range(len(here)) if isinstance(here, list) else here if isinstance(here, dict) else ()
        if part in known:
            here = here[part]
            path.append(part)
    return tuple(path)


def _keys_beside(model: type[BaseModel], location: Sequence[str | int]) -> set[str]:
    """The keys that any model along ``location`` accepts at its end."""
    from pydantic import BaseModel as Base

    def models_in(annotation: Any) -> Iterator[type[Base]]:
        """The models that an annotation names, at any depth."""
        if isinstance(annotation, type) and issubclass(annotation, Base):
            yield annotation
        for inner in getattr(annotation, "__args__", ()):
            yield from models_in(inner)
        if hasattr(annotation, "__value__"):
            yield from models_in(annotation.__value__)

    def keys_of(some: type[Base]) -> dict[str, Any]:
        """The annotation of every key of a model, by the name that files use."""
        return {field.alias or key: field.annotation for key, field in some.model_fields.items()}

    level: list[type[Base]] = [model]
    for part in location:
        below = [inner for some in level for inner in models_in(keys_of(some).get(str(part)))]
        # A tagged union puts the tag ('arch') into the location: keep the models that carry it.
        tagged = [
            some
            for some in level
            if any(part in getattr(field.annotation, "__args__", ()) for field in some.model_fields.values())
        ]
        level = below or tagged or level
    return {key for some in level for key in keys_of(some)}


def place(text: str, path: Sequence[str | int]) -> str:
    """Where ``path`` stands in a TOML text, as a person would say it: ``line 12, cue 3, effect``.

    ``path`` is a sequence of keys and list positions from 0, as pydantic gives it. The line is that of the key
    itself or, when it is not written out on a line of its own, of the table it belongs to.
    """
    words: list[str] = []
    for part in path:
        if isinstance(part, int) and words:
            words[-1] = f"{words[-1]} {part + 1}"
        else:
            words.append(str(part))
    line = _line_of(text, path)
    return ", ".join(([f"line {line}"] if line else []) + words)


def _line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of the longest beginning of ``path`` that is written out in the text; 0 where there is none."""
    lines = lines_by_path(text)
    return next((lines[begin] for end in range(len(path), 0, -1) if (begin := tuple(path[:end])) in lines), 0)


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
