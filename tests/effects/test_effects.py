"""The effects that come with eavesong: how their files read, and what they show on a house."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.engines.plain import Drawing
from eavesong.files import shipped
from eavesong.language import effect_names, load_effect
from eavesong.language.effect import LARGEST_LOOP
from eavesong.layout import Layout
from support import bytes_of, cue, even_grid, points, reference, scene_on

NAMES = effect_names()
HOUSES = tuple(sorted(path.stem for path in shipped("layouts").glob("*.toml")))
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Luminance of linear sRGB's red, green and blue (IEC 61966-2-1)."""

WHITE = ((0.0, (1.0, 1.0, 1.0)), (1.0, (1.0, 1.0, 1.0)))
"""A palette in which only the level matters."""

Floats = NDArray[np.float64]


def test_the_library_covers_a_show() -> None:
    assert len(NAMES) >= 24


@pytest.mark.parametrize("name", NAMES)
def test_a_file_reads_well(name: str) -> None:
    """Plain name, one sentence of plain words, code before parameters, every number with its range and meaning."""
    effect = load_effect(name)
    tables = tomllib.loads(effect.text)
    assert re.fullmatch(r"[a-z]+(-[a-z]+)?", name)
    assert 0 < len(effect.title) <= 24
    assert re.fullmatch(r"[A-Z][^.]+\.", effect.about)
    assert list(tables) == ["title", "about", "code", "parameters"]
    assert len(effect.code.strip().splitlines()) <= 14
    for parameter in effect.parameters.values():
        assert parameter.about
        if parameter.kind == "number":
            assert parameter.min is not None
            assert parameter.max is not None
            assert "unit" in tables["parameters"][_name_of(parameter, effect)]


def _name_of(parameter: Any, effect: Any) -> str:
    return next(name for name, known in effect.parameters.items() if known is parameter)


def test_no_two_files_say_the_same() -> None:
    effects = [load_effect(name) for name in NAMES]
    for part in ("title", "about", "code"):
        assert len({getattr(effect, part) for effect in effects}) == len(effects)


@pytest.mark.parametrize("name", NAMES)
def test_the_loop_is_far_below_the_limit(name: str) -> None:
    """Forty cues may lie on top of each other: a shipped effect takes at most a quarter of what is allowed."""
    program = load_effect(name).program
    assert program.graph.cost(set(program.loop)) <= LARGEST_LOOP / 4


def test_only_flames_keep_a_time_of_their_own() -> None:
    """All the others count beats or bars, or follow the sound: at another tempo they keep the choreography."""
    assert {name for name in NAMES if "t" in load_effect(name).program.frame_inputs()} == {"hearth", "wick"}


def test_most_effects_take_the_colours_of_the_show() -> None:
    own = {name for name in NAMES if "palette(" not in load_effect(name).code}
    assert own == {"hearth", "wick", "hush"}  # the last is darkness


# --- on houses -------------------------------------------------------------------------------------------------------


def _thinned(layout: Layout, most: int = 400) -> Layout:
    """Some of the pixels of a house: what each of them shows depends on nothing but its own numbers."""
    from dataclasses import fields, replace

    pixels = layout.pixels
    chosen = np.linspace(0, layout.pixel_count - 1, min(most, layout.pixel_count)).astype(int)
    thin = {
        field.name: {name: values[chosen] for name, values in part.items()} if isinstance(part, dict) else part[chosen]
        for field in fields(pixels)
        if isinstance(part := getattr(pixels, field.name), dict | np.ndarray)
    }
    patch = points(np.zeros((len(chosen), 3))).patch
    return replace(layout, pixels=replace(pixels, **thin), patch=patch)


@pytest.mark.parametrize("house", HOUSES)
@pytest.mark.parametrize("name", sorted(set(NAMES) - {"hush"}))
def test_every_house_is_lit_within_eight_bars(
    name: str, house: str, house_of: Callable[[str], Layout], drums: Any
) -> None:
    """At its defaults an effect lights something, and level and colours are numbers from 0 to 1 by themselves."""
    layout, grid = _thinned(house_of(house)), even_grid(120, bars=8)
    placed = cue(load_effect(name), layout, grid, palette=WHITE)
    seconds = np.arange(0.05, grid.duration, 0.37)
    level, *colours = _unheld(placed, layout, seconds, drums)
    assert np.isfinite(level).all()
    assert level.min() >= -1e-6
    assert level.max() <= 1 + 1e-6
    for colour in colours:
        assert np.isfinite(colour).all()
        assert colour.min() >= -1e-6
        assert colour.max() <= 1 + 1e-6
    brightest = np.max(level * np.max(colours, axis=0))
    assert brightest > 0.3


def _unheld(placed: Any, layout: Layout, seconds: Floats, sound: Any) -> list[Floats]:
    """Level, red, green and blue (frames, pixels) as the code sets them, before they are held within 0 and 1."""
    plain = Drawing(scene_on([placed], layout, grid=placed.grid, signals=sound))
    inputs, spectra = plain.scene.values.inputs(seconds)
    own, _ = plain.scene.values.inputs_of(placed, inputs, seconds)
    return plain.outputs(placed, own, spectra)


MOVING = sorted(set(NAMES) - {"awning", "plain", "hush"})


@pytest.mark.parametrize("name", MOVING)
def test_something_moves(name: str, small_house: Layout, drums: Any) -> None:
    white_to_red = ((0.0, (1.0, 1.0, 1.0)), (1.0, (1.0, 0.0, 0.0)))
    placed = cue(load_effect(name), small_house, even_grid(120, bars=8), palette=white_to_red)
    light = reference([placed], small_house, np.arange(0.1, 8, 0.41), drums)
    assert np.abs(np.diff(light, axis=0)).max(axis=(1, 2)).mean() > 0.02


# --- gentle to the eye -----------------------------------------------------------------------------------------------

GENTLE = (
    "approach", "clouds", "ebb", "flurry", "glimmer", "gradient", "helix", "hearth", "interference",
    "polar-light", "relay", "rings", "runners", "slant", "standing-wave", "sundial", "swell", "tails", "wick",
)  # fmt: skip
"""Effects that nothing in them makes jump."""


@pytest.mark.parametrize("name", GENTLE)
def test_light_grows_and_shrinks_smoothly(name: str, house_of: Callable[[str], Layout]) -> None:
    """At 40 frames a second the light of the whole house never changes by more than a tenth in one frame."""
    light = bytes_of(load_effect(name), _thinned(house_of("two-storey-2026"), 2500), 0, 320).mean(axis=(1, 2))
    assert np.abs(np.diff(light)).max() / light.max() < 0.1


def _flashes(luminance: Floats, frames_a_second: int) -> int:
    """The most flashes in any second of a luminance (f,) from 0 to 1.

    WCAG 2.2, "general flash": a pair of opposing changes of 10 % or more of the largest luminance, the darker
    below 0.80.
    """
    turns, low, high, way = [], luminance[0], luminance[0], 0
    for frame, now in enumerate(luminance):
        if way <= 0 and now - low >= 0.1 and low < 0.8:
            turns.append(frame)
            way, high = 1, now
        elif way >= 0 and high - now >= 0.1 and now < 0.8:
            turns.append(frame)
            way, low = -1, now
        low, high = min(low, now), max(high, now)
    changes = np.array(turns)
    return max((int(((changes >= at) & (changes < at + frames_a_second)).sum()) // 2 for at in changes), default=0)


def test_flashes_are_counted() -> None:
    """A light that is switched on and off three times a second flashes three times a second; a ripple does not."""
    seconds = np.arange(0, 4, 1 / 40)
    assert _flashes(np.where(seconds * 3 % 1 < 0.5, 1.0, 0.0), 40) == 3
    assert _flashes(np.where(seconds * 5 % 1 < 0.5, 1.0, 0.0), 40) == 5
    assert _flashes(0.5 + 0.04 * np.sin(40 * seconds), 40) == 0


@pytest.mark.parametrize("name", NAMES)
def test_nothing_flashes_more_than_three_times_a_second(
    name: str, house_of: Callable[[str], Layout], drums: Any
) -> None:
    """Neither the house as a whole nor the usual pixel, in white light at 130 beats a minute with a drum on each
    (WCAG 2.2, success criterion 2.3.1: no more than three flashes in any one second)."""
    layout = _thinned(house_of("two-storey-2026"), 300)
    light = bytes_of(
        load_effect(name),
        layout,
        0,
        40 * 8,
        grid=even_grid(130),
        signals=drums,
        palette=WHITE,
    )
    luminance = light / 255.0 @ LUMINANCE
    assert _flashes(luminance.mean(axis=1), 40) <= 3
    assert np.mean([_flashes(luminance[:, pixel], 40) for pixel in range(0, 300, 5)]) <= 3


# --- nothing falls between pixels ------------------------------------------------------------------------------------


def _wire(count: int, length: float = 12.0) -> Layout:
    """A straight wire of ``count`` pixels from end to end of a house ``length`` metres wide."""
    places = np.full((count, 3), 0.5)
    places[:, 0] = (np.arange(count) + 0.5) * length / count
    return points(places, (length, 1, 1))


def _mean_light(name: str, layout: Layout, parameters: dict[str, float], seconds: Floats) -> Floats:
    """Mean level (frames,) of an effect in white light."""
    placed = cue(load_effect(name), layout, even_grid(), parameters=parameters, palette=WHITE)
    return reference([placed], layout, seconds)[..., 0].mean(axis=1)


@pytest.mark.parametrize("count", [12, 100, 731])
def test_a_narrow_crossing_keeps_its_light_on_any_wire(count: int) -> None:
    """The integral of (1 - q²)² from -1 to 1 is 16/15: a band lights 8/15 of its width, even below one pixel."""
    seconds = np.linspace(0.5, 1.5, 41)
    light = _mean_light("crossing", _wire(count), {"width": 0.04}, seconds)
    assert light == pytest.approx(np.full(41, 0.04 * 8 / 15), rel=1e-3)


@pytest.mark.parametrize("count", [40, 333])
def test_runners_light_their_share_at_every_moment(count: int) -> None:
    light = _mean_light("runners", _wire(count), {"gap": 1.5, "share": 0.3}, np.linspace(0, 3, 47))
    assert light == pytest.approx(np.full(47, 0.3), rel=1e-4)


@pytest.mark.parametrize("count", [40, 333])
@pytest.mark.parametrize("metres", [1.0, -1.0])
def test_tails_keep_their_light(count: int, metres: float) -> None:
    """The integral of a tail s² from 0 to 1 is a third of its length."""
    parameters = {"gap": 3.0, "share": 0.6, "metres": metres}
    light = _mean_light("tails", _wire(count), parameters, np.linspace(0, 3, 47))
    assert light == pytest.approx(np.full(47, 0.2), rel=1e-3)


@pytest.mark.parametrize("metres", [1.0, -1.0])
def test_tails_point_backwards_whichever_way_they_run(metres: float) -> None:
    """Just ahead of a head it is dark; behind it, bright."""
    layout = _wire(1200)
    parameters = {"metres": metres, "gap": 6.0, "share": 0.5}
    placed = cue(load_effect("tails"), layout, even_grid(), parameters=parameters, palette=WHITE)
    now, soon = reference([placed], layout, np.array([1.0, 1.1]))[..., 0]
    heads = np.flatnonzero(np.abs(np.diff(now)) > 0.4)
    moved = np.flatnonzero(np.abs(np.diff(soon)) > 0.4)
    assert np.sign(moved[0] - heads[0]) == np.sign(metres)
    assert np.sign(now[heads[0]] - now[heads[0] + 1]) == np.sign(metres)


@pytest.mark.parametrize(("own", "lit"), [(1, (0.5, 0.5)), (0, (0.5, 1.0))])
@pytest.mark.parametrize(("name", "half"), [("unveil", 2.0), ("storeys", 0.5)])
def test_a_prop_lower_than_the_house_fills_by_itself_or_with_it(
    name: str, half: float, own: float, lit: tuple[float, float]
) -> None:
    """Half-way up the house, a prop of half its height is full; by itself, it is as full as the other: a half.

    At 120 beats a minute, half of unveil's 8 beats are over after 2 s, and 2 of 4 storeys are filled after 0.5 s.
    """
    up = np.linspace(0, 1, 101)
    house = points({"tall": [(0, 4 * at, 0) for at in up], "low": [(1, 2 * at, 0) for at in up]}, (1, 4, 1))
    scene = scene_on(load_effect(name), house, grid=even_grid(120), parameters={"own": own}, palette=WHITE)
    light = Drawing(scene).light(np.array([half + 0.01]))[0].max(axis=-1)
    for prop, share in zip(house.props, lit, strict=True):
        assert (light[prop.start : prop.stop] > 0.1).mean() == pytest.approx(share, abs=0.06)


def test_an_awning_stands_still() -> None:
    house = points([(at / 100, 0.5, 0) for at in range(101)])
    drawing = Drawing(scene_on(load_effect("awning"), house, grid=even_grid(120), parameters={"gap": 0.2}))
    light = drawing.light(np.linspace(0, 8, 9))
    assert (light == light[:1]).all()
    assert len(np.unique(np.round(light[0], 3), axis=0)) >= 2
