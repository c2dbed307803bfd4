"""How much light a draft gives in every bar, looked at on some of a house's pixels before anything is rendered."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.draft.form import Form
    from eavesong.layout import Layout
    from eavesong.scene.place import PlacedCue
    from eavesong.show import Show

    Floats = NDArray[np.float64]

PIXELS = 60
"""How many pixels are looked at, evenly along the house's wires."""
STAND_IN = "two-storey-2026.toml"
MOMENTS = (0.06, 0.4, 0.73)
"""When in each bar."""


def light_of_bars(text: str, form: Form, layout: Layout | None) -> Floats:
    """The mean light (bars,) of the show in ``text`` in each bar of the song, 0 to 1, on ``layout``."""
    starts = np.array([form.grid.time_of_bar(bar - 1) for bar in range(form.first, form.last + 1)])
    seconds = np.concatenate([starts[:-1] + at * np.diff(starts) for at in MOMENTS])
    total = light_at(text, form, layout, np.maximum(seconds, 0.0)).mean(axis=(1, 2))
    bars: Floats = total.reshape(len(MOMENTS), -1).mean(axis=0)
    return bars


def light_at(text: str, form: Form, layout: Layout | None, seconds: Floats, pixels: int = PIXELS) -> Floats:
    """Linear light (f, p, 3), 0 to 1, of the show in ``text`` at ``seconds`` (f,) on at most ``pixels`` of ``layout``.

    Where no house is known one that comes with eavesong stands in.
    """
    from eavesong.engines.plain import Drawing
    from eavesong.files import shipped
    from eavesong.layout import load_layout
    from eavesong.scene import Scene, Terms, place_cues

    if layout is None or not layout.pixel_count:
        layout = load_layout(shipped("layouts") / STAND_IN)
    show = _show_of(text)
    cues = [cue for cue in place_cues(show, layout, form.grid) if cue.spans]
    chosen = np.unique(np.linspace(0, layout.pixel_count - 1, min(pixels, layout.pixel_count)).astype(int))
    few = _thinned(layout, chosen)
    signals = form.signals.following(form.events, form.grid)
    scene = Scene(few, form.grid, tuple(_seen(cue, chosen) for cue in cues), Terms(), signals)
    light: Floats = Drawing(scene).light(seconds)
    return light


def _show_of(text: str) -> Show:
    from eavesong.errors import ShowError
    from eavesong.files import parse_toml
    from eavesong.language import load_effect
    from eavesong.palettes import light_of
    from eavesong.show import Show
    from eavesong.show.model import ShowFile

    file = ShowFile.model_validate(parse_toml(text, "draft", ShowError))
    effects = {name: load_effect(name) for name in dict.fromkeys(cue.effect for cue in file.cues)}
    palettes = {name: light_of(stops) for name, stops in file.palettes.items()}
    return Show(file.title, "", text, None, None, None, (), palettes, file.cues, effects)


def _thinned(layout: Layout, chosen: NDArray[np.int_]) -> Layout:
    """The layout with some of its pixels only: enough for what effects read, not for what is sent."""
    pixels = layout.pixels
    thin: dict[str, Any] = {}
    for field in fields(pixels):
        part = getattr(pixels, field.name)
        if isinstance(part, dict):
            thin[field.name] = {name: values[chosen] for name, values in part.items()}
        elif isinstance(part, np.ndarray):
            thin[field.name] = part[chosen]
    return replace(layout, pixels=replace(pixels, **thin))


def _seen(cue: PlacedCue, chosen: NDArray[np.int_]) -> PlacedCue:
    number = cue.number[chosen] if cue.number is not None else None
    return replace(cue, weight=cue.weight[chosen], number=number)
