"""Writing a frames file: what workers have encoded, appended in order; the file is whole or absent."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from eavesong.errors import OutputError, Problem
from eavesong.frames.begun import Begun, can_begin
from eavesong.frames.description import Description, PatchRow, PropRow
from eavesong.frames.encode import Chunk, EncodedFrames, encode_table
from eavesong.frames.format import FORMAT, IN_COLUMNS, UNITS, chunk_frames_for, column_width_for, link_name
from eavesong.frames.unfinished import Unfinished

if TYPE_CHECKING:
    import h5py

    from eavesong.frames.begun import Copying

HELD = 64 << 20
"""Bytes of chunks that wait for the file that this one begins as to be copied, at most."""


class FramesWriter:
    """A frames file in the making: ``with FramesWriter(…) as writer: writer.append(encode_frames(frames, …))``.

    The file takes its name when the block ends well and every frame has been appended; if the block raises, or
    the program is killed, ``path`` stays what it was. Raises OutputError when the folder is missing, read-only
    or the disk full, ValueError when chunks do not fit. Memory does not grow with the number of frames.
    One thread appends; encoding belongs into others.
    """

    def __init__(
        self, path: str | Path, *, description: Description, frame_count: int, chunk_frames: int | None = None,
        overwrite: bool = False, begun: Begun | None = None,
    ) -> None:  # fmt: skip
        """``overwrite``: take the place of a file that eavesong did not write. ``begun``: the draft of ``path``, which
        may begin with all chunks of another file that ``can_begin`` it; FramesError where one is damaged."""
        self.path = Path(path)
        self.overwrite = overwrite
        self._begun = begun
        self._upon = None if begun is None else begun.upon
        self.description = description
        self.frame_count = frame_count
        self.chunk_frames = chunk_frames or chunk_frames_for(description.channel_count, frame_count)
        """Frames in every chunk but the last: what ``encode_frames`` is to be given."""
        self.frames_written = 0
        self._copying: Copying | None = None
        self._held: list[tuple[tuple[int, int], Chunk]] = []
        self._bytes_held = 0
        self._column_width = column_width_for(description.channel_count)
        if frame_count < 1 or description.channel_count < 1:
            raise ValueError(f"{frame_count} frames of {description.channel_count} channels make no file")
        if not 0 < self.chunk_frames <= frame_count:
            raise ValueError(f"a chunk holds 1 to {frame_count} frames, not {self.chunk_frames}")
        if self._upon is not None and not can_begin(self._upon, (frame_count, description.channel_count)):
            raise ValueError("a file cannot begin as one of other chunks")

    def __enter__(self) -> Self:
        self._begun = self._begun or Begun(self.path, overwrite=self.overwrite)
        self._draft, self._copying = self._begun.draft, self._begun.copying
        if self._copying is None:
            try:
                with self._told():
                    self._open()
            except BaseException:
                self._abandon()
                raise
        return self

    def append(self, encoded: EncodedFrames) -> None:
        """Add the next ``chunk_frames`` frames, or what is left at the end. Nobody may change them afterwards: they are
        written meanwhile."""
        due = min(self.chunk_frames, self.frame_count - self.frames_written)
        if encoded.frames != due or not due:
            raise ValueError(f"the next chunk holds {due} frames, not {encoded.frames}")
        if self._upon is None and None in encoded.chunks:
            raise ValueError("a chunk is left as it is in a file that begins empty")
        for column, chunk in enumerate(encoded.chunks):
            if chunk is not None:
                self._held.append(((self.frames_written, column * self._column_width), chunk))
                self._bytes_held += chunk.data.size
        self.frames_written += encoded.frames
        if self._copying is None or self._bytes_held > HELD or not self._copying.running():
            self._write_held()

    def _open(self) -> None:
        """Open the draft as an HDF5 file and say in it what it will hold."""
        self._file = _create(self._draft) if self._upon is None else _reopen(self._draft)
        _describe(self._file, self.description, self.frame_count)
        shape, chunks = (self.frame_count, self.description.channel_count), (self.chunk_frames, self._column_width)
        self._frames = self._file["frames"].id if self._upon else _create_frames(self._file, shape, chunks)

    def _write_held(self) -> None:
        """Write what was appended, when the file that this one begins as has been copied."""
        with self._told():
            if self._copying is not None:
                self._copying.wait()
                self._copying = None
                self._open()
            for where, chunk in self._held:
                self._draft.expect(chunk.data)
                self._frames.write_direct_chunk(where, chunk.data, chunk.filter_mask)
        self._held, self._bytes_held = [], 0

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self._complete()
        except BaseException:
            self._abandon()
            raise
        if kind is not None:
            self._abandon()
        elif self._begun is not None:
            self._begun.keep()

    def _complete(self) -> None:
        """Flush everything, then say that it is complete, then close."""
        if self.frames_written != self.frame_count:
            raise ValueError(f"{self.frames_written} of {self.frame_count} frames were appended")
        self._write_held()
        with self._told():
            self._file.flush()
            self._draft.check()
            self._file.attrs.modify("complete", np.uint8(1))
            self._file.close()
            self._draft.close()

    def _abandon(self) -> None:
        """Close what is open and remove the draft, whatever state it is in."""
        if self._begun is not None:
            self._draft.give_up()
            if (opened := getattr(self, "_file", None)) is not None:
                with contextlib.suppress(Exception):
                    opened.close()
            self._begun.give_up()

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what a full or failing disk raises, and HDF5 for its sake, into OutputError."""
        try:
            yield
            self._draft.check()
        except (OSError, RuntimeError) as fault:
            reason = _reason(self._draft.fault or fault)
            raise OutputError(Problem(str(self.path), "", f"cannot be written: {reason}")) from None


def _reason(fault: Exception) -> str:
    """The system's words for an HDF5 failure, whose own message is a dump of its insides."""
    number = getattr(fault, "errno", None)
    if not number and (found := re.search(r"errno = (\d+)", str(fault))):
        number = int(found[1])
    return os.strerror(number) if number else str(fault).splitlines()[0]


def _create(draft: Unfinished) -> h5py.File:
    """An empty HDF5 file in the layout of HDF5 1.10, whose metadata carries checksums throughout."""
    import h5py

    return h5py.File(draft, "w", libver=("v110", "v110"))


def _reopen(draft: Unfinished) -> h5py.File:
    """A copy of a frames file, with nothing in it but the frames, and not complete."""
    import h5py

    file = h5py.File(draft, "r+", libver=("v110", "v110"))
    for name in [name for name in file if name != "frames"]:  # in one order: equal input, equal file
        del file[name]
    for name in [*file.attrs]:
        del file.attrs[name]
    return file


def _create_frames(file: h5py.File, shape: tuple[int, int], chunks: tuple[int, int]) -> h5py.h5d.DatasetID:
    """The dataset ``/frames``, its filters DEFLATE (bit 0 of a filter mask) and Fletcher-32 (bit 1)."""
    import h5py

    plan = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    plan.set_chunk(chunks)
    plan.set_deflate(1)
    plan.set_fletcher32()
    plan.set_fill_time(h5py.h5d.FILL_TIME_NEVER)
    plan.set_obj_track_times(False)  # equal frames make equal files
    space = h5py.h5s.create_simple(shape)
    frames = h5py.h5d.create(file.id, b"frames", h5py.h5t.STD_U8LE, space, plan)
    dataset = h5py.Dataset(frames)
    _tell(dataset, "units", UNITS["frames"])
    return frames


def _describe(file: h5py.File, description: Description, frame_count: int) -> None:
    """Write everything but the frames; ``complete`` is 0 from the start."""
    file.attrs["complete"] = np.uint8(0)
    file.attrs["frame_count"] = np.int64(frame_count)
    whole = column_width_for(description.channel_count) == description.channel_count
    _tell(file, "format", f"{FORMAT} {1 if whole else IN_COLUMNS}")
    _tell(file, "written_by", _versions())
    for name in ("title", "song"):
        _tell(file, name, getattr(description, name))
    for name in ("song_path", "photo_path", "law"):
        if text := getattr(description, name):
            _tell(file, name, text)
    for name in ("frame_rate", "start", "song_seconds"):
        file.attrs[name] = float(getattr(description, name))
        _tell(file, f"{name}_units", UNITS[name])
    for axis, metres in zip("xyz", description.origin, strict=True):
        file.attrs[f"origin_{axis}"] = float(metres)
    _tell(file, "origin_units", UNITS["origin"])
    for name, digest in sorted(description.hashes.items()):
        _tell(file, f"{link_name(name)}_sha256", digest)
    for name in ("places", "metres"):
        _table(file, name, getattr(description, name))
    _table(file, "props", _rows(PropRow, description.props))
    _table(file, "patch", _rows(PatchRow, description.patch))
    _texts(file, description.texts)


def _tell(where: Any, name: str, text: str) -> None:
    """A text attribute of fixed length: it then lies in the object's header, which HDF5 checksums."""
    import h5py

    data = text.encode()
    where.attrs.create(name, data, dtype=h5py.string_dtype("utf-8", max(1, len(data))))


def _versions() -> str:
    import h5py
    import isal

    from eavesong import __version__

    below = f"h5py {h5py.__version__}, HDF5 {h5py.version.hdf5_version}, isal {isal.__version__}"
    return f"eavesong {__version__}, {below}"


def _table(group: h5py.Group, name: str, table: np.ndarray) -> h5py.Dataset:
    """A small dataset in one chunk, compressed and checksummed; one without rows has nothing to protect."""
    guarded: dict[str, Any] = {"chunks": table.shape, "compression": 1, "fletcher32": True} if table.size else {}
    dataset = group.create_dataset(name, table.shape, table.dtype, **guarded)
    if table.size:
        chunk = encode_table(table)
        dataset.id.write_direct_chunk((0,) * table.ndim, chunk.data, chunk.filter_mask)
    if name in UNITS:
        _tell(dataset, "units", UNITS[name])
    dataset.flush()  # to its place now, not whenever Python frees the object: equal input, equal file
    return dataset


def _rows(kind: type, rows: Sequence[Any]) -> np.ndarray:
    """Dataclass rows as a compound array: int64, float64 and UTF-8 texts of the longest one's length."""
    import h5py

    values = [tuple(_cell(getattr(row, each.name)) for each in fields(kind)) for row in rows]
    columns = list(zip(*values, strict=True)) or [()] * len(fields(kind))
    kinds: list[tuple[str, Any]] = []
    for column, each in zip(columns, fields(kind), strict=True):
        if each.type == "int":
            kinds.append((each.name, np.dtype("<i8")))
        elif each.type == "float":
            kinds.append((each.name, np.dtype("<f8")))
        else:
            longest = max((len(cell) for cell in column), default=0)
            kinds.append((each.name, h5py.string_dtype("utf-8", max(1, longest))))
    return np.array(values, dtype=kinds)


def _cell(value: Any) -> Any:
    """Texts as UTF-8 and tags as one text, parted by commas; numbers as they are."""
    if isinstance(value, tuple):
        value = ",".join(value)
    return value.encode() if isinstance(value, str) else value


def _texts(file: h5py.File, texts: Mapping[str, str]) -> None:
    """The group ``/texts``: a dataset of one UTF-8 text for each, with its SHA-256 as an attribute."""
    import h5py

    group = file.create_group("texts")
    _tell(group, "units", UNITS["texts"])
    for name, text in sorted(texts.items()):
        data = text.encode()
        stored = np.array([data], dtype=h5py.string_dtype("utf-8", max(1, len(data))))
        _tell(_table(group, link_name(name), stored), "sha256", hashlib.sha256(data).hexdigest())
