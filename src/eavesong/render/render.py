"""The whole job: an order goes in, a frames file comes out.

order → scene → engine: blocks of frames (drawn, kept within limits, compressed; one thread each) → file, in order
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from threading import Semaphore
from typing import TYPE_CHECKING, TypeVar

from eavesong.engines import USUAL, draw
from eavesong.frames.guard import refuse_foreign
from eavesong.processors import processors
from eavesong.scene import Order as Order
from eavesong.scene import make_scene, order_text

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.frames import Description, EncodedFrames
    from eavesong.frames.begun import Begun
    from eavesong.scene import Scene
    from eavesong.within.stages import Within

Given = TypeVar("Given")
Made = TypeVar("Made")

Progress = Callable[[int, int], None]
"""Called with the frames done and the frames in all."""


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


def render(
    order: Order,
    out: str | Path,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    tell: Callable[[Scene], None] | None = None,
    engine: str = USUAL,
    overwrite: bool = False,
) -> Rendered:
    """Render what was ordered into the frames file ``out``, which is written whole or not at all.

    workers: threads; as many as there are processors where None. Neither the range that is ordered nor the workers
    change a byte of what is computed. tell: is given the scene before anything is rendered. engine: what draws it, see
    `eavesong.engines`. overwrite: take the place of a file that eavesong did not write.

    Raises LayoutError, ShowError, EffectError, BeatsError or AudioError for an input that cannot be used and
    OutputError when ``out`` cannot be written.
    """
    refuse_foreign(out, overwrite)
    scene = make_scene(order)
    if tell is not None:
        tell(scene)
    return render_scene(scene, out, workers=workers, progress=progress, engine=engine, overwrite=overwrite)


def render_scene(
    scene: Scene, out: str | Path, *, workers: int | None = None, progress: Progress | None = None, engine: str = USUAL,
    written: Order | None = None, overwrite: bool = False,
) -> Rendered:  # fmt: skip
    """Render a scene that was made from an order; everything else as `render`.

    written: the order that the file is to tell, its files counted from the folder of the frames, where the scene was
    made from copies of them.
    """
    from eavesong.frames import encode_frames

    terms, packing = scene.terms, Semaphore(PACKERS)
    first, count = terms.frame_range(scene.grid.duration)
    whole = replace(terms, start=None, stop=None).frame_range(scene.grid.duration)[1]
    stages = _stages(scene)
    drawing = draw(scene, engine)

    def blocks(size: int) -> Iterator[list[EncodedFrames]]:
        """The chunks of all frames in order, ``size`` frames in each."""

        def encoded(block: NDArray[np.uint8]) -> list[EncodedFrames]:
            """A block (frames, channels) as chunks."""
            with packing:
                return [encode_frames(block[at : at + size], size) for at in range(0, len(block), size)]

        if stages is None:
            return in_order(lambda span: encoded(drawing.block(*span)), spans(first, count, size), workers)
        begin, needed = stages.around(first, count, whole)
        raw = in_order(lambda span: stages.measured(drawing.block(*span)), spans(begin, needed, size), workers)
        parts = stages.pass_through(raw, first - begin, count, block_frames(size))
        return in_order(lambda part: encoded(stages.finished(part)), parts, workers)

    description = describe_scene(scene, out, engine, written)
    done = write_frames(scene, out, description, blocks, progress=progress, overwrite=overwrite)
    return replace(done, notes=stages.notes(terms.frame_rate)) if stages else done


def write_frames(
    scene: Scene, out: str | Path, description: Description, blocks: Callable[[int], Iterable[list[EncodedFrames]]], *,
    progress: Progress | None = None, overwrite: bool = False, begun: Begun | None = None,
) -> Rendered:  # fmt: skip
    """Write the frames of a scene into the file ``out``, whole or not at all.

    blocks: gives its chunks in order, some at a time, of as many frames as it is told. begun: as of
    `FramesWriter`. Raises OutputError when ``out`` cannot be written.
    """
    from eavesong.frames import FramesWriter

    first, count = scene.terms.frame_range(scene.grid.duration)
    with FramesWriter(out, description=description, frame_count=count, overwrite=overwrite, begun=begun) as writer:
        for chunks in blocks(writer.chunk_frames):
            for chunk in chunks:
                writer.append(chunk)
            if progress is not None:
                progress(writer.frames_written, count)
    return Rendered(Path(out), scene.frame_rate, first, count, scene.layout.pixel_count, len(scene.cues))


def _stages(scene: Scene) -> Within | None:
    """What frames go through after they are drawn; None: nothing."""
    terms = scene.terms
    if not terms.limit and not terms.soften:
        return None
    from eavesong.within.stages import within

    return within(scene.layout, terms.frame_rate, terms.limit, terms.soften)


def describe_scene(scene: Scene, out: str | Path, engine: str = USUAL, written: Order | None = None) -> Description:
    """What the frames file ``out`` says of the frames of a scene: its texts, the order, and what they were made by."""
    from eavesong.frames import describe
    from eavesong.light import LAW
    from eavesong.music import beats_text, sections_text
    from eavesong.render.origin import made_by

    assert scene.show is not None, "only what was made from a show is described"
    assert scene.order is not None, "only what was ordered is described"
    order = (written or beside(scene.order, out)).on(scene.terms)
    effects = {f"effect {name}": effect.text for name, effect in scene.show.effects.items()}
    texts = {"show": scene.show.text, "beats": beats_text(scene.grid), "sections": sections_text(scene.grid)}
    first, _ = scene.terms.frame_range(scene.grid.duration)
    where = written.song if written is not None else scene.song and _from(out, scene.song)
    return describe(
        scene.layout,
        title=scene.show.title,
        frame_rate=scene.frame_rate,
        texts=texts | effects | {"order": order_text(order)},
        start=first / scene.frame_rate,
        song=scene.song.name if scene.song else "",
        song_path=where or "",
        photo_path=(PurePosixPath(order.layout).parent / scene.layout.photo).as_posix() if scene.layout.photo else "",
        song_seconds=scene.grid.duration,
        law=LAW,
        hashes=scene.hashes | _photo_hash(scene) | {"renderer": made_by(engine)},
    )


def _photo_hash(scene: Scene) -> dict[str, str]:
    """SHA-256 of the photo that the layout names, where it is there: by it the photo is known again later."""
    import hashlib

    assert scene.order is not None, "only what was ordered is described"
    try:
        photo = Path(scene.order.layout).parent / scene.layout.photo
        return {"photo": hashlib.sha256(photo.read_bytes()).hexdigest()} if scene.layout.photo else {}
    except OSError:
        return {}


def beside(order: Order, out: str | Path) -> Order:
    """The order with its files counted from the folder of ``out``, so that both can be moved together."""
    song = None if order.song is None else _from(out, order.song)
    return replace(order, show=_from(out, order.show), layout=_from(out, order.layout), song=song)


def _from(out: str | Path, path: str | Path) -> str:
    """A path as it is written from the folder of ``out``, with slashes on any system; its name where there is none."""
    try:
        return Path(os.path.relpath(path, Path(out).parent)).as_posix()
    except ValueError:  # another drive
        return Path(path).name


PACKERS = 6
"""Threads that make chunks of what they drew at the same time: chunk by chunk they take Python's lock, and sixteen that
did were slower than six."""

SMALLEST_BLOCK = 16
"""Frames computed together at least, so that a cue's planes are read from memory once for all of them."""


def block_frames(chunk_frames: int) -> int:
    """Frames computed together, a multiple of those in a chunk."""
    return chunk_frames * max(1, -(-SMALLEST_BLOCK // chunk_frames))


def spans(first: int, count: int, chunk_frames: int) -> Iterator[tuple[int, int]]:
    """(first, count) of blocks of frames that are computed together, the last one shorter."""
    size = block_frames(chunk_frames)
    for begin in range(first, first + count, size):
        yield begin, min(size, first + count - begin)


def in_order(
    work: Callable[[Given], Made], given: Iterable[Given], workers: int | None, ahead: int = 2
) -> Iterator[Made]:
    """What several threads make of each thing, in order; at most ``ahead`` for each thread are waiting, so memory is
    flat."""
    threads = max(1, workers or processors())
    with ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[Made]] = deque()
        try:
            for thing in given:
                waiting.append(pool.submit(work, thing))
                if len(waiting) >= ahead * threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
