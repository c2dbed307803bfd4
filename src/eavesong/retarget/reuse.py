"""Frames of a changed house from those of the old one: props whose bytes cannot have changed are copied, others drawn.

A pixel's bytes depend on the cues that light it, what those effects read of its place, and how it is driven; on
nothing else. So a prop is copied when all of that is what it was, wherever its channels lie now and in whatever
order its colours are sent. The frames are bit for bit those of a full render.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.processors import processors
from eavesong.retarget.changes import pair_props
from eavesong.scene import Reopened
from eavesong.scene.layers import pixel_values

if TYPE_CHECKING:
    from eavesong.frames import EncodedFrames, FramesFile
    from eavesong.frames.begun import Begun
    from eavesong.frames.encode import Chunk
    from eavesong.layout import Layout
    from eavesong.layout.patch import Patch
    from eavesong.render import Rendered
    from eavesong.render.render import Progress
    from eavesong.scene import PlacedCue, Scene

Bytes = NDArray[np.uint8]
Indices = NDArray[np.int64]


def why_useless(file: FramesFile, old: Scene) -> str:
    """Why frames are not those of the scene on the old house, neither dimmed nor softened; empty when they are."""
    from eavesong.render.origin import made_by, other_sources

    assert old.show is not None, "a scene made from an order has a show"
    if other := next(other_sources(file.hashes, old.show, old.layout, old.hashes), ""):
        return f"{other.replace('layout', 'old layout')} is not what they were made from"
    reopened = Reopened(file)
    if not reopened.told:
        return "they do not say what was asked for: an older eavesong made them"
    if reopened.terms.props:
        return f"they hold only {', '.join(reopened.terms.props)}"
    if reopened.terms.limit or reopened.terms.soften:
        asked = (("limited", reopened.terms.limit), ("softened", reopened.terms.soften))
        how = " and ".join(word for word, on in asked if on)
        return f"they are {how}, and how bright a prop may be hangs on all the others; the new frames are {how} again"
    return "" if file.hashes.get("renderer") == made_by() else "another version of eavesong made them"


def pixels_before(old: Layout, new: Layout) -> Indices:
    """(n,): the pixel of the old house that each of the new one was; -1 in props that were not there, or as large."""
    was = np.full(new.pixel_count, -1, np.int64)
    for index, earlier in pair_props(old, new).items():
        a, b = old.props[earlier], new.props[index]
        if a.stop - a.start == b.stop - b.start:
            was[b.start : b.stop] = np.arange(a.start, a.stop)
    return was


def kept_props(old: Scene, new: Scene, was: Indices) -> tuple[int, ...]:
    """The props of ``new`` whose bytes cannot have changed: the scenes are of one show and song, on two houses."""
    same = was >= 0
    in_place = len(was) == old.layout.pixel_count and bool((was == np.arange(len(was))).all())
    there = slice(None) if in_place else was  # mostly they are, and then nothing is gathered
    for name in ("brightness", "gamma", "channel_width"):
        same &= getattr(old.layout.patch, name)[there] == getattr(new.layout.patch, name)
    known: dict[tuple[int, int], tuple[NDArray[np.bool_], object]] = {}
    for before, now in zip(old.cues, new.cues, strict=True):
        same &= before.weight[there] == now.weight
        read = [(pixel_values(before, old.layout, *what), pixel_values(now, new.layout, *what))
                for what in now.program.pixel_inputs()]  # fmt: skip
        alike = np.full(len(was), _alike(before, now))
        for a, b in read:
            if (id(a), id(b)) not in known:  # kept with the answer, so that no others are taken for them
                known[id(a), id(b)] = a.view(np.uint32)[there] == b.view(np.uint32), (a, b)
            alike &= known[id(a), id(b)][0]
        same &= alike | (now.weight == 0)
    return tuple(index for index, prop in enumerate(new.layout.props) if same[prop.start : prop.stop].all())


def _alike(before: PlacedCue, now: PlacedCue) -> bool:
    """Whether a cue is the same on two houses in all but the pixels it lights: a house may have palettes of its own."""
    names = {field.name for field in fields(now)} - {"weight", "number", "props", "taken"}
    return all(getattr(before, name) == getattr(now, name) for name in names)


def channels_before(old: Patch, new: Patch, was: Indices, pixels: Indices) -> Indices:
    """(channels,) of the new house: the channel of the old one that each is copied from, -1 but for ``pixels``."""
    before = np.full(new.channel_count, -1, np.int64)
    table = np.array([[[a.find(letter) for letter in b.ljust(4)] for b in new.orders] for a in old.orders])
    there = was[pixels]
    for place, letters in enumerate(np.moveaxis(table, 2, 0)):
        here = new.channel_width[pixels] > place
        sent = old.channel_start[there] + letters[old.order[there], new.order[pixels]]
        before[new.channel_start[pixels[here]] + place] = sent[here]
    return before


LITTLE, QUICKEST = 0.1, 3
"""Share of a house's pixels below which drawing them is little beside the rest, and how many threads draw so little
soonest: more of them wait for each other."""
USUAL, AHEAD, AT_HAND = 2, 8, 32 << 20
"""Blocks for each thread that may wait to be written; where they are a few columns each, so that all of them take so
many bytes at most, more: drawing goes on while the copied file is opened."""
TOGETHER, PARTS = 2 << 20, 4
"""Bytes of changed columns that a thread makes at once, and how many such portions each has to make at least: threads
that do little at a time wait for each other."""


class Rest:
    """What of a scene's frames is copied from those of the old one, and what has to be drawn; then ``write`` them.

    Two steps, so that whatever else is looked into does not hold up the first.
    """

    def __init__(
        self, scene: Scene, old: Scene, file: FramesFile, *, workers: int | None = None, begun: Begun | None = None
    ) -> None:
        """file: the frames of the ``old`` scene. begun: a draft that begins as it; it is given up where the new frames
        cannot begin so."""
        from eavesong.engines import draw

        props = scene.layout.props
        was = pixels_before(old.layout, scene.layout)
        self.scene = scene
        self.kept = kept_props(old, scene, was)
        """Indices of the props that are copied."""
        rest = [index for index in range(len(props)) if index not in self.kept]
        self._drawing = draw(scene.only(rest)) if rest else None  # without any, nothing is even compiled
        pixels = np.flatnonzero(np.isin(scene.layout.pixels.prop, self.kept))
        self._first, self._count = scene.terms.frame_range(scene.grid.duration)
        before = channels_before(old.layout.patch, scene.layout.patch, was, pixels)
        self._copier = Copier(file, before, self._count, begun)
        little = sum(props[index].stop - props[index].start for index in rest) < LITTLE * scene.layout.pixel_count
        self._workers = workers or (min(processors(), QUICKEST) if little else processors())
        self._mine = threading.local()  # rows of each thread: where nothing is drawn it does not matter what they hold

    def write(self, out: str | Path, *, progress: Progress | None = None, overwrite: bool = False) -> Rendered:
        """Write the frames. Raises FramesError where the old ones are damaged."""
        from eavesong.render.render import describe_scene, in_order, spans, write_frames

        def blocks(size: int) -> Iterator[list[EncodedFrames]]:
            """The chunks of all frames in order, ``size`` frames in each."""
            together = self._together(size)
            held = self._copier.changed_bytes(together) * self._workers
            ahead = min(AHEAD, max(USUAL, AT_HAND // held))
            parts = spans(self._first, self._count, together)
            return in_order(lambda span: self._made(span, size, together), parts, self._workers, ahead)

        description = describe_scene(self.scene, out)
        return write_frames(
            self.scene, out, description, blocks, progress=progress, overwrite=overwrite, begun=self._copier.begun
        )

    def _together(self, size: int) -> int:
        """Frames that are drawn together, in chunks of ``size``."""
        from eavesong.render.render import block_frames

        least = block_frames(size)
        most = self._count // (least * PARTS * self._workers)
        return least * max(1, min(TOGETHER // self._copier.changed_bytes(least), most))

    def _made(self, span: tuple[int, int], size: int, together: int) -> list[EncodedFrames]:
        """The chunks of (first, count) frames: copied where they can be, drawn where not."""
        if not hasattr(self._mine, "rows"):
            self._mine.rows = np.zeros((together, len(self._copier.before)), np.uint8)
        rows = self._mine.rows[: span[1]]
        if self._drawing:
            self._drawing.fill(rows, span[0])
        return self._copier.encoded(span[0] - self._first, rows, size)


class Copier:
    """Makes new frames from what of them was drawn and the old ones."""

    def __init__(self, file: FramesFile, before: Indices, count: int, begun: Begun | None = None) -> None:
        """before: for each channel the old one that it is copied from, -1 where it was drawn; of ``count`` frames.
        begun: a draft that begins as the file."""
        from eavesong.frames.begun import can_begin
        from eavesong.frames.format import column_width_for

        self.file, self.before, self.copied = file, before, before >= 0
        width = column_width_for(len(before))
        self.columns = [slice(first, first + width) for first in range(0, len(before), width)]
        self.whole = {column.start for column in self.columns if self.copied[column].all()}
        self.runs = {column.start: _runs(~self.copied[column]) for column in self.columns}
        """Of each column, from and to which of its channels it was drawn."""
        lies = (before == np.arange(len(before)))[self.copied].all()
        if begun is not None and not (self.whole and lies and can_begin(file.frames, (count, len(before)))):
            begun.give_up()
            begun = None
        self.begun = begun
        """The draft, where chunks of the new file hold what those of the old one did, but for what was drawn."""

    def changed_bytes(self, count: int) -> int:
        """Bytes of the columns of ``count`` frames in which something was drawn, before they are packed; at least 1."""
        whole = len(self.whole) if self.begun is not None else 0
        width = self.columns[0].stop - self.columns[0].start
        return max(1, count * width * (len(self.columns) - whole))

    def encoded(self, first: int, rows: Bytes, size: int) -> list[EncodedFrames]:
        """Frames from the file's frame ``first`` on, in chunks of ``size``, whose ``rows`` (f, channels) were drawn."""
        from eavesong.frames import EncodedFrames, encode_frames

        parts = [rows[at : at + size] for at in range(0, len(rows), size)]
        if self.begun is not None:
            same = [None] * len(parts)
            columns = [same if each.start in self.whole else self._changed(first, rows, each) for each in self.columns]
            made = zip(*columns, strict=True)
            return [EncodedFrames(chunks, len(part)) for chunks, part in zip(made, parts, strict=True)]
        old = self.file.frames[first : first + len(rows)]
        np.copyto(rows, old.take(self.before, axis=1, mode="clip"), where=self.copied)
        return [encode_frames(part, size) for part in parts]

    def _changed(self, first: int, rows: Bytes, column: slice) -> list[Chunk]:
        """The chunks of a column in which something was drawn."""
        from eavesong.frames.encode import encode_alike, encode_chunk

        frames, part = self.file.frames, rows[:, column]
        size, width = frames.dataset.chunks
        begins, runs = range(0, len(rows), size), self.runs[column.start]
        if runs == [(0, part.shape[1])]:
            return [encode_chunk(part[at : at + size], (size, width)) for at in begins]
        # they are copied, too, and looked at there
        before = [frames.stored(first + at, (column.start,), checked=False)[0] for at in begins]
        held = np.concatenate([frames.unpacked(chunk) for chunk in before])
        for begin, end in runs:
            held[: len(part), begin:end] = part[:, begin:end]
        return encode_alike(held.reshape(-1, size, width), before)


def _runs(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """From and to where something is on, each time."""
    ends: list[list[int]] = np.flatnonzero(np.diff(on, prepend=False, append=False)).reshape(-1, 2).tolist()
    return [(begin, end) for begin, end in ends]
