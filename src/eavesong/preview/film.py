"""Clips: the house in motion, streamed frame by frame into a file, so that memory does not grow with the song."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from eavesong.errors import FramesError, Problem
from eavesong.files import whole_file
from eavesong.preview.night import WARNING, Bytes, Painter
from eavesong.processors import processors
from eavesong.scene.reopen import Reopened

LOOP_RATE = 20.0
"""Pictures a second of a looping picture, at most: browsers slow down what asks for more than 50 (common practice)."""
LONGEST_LOOP = 60.0
"""Seconds of the longest looping picture, which browsers hold in memory."""
QUALITY = 22
"""Of the H.264 encoder (x264's constant rate factor, 0 best to 51 worst)."""
ENCODER = {
    "preset": "ultrafast",
    "x264-params": "cabac=0:8x8dct=1:no-deblock=0:aq-mode=1:aq-strength=0.6:bframes=5:b-adapt=0",
}
"""How it works: its quickest preset, and what makes files smaller and keeps dark skies smooth for little more."""
MOST_THREADS = 8
"""Threads that draw, at most: each has canvases of some 20 MB, and the encoder keeps up with no more."""
AHEAD, AHEAD_BYTES = 4, 64 << 20
"""Pictures that are drawn ahead of the encoder, for each thread, and their bytes at most: at some it stops to think, at
others it does not."""
WARNED = 6.0
"""Seconds at its beginning for which a clip of a show that may flash says so; at least the whole of a shorter one."""

Say = Callable[[int, int], None]
T = TypeVar("T")
"""Whatever a picture is drawn as."""


def write_film(
    source: Reopened, scene: Painter, path: str | Path, start: float, end: float, *, song: Path | None = None,
    flashes: bool = False, progress: Say = lambda done, total: None,
) -> None:  # fmt: skip
    """An MP4 (H.264, and AAC where there is a ``song``) of the song from ``start`` to ``end`` seconds.

    Every frame of the frames file is a picture of the clip, shown when the lights show it. flashes: whether the show
    flashes more than people bear; its beginning says so then, as it does where the show says ``allow_flashes``.
    Raises FramesError when no frame lies in that time, AudioError for a song that cannot be read, OutputError where
    nothing can be written.
    """
    import av

    numbers = frames_between(source, start, end)
    rate = Fraction(source.frames.frame_rate).limit_denominator(10_000)
    first = source.frames.seconds(numbers[0])
    last = source.frames.seconds(numbers[-1]) + 1 / source.frames.frame_rate
    with whole_file(path) as draft, av.open(str(draft), "w", format="mp4", options={"movflags": "faststart"}) as clip:
        stream = _video(clip, rate, scene.size)
        sound = _Sound(clip, song, first, last)
        warned = _warned(source, flashes, numbers, 1)
        sheets = _Sheets(scene)
        for at, sheet in enumerate(_pictures(source, scene, numbers, warned, sheets.drawn, sheets.take_back)):
            sheet.frame.pts, sheet.frame.time_base = at, 1 / rate
            clip.mux(stream.encode(sheet.frame))
            sound.until(float((at + 1) / rate))
            progress(at + 1, len(numbers))
        clip.mux(stream.encode(None))
        sound.end()


def _video(clip: Any, rate: Fraction, size: tuple[int, int]) -> Any:
    stream = clip.add_stream("libx264", rate=rate, options=ENCODER | {"crf": str(QUALITY)})
    stream.width, stream.height = size
    stream.pix_fmt = "yuv420p"
    context = stream.codec_context
    context.time_base = 1 / rate
    # ITU-R BT.709, studio range: what players take high-definition pictures to be.
    context.colorspace = context.color_primaries = context.color_trc = 1
    context.color_range = 1
    context.thread_count = 0
    return stream


@dataclass(frozen=True, eq=False)
class _Sheet:
    """A picture of a clip."""

    frame: Any
    """As the encoder takes it."""
    planes: tuple[Bytes, Bytes, Bytes]
    """Its memory, see `Painter.film`."""


class _Sheets:
    """Pictures that are drawn on again once they are encoded, as new memory takes its time; the encoder has copied what
    it needs when it returns."""

    def __init__(self, scene: Painter) -> None:
        self.scene = scene
        self.spare: deque[_Sheet] = deque()

    def drawn(self, light: Bytes) -> _Sheet:
        """The picture in this light; several threads draw at once."""
        try:
            sheet = self.spare.pop()
        except IndexError:
            sheet = self._fresh()
        self.scene.film(light, *sheet.planes)
        return sheet

    def take_back(self, sheet: _Sheet) -> None:
        """Draw on it again."""
        self.spare.append(sheet)

    def _fresh(self) -> _Sheet:
        import av

        width, height = self.scene.size
        frame = av.VideoFrame(width, height, "yuv420p")
        frame.color_range, frame.colorspace = 1, 1
        luma, blue, red = (
            np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size) for plane in frame.planes
        )
        return _Sheet(frame, (luma, blue, red))


class _Sound:
    """The song beside the pictures, encoded no farther than they are."""

    def __init__(self, clip: Any, song: Path | None, start: float, end: float) -> None:
        from eavesong.preview.sound import Encoder, blocks_between

        self.blocks = blocks_between(song, start, end) if song is not None else iter(())
        self.ahead = next(self.blocks, None)
        self.encoder = Encoder(clip, self.ahead[0], self.ahead[1].shape[1]) if self.ahead else None

    def until(self, seconds: float) -> None:
        """Encode up to ``seconds`` of the clip."""
        while self.encoder and self.ahead and self.encoder.at < seconds * self.encoder.rate:
            self.encoder.put(self.ahead[1])
            self.ahead = next(self.blocks, None)

    def end(self) -> None:
        """Encode what is left."""
        if self.encoder:
            self.until(float("inf"))
            self.encoder.end()


def write_loop(
    source: Reopened, scene: Painter, path: str | Path, start: float, end: float, *, rate: float = LOOP_RATE,
    quality: int = 72, flashes: bool = False, progress: Say = lambda done, total: None,
) -> None:  # fmt: skip
    """A looping picture without sound, animated WebP or GIF by the name's ending, from ``start`` to ``end`` seconds.

    rate: pictures a second. flashes: as for a film. Raises FramesError when no frame lies in that time or it is longer
    than a minute.
    """
    from PIL import Image

    numbers = frames_between(source, start, end)
    if end - start > LONGEST_LOOP:
        found = f"{end - start:.0f} s are too long for a looping picture"
        raise FramesError(Problem(str(source.frames.path), "", found, "Choose a minute at most, or write an .mp4."))
    step = max(1, round(source.frames.frame_rate / rate))
    chosen = numbers[::step]
    milliseconds = round(1000 * step / source.frames.frame_rate)
    drawn = _pictures(source, scene, chosen, _warned(source, flashes, chosen, step), scene.picture)
    pictures = (Image.fromarray(picture) for picture in drawn)
    if Path(path).suffix.lower() == ".gif":
        pictures = (picture.quantize(128, Image.Quantize.FASTOCTREE) for picture in pictures)
    options: dict[str, Any] = {"duration": milliseconds, "loop": 0, "save_all": True}
    kind: dict[str, Any] = {"format": "GIF"} if Path(path).suffix.lower() == ".gif" else {
        "format": "WEBP", "quality": quality, "method": 4, "minimize_size": False}  # fmt: skip
    first = next(pictures)
    with whole_file(path) as draft:
        first.save(draft, append_images=_told(pictures, len(chosen), progress), **options, **kind)


def _told(pictures: Iterator[Any], total: int, progress: Say) -> Iterator[Any]:
    for done, picture in enumerate(pictures, start=2):
        progress(done, total)
        yield picture


def frames_between(source: Reopened, start: float, end: float) -> range:
    """The frames shown from ``start`` up to ``end`` seconds of the song; FramesError where there are none."""
    frames = source.frames
    # The first frame not before each; a thousandth of a frame mends decimal seconds that are a hair off in binary.
    first, stop = (math.ceil((at - frames.start) * frames.frame_rate - 1e-3) for at in (start, end))
    first, stop = max(0, first), min(frames.frame_count, stop)
    if first >= stop:
        found = f"there is no frame between {start:g} s and {end:g} s; it holds {frames.start:g} s to {source.end:g} s"
        raise FramesError(Problem(str(frames.path), "", found, "Choose a start before the end, inside of it."))
    return range(first, stop)


def _warned(source: Reopened, flashes: bool, numbers: Sequence[int], step: int) -> int:
    """How many of the pictures say that the show may flash."""
    if not (flashes or source.allows_flashes):
        return 0
    return min(len(numbers), math.ceil(WARNED * source.frames.frame_rate / step))


def _pictures(
    source: Reopened, scene: Painter, numbers: Sequence[int], warned: int, draw: Callable[[Bytes], T],
    done: Callable[[T], None] = lambda picture: None,
) -> Iterator[T]:  # fmt: skip
    """The pictures of these frames in order, drawn by as many threads as there are processors.

    A frame that is as the one before it is not drawn again. warned: how many of the first carry a warning. done: told
    of each picture that is not given again, once the next one is asked for.
    """
    scene.hurry()
    lights = _lights(source, numbers)
    threads = min(processors(), MOST_THREADS)
    ahead = max(threads, min(AHEAD * threads, AHEAD_BYTES // (3 * math.prod(scene.size))))
    if warned:
        scene.write(WARNING)
        yield from _in_order(islice(lights, warned), threads, ahead, draw, done)
        scene.wipe()
    yield from _in_order(lights, threads, ahead, draw, done)


def _in_order(
    lights: Iterator[Bytes], threads: int, ahead: int, draw: Callable[[Bytes], T], done: Callable[[T], None]
) -> Iterator[T]:
    before: Bytes | None = None
    with ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[T]] = deque()
        for light in lights:
            same = before is not None and np.array_equal(before, light)
            waiting.append(waiting[-1] if same else pool.submit(draw, light))
            before = light
            if len(waiting) > ahead:
                yield from _next_of(waiting, done)
        while waiting:
            yield from _next_of(waiting, done)


def _next_of(waiting: deque[Future[T]], done: Callable[[T], None]) -> Iterator[T]:
    first = waiting.popleft()
    yield first.result()
    if not waiting or waiting[0] is not first:
        done(first.result())


def _lights(source: Reopened, numbers: Sequence[int]) -> Iterator[Bytes]:
    """The light of these frames, read some at a time."""
    size = max(1, min(32, (8 << 20) // max(1, 3 * len(source.metres))))
    for at in range(0, len(numbers), size):
        own = numbers[at : at + size]
        block = source.light(own[0], own[-1] + 1)
        for number in own:
            yield block[number - own[0]]
