"""Reading a frames file: frames on demand, everything else once; nothing in the file is believed unchecked."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

import numpy as np

from eavesong.errors import FramesError, Problem
from eavesong.frames import guard
from eavesong.frames.description import PatchRow, PropRow, colour_channels
from eavesong.frames.format import FORMAT, LARGEST_CHUNK, LARGEST_TABLE, VERSION, link_name, plain_name
from eavesong.words import clock_text

if TYPE_CHECKING:
    import h5py

Row = TypeVar("Row", PropRow, PatchRow)

CACHE_BYTES = 16 << 20
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
            self._attributes = file.attrs
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
            if dataset.dtype != np.uint8 or dataset.ndim != 2 or dataset.chunks is None:
                raise FramesError(Problem(str(path), "/frames", "is not a chunked table of bytes"))
            if dataset.chunks[1] != dataset.shape[1] or not self.frame_rate > 0 or not all(dataset.shape):
                raise FramesError(Problem(str(path), "/frames", "does not hold whole frames at a frame rate"))
        self.frame_count: int = dataset.shape[0]
        self.channel_count: int = dataset.shape[1]
        self.chunk_frames: int = dataset.chunks[0]
        self.frames = Frames(self, dataset)
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
        return bool(self._attributes.get("complete", 0) == 1)

    @property
    def stored_bytes(self) -> int:
        """Bytes the frames take in the file."""
        with guard.readable(self.path):
            return int(self.frames.dataset.id.get_storage_size())

    @cached_property
    def places(self) -> np.ndarray:
        """float32 (pixel, 3): x y z, 0..1 of the house frame."""
        return self._places("places")

    @cached_property
    def metres(self) -> np.ndarray:
        """float32 (pixel, 3): X Y Z from the house frame's left, bottom, back corner."""
        return self._places("metres")

    @cached_property
    def props(self) -> tuple[PropRow, ...]:
        """The props in pixel order."""
        return tuple(self._rows("props", PropRow))

    @cached_property
    def patch(self) -> tuple[PatchRow, ...]:
        """Where the channels of a frame are sent."""
        return tuple(self._rows("patch", PatchRow))

    @cached_property
    def texts(self) -> dict[str, str]:
        """What the frames were made from, by name: ``layout``, ``show``, ``effect <name>`` and so on."""
        with guard.readable(self.path):
            return {plain_name(link): self._stored_text(link).decode() for link in self._file["texts"]}

    def text(self, name: str) -> str | None:
        """One of the texts, read alone; None where there is none of this name."""
        with guard.readable(self.path):
            link = link_name(name)
            return self._stored_text(link).decode() if link in self._file["texts"] else None

    @cached_property
    def hashes(self) -> dict[str, str]:
        """SHA-256 in hex digits of each text, and of what the file does not contain (``audio``)."""
        with guard.readable(self.path):
            outside = {
                plain_name(name.removesuffix("_sha256")): self._text(name)
                for name in self._attributes
                if name.endswith("_sha256")
            }
            group = self._file["texts"]
            inside = {plain_name(link): _plain(group[link].attrs["sha256"]) for link in group}
        return outside | inside

    def seconds(self, frame: int) -> float:
        """Seconds into the song at which ``frame`` is shown."""
        return self.start + frame / self.frame_rate

    def rgb(self, frame: int) -> np.ndarray:
        """One frame as colours, uint8 (pixel, 3): the colour order undone, white added back, 255 at most."""
        return self.colours(self.frames[frame][None])[0]

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
        problems = [*self._damaged_tables(), *self._damaged_frames(0, self.frame_count)]
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

    def _text(self, name: str) -> str:
        value = b""
        if name in self._attributes:  # not attrs.get, which takes damage for absence
            value = self._attributes[name]
        return _plain(value)

    def _number(self, name: str) -> float:
        return float(self._attributes[name])

    @cached_property
    def _colour_channels(self) -> tuple[np.ndarray, np.ndarray]:
        with guard.readable(self.path):
            rgb, white = colour_channels(self.patch, len(self.places))
            if max(rgb.max(initial=-1), white.max(initial=-1)) >= self.channel_count:
                raise ValueError("more colours than channels")
        return rgb, white

    def _table(self, name: str) -> np.ndarray:
        with guard.readable(self.path, f"/{name}"):
            return guard.dataset(self.path, self._file, name, LARGEST_TABLE)[()]

    def _places(self, name: str) -> np.ndarray:
        table = self._table(name)
        if table.ndim != 2 or table.shape[1] != 3 or table.dtype != np.float32:
            raise FramesError(Problem(str(self.path), f"/{name}", "is not a table of three float32 for each pixel"))
        return table

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

    def _damaged_tables(self) -> Iterator[Problem]:
        for name in ("places", "metres", "props", "patch", "texts", "hashes"):
            try:
                getattr(self, name)
            except FramesError as fault:
                yield from fault.problems
                return
        for name, text in self.texts.items():
            if hashlib.sha256(text.encode()).hexdigest() != self.hashes[name]:
                yield guard.damaged(self.path, f"the text '{name}'", "is not the one its SHA-256 was made from")

    def _damaged_frames(self, start: int, stop: int) -> Iterator[Problem]:
        """One problem for each unbroken run of damaged chunks that touch frames ``start`` to ``stop``."""
        run: list[int] = []
        for first in range(start - start % self.chunk_frames, stop, self.chunk_frames):
            end = min(first + self.chunk_frames, self.frame_count)
            if not self.frames.chunk_is_sound(first, end):
                run = [run[0] if run else first, end]
            elif run:
                yield self._damaged_run(*run)
                run = []
        if run:
            yield self._damaged_run(*run)

    def _damaged_run(self, first: int, end: int) -> Problem:
        times = f"{clock_text(self.seconds(first))} to {clock_text(self.seconds(end))}"
        return guard.damaged(self.path, f"frames {first} to {end - 1}, {times}", "do not fit their checksum")


class Frames:
    """The frames of a file, uint8 (frame, channel), read from the disk when indexed as a numpy array is."""

    dtype = np.dtype(np.uint8)
    ndim = 2

    def __init__(self, file: FramesFile, dataset: h5py.Dataset) -> None:
        self._owner = file
        self.dataset = dataset
        self.shape: tuple[int, int] = dataset.shape

    def __len__(self) -> int:
        return self.shape[0]

    def __getitem__(self, key: Any) -> np.ndarray:
        """``frames[frame]``, ``frames[start:stop]``, ``frames[start:stop, channels]``; FramesError if damaged."""
        try:
            return self.dataset[key]
        except OSError:
            rows = key[0] if isinstance(key, tuple) else key
            wanted = range(*rows.indices(len(self))) if isinstance(rows, slice) else range(len(self))
            if isinstance(rows, int | np.integer):
                wanted = range(rows % len(self), rows % len(self) + 1)
            found = list(self._owner._damaged_frames(min(wanted), max(wanted) + 1))
            raise FramesError(found or guard.damaged(self._owner.path, "/frames", "cannot be read")) from None

    def chunk_is_sound(self, first: int, end: int) -> bool:
        """Whether the chunk of frames ``first`` to ``end`` was written, carries a checksum and fits it."""
        try:
            info = self.dataset.id.get_chunk_info_by_coord((first, 0))
            if info.byte_offset is None or info.filter_mask & ~1:
                return False
            self.dataset[first:end]
        except (OSError, RuntimeError, ValueError):
            return False
        return True


def _plain(value: Any) -> str:
    return value.decode() if isinstance(value, bytes) else str(value)


def _cell(cell: Any, kind: str) -> Any:
    """A table's cell as the field of type ``kind`` holds it."""
    if kind in ("int", "float"):
        return int(cell) if kind == "int" else float(cell)
    text = cell.decode()
    return text if kind == "str" else tuple(filter(None, text.split(",")))
