"""Rendering on a changed house: props whose bytes cannot have changed are copied from the old frames.

A pixel's bytes depend on the cues that light it, what those effects read of its place, and how it is driven; on
nothing else. So a prop is copied when all of that is what it was, wherever its channels lie now and in whatever
order its colours are sent. The frames are bit for bit those of a full render.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.frames.guard import refuse_foreign
from eavesong.render import Order, render_scene
from eavesong.retarget.report import retargeting
from eavesong.scene import Reopened, Terms, make_scene
from eavesong.scene.layers import of_pixels, pixel_values
from eavesong.scene.order import kept_on
from eavesong.scene.reopen import earlier_terms, told_kept

if TYPE_CHECKING:
    from eavesong.frames import EncodedChunk, FramesFile
    from eavesong.frames.copying import StoredChunk
    from eavesong.layout import Layout
    from eavesong.render import Rendered
    from eavesong.render.render import Progress
    from eavesong.retarget.report import Retargeting
    from eavesong.scene import PlacedCue, Scene

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
    show: str | Path,
    old: str | Path,
    new: str | Path,
    out: str | Path | None = None,
    *,
    frames: str | Path | None = None,
    song: str | Path | None = None,
    fps: float = 40.0,
    workers: int | None = None,
    progress: Progress | None = None,
    overwrite: bool = False,
) -> Retargeted:
    """Say what becomes of ``show`` when the house ``old`` becomes ``new``, and render it there into ``out``.

    frames: the old house's frames file. What was asked for there (rate, range, props, limit, softening) is kept on the
    new house; where it was made from the same show, song and beats by this version of eavesong, what cannot have
    changed is copied from it. Without it, everything is rendered, at ``fps``, for the whole song, but within the limit
    and the softening of frames that ``out`` holds already. No ``out``: nothing is rendered. song, workers, progress and
    overwrite as in `eavesong.render.render`.

    Raises what render raises, and FramesError when ``frames`` is no frames file or damaged.
    """
    from eavesong.layout import load_layout

    before = load_layout(old)
    order = Order.of(show, new, song, frame_rate=fps)
    if out is not None:
        refuse_foreign(out, overwrite)
    scene = make_scene(order)
    assert scene.show is not None, "a scene made from an order has a show"
    report = retargeting(scene.show, before, scene.layout, scene.grid)
    if out is None:
        return Retargeted(report, None, (), 0, "")
    with _opened(frames) as file:
        terms, kept = _terms(file, order, out, scene.layout)
        scene = replace(scene, terms=terms)
        misfit = "" if file is None else why_useless(file, scene, before)
        if file is None or misfit:
            rendered = render_scene(scene, out, workers=workers, progress=progress, overwrite=overwrite)
            rendered = replace(rendered, notes=(*kept, *rendered.notes))
            names = tuple(prop.name for prop in scene.layout.props)
            return Retargeted(report, rendered, names, 0, misfit)
        return _copied(report, scene, before, file, out, workers, progress, overwrite)


def _opened(frames: str | Path | None) -> AbstractContextManager[FramesFile | None]:
    from eavesong.frames import open_frames

    return open_frames(frames) if frames is not None else nullcontext()


def _terms(file: FramesFile | None, order: Order, out: str | Path, new: Layout) -> tuple[Terms, tuple[str, ...]]:
    """The terms of the new frames, and what of them was kept from frames that were there, in words."""
    if file is None:
        terms = kept_on(earlier_terms(out), order)
        return terms, told_kept(order, terms)
    earlier = Reopened(file).terms
    here = {*new.names(), *new.tags()}
    gone = tuple(name for name in earlier.props if name not in here)
    terms = replace(earlier, props=tuple(name for name in earlier.props if name in here))
    lost = (f"of the props asked for, the new house has no {', '.join(gone)}",) if gone else ()
    return terms, (*told_kept(order, terms), *lost)


def _copied(
    report: Retargeting, scene: Scene, before: Layout, file: FramesFile, out: str | Path, workers: int | None,
    progress: Progress | None, overwrite: bool,
) -> Retargeted:  # fmt: skip
    """What cannot have changed copied from ``file``, the rest rendered."""
    from eavesong.scene.place import place_cues

    assert scene.show is not None, "a scene made from an order has a show"
    kept = kept_props(before, scene.layout, place_cues(scene.show, before, scene.grid), scene.cues)
    rendered = _render_rest(scene, before, kept, file, out, workers, progress, overwrite)
    props = scene.layout.props
    computed = tuple(prop.name for index, prop in enumerate(props) if index not in kept)
    copied = sum(props[index].stop - props[index].start for index in kept)
    return Retargeted(report, rendered, computed, copied, "")


def why_useless(file: FramesFile, scene: Scene, old: Layout) -> str:
    """Why what frames hold cannot be copied for a scene's show and song; empty when it can."""
    from eavesong.music import beats_text, sections_text
    from eavesong.render.origin import made_by

    assert scene.show is not None, "a scene made from an order has a show"
    texts = {"show": scene.show.text, "beats": beats_text(scene.grid), "sections": sections_text(scene.grid)}
    texts |= {f"effect {name}": effect.text for name, effect in scene.show.effects.items()}
    wanted = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}
    wanted |= {"audio": scene.hashes["audio"], "layout files": old.content_hash}
    told = {
        "audio": "the song's sound",
        "layout files": "the old layout",
        "show": "the show",
        "sections": "the sections",
    }
    for name, digest in wanted.items():
        if file.hashes.get(name) != digest:
            return f"{told.get(name, f'the {name}')} is not what they were made from"
    reopened = Reopened(file)
    if not reopened.told:
        return "they do not say what was asked for: an older eavesong made them"
    if not reopened.terms.whole:
        return "they hold a part of the props only, or were dimmed or softened"
    if file.hashes.get("renderer") != made_by():
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
            inputs = cue_now.effect.program.pixel_inputs()
            own = inputs & {("input", "number")} if cue_now.number is not None else set()
            if not all(_same_bits(pixel_values(cue_before, old, *what)[a], pixel_values(cue_now, new, *what)[b])
                       for what in own):  # fmt: skip
                return False
            read |= inputs - own
    return all(_same_bits(of_pixels(old, *what)[a], of_pixels(new, *what)[b]) for what in read)


def _part(layout: Layout, index: int) -> slice:
    prop = layout.props[index]
    return slice(prop.start, prop.stop)


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
    scene: Scene, old: Layout, kept: dict[int, int], file: FramesFile, out: str | Path, workers: int | None,
    progress: Progress | None, overwrite: bool,
) -> Rendered:  # fmt: skip
    """Write ``out``: kept props from ``file``, the others rendered, at its rate and range."""
    from eavesong.frames import FramesWriter
    from eavesong.render.render import Rendered, describe_scene, in_order

    fps, count = file.frame_rate, file.frame_count
    first = round(file.start * fps)
    computed = _computing(scene, kept)
    with FramesWriter(out, description=describe_scene(scene, out), frame_count=count, overwrite=overwrite) as writer:
        maker = _Maker(file, sources_of(old, scene.layout, kept), computed, first, writer.chunk_frames)
        for chunks in in_order(maker.make, maker.given(), workers):
            for chunk in chunks:
                writer.append(chunk)
            if progress is not None:
                progress(writer.frames_written, count)
    return Rendered(Path(out), fps, first, count, scene.layout.pixel_count, len(scene.cues))


def _computing(scene: Scene, kept: dict[int, int]) -> Callable[[int, int], Bytes] | None:
    """The frames of the props that are not kept; None where there are none, so that nothing is even compiled."""
    rest = [index for index in range(len(scene.layout.props)) if index not in kept]
    if not rest:
        return None
    from eavesong.engines import draw

    return draw(scene.only(rest)).block


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
