"""Layers: cues as arrays over the pixels of a house, in tiles, as engines take them.

A cue's values at a pixel depend on that pixel alone: arrays are cut into whole tiles before anything is evaluated, so
that no other pixel, prop or cue can change a bit of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import palette_table
from eavesong.kernels import exact
from eavesong.kernels.exact import TILE
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.show.ramps import Ramp

if TYPE_CHECKING:
    from eavesong.language.program import Program
    from eavesong.layout import Layout
    from eavesong.scene.place import PlacedCue
    from eavesong.show.load import Value

TILES_AT_ONCE = 16
"""Tiles whose planes are worked out together, so that what is worked out on the way needs little memory."""

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


Timed = tuple[Singles, Singles]
"""Of the frames of a window: strength (f,), opacity and fade; scalars (f, columns)."""


@dataclass(frozen=True, eq=False)
class Layer:
    """A cue that lights something: all that is known of it before the first frame."""

    cue: PlacedCue
    parameters: dict[str, float]
    """As programs read them: a colour as ``name.0``, ``name.1``, ``name.2``; those that stay, without the ramps."""
    palette: Singles
    """(3, PALETTE_SIZE) linear light."""
    tiles: NDArray[np.int64]
    """The tiles it reaches into."""
    planes: Singles
    """(tiles, planes, TILE): what the program reads once a pixel."""
    weights: Singles
    """(tiles it lights only in part, TILE): 1 where it lights, 0 elsewhere."""
    partial: NDArray[np.bool_]
    """(tiles,): which those are; of the others it lights every pixel."""
    first_scalar: int
    """Its first column among the scalars of all layers, see `eavesong.scene.values`."""
    windows: dict[int, Timed] = field(default_factory=dict, repr=False)
    """What each frame decides of it, by the number of the window, as far as it has been worked out; see `Timed`."""

    @property
    def program(self) -> Program:
        """The effect's program."""
        return self.cue.program

    @property
    def scalar_count(self) -> int:
        """How many numbers a frame it needs."""
        return len(self.program.scalars)


def layers_of(
    cues: Sequence[PlacedCue],
    layout: Layout,
    wanted: NDArray[np.bool_],
    before: Sequence[Layer] = (),
    same_places: bool = True,
) -> tuple[Layer, ...]:
    """The cues that light a ``wanted`` pixel (n,) of a house at some time, in painting order.

    before: layers of the same song, from which is taken what is the same here. same_places: whether they are of the
    same house too, with the same pixels wanted.
    """
    layers: list[Layer] = []
    column = 0
    for cue in cues:
        weight = cue.weight * wanted
        if weight.any() and cue.spans and cue.opacity > 0:
            known = next((layer for layer in before if _same_light(layer.cue, cue)), None)
            if known is not None and same_places and _same_pixels(known.cue, cue):
                layers.append(replace(known, cue=cue, first_scalar=column))
            else:
                fresh = _layer(cue, weight, layout, column)
                layers.append(fresh if known is None else replace(fresh, windows=known.windows))
            column += layers[-1].scalar_count
    return tuple(layers)


def _same_light(one: PlacedCue, other: PlacedCue) -> bool:
    """Whether two cues of one song give a pixel that both light the same light at all times."""
    names = ("effect", "blend", "opacity", "parameters", "palette", "spans")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _same_pixels(one: PlacedCue, other: PlacedCue) -> bool:
    """Whether two cues on one house light the same pixels in the same order."""
    if not np.array_equal(one.weight, other.weight) or (one.number is None) != (other.number is None):
        return False
    return one.number is None or other.number is None or np.array_equal(one.number, other.number)


def _layer(cue: PlacedCue, weight: Singles, layout: Layout, column: int) -> Layer:
    program = cue.program
    parameters = flat_parameters(cue.parameters)
    palette = np.ascontiguousarray(palette_table(cue.palette, exact.PALETTE_SIZE).T)
    weights = _tiled(weight)
    tiles = np.flatnonzero(weights.any(axis=1))
    weights = weights[tiles]
    beyond = _tiled(np.ones_like(weight))[tiles] == 0  # what fills the last tile up belongs to no pixel
    partial = ~((weights == 1) | beyond).all(axis=1)
    planes = np.empty((len(tiles), len(program.planes), TILE), np.float32)
    for at in range(0, len(tiles), TILES_AT_ONCE):
        part = slice(at, at + TILES_AT_ONCE)
        around = _on_pixels(cue, layout, tiles[part], parameters, palette)
        with np.errstate(over="ignore"):
            for slot, value in enumerate(evaluate(program.graph, program.planes, around).values()):
                planes[part, slot] = value.reshape(-1, TILE)
    return Layer(cue, parameters, palette, tiles, planes, weights[partial], partial, column)


def flat_parameters(parameters: Mapping[str, Value]) -> dict[str, float]:
    """Parameters that stay, as programs read them: a colour as ``name.0``, ``name.1``, ``name.2``."""
    flat: dict[str, float] = {}
    for name, value in parameters.items():
        if isinstance(value, Ramp):
            continue
        if isinstance(value, tuple):
            flat |= {f"{name}.{channel}": part for channel, part in enumerate(value)}
        else:
            flat[name] = value
    return flat


def parameter_ranges(parameters: Mapping[str, Value]) -> dict[str, tuple[float, float]]:
    """Between which numbers parameters lie that stay; ramps are left out."""
    return {name: (value, value) for name, value in flat_parameters(parameters).items()}


def parameters_at(parameters: Mapping[str, Value], progress: Floats) -> dict[str, float | Floats]:
    """All parameters as programs read them, at the ``progress`` (f,) of a cue's span: ramps are (f, 1) each."""
    flat: dict[str, float | Floats] = {**flat_parameters(parameters)}
    for name, value in parameters.items():
        if isinstance(value, Ramp):
            values = value.at(progress)
            if values.ndim == 1:
                flat[name] = values[:, None]
            else:
                flat |= {f"{name}.{channel}": values[:, channel, None] for channel in range(3)}
    return flat


def pixel_values(cue: PlacedCue, layout: Layout, kind: str, name: str) -> Singles:
    """What a cue's program reads of the pixels, (pixels,), by the kind and name that ``Program.pixel_inputs`` gives."""
    if cue.number is not None and (kind, name) == ("input", "number"):
        return cue.number
    return of_pixels(layout, kind, name)


def of_pixels(layout: Layout, kind: str, name: str) -> Singles:
    """The same, (pixels,), as the house tells it."""
    if kind == "input":
        values: Singles = getattr(layout.pixels, name)
        return values
    return (layout.pixels.step if kind == "step_along" else layout.pixels.across)[name]


def _on_pixels(
    cue: PlacedCue,
    layout: Layout,
    tiles: NDArray[np.int64],
    parameters: dict[str, float],
    palette: Singles,
) -> Surroundings:
    """What a cue's program reads of every pixel of ``tiles``, as float64 (1, pixels)."""
    found: dict[str, dict[str, Floats]] = {"input": {}, "step_along": {}, "step_across": {}}
    for kind, name in cue.program.pixel_inputs():
        found[kind][name] = _tiled(pixel_values(cue, layout, kind, name))[tiles].reshape(1, -1).astype(np.float64)
    return Surroundings(
        parameters=parameters,
        inputs=found["input"],
        step=found["step_along"],
        across=found["step_across"],
        palette=palette.astype(np.float64),
    )


def _tiled(values: Singles) -> Singles:
    """(tiles, TILE): the values of the pixels, the last tile filled up with zeros."""
    full = np.zeros(-(-len(values) // TILE) * TILE, np.float32)
    full[: len(values)] = values
    return full.reshape(-1, TILE)
