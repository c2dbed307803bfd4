"""The whole job: a show, a house and a song go in, a frames file comes out.

read → place → plan → blocks of frames (sample, drive, compress; one thread each) → file, in order
"""

from __future__ import annotations

import math
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from eavesong.errors import BeatsError, EavesongError, LayoutError, Problem, ShowError, advise

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.frames import Description, EncodedChunk
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid, Signals
    from eavesong.render.within import Within
    from eavesong.show import PlacedCue, Show

Given = TypeVar("Given")
Made = TypeVar("Made")

Progress = Callable[[int, int], None]
"""Called with the frames done and the frames in all."""

Tell = Callable[[Sequence[Problem]], None]
"""Called with what a check of the show finds, before anything is rendered."""

FASTEST = 240.0
"""Frames a second, at most: far above what pixels or eyes follow."""


@dataclass(frozen=True)
class Rendered:
    """What was rendered."""

    path: Path
    frame_rate: float
    first_frame: int
    """Counted from the song's beginning."""
    frame_count: int
    pixel_count: int
    cue_count: int
    notes: tuple[str, ...] = ()
    """What was dimmed and softened, in words."""


@dataclass(frozen=True, eq=False)
class Job:
    """Everything that is read before the first frame is computed."""

    show: Show
    layout: Layout
    grid: BeatGrid
    song: str
    """Name of its file."""
    signals: Signals
    cues: tuple[PlacedCue, ...]
    hashes: dict[str, str]


def render(
    show: str | Path | Show,
    layout: str | Path | Layout,
    out: str | Path,
    *,
    song: str | Path | None = None,
    fps: float = 40.0,
    start: float | None = None,
    stop: float | None = None,
    props: Sequence[str] = (),
    limit: Sequence[str] = (),
    soften: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
    tell: Tell | None = None,
) -> Rendered:
    """Render ``show`` on ``layout`` into the frames file ``out``, which is written whole or not at all.

    song: another song than the one the show names. fps: frames a second, 1 to 240. start, stop: seconds of the
    song; the whole song where they are None. props: names or tags of the props to be computed, the others stay dark;
    all where empty. limit: what supplies, outputs or the house may draw, see ``limiter.parse_limit``; frames that would
    draw more are dimmed. soften: whether contrast shrinks where there would be more than three flashes in a second.
    workers: threads; as many as there are processors where None. Neither the range nor the workers change a byte of
    what is computed. tell: is told what a check of the show finds, before anything is rendered.

    Raises LayoutError, ShowError, EffectError, BeatsError or AudioError for an input that cannot be used and
    OutputError when ``out`` cannot be written.
    """
    from eavesong.frames import FramesWriter, encode_chunk
    from eavesong.render.frames import Frames
    from eavesong.render.plan import make_plan

    job = prepare(show, layout, song)
    if tell is not None:
        from eavesong.show import check

        tell(check(job.show, job.layout, job.grid).findings)
    chosen = chosen_props(job.layout, props)
    first, count = frame_range(job.grid.duration, fps, start, stop)
    stages = _stages(job.layout, fps, limit, soften)
    description = _description(job, fps, first, plain=not (props or limit or soften))
    frames = Frames(make_plan(job.cues, job.layout, job.grid, job.signals, fps, chosen))
    with FramesWriter(out, description=description, frame_count=count) as writer:
        size = writer.chunk_frames

        def encoded(block: NDArray[np.uint8]) -> list[EncodedChunk]:
            return [encode_chunk(block[at : at + size], size) for at in range(0, len(block), size)]

        if stages is None:
            spans = _spans(first, count, _block_frames(size))
            blocks = _in_order(lambda span: encoded(frames.block(*span)), spans, workers)
        else:
            whole = frame_range(job.grid.duration, fps, None, None)[1]
            begin, needed = stages.around(first, count, whole)
            spans = _spans(begin, needed, _block_frames(size))
            raw = _in_order(lambda span: stages.measured(frames.block(*span)), spans, workers)
            parts = stages.pass_through(raw, first - begin, count, _block_frames(size))
            blocks = _in_order(lambda part: encoded(stages.finished(part)), parts, workers)
        for chunks in blocks:
            for chunk in chunks:
                writer.append(chunk)
            if progress is not None:
                progress(writer.frames_written, count)
    notes = stages.notes(fps) if stages else ()
    return Rendered(Path(out), fps, first, count, job.layout.pixel_count, len(job.cues), notes)


def _stages(layout: Layout, fps: float, limit: Sequence[str], soften: bool) -> Within | None:
    """What frames go through after they are computed; None: nothing."""
    if not limit and not soften:
        return None
    from eavesong.render.within import within

    return within(layout, fps, limit, soften)


def prepare(show: str | Path | Show, layout: str | Path | Layout, song: str | Path | None = None) -> Job:
    """Read a show, a layout and the song between them, and place the cues; every problem of both files at once."""
    from eavesong.language.builtins import EVENTS
    from eavesong.layout import load_layout
    from eavesong.music import events_for, hear
    from eavesong.show import grid_of, load_show, place_cues

    problems: list[Problem] = []
    errors: list[EavesongError] = []
    read: list[object] = []
    for source, reader in ((show, load_show), (layout, load_layout)):
        try:
            read.append(reader(source) if isinstance(source, str | Path) else source)
        except EavesongError as fault:
            problems += fault.problems
            errors.append(fault)
    if errors:
        raise type(errors[0])(problems)
    loaded: Show = read[0]  # type: ignore[assignment]
    house: Layout = read[1]  # type: ignore[assignment]
    grid = grid_of(loaded, song)
    sound = Path(song) if song is not None else loaded.song
    assert sound is not None, "grid_of refuses a show without a song"
    heard = hear(sound)
    cues = place_cues(loaded, house, grid)
    signals = heard.signals
    if any(cue.effect.program.frame_inputs() & set(EVENTS) for cue in cues):
        signals = signals.following(events_for(sound, grid), grid)
    hashes = {"audio": heard.audio_hash} | source_hashes(loaded, song)
    return Job(loaded, house, grid, sound.name, signals, cues, hashes)


def source_hashes(show: Show, song: str | Path | None = None) -> dict[str, str]:
    """SHA-256 of the beats, sections and events texts that count, in hex; of nothing where the song is listened to."""
    from eavesong.files import content_hash, read_text
    from eavesong.music import events_text_for, texts_for

    named = (None, None) if song is not None else (show.beats, show.sections)
    sound = song if song is not None else show.song
    assert sound is not None, "grid_of refuses a show without a song"
    paths = (*texts_for(sound, *named), events_text_for(sound))
    texts = zip(("beats file", "sections file", "events file"), paths, strict=True)
    return {name: content_hash(read_text(path, BeatsError) if path else "") for name, path in texts}


def chosen_props(layout: Layout, names: Sequence[str]) -> tuple[int, ...] | None:
    """Indices of the props that have one of ``names`` as name, row or tag; None for no names: all of them."""
    if not names:
        return None
    chosen: set[int] = set()
    problems = []
    for name in names:
        found = {*layout.named(name), *layout.tagged(name)}
        chosen |= found
        if not found:
            known = {*layout.names(), *layout.tags()}
            problems.append(
                Problem(
                    layout.path or layout.title,
                    "",
                    f"no prop is called or tagged '{name}'",
                    advise(name, known, "name"),
                )
            )
    if problems:
        raise LayoutError(problems)
    return tuple(sorted(chosen))


def frame_range(duration: float, fps: float, start: float | None, stop: float | None) -> tuple[int, int]:
    """First frame and number of frames between two seconds of a song; ShowError where there are none.

    Frame k is shown at k / fps seconds; the range holds every frame from ``start`` up to but not including ``stop``.
    """
    if not (math.isfinite(fps) and 1.0 <= fps <= FASTEST):
        raise ShowError(Problem("frame rate", "", f"{fps:g} frames a second", f"Choose from 1 to {FASTEST:g}."))
    begin = max(0.0, start or 0.0)
    end = duration if stop is None else min(stop, duration)
    if not begin < end:
        raise _no_frames(begin, end, duration)
    # A millionth of a frame mends decimal seconds that are a hair off in binary.
    first = math.ceil(begin * fps - 1e-6)
    count = math.ceil(end * fps - 1e-6) - first
    if count <= 0:
        raise _no_frames(begin, end, duration)
    return first, count


def _no_frames(begin: float, end: float, duration: float) -> ShowError:
    found = f"there are no frames between {begin:g} s and {end:g} s of a song of {duration:.1f} s"
    return ShowError(Problem("time range", "", found, "Choose a start before the end, inside the song."))


def _description(job: Job, fps: float, first: int, plain: bool) -> Description:
    """The description of a job's frames; ``plain`` frames, all props and nothing dimmed, may be used again."""
    from eavesong.frames import describe
    from eavesong.music import beats_text, sections_text
    from eavesong.render.version import renderer_hash

    effects = {f"effect {name}": effect.text for name, effect in job.show.effects.items()}
    return describe(
        job.layout,
        title=job.show.title,
        frame_rate=fps,
        texts={"show": job.show.text, "beats": beats_text(job.grid), "sections": sections_text(job.grid)} | effects,
        start=first / fps,
        song=job.song,
        song_seconds=job.grid.duration,
        hashes=job.hashes | ({"renderer": renderer_hash()} if plain else {}),
    )


SMALLEST_BLOCK = 16
"""Frames computed together at least, so that a cue's planes are read from memory once for all of them."""


def _block_frames(chunk_frames: int) -> int:
    return chunk_frames * max(1, -(-SMALLEST_BLOCK // chunk_frames))


def _spans(first: int, count: int, size: int) -> Iterator[tuple[int, int]]:
    """(first, count) of blocks of ``size`` frames, the last one shorter."""
    for begin in range(first, first + count, size):
        yield begin, min(size, first + count - begin)


def _in_order(work: Callable[[Given], Made], given: Iterable[Given], workers: int | None) -> Iterator[Made]:
    """What several threads make of each thing, in order; at most two for each thread are waiting, so memory is flat."""
    threads = max(1, workers or os.cpu_count() or 1)
    with ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[Made]] = deque()
        try:
            for thing in given:
                waiting.append(pool.submit(work, thing))
                if len(waiting) >= 2 * threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
