"""What stands between the reader and a file from a stranger: every fault becomes a FramesError in plain words."""

from __future__ import annotations

import contextlib
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.errors import FramesError, OutputError, Problem, advise
from eavesong.frames.format import CHECKSUM_BYTES, FORMAT, INFLATION, SKIP_DEFLATE

if TYPE_CHECKING:
    import h5py

AT_FIRST = "'eavesong render' makes one of a show and a house."
AGAIN = "Copy it again from where it came, or render it again."

SIGNATURE = b"\x89HDF\r\n\x1a\n"
"""HDF5 File Format Specification 3.0, II.A: the superblock's signature. Its fields below are from there too."""

FILTERS: tuple[list[int], ...] = ([], [1], [3], [1, 3])
"""DEFLATE and Fletcher-32: HDF5 has them built in and loads no plug-in for them. DEFLATE twice would make a million
bytes of one."""

ELSEWHERE = "is missing, or a link to somewhere else"

LARGEST_INFLATED = 1 << 30
"""Bytes that may come of a chunk unseen: a stored chunk of up to a mebibyte makes no more."""

MOST_LINKS = 10_000
"""Things in a group: thousands of effects are no show."""

LARGEST_ATTRIBUTE = 1 << 16
"""Bytes of an attribute: 64 KiB are what HDF5 keeps in an object's header."""

MOST_NAMED = 6
"""Files of a folder that are named."""

FAULTS = (OSError, RuntimeError, LookupError, ValueError, TypeError, AttributeError, OverflowError, MemoryError)
"""What h5py and numpy raise when a file does not hold what it should."""


def _files_in(folder: Path) -> str:
    """Advice for a folder where a frames file belongs: the frames files in it."""
    inside = sorted(entry.name for entry in folder.glob("*.h5")) if folder.is_dir() else []
    more = ", …" if len(inside) > MOST_NAMED else ""
    return f"Name a file in it: {', '.join(inside[:MOST_NAMED])}{more}." if inside else "Name a frames file, NAME.h5."


def look_at(path: str | Path) -> None:
    """Raise FramesError when ``path`` is missing or unreadable, no HDF5 file, cut short, or unfinished."""
    name = str(path)
    try:
        if os.path.exists(path) and not os.path.isfile(path):
            raise FramesError(Problem(name, "", "is not a file", _files_in(Path(path))))
        size = os.path.getsize(path)
        with open(path, "rb") as file:
            head = file.read(48)
    except FileNotFoundError:
        beside = Path(path).parent
        others = [entry.name for entry in beside.glob("*.h5")] if beside.is_dir() else []
        advice = advise(Path(path).name, others, "frames file") if others else AT_FIRST
        raise FramesError(Problem(name, "", "there is no such file", advice)) from None
    except OSError as fault:
        raise FramesError(Problem(name, "", f"cannot be read: {fault.strerror or fault}")) from None
    if not head:
        raise FramesError(Problem(name, "", "is empty", AGAIN))
    if not (head.startswith(SIGNATURE) or SIGNATURE.startswith(head)):
        if name.endswith(".toml"):
            raise FramesError(Problem(name, "", "is a text, where a frames file belongs", AT_FIRST))
        raise FramesError(Problem(name, "", "is not an HDF5 file", "Name a frames file."))
    _check_superblock(path, head, size)


def _check_superblock(path: str | Path, head: bytes, size: int) -> None:
    """Check the end of the file and the mark of an open writer, which superblocks of versions 2 and 3 hold."""
    if len(head) < 48:
        raise FramesError(Problem(str(path), "", f"is cut short after {size} bytes", AGAIN))
    if head[8] not in (2, 3) or head[9] != 8:
        return
    if head[11] & 1:
        raise FramesError(unfinished(path))
    end = int.from_bytes(head[28:36], "little")
    if size < end < 1 << 62:
        raise FramesError(Problem(str(path), "", f"is cut short: {size:,} of {end:,} bytes are there", AGAIN))


HEAD = 1 << 16
"""Bytes from a file's beginning within which a frames file names its tables."""

TABLES = (b"frames", b"places", b"metres", b"props", b"patch")
"""Names by which what is left of a damaged frames file is known."""


def refuse_foreign(path: str | Path, overwrite: bool = False) -> None:
    """Raise OutputError where frames written to ``path`` would take the place of what eavesong did not write.

    The one rule of all that writes frames: only an empty file, or one that says that it is a frames file, damaged or
    not, is replaced; anything else only where ``overwrite`` says so, and a folder never. A link is followed.
    """
    if os.path.isdir(path):
        raise OutputError(Problem(str(path), "", "is a folder", "Name a file in it, or choose another name."))
    if overwrite or not os.path.exists(path) or _is_ours(path):
        return
    instead = "Choose another name, delete it, or say --overwrite."
    raise OutputError(Problem(str(path), "", "is there already, and is no frames file of eavesong", instead))


def _is_ours(path: str | Path) -> bool:
    """Whether a file is empty, says in its attribute ``format`` that it is ours, or is what is left of such a one."""
    import h5py

    if not os.path.isfile(path):
        return False
    with contextlib.suppress(*FAULTS), h5py.File(path, "r") as file:
        said = file.attrs.get("format", b"")
        return bytes(said if isinstance(said, bytes) else str(said).encode()).startswith(FORMAT.encode())
    try:
        with open(path, "rb") as damaged:
            head = damaged.read(HEAD)
    except OSError:
        return False
    return not head or (head.startswith(SIGNATURE) and all(name in head for name in TABLES))


def unfinished(path: str | Path) -> Problem:
    """The problem of a file whose writer never came to its end."""
    return Problem(str(path), "", "was not finished: its writer was interrupted, or is still at it", AGAIN)


def damaged(path: str | Path, place: str, found: str) -> Problem:
    """The problem of something that is not as it was written."""
    return Problem(str(path), place, found, AGAIN)


@contextlib.contextmanager
def readable(path: str | Path, place: str = "") -> Iterator[None]:
    """Turn everything h5py raises on damaged or foreign content into FramesError."""
    try:
        yield
    except FramesError:
        raise
    except FAULTS:
        found = "is damaged" if place else "is damaged where it describes itself"
        raise FramesError(damaged(path, place, found)) from None


def check_links(path: str | Path, file: h5py.File) -> tuple[str, ...]:
    """The names of the texts, of a file that has none but hard links in its root and in ``/texts``.

    HDF5 opens whatever other links name: another file, or a pipe that never says anything. So FramesError before
    anything they name is opened.
    """
    import h5py

    if b"texts" not in _hard_links(path, h5py.h5g.open(file.id, b"/"), ""):
        return ()
    group = h5py.h5o.open(file.id, b"texts")
    if not isinstance(group, h5py.h5g.GroupID):
        raise FramesError(damaged(path, "/texts", "is no group"))
    return tuple(name.decode() for name in _hard_links(path, group, "texts/"))


def _hard_links(path: str | Path, group: h5py.h5g.GroupID, within: str) -> tuple[bytes, ...]:
    """The names in a group; FramesError where one is another link than a hard one."""
    from h5py import h5l

    if group.get_num_objs() > MOST_LINKS:
        found = f"holds {group.get_num_objs():,} things, more than {MOST_LINKS:,}"
        raise FramesError(damaged(path, f"/{within}", found))
    names = tuple(group)
    other = [name for name in names if group.links.get_info(name).type != h5l.TYPE_HARD]
    if other:
        raise FramesError([damaged(path, f"/{within}{name.decode(errors='replace')}", ELSEWHERE) for name in other])
    return names


def walk_through(file: h5py.File) -> None:
    """Look at every object and attribute of a file as tools do that list it: they read more than the frames need.

    Raises what ``readable`` turns into FramesError where HDF5 finds damage. Follows no link out of the file.
    """
    import h5py

    def look(name: bytes, _info: h5py.h5o.ObjInfo) -> None:
        """Open one object and all its attributes; h5py raises where one is damaged."""
        found = h5py.h5o.open(file.id, name)
        h5py.h5a.iterate(found, lambda attribute: h5py.h5a.open(found, attribute).close())

    h5py.h5o.visit(file.id, look, info=True)


def dataset(path: str | Path, file: h5py.File, name: str, largest: int) -> h5py.Dataset:
    """The dataset ``name``, if it lies in this very file, needs no plug-in, and at most ``largest`` bytes at once.

    Data kept outside or composed of other files would have the reader open what the
    user did not name: HDF5 does so when it is asked for the shape, so the plan is looked at before.
    """
    import h5py

    where = h5py.h5g.open(file.id, b"/")
    for part in name.encode().split(b"/"):  # not ``name in file``, which follows what it finds
        if not isinstance(where, h5py.h5g.GroupID) or not _is_hard(where, part):
            raise FramesError(damaged(path, f"/{name}", ELSEWHERE))
        where = h5py.h5o.open(where, part)
    if not isinstance(where, h5py.h5d.DatasetID):
        raise FramesError(damaged(path, f"/{name}", "is not a table inside this file"))
    plan = where.get_create_plist()
    if plan.get_layout() == h5py.h5d.VIRTUAL or plan.get_external_count():
        raise FramesError(damaged(path, f"/{name}", "is not a table inside this file"))
    if [plan.get_filter(index)[0] for index in range(plan.get_nfilters())] not in FILTERS:
        raise FramesError(damaged(path, f"/{name}", "needs a filter other than DEFLATE and Fletcher-32"))
    kind = where.dtype
    if kind.hasobject:
        raise FramesError(damaged(path, f"/{name}", "holds values without a fixed length"))
    chunk = plan.get_chunk() if plan.get_layout() == h5py.h5d.CHUNKED else ()
    if max(math.prod(chunk), 0 if name == "frames" else math.prod(where.shape)) * kind.itemsize > largest:
        raise FramesError(damaged(path, f"/{name}", f"takes more than {largest >> 20} MiB at once"))
    return h5py.Dataset(where)


def _is_hard(group: h5py.h5g.GroupID, name: bytes) -> bool:
    from h5py import h5l

    try:
        return bool(group.links.get_info(name).type == h5l.TYPE_HARD)
    except (KeyError, RuntimeError):  # there is none
        return False


def inflates(found: h5py.Dataset, chunk: h5py.h5d.StoreInfo) -> bool:
    """Whether a chunk may be given to HDF5, which goes on for as long as DEFLATE does, whatever the chunk should hold.

    What cannot make more than LARGEST_INFLATED bytes may; the rest is unpacked a piece at a time, to see.
    """
    import zlib

    most = math.prod(found.chunks) * found.dtype.itemsize + CHECKSUM_BYTES
    if chunk.size * INFLATION <= LARGEST_INFLATED or chunk.filter_mask & SKIP_DEFLATE:
        return bool(chunk.size <= LARGEST_INFLATED)
    if found.compression != "gzip":
        return bool(chunk.size <= most)
    stream, rest, size = zlib.decompressobj(), found.id.read_direct_chunk(chunk.chunk_offset)[1], 0
    try:
        while rest and not stream.eof and size <= most:
            size += len(stream.decompress(rest, 1 << 20))
            rest = stream.unconsumed_tail
    except zlib.error:
        return False
    return bool(size <= most)


def attribute_names(where: h5py.File) -> tuple[str, ...]:
    """The names of its attributes. Raises what ``readable`` turns into FramesError."""
    import h5py

    names: list[bytes] = []
    h5py.h5a.iterate(where.id, names.append)
    return tuple(name.decode() for name in names)


def attribute(where: h5py.File | h5py.Dataset, name: str) -> bytes | float:
    """The attribute ``name``: a text of fixed length, at most LARGEST_ATTRIBUTE bytes, or a number.

    Raises what ``readable`` turns into FramesError.
    """
    import h5py

    opened = h5py.h5a.open(where.id, name.encode())
    kind = opened.get_type()
    size = opened.get_storage_size()
    if size > LARGEST_ATTRIBUTE or (kind.get_class() == h5py.h5t.STRING and kind.is_variable_str()):
        raise ValueError(f"{name} has {size} bytes, or no fixed length")
    held = np.empty(opened.shape, opened.dtype)
    opened.read(held)
    value = held[()]
    return bytes(value) if isinstance(value, bytes) else float(value)
