"""What the people of a house wished, and what of it a new layout file has forgotten: colours, darkness, brightness."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from eavesong.layout.wishes import wishes_in
from eavesong.scene.place import names_of

if TYPE_CHECKING:
    from eavesong.layout import Layout


HAIR = 1e-4
"""By which brightness in single precision, as patches have it, is no other than what is written."""


def forgotten(old: Layout, new: Layout) -> Iterator[str]:
    """The wishes of the old layout that the new one has not got, in words; a wish that was changed is none of them."""
    if gone := [name for name in old.palettes if name not in new.palettes]:
        yield f"colours of its own in place of {', '.join(gone)} ([palettes])"
    if lost := [name for name in old.colours if name not in new.colours]:
        yield f"colours of its own in place of what is {', '.join(lost)} ([colours])"
    there = {word for prop in new.props for word in names_of(prop)}
    before, now = [name for name in _unlit(old) if name in there], _unlit(new)
    lit = {word for prop in new.props if prop.lit for word in names_of(prop)}
    if dropped := [name for name in before if name not in now and name in lit]:
        yield f"{', '.join(dropped)} 'unlit'"
    was, least = _brightness(old), float(np.max(new.patch.brightness))
    if was < 1 and least > was + HAIR and "brightness" not in tomllib.loads(new.text):
        yield f"brightness {was:g} at most on every output (it is {least:g} now)"


def _brightness(layout: Layout) -> float:
    """The most of any output; of a house that is read from its frames, which tell those of wired pixels alone, also as
    its own text has it."""
    own = tomllib.loads(layout.text).get("brightness", 1.0)
    return min(float(layout.patch.brightness.max()), float(own) if isinstance(own, int | float) else 1.0)


def _unlit(layout: Layout) -> tuple[str, ...]:
    return wishes_in(tomllib.loads(layout.text)).unlit
