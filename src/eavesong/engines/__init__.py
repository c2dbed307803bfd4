"""Engines: each draws a scene, and does nothing else. ``numba`` is the fast one, ``plain`` what it is compared with.

An engine is a package here with a class ``Drawing`` as below; a new one is found by its name.
"""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Protocol

from eavesong.errors import Problem, ShowError, advise

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.scene import Scene

USUAL = "numba"

Tiles = tuple[int, int]
"""A run of tiles of a house, each of TILE pixels: the first, and the one after the last."""


class Engine(Protocol):
    """The frames of a scene, in any order and any portion; safe to use from several threads."""

    def fill(self, out: NDArray[np.uint8], first: int, tiles: Tiles | None = None) -> None:
        """Write the frames from ``first`` on into ``out`` (count, channels), which holds zeros.

        Frame k is shown k / frame_rate seconds into the song. Channels of props that are not wanted are left alone.
        tiles: write these alone, and leave the other channels as they are; None: all.
        """
        ...

    def block(self, first: int, count: int) -> NDArray[np.uint8]:
        """The same frames in a new array."""
        ...


def names() -> tuple[str, ...]:
    """The engines there are."""
    return tuple(sorted(found.name for found in iter_modules(__path__)))


def draw(scene: Scene, engine: str = USUAL) -> Engine:
    """The engine called ``engine``, ready to draw ``scene``. Raises ShowError for a name that is none."""
    if engine not in names():
        raise ShowError(Problem("engine", "", f"no engine is called '{engine}'", advise(engine, names(), "engine")))
    drawing: Engine = import_module(f"{__name__}.{engine}").Drawing(scene)
    return drawing


def fingerprint_of(engine: str = USUAL) -> str:
    """The fingerprint of the code of an engine, see `eavesong.sources`; scenes and files have their own."""
    from eavesong.sources import fingerprint

    return fingerprint(f"{__name__}.{engine}")
