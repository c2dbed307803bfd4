"""Cues on a house and a song: which pixels each one lights, when, and with what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.show.load import Show, Value
from eavesong.show.model import Box, Cue
from eavesong.show.selection import Selector, parse_selector
from eavesong.show.timeline import Envelope, Span, envelope, spans_of

if TYPE_CHECKING:
    from eavesong.language import Effect
    from eavesong.layout import Layout, Prop
    from eavesong.music.grid import BeatGrid


@dataclass(frozen=True)
class Taken:
    """Which of a cue's selectors was taken: the first that lights a pixel, or the first of all when none does."""

    text: str
    choice: int
    """From 0; -1 when none lights anything."""

    def __str__(self) -> str:
        """``roofline``, and for a fall-back ``roofline (choice 2)``."""
        return f"{self.text} (choice {self.choice + 1})" if self.choice > 0 else self.text


@dataclass(frozen=True, eq=False)
class PlacedCue:
    """A cue, ready to render on one house to one song."""

    index: int
    """Which cue of the show, from 0."""
    name: str
    effect: Effect
    parameters: dict[str, Value]
    """Every parameter of the effect: numbers, and colours in linear light."""
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

    def envelope(self, seconds: ArrayLike) -> Envelope:
        """Strength 0..1, progress 0..1 and first beat of the span at ``seconds`` (f,): float64 arrays (f,).

        Strength is 0 outside the spans; opacity is not in it.
        """
        return envelope(self.spans, self.grid, seconds)


def place_cues(show: Show, layout: Layout, grid: BeatGrid) -> tuple[PlacedCue, ...]:
    """The cues of ``show`` on ``layout`` and ``grid``, in the show's order: painting order, bottom first.

    A cue that lights nothing, or at no time, is among them, with empty ``props`` or ``spans``: `check` reports it.
    """
    house = House(layout)
    return tuple(_placed(show, index, cue, house, grid) for index, cue in enumerate(show.cues))


def _placed(show: Show, index: int, cue: Cue, house: House, grid: BeatGrid) -> PlacedCue:
    taken, weight, props = house.select(cue.on, cue.within)
    return PlacedCue(
        index=index,
        name=show.called(index),
        effect=show.effects[cue.effect],
        parameters=show.parameters_of(cue),
        palette=show.palette_of(cue),
        blend=cue.blend,
        opacity=cue.opacity,
        props=props,
        weight=weight,
        taken=taken,
        spans=spans_of(cue, grid),
        grid=grid,
    )


Selected = tuple[Taken, NDArray[np.float32], tuple[int, ...]]


class House:
    """A layout, asked for the pixels of selectors; each question is answered once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.names = tuple(names_of(prop) for prop in layout.props)
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
                weight.setflags(write=False)
                lit = np.unique(self.layout.pixels.prop[weight > 0])
                return Taken(selector.text, choice), weight, tuple(lit.tolist())
        weight.setflags(write=False)
        return Taken(choices[0].text, -1), weight, ()

    def _inside(self, box: Box | None) -> NDArray[np.bool_]:
        inside = np.ones(self.layout.pixel_count, np.bool_)
        for axis in ("x", "y", "z"):
            if box and (limits := getattr(box, axis)):
                places = getattr(self.layout.pixels, axis)
                inside &= (places >= limits[0]) & (places <= limits[1])
        return inside

    def known(self) -> tuple[str, ...]:
        """Every tag and name that a selector can use here."""
        return tuple(sorted(frozenset().union(*self.names)))


def names_of(prop: Prop) -> frozenset[str]:
    """What a prop answers to in a selector, in lower case: its tags, its name and the name of its row."""
    return frozenset(name.lower() for name in (*prop.tags, prop.name, prop.member_of))
