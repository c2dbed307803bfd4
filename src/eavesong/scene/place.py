"""Cues on a house and a song: which pixels each one lights, when, and with what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.scene.roles import WHOLE_HOUSE, Fallbacks, is_stranger
from eavesong.scene.sequence import numbers_of
from eavesong.scene.timeline import Envelope, Span, envelope, spans_of
from eavesong.show.load import Show, Value
from eavesong.show.model import Box, Cue
from eavesong.show.ramps import Ramp
from eavesong.show.selection import Selector, parse_selector

if TYPE_CHECKING:
    from eavesong.language import Effect
    from eavesong.language.program import Program
    from eavesong.layout import Layout, Prop
    from eavesong.music.grid import BeatGrid
    from eavesong.scene.scene import Scene


@dataclass(frozen=True)
class Taken:
    """Which of a cue's selectors was taken: the first that lights a pixel, or the first of all when none does."""

    text: str
    """The selector, or what stands in for it in words: ``roofline instead of eaves``."""
    choice: int
    """From 0; -1 when none lights anything."""
    stand_in: bool = False
    """Whether no selector lights anything here and a fall-back does, see `eavesong.scene.roles`; ``choice`` is then
    one after the last."""

    def __str__(self) -> str:
        """``roofline``, and for a fall-back ``roofline (choice 2)``."""
        return f"{self.text} (choice {self.choice + 1})" if self.choice > 0 and not self.stand_in else self.text


@dataclass(frozen=True, eq=False)
class PlacedCue:
    """A cue, ready to render on one house to one song."""

    index: int
    """Which cue of the show, from 0."""
    name: str
    effect: Effect
    parameters: dict[str, Value]
    """Every parameter of the effect: numbers, colours in linear light, and ramps between two of them."""
    palette: tuple[tuple[float, tuple[float, float, float]], ...]
    """(position 0..1, linear light) in growing order, as `eavesong.colours.palette_table` takes it."""
    blend: str
    opacity: float
    props: tuple[int, ...]
    """Indices of the props that it lights, wholly or in part."""
    weight: NDArray[np.float32]
    """(n,): 1 for the pixels it lights, 0 for the others; read-only, shared by cues that light the same."""
    taken: Taken
    spans: tuple[Span, ...]
    grid: BeatGrid = field(repr=False)
    number: NDArray[np.float32] | None = field(default=None, repr=False)
    """(n,): the turn of each pixel's prop, where the cue puts them in an order of its own; None: that of rows."""

    @cached_property
    def program(self) -> Program:
        """The effect's program; what ramps reach is of the rate of frames in it."""
        moving = frozenset(name for name, value in self.parameters.items() if isinstance(value, Ramp))
        return self.effect.program_moving(moving) if moving else self.effect.program

    @cached_property
    def gives_light(self) -> bool:
        """Whether a dark prop can be lit by it: what is black, and what only takes from the light below, gives none."""
        from eavesong.kernels.blend import blended

        if self.opacity <= 0 or not blended(self.blend, (0.0, 0.0, 0.0), (1.0, 1.0, 1.0), 1.0).any():
            return False
        level, *colour = (high for _, high in self._ranges)
        return level > 0 and max(colour) > 0

    @property
    def does(self) -> str:
        """What it does to light below it, in a word: ``lights`` where it gives light itself, else ``brightens``,
        ``darkens`` or ``changes``, by the luminosity of W3C Compositing and Blending 1, section 9.2."""
        from eavesong.kernels.blend import blended

        if self.gives_light:
            return "lights"
        below = np.tile(np.linspace(0.1, 0.9, 9), (3, 1))
        ends = [[[min(1.0, max(0.0, end))] * 9 for end in colour] for colour in zip(*self._ranges[1:], strict=True)]
        found = [np.dot((0.3, 0.59, 0.11), blended(self.blend, below, end, np.ones(9)) - below) for end in ends]
        up, down = np.max(found) > 1e-6, np.min(found) < -1e-6
        return "changes" if up == down else "brightens" if up else "darkens"

    @cached_property
    def _ranges(self) -> list[tuple[float, float]]:
        """The least and the most of its level, red, green and blue."""
        from eavesong.scene.layers import parameter_ranges

        most = max(max(light) for _, light in self.palette)
        program = self.program
        return list(program.graph.ranges_of(program.outputs, parameter_ranges(self.parameters), (0.0, most)))

    def envelope(self, seconds: ArrayLike) -> Envelope:
        """Strength 0..1, progress 0..1 and first beat of the span at ``seconds`` (f,): float64 arrays (f,).

        Strength is 0 outside the spans; opacity is not in it.
        """
        return envelope(self.spans, self.grid, seconds)


def place_cues(show: Show, layout: Layout, grid: BeatGrid, before: Scene | None = None) -> tuple[PlacedCue, ...]:
    """The cues of ``show`` on ``layout`` and ``grid``, in the show's order: painting order, bottom first.

    before: a scene from which cues are taken that are written and placed alike.

    A cue whose selectors light nothing here takes a fall-back (`eavesong.scene.roles`), but for one that only darkens
    what is below it. One that lights nothing even so, or at no time, is among them, with empty ``props`` or ``spans``:
    `check` reports it.
    """
    finder = finder_for(show, layout)
    known = _known(show, finder, grid, before) if before is not None else {}
    placed = tuple(
        known[index] if index in known else _placed(show, index, cue, finder, grid)
        for index, cue in enumerate(show.cues)
    )
    return _with_leftovers(placed, layout, grid) if finder.stranger else placed


def _known(show: Show, finder: Finder, grid: BeatGrid, before: Scene) -> dict[int, PlacedCue]:
    """Cues that stand in ``before`` as they would be placed here, by their places in the show."""
    other = before.show
    alike = other is not None and before.layout is finder.layout and before.grid == grid
    if other is None or not alike or finder.stranger or other.palettes != show.palettes:
        return {}
    if finder_for(other, before.layout).stranger:
        return {}
    found = {}
    for index, (cue, was, placed) in enumerate(zip(show.cues, other.cues, before.cues, strict=False)):
        if cue == was and show.effects[cue.effect] is placed.effect:
            found[index] = placed
    return found


def finder_for(show: Show, layout: Layout) -> Finder:
    """``layout``, ready to be asked for the pixels of the show's cues."""
    return Finder(layout, tuple(parse_selector(text) for cue in show.cues for text in cue.on))


def _with_leftovers(placed: tuple[PlacedCue, ...], layout: Layout, grid: BeatGrid) -> tuple[PlacedCue, ...]:
    """On a house that knows none of the show's words, props that no cue lights go to the lowest cue that fell back."""
    seen = [cue for cue in placed if cue.opacity > 0 and any(s.start < grid.duration and s.end > 0 for s in cue.spans)]
    lit = {prop for cue in seen for prop in cue.props}
    dark = tuple(index for index, prop in enumerate(layout.props) if prop.lit and index not in lit)
    taker = next((cue for cue in seen if cue.taken.stand_in), None)
    if not dark or taker is None:
        return placed
    weight = np.maximum(taker.weight, np.isin(layout.pixels.prop, dark)).astype(np.float32)
    weight.setflags(write=False)
    taken = replace(taker.taken, text=f"{taker.taken.text}, and what no other cue lights")
    wider = replace(taker, weight=weight, props=tuple(sorted({*taker.props, *dark})), taken=taken)
    return tuple(wider if cue is taker else cue for cue in placed)


def _placed(show: Show, index: int, cue: Cue, finder: Finder, grid: BeatGrid) -> PlacedCue:
    taken, weight, props = finder.select(cue.on, cue.within)
    hues = tuple(finder.layout.colours.values())
    placed = PlacedCue(
        index=index,
        name=show.called(index),
        effect=show.effects[cue.effect],
        parameters=show.parameters_of(cue),
        palette=show.palette_of(cue, finder.layout.palettes, hues),
        blend=cue.blend,
        opacity=cue.opacity,
        props=props,
        weight=weight,
        taken=taken,
        spans=spans_of(cue, grid),
        grid=grid,
        number=numbers_of(cue.order, finder.layout, finder.names, props) if cue.order and props else None,
    )
    if (finder.layout.palettes or hues) and placed.does != "darkens":
        placed = replace(placed, parameters=show.parameters_of(cue, finder.layout.palettes, hues))
    if not taken.stand_in or placed.does != "darkens":
        return placed
    # What is not there need not be darkened, and nothing that is there was meant.
    nothing = np.zeros_like(weight)
    nothing.setflags(write=False)
    return replace(placed, taken=Taken(cue.on[0], -1), weight=nothing, props=(), number=None)


Selected = tuple[Taken, NDArray[np.float32], tuple[int, ...]]


class Finder:
    """A layout, asked for the pixels of selectors; each question is answered once.

    No pixel is found of props that the house wishes to be unlit, and nothing stands in for them: they are there.
    """

    def __init__(self, layout: Layout, show: Sequence[Selector] = ()) -> None:
        """``show`` are all selectors of the show that is placed: a house may know none of their words."""
        self.layout = layout
        self.names = tuple(names_of(prop) for prop in layout.props)
        self.stranger = is_stranger(layout, show) if show else False
        self._lit = np.array([prop.lit for prop in layout.props], np.bool_)[layout.pixels.prop]
        self._answers: dict[tuple[tuple[str, ...], Box | None], Selected] = {}

    def select(self, on: tuple[str, ...], within: Box | None) -> Selected:
        """What the first selector of ``on`` that lights any pixel ``within`` the box lights: weight, props."""
        if (on, within) not in self._answers:
            self._answers[on, within] = self._select([parse_selector(text) for text in on], within)
        return self._answers[on, within]

    def _select(self, choices: Sequence[Selector], within: Box | None) -> Selected:
        inside = self._inside(within)
        weight = np.zeros(self.layout.pixel_count, np.float32)
        for choice, selector in enumerate(choices):
            for prop, names in zip(self.layout.props, self.names, strict=True):
                if selector.matches(names):
                    weight[prop.start : prop.stop] = inside[prop.start : prop.stop]
            if weight.any():
                return self._lighting(Taken(selector.text, choice), weight)

        if self.unlit([selector.text for selector in choices], within):
            return self._lighting(Taken(choices[0].text, -1), weight)

        def weight_of(props: NDArray[np.bool_]) -> NDArray[np.float32]:
            """1 on pixels (n,) of these props that lie in the region, else 0."""
            return (props[self.layout.pixels.prop] & inside).astype(np.float32)

        if found := self.fallbacks.find(choices, lambda props: bool(weight_of(props).any()), self.stranger):
            return self._lighting(Taken(found.text, len(choices), stand_in=True), weight_of(found.props))
        return self._lighting(Taken(choices[0].text, -1), weight)

    def _lighting(self, taken: Taken, weight: NDArray[np.float32]) -> Selected:
        weight.setflags(write=False)
        return taken, weight, tuple(np.flatnonzero(np.bincount(self.layout.pixels.prop[weight > 0])).tolist())

    @cached_property
    def fallbacks(self) -> Fallbacks:
        """What stands in for words that nothing here answers to."""
        return Fallbacks(self.layout, self.names)

    def _inside(self, box: Box | None, all_of_it: bool = False) -> NDArray[np.bool_]:
        """(n,): pixels in a box that may be lit; all_of_it: the others, too."""
        inside = self._lit | all_of_it
        for axis in ("x", "y", "z"):
            if box and (limits := getattr(box, axis)):
                places = getattr(self.layout.pixels, axis)
                inside &= (places >= limits[0]) & (places <= limits[1])
        return inside

    def unlit(self, on: Sequence[str], within: Box | None = None) -> tuple[int, ...]:
        """Indices of the props that selectors mean, or that would stand in for them where nothing is meant, but for the
        whole house, and that the house wishes to be unlit: where there are any, and nothing else is meant or stands in,
        darkness is what is wished."""
        dark = [index for index, prop in enumerate(self.layout.props) if not prop.lit]
        if not dark:
            return ()
        selectors = [parse_selector(text) for text in on]
        meant = [index for index in dark if any(selector.matches(self.names[index]) for selector in selectors)]
        return tuple(meant) or tuple(index for index in dark if self._instead(selectors, within)[index])

    def _instead(self, selectors: Sequence[Selector], within: Box | None) -> NDArray[np.bool_]:
        """(props,): the kin of what selectors ask for, else what is in the part of the house where such props are; none
        where any of it may be lit."""
        lit = np.array([prop.lit for prop in self.layout.props], np.bool_)
        kin = self.fallbacks.kin(selectors)
        if kin.any():
            return kin & ~(kin & lit).any()
        here = np.bincount(self.layout.pixels.prop[self._inside(within, all_of_it=True)], minlength=len(lit)) > 0
        found = self.fallbacks.find(selectors, lambda props: bool((props & here & lit).any()), False)
        if found is None or found.text.startswith(WHOLE_HOUSE):
            found = self.fallbacks.find(selectors, lambda props: bool((props & here).any()), False)
            if found is not None and not found.text.startswith(WHOLE_HOUSE):
                return found.props & here
        return np.zeros(len(lit), np.bool_)

    def known(self) -> tuple[str, ...]:
        """Every tag and name that a selector can use here."""
        return tuple(sorted(frozenset().union(*self.names)))


def names_of(prop: Prop) -> frozenset[str]:
    """What a prop answers to in a selector, in lower case: its tags, its name and the name of its row."""
    return frozenset(name.lower() for name in (*prop.tags, prop.name, prop.member_of))
