"""Reading a frames file: frames on demand, everything else once; nothing in the file is believed unchecked."""

from __future__ import annotations

import hashlib
import math
import os
from collections.abc import Iterable, Iterator
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

import numpy as np

from eavesong.errors import FramesError, Problem
from eavesong.files import LARGEST_TEXT
from eavesong.frames import guard, misfits
from eavesong.frames.chunks import Frames
from eavesong.frames.description import PatchRow, PropRow, colour_channels
from eavesong.frames.format import (
    CHECKSUM_BYTES,
    FORMAT,
    INFLATION,
    LARGEST_CHUNK,
    LARGEST_ROWS,
    LARGEST_TABLE,
    LARGEST_TEXTS,
    MOST_CHUNKS,
    MOST_COLUMNS,
    MOST_ROWS,
    SLOWEST,
    VERSION,
    link_name,
    plain_name,
)  # fmt: skip
from eavesong.words import visible

if TYPE_CHECKING:
    import h5py

Row = TypeVar("Row", PropRow, PatchRow)

CACHE_BYTES = 32 << 20
"""Bytes of decompressed chunks kept, so that reading frame by frame decompresses each chunk once."""


def open_frames(path: str | Path) -> FramesFile:
    """Open a frames file for reading; use it as a context manager.

    Raises FramesError when there is no such file, or it is no HDF5 file, holds no frames, is cut short, was not
    finished, is damaged where it describes itself, or is of a newer format. Damage inside a chunk shows when
    the chunk is read, or in ``verify``.
    """
    import h5py

    guard.look_at(path)
    with guard.readable(path):
        file = h5py.File(path, "r", rdcc_nbytes=CACHE_BYTES)
    try:
        return FramesFile(path, file)
    except BaseException:
        file.close()
        raise


class FramesFile:
    """An open frames file. Everything it returns is a copy that outlives it."""

    def __init__(self, path: str | Path, file: h5py.File) -> None:
        self.path = Path(path)
        self._file = file
        with guard.readable(path):
            self._links, self._names = guard.check_links(path, file), guard.attribute_names(file)
            self._check_format()
            dataset = guard.dataset(path, file, "frames", LARGEST_CHUNK)
            self.title: str = self._text("title")
            self.song: str = self._text("song")
            self.written_by: str = self._text("written_by")
            self.song_path: str = self._text("song_path")
            """Where the song lay, from this file's folder; empty where an older file does not say."""
            self.photo_path: str = self._text("photo_path")
            """The same of the house's photo."""
            self.law: str = self._text("law")
            """How light became bytes, in words; see `eavesong.light`."""
            self.frame_rate: float = self._number("frame_rate")
            """Frames per second."""
            self.start: float = self._number("start")
            """Seconds into the song at which frame 0 is shown."""
            self.song_seconds: float = self._number("song_seconds")
            self.origin: tuple[float, ...] | None = self._origin()
            """Metres (3,): where the house frame begins in the layout's own places; None where an older file does not
            say."""
            self._check_shape(dataset)
            self._check_tables()
        self.frame_count: int = dataset.shape[0]
        self.channel_count: int = dataset.shape[1]
        self.chunk_frames: int = dataset.chunks[0]
        self.frames = Frames(self.path, dataset, self.seconds)
        """uint8 (frame, channel), read when it is indexed: ``frames[120]``, ``frames[120:240]``."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what has been read stays."""
        self._file.close()

    @property
    def complete(self) -> bool:
        """Whether the writer finished; ``open_frames`` opens no other file."""
        with guard.readable(self.path):
            return "complete" in self._names and self._number("complete") == 1

    @property
    def stored_bytes(self) -> int:
        """Bytes the frames take in the file."""
        with guard.readable(self.path):
            return int(self.frames.dataset.id.get_storage_size())

    @property
    def places(self) -> np.ndarray:
        """float32 (pixel, 3): x y z, 0..1 of the house frame."""
        return self._tables[0]

    @property
    def metres(self) -> np.ndarray:
        """float32 (pixel, 3): X Y Z from the house frame's left, bottom, back corner."""
        return self._tables[1]

    @property
    def props(self) -> tuple[PropRow, ...]:
        """The props in pixel order."""
        return self._tables[2]

    @property
    def patch(self) -> tuple[PatchRow, ...]:
        """Where the channels of a frame are sent."""
        return self._tables[3]

    @cached_property
    def texts(self) -> dict[str, str]:
        """What the frames were made from, by name: ``layout``, ``show``, ``effect <name>`` and so on."""
        with guard.readable(self.path):
            return {visible(plain_name(link)): self._stored_text(link).decode() for link in self._links}

    def text(self, name: str) -> str | None:
        """One of the texts, read alone; None where there is none of this name."""
        with guard.readable(self.path):
            link = link_name(name)
            return self._stored_text(link).decode() if link in self._links else None

    @cached_property
    def hashes(self) -> dict[str, str]:
        """SHA-256 in hex digits of each text, and of what the file does not contain (``audio``)."""
        with guard.readable(self.path):
            outside = {
                visible(plain_name(name.removesuffix("_sha256"))): self._text(name)
                for name in self._names
                if name.endswith("_sha256")
            }
            inside = {visible(plain_name(link)): self._stored_hash(link) for link in self._links}
        return outside | inside

    def seconds(self, frame: int) -> float:
        """Seconds into the song at which ``frame`` is shown."""
        return self.start + frame / self.frame_rate

    def rgb(self, frame: int) -> np.ndarray:
        """One frame as colours, uint8 (pixel, 3): the colour order undone, white added back, 255 at most."""
        colours: np.ndarray = self.colours(self.frames[frame][None])[0]
        return colours

    def colours(self, frames: np.ndarray) -> np.ndarray:
        """Frames, uint8 (frame, channel), as colours, uint8 (frame, pixel, 3), as ``rgb`` does it."""
        rgb, white = self._colour_channels
        out = frames[:, rgb]
        if (mixed := np.flatnonzero(white >= 0)).size:
            lifted = out[:, mixed].astype(np.uint16) + frames[:, white[mixed], None]
            out[:, mixed] = np.minimum(lifted, 255)
        return out

    def verify(self) -> None:
        """Read everything; FramesError names each damaged run of frames, with its time, table and text."""
        with guard.readable(self.path):
            guard.walk_through(self._file)
        problems = [*self._damaged_tables(), *self.frames.damaged(0, self.frame_count)]
        if problems:
            raise FramesError(problems)

    def _check_format(self) -> None:
        name, _, version = self._text("format").rpartition(" ")
        if name != FORMAT or not version.isdigit():
            raise FramesError(
                Problem(str(self.path), "", "is an HDF5 file without frames of eavesong", "Name a frames file.")
            )
        if int(version) > VERSION:
            newer = f"is of format {version}, and this eavesong reads up to {VERSION}"
            raise FramesError(Problem(str(self.path), "", newer, "Install a newer eavesong."))
        if not self.complete:
            raise FramesError(guard.unfinished(self.path))

    def _check_shape(self, dataset: h5py.Dataset) -> None:
        """Refuse numbers out of their ranges, and frames of a shape that the rest does not bear out."""
        if dataset.dtype != np.uint8 or dataset.ndim != 2 or dataset.chunks is None:
            raise FramesError(Problem(str(self.path), "/frames", "is not a chunked table of bytes"))
        width, channels = dataset.chunks[1], dataset.shape[1]
        if not all(dataset.shape) or not width <= channels <= width * MOST_COLUMNS:
            raise FramesError(Problem(str(self.path), "/frames", "does not hold frames, in a few columns at most"))
        self._check_size(dataset)
        found = list(misfits.in_numbers(self.frame_rate, self.start, self.song_seconds, self.origin))
        found += misfits.in_frame_count(dataset.shape[0], max(SLOWEST, self.frame_rate))
        if "frame_count" in self._names and self._number("frame_count") != dataset.shape[0]:
            found.append(("/frames", f"does not hold the {self._number('frame_count'):.0f} frames that are announced"))
        self._refuse(found)

    def _check_size(self, dataset: h5py.Dataset) -> None:
        """Refuse frames that cannot lie in a file of this size, however well they were compressed."""
        size = os.path.getsize(self.path)
        chunks = math.prod(-(-many // few) for many, few in zip(dataset.shape, dataset.chunks, strict=True))
        if math.prod(dataset.shape) > INFLATION * size or chunks > min(MOST_CHUNKS, size // CHECKSUM_BYTES):
            rows = f"{dataset.shape[0]:,} frames of {dataset.shape[1]:,} channels"
            raise FramesError(guard.damaged(self.path, "/frames", f"cannot hold {rows} in {size:,} bytes"))

    def _refuse(self, found: Iterable[misfits.Misfit]) -> None:
        if problems := [guard.damaged(self.path, *misfit) for misfit in found]:
            raise FramesError(problems)

    @cached_property
    def _tables(self) -> tuple[np.ndarray, np.ndarray, tuple[PropRow, ...], tuple[PatchRow, ...]]:
        """Places, metres, props and patch, which are of use only where they fit each other and the frames."""
        places, metres = self._table("places"), self._table("metres")
        props, patch = tuple(self._rows("props", PropRow)), tuple(self._rows("patch", PatchRow))
        self._refuse(misfits.in_tables(places, metres, props, patch, self.channel_count))
        return places, metres, props, patch

    def _text(self, name: str) -> str:
        if name not in self._names:  # not attrs.get, which takes damage for absence
            return ""
        return _told(guard.attribute(self._file, name))

    def _origin(self) -> tuple[float, ...] | None:
        names = [name for axis in "xyz" if (name := f"origin_{axis}") in self._names]
        return tuple(self._number(name) for name in names) or None

    def _number(self, name: str) -> float:
        return float(guard.attribute(self._file, name))

    @property
    def _attributes(self) -> dict[str, bytes | float]:
        """All that is said of the file, also what a later version added."""
        with guard.readable(self.path):
            return {name: guard.attribute(self._file, name) for name in self._names}

    @cached_property
    def _colour_channels(self) -> tuple[np.ndarray, np.ndarray]:
        return colour_channels(self.patch, len(self.places))

    def _check_tables(self) -> None:
        """Refuse tables and texts of a shape, a kind or a size that they do not have; nothing of them is read."""
        for name in ("places", "metres"):
            table = guard.dataset(self.path, self._file, name, LARGEST_TABLE)
            if table.ndim != 2 or table.shape[1] != 3 or table.dtype != np.float32:
                raise FramesError(Problem(str(self.path), f"/{name}", "is not a table of three float32 for each pixel"))
        for name in ("props", "patch"):
            rows = guard.dataset(self.path, self._file, name, LARGEST_ROWS)
            if rows.ndim != 1 or len(rows) > MOST_ROWS:
                raise FramesError(Problem(str(self.path), f"/{name}", f"is not a table of at most {MOST_ROWS:,} rows"))
        if "texts" not in self._file:
            raise FramesError(guard.damaged(self.path, "/texts", guard.ELSEWHERE))
        texts = [guard.dataset(self.path, self._file, f"texts/{link}", LARGEST_TEXT) for link in self._links]
        if any(text.shape != (1,) for text in texts) or sum(text.dtype.itemsize for text in texts) > LARGEST_TEXTS:
            raise FramesError(Problem(str(self.path), "/texts", f"takes more than {LARGEST_TEXTS >> 20} MiB"))

    def _table(self, name: str) -> np.ndarray:
        with guard.readable(self.path, f"/{name}"):
            table = guard.dataset(self.path, self._file, name, LARGEST_TABLE)
            if table.chunks:
                stored = [table.id.get_chunk_info(index) for index in range(table.id.get_num_chunks())]
                if not all(guard.inflates(table, chunk) for chunk in stored):
                    raise ValueError("a chunk that makes more than its table holds")
            held: np.ndarray = table[()]
            return held

    def _rows(self, name: str, kind: type[Row]) -> list[Row]:
        """The rows of a table as dataclasses; columns that a later version added are passed over."""
        table = self._table(name)
        with guard.readable(self.path, f"/{name}"):
            known = {field.name: str(field.type) for field in fields(kind)}
            columns = table.dtype.names or ()
            return [
                kind(**{key: _cell(cell, known[key]) for key, cell in zip(columns, row, strict=True) if key in known})
                for row in table.tolist()
            ]

    def _stored_text(self, link: str) -> bytes:
        return bytes(self._table(f"texts/{link}")[0])

    def _stored_hash(self, link: str) -> str:
        return _told(guard.attribute(self._file["texts"][link], "sha256"))

    def _damaged_tables(self) -> Iterator[Problem]:
        for name in ("_tables", "texts", "hashes", "_attributes"):
            try:
                getattr(self, name)
            except FramesError as fault:
                yield from fault.problems
                return
        for name, text in self.texts.items():
            if hashlib.sha256(text.encode()).hexdigest() != self.hashes[name]:
                yield guard.damaged(self.path, f"the text '{name}'", "is not the one its SHA-256 was made from")


def _told(text: bytes | float) -> str:
    """A text of the file, which may be anybody's, as it can be shown anywhere."""
    if not isinstance(text, bytes):
        raise TypeError(f"{text} is no text")
    return visible(text.decode())


def _cell(cell: Any, kind: str) -> Any:
    """A table's cell as the field of type ``kind`` holds it."""
    if kind in ("int", "float"):
        if type(cell) is not (int if kind == "int" else float):
            raise TypeError(f"{cell!r:.40} is no {kind}")
        return cell
    text = _told(cell)
    return text if kind == "str" else tuple(filter(None, text.split(",")))
