"""Hues that nobody wished: between a few colours in place of all palettes, mixed or added up; or ones not wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import (
    CODE,
    COLOURED,
    WARM,
    Hue,
    has_hue,
    hex_of,
    hue_of,
    linear_to_oklab,
    oklab_to_oklch,
    parse_colour,
)
from eavesong.layout.hues import APART, Paler, hues_apart, paler
from eavesong.light import light_of
from eavesong.palettes import ALL, hexes

if TYPE_CHECKING:
    from eavesong.check.light import Footage
    from eavesong.layout import Layout
    from eavesong.palettes import Lights
    from eavesong.scene import Scene

Floats = NDArray[np.float64]
Pairs = tuple[tuple[str, str, float, float], ...]
"""See ``hues_apart``."""
Rows = Iterator[tuple[float, NDArray[np.uint8]]]
"""Seconds, and a frame, uint8 (channel,)."""

SEEN, COARSE = 0.06, 6
"""Light of a pixel's brightest channel from which on its colour counts, and its byte: fainter ones are too coarse."""
MOMENTS, MOST_MOMENTS, LOOKED_AT = 100, 400, 1_200_000
"""Moments of a song that are looked at; of a house of few pixels more, up to so many pixels in all."""
MOST_PIXELS = 2000
"""Pixels of a house that are looked at, at even distances."""
WORTH_A_WORD = 0.02
"""Share of what is lit."""
MOST_OF_IT, FEW, OFTEN_WHOLE, OFTEN_WHOLE_SHARE = 0.8, 3, 3, 0.015
"""Share of a prop's lit pixels, and pixels, that are of a hue where it is so all over; and of the moments looked at, in
how many at least, and in what share, that is worth a word, too."""
EDGE = 4.0
"""Degrees of hue within the end of one that is not wanted, in which what is seen may be a colour beside it, rounded."""
WHITE, AMBER = "warm white", 0.095
"""What stands for the other one where a colour is a white of lamps, and chroma as a share of lightness (OKLCH) from
which on people may call one a colour: 0.099 for #efcb91, 0.091 for #ffd6a1."""
NEAR = 10.0
"""Degrees of hue beside one, in which people may call a colour by its name and eavesong does not."""
TINT, TINTS, TINTED = "tint", {"pink": ("red", 396.0)}, 0.2
"""What stands for the other one where a colour is a tint of the hue beside it, until so many degrees (on through 360),
and goes by a word of its own: a pale red is pink. Chroma as a share of lightness below which it is one, however bright
its light is: 0.19 for lightcoral, 0.21 for salmon."""


@dataclass(frozen=True)
class Between:
    """How much of what is lit shows a hue between those wished, and where one of them is most vivid."""

    share: float
    """0 to 1, of lit pixels over all moments looked at."""
    colour: str
    """As ``#rrggbb``; likewise ``nearest``, the two wished ones on both sides of it: twice the one that it is still of,
    or that and nothing where it is just beside it, WHITE where it is a white of lamps, and TINT where it is pale."""
    nearest: tuple[str, str]
    seconds: float
    prop: str
    whole: str = ""
    """A prop that is of such a hue all over at some moments, where the share is so little that it would not be told."""
    most: str = ""
    """The prop on which most of it is seen."""
    pale: Paler | None = None
    """Where it is paler than both: a grey, as of opposite colours that are mixed, or a pastel."""


KINDS = 4
"""Hues between or all the same, those beside, whites of lamps, and what is paler than both."""
FAINTEST = 3
"""Of 255: so little of a light's brightest channel leaves hardly anything of its others, and so of its colour."""
OFTEN, USUAL = 0.04, 0.06
"""Share of what is lit: of a house that is dimmed, by that alone; and of any other, where all that fades ends in it."""


@dataclass(frozen=True)
class Faint:
    """How much of what is lit is too faint for its colour, and where that is most at once."""

    share: float
    seconds: float
    prop: str
    hue: str = ""
    """The hue that is not wanted and all that is left, dimmed or not."""
    dimmed: bool = False
    """Whether it is so faint because its house is dimmed."""
    whole: str = ""
    """The prop that is so all over at some moments, where the share is so little that it would not be told."""


def faint_in(scene: Scene, frames: Footage) -> Faint | None:
    """What of a scene's frames, uint8 (frame, channel), is too faint to show the colours that its house wishes: what
    would not be if that were not dimmed, else all; None where it hardly is, and where nothing is wished."""
    layout = scene.layout
    if not (layout.palettes or layout.colours):
        return None
    pixels = _some(layout)
    whose, brightness = layout.pixels.prop[pixels], layout.patch.brightness[pixels]
    lit, counts, most = 0, np.zeros(2, int), [(0.0, 0.0, 0)] * 2
    for seconds, row in _rows(scene, frames):
        top = _bytes(layout, row, pixels).max(axis=1)
        faint = (top > 0) & (top <= FAINTEST)
        lit += int((top > 0).sum())
        for at, which in enumerate((faint & (top > FAINTEST * brightness), faint)):
            counts[at] += int(which.sum())
            own = np.bincount(whose[which], minlength=1)
            most[at] = max(most[at], (float(which.mean()), seconds, int(own.argmax())))
    for share, (_, seconds, prop), least in zip(counts / max(lit, 1), most, (OFTEN, USUAL), strict=True):
        if share >= least:
            return Faint(float(share), seconds, layout.props[prop].name, dimmed=least == OFTEN)
    return None


def left_in(scene: Scene, frames: Footage) -> Faint | None:
    """What of a scene's frames, uint8 (frame, channel), is so faint that nothing but a hue that its house has others in
    place of is left of its colour; None where it hardly is."""
    layout = scene.layout
    unwanted = {one: layout.colours[one][0] for one, other, _, _ in _pairs(scene) if one == other}
    hues = map(hue_of, np.eye(3).tolist())
    names = [next((one for one, hue in unwanted.items() if at is not None and hue.holds(at)), "") for at in hues]
    if not any(names):
        return None
    counts, lit, wholly = np.zeros(3), 0, np.zeros((3, len(layout.props)), int)
    most = [(0.0, 0.0, 0)] * 3
    pixels = _some(layout)
    whose = layout.pixels.prop[pixels]
    for seconds, row in _rows(scene, frames):
        light = _bytes(layout, row, pixels)
        top = light.max(axis=1)
        lone = (top > 0) & (top <= FAINTEST) & ((light > 0).sum(axis=1) == 1)
        lit, shown = lit + int((top > 0).sum()), np.bincount(whose[top > 0], minlength=len(layout.props))
        for at in (at for at, name in enumerate(names) if name):
            left = lone & (light[:, at] > 0)
            counts[at] += left.sum()
            own = np.bincount(whose[left], minlength=len(layout.props))
            wholly[at] += (own >= MOST_OF_IT * shown) & (own >= FEW)
            most[at] = max(most[at], (float(own.sum()), seconds, int(own.argmax())))
    at = int(counts.argmax())
    share, whole = float(counts[at]) / max(lit, 1), int(wholly[at].argmax())
    little = share < WORTH_A_WORD
    if little and wholly[at, whole] < OFTEN_WHOLE:
        return None
    prop = layout.props[whole if little else most[at][2]].name
    return Faint(share, most[at][1], prop, names[at], whole=prop if little else "")


def _some(layout: Layout) -> NDArray[np.int64]:
    """Pixels of a house at even distances: all of them, where they are not too many."""
    return np.arange(0, layout.pixel_count, -(-layout.pixel_count // MOST_PIXELS))


def between_drawn(scene: Scene) -> list[Between]:
    """What a scene shows between the colours wished, at some moments that are drawn, of each kind that is more than
    hardly anything."""
    from eavesong.engines import draw

    pairs, pale = _pairs(scene), paler(_asked(scene))
    if not pairs and pale is None:
        return []
    rate = _moments(scene.layout) / max(scene.grid.duration, 1.0)
    drawing = draw(replace(scene, terms=replace(scene.terms, frame_rate=rate)))
    rows = ((n / rate, drawing.block(n, 1)[0]) for n in range(int(scene.grid.duration * rate)))
    return _between(scene.layout, rows, pairs, pale)


def between_in(scene: Scene, frames: Footage) -> list[Between]:
    """The same of a scene's frames, uint8 (frame, channel): those of its whole song, or of the part that it is of."""
    pairs, pale = _pairs(scene), paler(_asked(scene))
    if not pairs and pale is None:
        return []
    return _between(scene.layout, _rows(scene, frames, _moments(scene.layout)), pairs, pale)


def _moments(layout: Layout) -> int:
    """How many moments of a song are looked at on a house."""
    return int(np.clip(LOOKED_AT // layout.pixel_count, MOMENTS, MOST_MOMENTS))


def _rows(scene: Scene, frames: Footage, moments: int = MOMENTS) -> Rows:
    """Some of the frames of a scene, at even distances."""
    first, _ = scene.terms.frame_range(scene.grid.duration)
    count = min(moments, len(frames))  # the very moments of a whole song that are drawn where there are no frames
    numbers = (np.arange(count) * len(frames) // count).tolist()
    return (((first + n) / scene.frame_rate, frames[n : n + 1][0]) for n in numbers)


def _asked(scene: Scene) -> dict[str, Lights]:
    """What the house has in place of palettes that the show asks for."""
    show = scene.show
    names = [show.names_of(cue.palette) for cue in show.cues if isinstance(cue.palette, str)] if show else []
    asked = {ALL, *(name.lower() for own in names for name in own)}
    return {name: own for name, own in scene.layout.palettes.items() if name.lower() in asked}


def _pairs(scene: Scene) -> Pairs:
    """The wished hues that others lie between, of palettes that the show asks for; where there are none, hues that are
    not wanted, each on both sides of itself, but for those that the house wishes all the same."""
    palettes = _asked(scene)
    if apart := hues_apart(palettes):
        return apart
    wished = [*(light for _, light in scene.layout.colours.values()), *map(parse_colour, _hexes(palettes))]
    worn = [hue for hue in map(hue_of, wished) if hue is not None]
    spoken = {name: hue for name, (hue, _) in scene.layout.colours.items() if not any(map(hue.holds, worn))}
    still = [(name, name, hue.first + EDGE, hue.last - EDGE) for name, hue in spoken.items()]
    beside = [
        (name, "", first, last)
        for name, hue in spoken.items()
        for first, last in ((hue.first - _near(hue), hue.first + EDGE), (hue.last - EDGE, hue.last + _near(hue)))
        if not any(each.holds(end) for each, _ in scene.layout.colours.values() if each != hue for end in (first, last))
        and not any((other - first) % 360 <= last - first for other in worn)
    ]
    white = [
        (name, WHITE, hue.first, hue.last)
        for name, hue in spoken.items()
        if hue.first < WARM[1]
        and hue.last > WARM[0]
        and not any(each.white for each, _ in scene.layout.colours.values())
    ]
    tints = [
        (name, TINT, hue.last - EDGE, tint[1])
        for name, hue in spoken.items()
        if (tint := TINTS.get(name.strip().lower())) and tint[0] not in map(str.lower, spoken)
    ]
    found = (*still, *beside, *white, *tints)
    return tuple((one, other, first - APART, last + APART) for one, other, first, last in found)


def _near(hue: Hue) -> float:
    """Degrees beside a hue in which people may call a colour by its name: who writes a code means no more than that."""
    return NEAR if hue.last - hue.first > 2 * CODE + 1e-6 else CODE


def colour_like(scene: Scene, seen: Between) -> str:
    """The colour of a palette or a setting, as ``#rrggbb``, of the cues that light a prop on the house of a scene where
    a hue is seen that the house has another in place of: the one that is nearest to what is seen, or else beside that
    hue; empty where an effect makes it, or others mix to it."""
    hue = hue_of(parse_colour(seen.colour))
    if hue is None:
        return ""
    near: list[tuple[float, str, float]] = []
    for cue in scene.cues:
        there = any(scene.layout.props[index].name == seen.prop for index in cue.props)
        if not there or not any(span.start <= seen.seconds < span.end for span in cue.spans):
            continue
        lights = [light for _, light in cue.palette]
        lights += [value for value in cue.parameters.values() if isinstance(value, tuple)]
        found = [(light, hue_of(light)) for light in lights]
        near += [(abs((own - hue + 180) % 360 - 180), hex_of(light), own) for light, own in found if own is not None]
    spoken = scene.layout.colours[seen.nearest[0]][0]
    wide = spoken._replace(first=spoken.first - _near(spoken), last=spoken.last + _near(spoken))
    beside = [(apart, code) for apart, code, own in near if apart <= EDGE or wide.holds(own)]
    return min(beside, default=(0.0, ""))[1]


def _hexes(palettes: Mapping[str, Lights]) -> Iterator[str]:
    for own in palettes.values():
        yield from hexes(own)


def _between(layout: Layout, rows: Rows, pairs: Pairs, pale: Paler | None) -> list[Between]:
    lit, mixed, wholly = 0, np.zeros(KINDS), np.zeros((KINDS, len(layout.props)), int)
    pixels = _some(layout)
    best: list[tuple[float, Between] | None] = [None] * KINDS
    counts, moments = np.zeros_like(wholly), 0
    for seconds, row in rows:
        moments += 1
        light, top = _light(layout, row, pixels)
        seen = (light.max(axis=1) >= SEEN) & (top >= COARSE)
        lightness, chroma, hue = oklab_to_oklch(linear_to_oklab(light[seen])).T
        coloured, of_hue = chroma > COLOURED, has_hue(light[seen])
        lit += int(seen.sum())
        white = coloured & ~of_hue & (chroma > AMBER * lightness)
        met = np.zeros((KINDS, len(hue)), bool)
        for one, other, first, after in pairs:
            turned, kind = (hue - first) % 360, 2 if other == WHITE else int(other in ("", TINT))
            inside = (white if kind == 2 else of_hue if one == other or kind else coloured) & (turned > APART)
            inside &= turned < after - first - APART
            if other == TINT:
                inside &= chroma < TINTED * lightness
            met[kind] |= inside
            if inside.any():
                bright = light[seen][inside]
                vivid = bright.max(axis=1) * chroma[inside]
                at = int(vivid.argmax())
                strength = float(vivid[at])
                if (known := best[kind]) is None or strength > known[0]:
                    prop = layout.props[int(layout.pixels.prop[pixels[seen][inside][at]])].name
                    best[kind] = strength, Between(0.0, hex_of(bright[at]), (one, other), seconds, prop)
        if pale is not None:
            least, most = pale.least * lightness, pale.most * lightness
            met[-1] = (chroma >= least) & (chroma < most)
            if met[-1].any():
                plain = light[seen].max(axis=1) * met[-1] * np.minimum(most - chroma, np.maximum(chroma - least, 1e-3))
                at = int(plain.argmax())
                if (known := best[-1]) is None or plain[at] > known[0]:
                    prop = layout.props[int(layout.pixels.prop[pixels[seen][at]])].name
                    shown = Between(0.0, hex_of(light[seen][at]), (pale.one, pale.other), seconds, prop, pale=pale)
                    best[-1] = float(plain[at]), shown
        mixed += met.sum(axis=1)
        whose = layout.pixels.prop[pixels[seen]]
        all_of_it = MOST_OF_IT * np.bincount(whose, minlength=len(layout.props))
        for kind in range(KINDS):
            own = np.bincount(whose[met[kind]], minlength=len(layout.props))
            counts[kind] += own
            wholly[kind] += (own >= all_of_it) & (own >= FEW)
    found = []
    for each, share, often, count in zip(best, (mixed / max(lit, 1)).tolist(), wholly, counts, strict=True):
        little = share < WORTH_A_WORD and often.max() >= max(OFTEN_WHOLE, OFTEN_WHOLE_SHARE * moments)
        whole = layout.props[int(often.argmax())].name if little else ""
        if each is not None and (share >= WORTH_A_WORD or whole):
            most = layout.props[int(count.argmax())].name
            found.append(replace(each[1], share=share, whole=whole, most=most))
    return found


def _light(layout: Layout, row: NDArray[np.uint8], pixels: NDArray[np.int64]) -> tuple[Floats, NDArray[np.uint8]]:
    """(n, 3): the light of these pixels by a frame, white added to the other three, were they not dimmed; and the
    largest byte of each."""
    patch, values = layout.patch, _bytes(layout, row, pixels)
    whole = np.minimum(values / (255 * np.maximum(patch.brightness[pixels, None], 1e-3)), 1.0)
    light = light_of(whole, patch.gamma[pixels, None])
    return np.minimum(light[:, :3] + light[:, 3:], 1.0), values.max(axis=1)


def _bytes(layout: Layout, row: NDArray[np.uint8], pixels: NDArray[np.int64]) -> NDArray[np.uint8]:
    """(n, 4): red, green, blue and white of these pixels in a frame."""
    patch = layout.patch
    places = np.array([[order.find(letter) for letter in "RGBW"] for order in patch.orders])[patch.order[pixels]]
    return np.where(places >= 0, row[patch.channel_start[pixels, None] + np.maximum(places, 0)], np.uint8(0))
