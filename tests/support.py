"""Small invented houses, songs and effects, and the means to render them without files."""

from __future__ import annotations

import ctypes
import functools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.colours import parse_colour
from eavesong.easing import LINEAR
from eavesong.engines import Engine, draw
from eavesong.engines.plain import Drawing as Plain
from eavesong.kernels import exact
from eavesong.language import Effect, parse_effect
from eavesong.language.builtins import EVENTS, PIXEL_INPUTS
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.layout import Layout, layout_from_points
from eavesong.music import BeatGrid, Section
from eavesong.scene import Scene, Terms
from eavesong.scene.place import PlacedCue, Taken
from eavesong.scene.timeline import Span

WHITE = "\ncolour = linear_rgb(1, 1, 1)\n"
"""The end of a code in which only the level matters."""


# --- effects ---------------------------------------------------------------------------------------------------------


@functools.cache
def effect(code: str, parameters: str = "") -> Effect:
    """The effect with this code; ``parameters`` are the lines below ``[parameters]``."""
    text = f'title = "Test"\nabout = "For a test."\ncode = """\n{code}\n"""\n[parameters]\n{parameters}\n'
    return parse_effect(text, "test", "test.toml")


def level_of(expression: str, parameters: str = "") -> Effect:
    """White light of this level."""
    return effect(f"level = {expression}{WHITE}", parameters)


# --- houses ----------------------------------------------------------------------------------------------------------


def points(places: ArrayLike | Mapping[str, ArrayLike], size: Sequence[float] = (1, 1, 1)) -> Layout:
    """A house with pixels at ``places`` metres in a frame from 0 to ``size``."""
    return layout_from_points(places, title="Test house", frame=((0, 0, 0), size))


def line(count: int, axis: int = 0) -> NDArray[np.float64]:
    """``count`` pixels edge to edge from 0 to 1 along an axis, in the middle of the others."""
    places = np.full((count, 3), 0.5)
    places[:, axis] = (np.arange(count) + 0.5) / count
    return places


def scattered(count: int, seed: int = 1) -> NDArray[np.float64]:
    """Pixels at random in the unit cube."""
    return np.random.default_rng(seed).random((count, 3))


# --- songs -----------------------------------------------------------------------------------------------------------


def even_grid(bpm: float = 120.0, bars: int = 64) -> BeatGrid:
    """Four-beat bars at one tempo from second 0; the first half is the verse, the second the chorus."""
    beat = 60.0 / bpm
    count = 4 * bars
    sections = (Section(0.0, count * beat / 2, "verse"), Section(count * beat / 2, count * beat, "chorus"))
    return BeatGrid(
        tuple(beat * n for n in range(count)), tuple(n % 4 + 1 for n in range(count)), sections, count * beat
    )


class Sound:
    """Signals that swing with time."""

    frame_rate = 100.0

    def at(self, seconds: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
        names = ("loudness", "bass", "mid", "treble", "onset", "brightness")
        signals = {name: np.abs(np.sin(seconds * (n + 1))) for n, name in enumerate(names)}
        # Of events: beats since them and how many there were, steps that stand for both; strengths swing as well.
        signals |= {name: np.abs(np.sin(seconds * (n + 0.5))) for n, name in enumerate(EVENTS)}
        signals |= {name: (2 * seconds) % 8 for name in EVENTS if name.endswith("_age")}
        signals |= {name: np.floor(seconds / 4) for name in EVENTS if name.endswith("_count") or name == "phrase"}
        signals |= {"phrase_bars": np.full(len(seconds), 4.0)}
        bands = np.arange(exact.SPECTRUM_SIZE) / exact.SPECTRUM_SIZE
        return signals | {"spectrum": np.abs(np.sin(seconds[:, None] + 6 * bands))}


# --- cues ------------------------------------------------------------------------------------------------------------

BLACK_TO_WHITE = ((0.0, (0.0, 0.0, 0.0)), (1.0, (1.0, 1.0, 1.0)))


def cue(what: Effect | str, layout: Layout, grid: BeatGrid, **changes: Any) -> PlacedCue:
    """An effect (or white light of a level) on the whole house for the whole song, unless ``changes`` say otherwise."""
    shown = level_of(what) if isinstance(what, str) else what
    defaults = {
        name: parse_colour(parameter.default) if isinstance(parameter.default, str) else parameter.default
        for name, parameter in shown.parameters.items()
    }
    parameters = defaults | changes.pop("parameters", {})
    placed = PlacedCue(
        index=0,
        name="cue 1",
        effect=shown,
        parameters=parameters,
        palette=BLACK_TO_WHITE,
        blend="source-over",
        opacity=1.0,
        props=tuple(range(len(layout.props))),
        weight=np.ones(layout.pixel_count, np.float32),
        taken=Taken("all", 0),
        spans=(Span(0.0, grid.duration, 0.0, 0.0, LINEAR, LINEAR, True),),
        grid=grid,
    )
    return replace(placed, **changes)


def scene_on(
    what: Effect | str | Sequence[PlacedCue],
    layout: Layout,
    *,
    grid: BeatGrid | None = None,
    fps: float = 40.0,
    signals: Any = None,
    props: Iterable[int] | None = None,
    **changes: Any,
) -> Scene:
    """The scene of one effect, or of cues, on a house."""
    grid = grid or even_grid()
    cues = [cue(what, layout, grid, **changes)] if isinstance(what, Effect | str) else what
    scene = Scene(layout, grid, tuple(cues), Terms(frame_rate=fps), signals)
    return scene if props is None else scene.only(tuple(props))


def frames_of(what: Effect | str | Sequence[PlacedCue], layout: Layout, engine: str = "numba", **how: Any) -> Engine:
    """The frames of one effect, or of cues, on a house; ``how`` as in `scene_on`."""
    return draw(scene_on(what, layout, **how), engine)


def bytes_of(
    what: Effect | str | Sequence[PlacedCue], layout: Layout, first: int = 0, count: int = 1, **how: Any
) -> Any:
    """uint8 (count, pixels, 3) of an RGB house."""
    return frames_of(what, layout, **how).block(first, count).reshape(count, -1, 3)


# --- the reference ---------------------------------------------------------------------------------------------------


def reference(
    cues: Sequence[PlacedCue], layout: Layout, seconds: NDArray[np.float64], signals: Any = None, fps: float = 40.0
) -> NDArray[np.float64]:
    """Linear light (frames, pixels, 3) of cues as the plain engine draws them."""
    return Plain(scene_on(cues, layout, grid=cues[0].grid, signals=signals, fps=fps)).light(seconds)


# --- effects without a house -----------------------------------------------------------------------------------------


def surroundings(
    frame: Mapping[str, ArrayLike],
    pixel: Mapping[str, ArrayLike],
    parameters: Mapping[str, float] | None = None,
    **more: Any,
) -> Surroundings:
    """Frame values (f,) and pixel values (n,) by name; footprints as ``step`` and ``across``, 0 where not given."""
    inputs = {name: np.asarray(values, np.float64).reshape(-1, 1) for name, values in frame.items()}
    inputs |= {name: np.asarray(values, np.float64).reshape(1, -1) for name, values in pixel.items()}
    flat = np.zeros((1, max((np.size(values) for values in pixel.values()), default=1)))
    for kind in ("step", "across"):
        given = more.get(kind, {})
        more[kind] = {entry.name: flat + np.asarray(given.get(entry.name, 0.0)) for entry in PIXEL_INPUTS}
    return Surroundings(parameters=parameters or {}, inputs=inputs, **more)


def surroundings_on(layout: Layout, frame: Mapping[str, ArrayLike], **more: Any) -> Surroundings:
    """Frame values (f,) by name, and everything the pixels of a house know."""
    pixel = {entry.name: getattr(layout.pixels, entry.name) for entry in PIXEL_INPUTS}
    return surroundings(frame, pixel, step=layout.pixels.step, across=layout.pixels.across, **more)


def light_exact(what: Effect, around: Surroundings) -> NDArray[np.float64]:
    """Linear light (3, f, n) in float64: the level times the colour, each held within 0 and 1."""
    program = what.program
    values = evaluate(program.graph, program.outputs, around)
    level, *colour = np.broadcast_arrays(*(np.atleast_2d(values[node]) for node in program.outputs))
    return np.stack([_unit(level) * _unit(channel) for channel in colour])


def _unit(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.clip(np.nan_to_num(values, nan=0.0, posinf=1.0, neginf=0.0), 0.0, 1.0)


def light_compiled(
    what: Effect,
    around: Surroundings,
    *,
    below: ArrayLike = 0.0,
    weight: ArrayLike = 1.0,
    strength: float = 1.0,
    mode: str = "source-over",
) -> NDArray[np.float32]:
    """Linear light (3, f, n) from the compiled kernel, blended over ``below`` (3, n); n at most TILE."""
    from eavesong.kernels.exact import TILE
    from eavesong.kernels.store import compiled
    from eavesong.language.emit import emit

    program = what.program
    frames = max(np.shape(values)[0] for values in around.inputs.values())
    count = max(np.shape(values)[1] for values in around.inputs.values())
    given = evaluate(program.graph, (*program.scalars, *program.planes), around)
    scalars = np.zeros((frames, max(len(program.scalars), 1)), np.float32)
    for slot, node in enumerate(program.scalars):
        scalars[:, slot] = np.broadcast_to(given[node], (frames, 1))[:, 0]
    planes = np.zeros((max(len(program.planes), 1), TILE), np.float32)
    for slot, node in enumerate(program.planes):
        planes[slot, :count] = np.broadcast_to(given[node], (1, count))[0]
    light, weights = np.zeros((frames, 3, TILE), np.float32), np.zeros(TILE, np.float32)
    light[:, :, :count], weights[:count] = below, weight
    palette = np.ascontiguousarray(around.palette, np.float32)
    bands = np.broadcast_to(np.asarray(around.spectrum, np.float32), (frames, exact.SPECTRUM_SIZE)).copy()
    kernel, shown = in_c(compiled(emit(program, what.title, mode))), np.array([strength], np.float32)
    for frame in range(frames):
        kernel(light[frame], bands[frame], weights, planes, scalars[frame], palette, shown)
    return np.moveaxis(light[:, :, :count], 0, 1)


# --- single functions ------------------------------------------------------------------------------------------------


@functools.cache
def _lanes_kernel(function: Callable[..., Any], count: int) -> Callable[..., None]:
    """``function`` of as many planes, compiled: planes in, one out."""
    from eavesong.kernels.code import assembled, linked
    from eavesong.kernels.words import assembly, load, store, tile

    def kernel(out: Any, planes: Any) -> None:
        for n in tile():
            store(out, n, function(*(load(planes, n + slot * exact.TILE) for slot in range(count))))

    return in_c(linked(assembled(assembly([kernel]), "kernel")))


def lanes(function: Callable[..., Any]) -> Callable[..., NDArray[np.float32]]:
    """A function that is written in the words of kernels as one of float32 arrays."""

    def run(*arguments: ArrayLike) -> NDArray[np.float32]:
        given = np.broadcast_arrays(*(np.asarray(argument, np.float32) for argument in arguments))
        size, shape = given[0].size, given[0].shape
        tiles = -(-size // exact.TILE)
        planes = np.zeros((tiles, len(given), exact.TILE), np.float32)
        for slot, argument in enumerate(given):
            padded = np.zeros(tiles * exact.TILE, np.float32)
            padded[:size] = argument.reshape(-1)
            planes[:, slot] = padded.reshape(tiles, exact.TILE)
        out = np.empty((tiles, exact.TILE), np.float32)
        for tile in range(tiles):
            _lanes_kernel(function, len(given))(out[tile], planes[tile])
        return out.reshape(-1)[:size].reshape(shape)

    return run


def in_c(code: Any) -> Callable[..., None]:
    """Machine code that takes the addresses of arrays, in turn, as Python calls it."""
    function = ctypes.CFUNCTYPE(None, ctypes.c_void_p)

    def call(*arrays: NDArray[np.float32]) -> None:
        function(code.address)((ctypes.c_void_p * len(arrays))(*(array.ctypes.data for array in arrays)))

    return call
