"""Props in an order of a cue's own, for effects that go from prop to prop.

Effects read the order as ``number``. It is that of the repeated row which a prop belongs to, unless the cue says
otherwise: a direction across the house, or a list of words.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.show.selection import parse_selector

if TYPE_CHECKING:
    from eavesong.layout import Layout

Floats = NDArray[np.float64]

TOGETHER = 0.005
"""Of the house's width, height or depth: props whose middles are less apart than this have their turn together."""

DIRECTIONS: dict[str, Callable[[Floats], Floats]] = {
    "left to right": lambda middle: middle[:, 0],
    "right to left": lambda middle: -middle[:, 0],
    "ground to top": lambda middle: middle[:, 1],
    "top to ground": lambda middle: -middle[:, 1],
    "back to street": lambda middle: middle[:, 2],
    "street to back": lambda middle: -middle[:, 2],
    "middle to sides": lambda middle: np.abs(middle[:, 0] - 0.5),
    "sides to middle": lambda middle: -np.abs(middle[:, 0] - 0.5),
}
"""By the middles (n, 3) of props in house coordinates, what they are sorted by."""


def numbers_of(
    order: Sequence[str], layout: Layout, names: Sequence[frozenset[str]], lit: Sequence[int]
) -> NDArray[np.float32]:
    """(pixels,): the turn of each pixel's prop, from 0, among the ``lit`` props; props that are not lit have 0.

    order: one of DIRECTIONS, or selectors: what each chooses follows in the layout's order, and what none chooses
    comes last. names: what each prop answers to, as `eavesong.scene.place.names_of` tells.
    """
    turns = np.zeros(len(layout.props), np.float32)
    if len(order) == 1 and order[0] in DIRECTIONS:
        firsts = [layout.props[index].start for index in lit]
        middles = np.stack([getattr(layout.pixels, f"centre_{axis}")[firsts] for axis in "xyz"], axis=1)
        turns[list(lit)] = _ranks(DIRECTIONS[order[0]](middles.astype(np.float64)))
    else:
        turns[listed(order, names, lit)] = np.arange(len(lit))
    numbers: NDArray[np.float32] = turns[layout.pixels.prop]
    numbers.setflags(write=False)
    return numbers


def _ranks(places: Floats) -> NDArray[np.int64]:
    """The turn (n,) of each place (n,), from 0; neighbours within TOGETHER share one."""
    order = np.argsort(places, kind="stable")
    ranks = np.empty(len(places), np.int64)
    ranks[order] = np.concatenate([[0], np.cumsum(np.diff(places[order]) > TOGETHER)])[: len(places)]
    return ranks


def listed(order: Sequence[str], names: Sequence[frozenset[str]], lit: Sequence[int]) -> list[int]:
    """Indices of the ``lit`` props as selectors list them, those last that none chooses."""
    chosen = [index for text in order for index in lit if parse_selector(text).matches(names[index])]
    return list(dict.fromkeys([*chosen, *lit]))
