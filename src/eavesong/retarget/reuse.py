"""Rendering on a changed house: props whose bytes cannot have changed are copied from the old frames.

A pixel's bytes depend on the cues that light it, what those effects read of its place, and how it is driven; on
nothing else. So a prop is copied when all of that is what it was, wherever its channels lie now and in whatever
order its colours are sent. The frames are bit for bit those of a full render.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from eavesong.frames import EncodedChunk, FramesFile
    from eavesong.frames.copying import StoredChunk
    from eavesong.layout import Layout
    from eavesong.render.render import Job, Progress, Rendered
    from eavesong.show import PlacedCue, Show
    from eavesong.retarget.report import Retargeting

Bytes = NDArray[np.uint8]
Indices = NDArray[np.int64]

TOGETHER = 24
"""Frames computed together at least."""

SHORTEST_RUN = 32
"""Channels in a row that are copied as a stretch; shorter ones are gathered one by one."""


@dataclass(frozen=True)
class Retargeted:
    """What retargeting found and did."""

    report: Retargeting
    rendered: Rendered | None
    """None when no frames were asked for."""
    computed: tuple[str, ...]
    """Names of the props that were rendered anew."""
    copied_pixels: int
    misfit: str
    """Why the old frames were of no use; empty when they were, or there were none."""


def retarget(
    show: str | Path | Show,
    old: str | Path | Layout,
    new: str | Path | Layout,
    out: str | Path | None = None,
    *,
    frames: str | Path | None = None,
    song: str | Path | None = None,
    fps: float = 40.0,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Retargeted:
    """Say what becomes of ``show`` when the house ``old`` becomes ``new``, and render it there into ``out``.

    frames: the old house's frames file; where it was made from the same show, song and beats by this version of
    eavesong, its rate and range are kept and what cannot have changed is copied. Without it, or where it does not
    fit, everything is rendered, at ``fps``, for the whole song. No ``out``: nothing is rendered. song, workers and
    progress as in `eavesong.render.render`.

    Raises what render raises, and FramesError when ``frames`` is no frames file or damaged.
    """
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.render.render import prepare, render
    from eavesong.show import place_cues
    from eavesong.retarget.report import retargeting

    before = load_layout(old) if isinstance(old, str | Path) else old
    job = prepare(show, new, song)
    report = retargeting(job.show, before, job.layout, job.grid)
    if out is None:
        return Retargeted(report, None, (), 0, "")
    names = tuple(prop.name for prop in job.layout.props)
    misfit = ""
    if frames is not None:
        with open_frames(frames) as file:
            misfit = why_useless(file, job, before)
            if not misfit:
                kept = kept_props(before, job.layout, place_cues(job.show, before, job.grid), job.cues)
                rendered = _render_rest(job, before, kept, file, out, workers, progress)
                computed = tuple(name for index, name in enumerate(names) if index not in kept)
                copied = sum(job.layout.props[index].stop - job.layout.props[index].start for index in kept)
                return Retargeted(report, rendered, computed, copied, "")
    rendered = render(job.show, job.layout, out, song=song, fps=fps, workers=workers, progress=progress)
    return Retargeted(report, rendered, names, 0, misfit)


def why_useless(file: FramesFile, job: Job, old: Layout) -> str:
    """Why frames cannot be used again for a job's show and song; empty when they can."""
    from eavesong.music import beats_text, sections_text
    from eavesong.render.version import renderer_hash

    texts = {"show": job.show.text, "beats": beats_text(job.grid), "sections": sections_text(job.grid)}
    texts |= {f"effect {name}": effect.text for name, effect in job.show.effects.items()}
    wanted = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}
    wanted |= {"audio": job.hashes["audio"], "layout files": old.content_hash}
    told = {
        "audio": "the song's sound",
        "layout files": "the old layout",
        "show": "the show",
        "sections": "the sections",
    }
    for name, digest in wanted.items():
        if file.hashes.get(name) != digest:
            return f"{told.get(name, f'the {name}')} is not what they were made from"
    if "renderer" not in file.hashes:
        return "they hold a part of the props only, or were dimmed or softened"
    if file.hashes["renderer"] != renderer_hash():
        return "another version of eavesong made them"
    return ""


def kept_props(old: Layout, new: Layout, before: Sequence[PlacedCue], now: Sequence[PlacedCue]) -> dict[int, int]:
    """The props of ``new`` whose bytes cannot have changed, each with the prop of ``old`` that has them.

    ``before`` and ``now`` are the same show's cues, placed on each house to the same song.
    """
    from eavesong.retarget.changes import pair_props

    same = [_same_cue(a, b) for a, b in zip(before, now, strict=True)]
    return {
        index: was
        for index, was in pair_props(old, new).items()
        if _same_drive(old, new, was, index) and _same_light(old, new, was, index, before, now, same)
    }


def _same_cue(a: PlacedCue, b: PlacedCue) -> bool:
    """Whether two cues are alike in all but what they light."""
    return (
        a.effect.code == b.effect.code
        and a.parameters == b.parameters
        and a.palette == b.palette
        and (a.blend, a.opacity, a.spans) == (b.blend, b.opacity, b.spans)
        and a.grid == b.grid
    )


def _same_drive(old: Layout, new: Layout, was: int, index: int) -> bool:
    """Whether two props have as many pixels, driven alike; the order of their colours may differ."""
    a, b = _part(old, was), _part(new, index)
    if a.stop - a.start != b.stop - b.start:
        return False
    for name in ("brightness", "gamma", "channel_width"):
        if not np.array_equal(getattr(old.patch, name)[a], getattr(new.patch, name)[b]):
            return False
    return True


def _same_light(
    old: Layout, new: Layout, was: int, index: int, before: Sequence[PlacedCue], now: Sequence[PlacedCue],
    same: Sequence[bool],
) -> bool:  # fmt: skip
    """Whether the same cues light the same pixels of two props, and read the same of their places."""
    a, b = _part(old, was), _part(new, index)
    read: set[tuple[str, str]] = set()
    for cue_before, cue_now, alike in zip(before, now, same, strict=True):
        if not np.array_equal(cue_before.weight[a], cue_now.weight[b]):
            return False
        if cue_now.weight[b].any():
            if not alike:
                return False
            read |= cue_now.effect.program.pixel_inputs()
    return all(_same_bits(_values(old, *what)[a], _values(new, *what)[b]) for what in read)


def _part(layout: Layout, index: int) -> slice:
    prop = layout.props[index]
    return slice(prop.start, prop.stop)


def _values(layout: Layout, kind: str, name: str) -> NDArray[np.float32]:
    """What programs read of the pixels, see ``Program.pixel_inputs``."""
    if kind == "input":
        values: NDArray[np.float32] = getattr(layout.pixels, name)
        return values
    return (layout.pixels.step if kind == "step_along" else layout.pixels.across)[name]


def _same_bits(a: NDArray[np.float32], b: NDArray[np.float32]) -> bool:
    return np.array_equal(a.view(np.uint32), b.view(np.uint32))


def sources_of(old: Layout, new: Layout, kept: dict[int, int]) -> Indices:
    """(channels,) of the new house: the channel of the old one that each is copied from, -1 where it is computed."""
    sources = np.full(new.patch.channel_count, -1, np.int64)
    for index, was in kept.items():
        a, b = _part(old, was), _part(new, index)
        widths = new.patch.channel_width[b].astype(np.int64)
        pixel = np.repeat(np.arange(len(widths)), widths)
        place = np.arange(len(pixel)) - np.repeat(np.cumsum(widths) - widths, widths)
        order_old, order_new = old.patch.order[a][pixel], new.patch.order[b][pixel]
        table = _letters(old.patch.orders, new.patch.orders)
        there = old.patch.channel_start[a][pixel] + table[order_old, order_new, place]
        sources[new.patch.channel_start[b][pixel] + place] = there
    return sources


def _letters(old: Sequence[str], new: Sequence[str]) -> Indices:
    """[old order, new order, place in the new one]: the place in the old one of the same colour."""
    table = np.zeros((len(old), len(new), 4), np.int64)
    for i, was in enumerate(old):
        for j, now in enumerate(new):
            if len(was) == len(now):
                table[i, j, : len(now)] = [was.index(letter) for letter in now]
    return table


def runs_where(chosen: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first, end) of each stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _render_rest(
    job: Job, old: Layout, kept: dict[int, int], file: FramesFile, out: str | Path, workers: int | None,
    progress: Progress | None,
) -> Rendered:  # fmt: skip
    """Write ``out``: kept props from ``file``, the others rendered, at its rate and range."""
    from eavesong.frames import FramesWriter
    from eavesong.render.render import Rendered, _description, _in_order

    fps, count = file.frame_rate, file.frame_count
    first = round(file.start * fps)
    description = _description(job, fps, first, plain=True)
    computed = _computing(job, kept, fps)
    with FramesWriter(out, description=description, frame_count=count) as writer:
        maker = _Maker(file, sources_of(old, job.layout, kept), computed, first, writer.chunk_frames)
        for chunks in _in_order(maker.make, maker.given(), workers):
            for chunk in chunks:
                writer.append(chunk)
            if progress is not None:
                progress(writer.frames_written, count)
    return Rendered(Path(out), fps, first, count, job.layout.pixel_count, len(job.cues))


def _computing(job: Job, kept: dict[int, int], fps: float) -> Callable[[int, int], Bytes] | None:
    """The frames of the props that are not kept; None where there are none, so that nothing is even compiled."""
    rest = [index for index in range(len(job.layout.props)) if index not in kept]
    if not rest:
        return None
    from eavesong.render.frames import Frames
    from eavesong.render.plan import make_plan

    return Frames(make_plan(job.cues, job.layout, job.grid, job.signals, fps, rest)).block


class _Maker:
    """Makes new chunks, several at a time, in worker threads from what is read in one."""

    def __init__(
        self, file: FramesFile, sources: Indices, computed: Callable[[int, int], Bytes] | None, first: int, size: int
    ) -> None:
        """``first``: the song's frame that the file begins with. ``size``: frames in a new chunk."""
        self.file, self.computed, self.first, self.size = file, computed, first, size
        self.width = len(sources)
        self.fresh = runs_where(sources < 0)
        self.stored = size == file.chunk_frames
        self.in_place = self.stored and self.width == file.channel_count
        self.in_place = self.in_place and bool(((sources < 0) | (sources == np.arange(self.width))).all())
        self.gather = _gatherer(sources)

    def given(self) -> Iterator[tuple[int, list[StoredChunk | Bytes]]]:
        """The first frame, and some old chunks as stored, or the old frames of as many new ones."""
        from eavesong.frames.copying import stored_chunk

        count, size = self.file.frame_count, self.size
        together = max(1, -(-TOGETHER // size)) * size
        for begin in range(0, count, together):
            starts = range(begin, min(begin + together, count), size)
            if self.stored:
                yield begin, [stored_chunk(self.file, start) for start in starts]
            else:
                yield begin, [self.file.frames[start : start + size] for start in starts]

    def make(self, work: tuple[int, list[StoredChunk | Bytes]]) -> list[EncodedChunk]:
        """The new chunks in the place of some old ones."""
        begin, chunks = work
        counts = [len(old) if isinstance(old, np.ndarray) else old.frames for old in chunks]
        rows = self._rows(begin, sum(counts))
        parts = np.split(rows, np.cumsum(counts)[:-1]) if len(rows) else [rows] * len(chunks)
        return [self._chunk(old, part) for old, part in zip(chunks, parts, strict=True)]

    def _rows(self, begin: int, count: int) -> Bytes:
        """(count, channels): what is computed of the new frames; none where chunks are copied as they are."""
        if self.computed is not None:
            return self.computed(self.first + begin, count)
        return np.zeros((0 if self.in_place else count, self.width), np.uint8)

    def _chunk(self, old: StoredChunk | Bytes, rows: Bytes) -> EncodedChunk:
        from eavesong.frames import encode_chunk
        from eavesong.frames.copying import unpacked, with_channels

        if isinstance(old, np.ndarray):
            self.gather(old, rows)
            return encode_chunk(rows, self.size)
        if self.in_place:
            return with_channels(old, self.fresh, rows)
        self.gather(unpacked(old), rows)
        return encode_chunk(rows, self.size)


def _gatherer(sources: Indices) -> Callable[[Bytes, Bytes], None]:
    """Copies channels of old frames (f, old channels) into new ones (f, channels), long runs as stretches."""
    follows = np.concatenate([[False], (np.diff(sources) == 1) & (sources[1:] >= 0)])
    starts = np.flatnonzero(~follows)
    ends = np.append(starts[1:], len(sources))
    used = sources[starts] >= 0
    long = used & (ends - starts >= SHORTEST_RUN)
    stretches = [(int(a), int(b), int(sources[a])) for a, b in zip(starts[long], ends[long], strict=True)]
    short = used & ~long
    single = np.concatenate([np.arange(a, b) for a, b in zip(starts[short], ends[short], strict=True)] or [starts[:0]])

    def gather(old: Bytes, rows: Bytes) -> None:
        for begin, end, source in stretches:
            rows[:, begin:end] = old[:, source : source + end - begin]
        if len(single):
            rows[:, single] = old[:, sources[single]]

    return gather
