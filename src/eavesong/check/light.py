"""How much light there is, section by section: some moments of the song drawn, and nothing written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from eavesong.music.grid import BeatGrid, Section

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue

Floats = NDArray[np.float64]

LOOKS = 7.0
"""Moments a second that are drawn; no usual tempo has its beats on them."""
MOST_LOOKS = 1200
"""Moments of a song that are drawn at most."""
GLANCES = 150
"""Moments of a song that are drawn where only props that stay dark are looked for."""
CLOSER = 20.0
"""Moments a second that are drawn of props that no light was seen to leave, before they are called dark."""
MOST_CLOSE = 6000
"""Moments that are drawn so at most of props that are seldom lit: those of five minutes."""
SEEN = 10.0
"""Moments a second that are looked at in frames."""
NEAR = 2.0
"""Seconds of darkness between light and light that do not count: about a bar."""
FADING = 0.5
"""Seconds by which light may be seen for less time than cues are there: as they fade, and between the moments."""
BLOCK = 64
"""Moments that are drawn together at most."""
LARGEST = 4 << 20
"""Bytes of moments that are drawn together, unless one alone has more."""
MOST_RUNS = 1000
"""Stretches of pixels that have as many channels as each other, above which they are not looked at one by one."""
DOUBT = 0.15
"""Share of the song by which a few moments may be wrong about how long a prop is lit."""
SELDOM = 0.5
"""Share of the song below which a prop is dark for most of it."""


@dataclass(frozen=True)
class SectionLight:
    """The light in one section, as the mean over its moments."""

    label: str
    start: float
    """Seconds; likewise ``end``."""
    end: float
    lit: float
    """Share of the pixels that are lit, 0..1."""
    brightness: float
    """Share of what all pixels would take at full white, 0..1."""
    layers: float
    """Cues that give light at once."""


class Footage(Protocol):
    """Frames, uint8 (frame, channel), in memory or in a file."""

    def __len__(self) -> int:
        """How many there are."""

    def __getitem__(self, key: Any, /) -> NDArray[np.uint8]:
        """Some of them."""


@dataclass(frozen=True, eq=False)
class Looks:
    """What leaves a house at some moments of the song."""

    times: Floats
    """(m,) seconds."""
    lit: Floats
    """(m,): share of the pixels that are lit, of those that are not meant to be dark."""
    drive: Floats
    """(m,): share of what all pixels would take at full white."""
    props: NDArray[np.bool_]
    """(m, props): whether any light leaves a prop."""

    def near(self, prop: int) -> NDArray[np.bool_]:
        """(m,): whether a prop is lit at each moment, or was and will be within NEAR seconds in all: what twinkles is
        not dark, and what flashes up now and then is not lit."""
        seen = self.times[self.props[:, prop]]
        before = np.searchsorted(seen, self.times, side="right") - 1
        after = np.searchsorted(seen, self.times)
        known = (before >= 0) & (after < len(seen))
        between = np.full(len(self.times), np.inf)
        between[known] = seen[after[known]] - seen[before[known]]
        return np.asarray(between <= NEAR)


def look_at(scene: Scene, most: int = MOST_LOOKS, only: Sequence[int] = (), rate: float = LOOKS) -> Looks:
    """Some moments of a song, ``rate`` a second and ``most`` of them at most, drawn: of these props alone where any are
    given."""
    grid, layout = scene.grid, scene.layout
    rate = min(rate, most / max(grid.duration, 1.0))
    count = max(1, int(grid.duration * rate))
    lightable = np.array([prop.lit for prop in layout.props])[layout.pixels.prop].sum() or 1
    lit, drive, props = np.zeros(count), np.zeros(count), np.zeros((count, len(layout.props)), bool)
    for seen in _moments(scene, rate, count, only):
        rows = slice(seen.first, seen.first + len(seen.lit))
        drive[rows], lit[rows], props[rows] = seen.drive, seen.lit / lightable, seen.props
    return Looks(np.arange(count) / rate, lit, drive, props)


def dark_for_long(looks: Looks) -> Iterator[tuple[float, float]]:
    """The stretches, in seconds, of more than NEAR in which no light at all leaves the house."""
    dark = np.concatenate([[False], looks.lit == 0, [False]]).astype(int)
    edges = np.flatnonzero(np.diff(dark)).tolist()
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        start, end = looks.times[first], looks.times[min(stop, len(looks.times) - 1)]
        if end - start > NEAR:
            yield float(start), float(end)


def never_lit(scene: Scene, looks: Looks) -> tuple[int, ...]:
    """The props, of those that may be lit, that no light leaves at any time; where cues are, also between looks."""
    dark = [index for index, prop in enumerate(scene.layout.props) if prop.lit and not looks.props[:, index].any()]
    reached = {prop for cue in scene.cues if cue.gives_light for prop in cue.props}
    closer = [index for index in dark if index in reached]
    seen: set[int] = set()
    if closer:
        for moments in _moments(scene, CLOSER, max(1, int(scene.grid.duration * CLOSER)), closer):
            seen |= set(np.flatnonzero(moments.props.any(axis=0)).tolist())
            if seen.issuperset(closer):
                break
    return tuple(index for index in dark if index not in seen)


def seen_in(layout: Layout, frames: Footage, together: int, frame_rate: float) -> tuple[Looks, tuple[int, ...]]:
    """Moments of a song as its frames have them, SEEN a second at most, and the props that no light ever leaves.

    frames: all of the song, so many lie ``together`` and are read at once. They are read every NEAR seconds,
    and the rest only for as long as a prop was not lit. Of the moments only ``props`` is told.
    """
    dark = [index for index, prop in enumerate(layout.props) if prop.lit]
    step, apart = max(1, round(frame_rate / SEEN)), max(1, int(NEAR * frame_rate) // together)
    firsts = np.arange(0, len(frames), together)
    times: list[NDArray[np.float64]] = [np.zeros(0)]
    props: list[NDArray[np.bool_]] = [np.zeros((0, len(layout.props)), bool)]
    for first in firsts[::apart].tolist():
        block = frames[first : first + together]
        at = np.arange(0, len(block), step)
        times.append((first + at) / frame_rate)
        props.append(_by_prop(_lit_pixels(np.maximum.reduceat(block, at, axis=0), layout), layout))
    lit = np.concatenate(props)
    dark = [index for index in dark if not lit[:, index].any()]
    for first in np.delete(firsts, np.s_[::apart]).tolist():
        if not dark:
            break
        on = _by_prop(_lit_pixels(frames[first : first + together].max(axis=0, keepdims=True), layout), layout)
        dark = [index for index in dark if not on[0, index]]
    none = np.zeros(len(lit))
    return Looks(np.concatenate(times), none, none, lit), tuple(dark)


def _lit_pixels(block: NDArray[np.uint8], layout: Layout) -> NDArray[np.bool_]:
    """(m, n): whether any channel of each pixel is lit in (m, channels)."""
    starts, widths = layout.patch.channel_start, layout.patch.channel_width
    edges = [0, *(np.flatnonzero(np.diff(widths)) + 1).tolist(), len(widths)]
    if len(edges) > MOST_RUNS:
        channels = [block[:, starts + np.minimum(channel, widths - 1)] > 0 for channel in range(4)]
        mixed: NDArray[np.bool_] = np.logical_or.reduce(channels)
        return mixed
    lit = np.empty((len(block), len(widths)), bool)
    for first, stop in pairwise(edges):  # pixels side by side that have as many channels
        width, begin = int(widths[first]), int(starts[first])
        pixels = block[:, begin : begin + (stop - first) * width].reshape(len(block), stop - first, width)
        any_channel = pixels[:, :, 0].copy()
        for channel in range(1, width):
            any_channel |= pixels[:, :, channel]
        np.not_equal(any_channel, 0, out=lit[:, first:stop])
    return lit


@dataclass(frozen=True, eq=False)
class _Seen:
    """What leaves a house at some moments that follow each other."""

    first: int
    """The number of the first moment."""
    drive: Floats
    """(m,): share of what all pixels would take at full white."""
    lit: NDArray[np.int64]
    """(m,): how many pixels are lit."""
    props: NDArray[np.bool_]
    """(m, props): whether any light leaves a prop."""


def _moments(scene: Scene, rate: float, count: int, props: Sequence[int] = ()) -> Iterator[_Seen]:
    """``count`` moments, ``rate`` a second, some at a time and in order; drawn by as many threads as processors."""
    from eavesong.engines import draw
    from eavesong.render.render import in_order

    seen = replace(scene, terms=replace(scene.terms, frame_rate=rate))
    drawing, layout = draw(seen.only(props) if props else seen), seen.layout
    size = max(1, min(BLOCK, LARGEST // layout.patch.channel_count))

    def look(first: int) -> _Seen:
        """The moments from ``first`` on that are drawn together."""
        block = drawing.block(first, min(size, count - first))
        on = _lit_pixels(block, layout)
        return _Seen(first, block.mean(axis=1) / 255, on.sum(axis=1), _by_prop(on, layout))

    yield from in_order(look, range(0, count, size), None)


def _by_prop(on: NDArray[np.bool_], layout: Layout) -> NDArray[np.bool_]:
    """(m, props): whether any pixel of each is lit, for pixels (m, n)."""
    each: NDArray[np.bool_] = np.logical_or.reduceat(on, [prop.start for prop in layout.props], axis=1)
    return each


def light_by_section(scene: Scene, looks: Looks) -> tuple[SectionLight, ...]:
    """The light in every section of the song, or in the song as a whole where it has none."""
    grid, times = scene.grid, looks.times
    layers = sum((_on(cue, times) for cue in scene.cues if cue.props and cue.gives_light), np.zeros(len(times)))
    return tuple(
        SectionLight(
            part.label, part.start, part.end, *(float(each[there].mean()) for each in (looks.lit, looks.drive, layers))
        )
        for part in grid.sections or (Section(0.0, grid.duration, "the song"),)
        if (there := (times >= part.start) & (times < part.end)).any()
    )


def _on(cue: PlacedCue, times: NDArray[np.float64]) -> NDArray[np.bool_]:
    on: NDArray[np.bool_] = cue.envelope(times).strength > 0
    return on


def seldom_at_a_glance(
    scene: Scene, cues: Sequence[PlacedCue], glance: Looks | None, props: Sequence[int] | None = None
) -> dict[float, list[int]]:
    """As `seldom_lit` tells it of a song that is drawn; but only what is seldom lit at a glance is looked at closely.

    glance: a few moments of the song; None where ``props`` says at which to look.
    """
    reached = sorted({prop for cue in cues for prop in cue.props if props is None or prop in props})
    few = [prop for prop in reached if glance is None or glance.near(prop).mean() < SELDOM + DOUBT]
    closely = look_at(scene, MOST_CLOSE, few, CLOSER) if few else None
    found = seldom_lit(cues, scene.grid, closely, few)
    if props is None:
        return found
    asked = {seconds: [prop for prop in each if prop in reached] for seconds, each in found.items()}
    return {seconds: each for seconds, each in asked.items() if each}


def seldom_lit(
    cues: Sequence[PlacedCue], grid: BeatGrid, looks: Looks | None = None, of: Sequence[int] | None = None
) -> dict[float, list[int]]:
    """The props that cues light for less than half of the song, though for some of it, by how many seconds.

    With looks, time in which no light leaves a prop for a while does not count, whatever cues are there. of: the props
    that were looked at; all where None.
    """
    spans: dict[int, list[tuple[float, float]]] = {}
    for cue in cues:
        for prop in cue.props:
            spans.setdefault(prop, []).extend((span.start, span.end) for span in cue.spans)
    found: dict[float, list[int]] = {}
    for prop in sorted(spans):
        seconds = round(covered_seconds(spans[prop], grid.duration), 3)
        if looks is not None and (of is None or prop in of):
            seen = round(float(looks.near(prop).mean()) * grid.duration, 3)
            seconds = seen if seen + FADING < seconds else seconds
        if 0 < seconds < SELDOM * grid.duration:
            found.setdefault(seconds, []).append(prop)
    return dict(sorted(found.items()))


def covered_seconds(spans: Sequence[tuple[float, float]], duration: float) -> float:
    """Seconds that at least one of the spans, pairs of start and end, covers from 0 to ``duration``."""
    covered, reached = 0.0, 0.0
    for start, end in sorted(spans):
        start, end = max(start, reached), min(end, duration)
        if end > start:
            covered += end - start
            reached = end
    return covered
