"""The six-cue stack as eavesong renders it: six effect files, a layout, a beat grid, into memory."""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

name = "eavesong"
EFFECTS = Path(__file__).parent.parent / "effects"
ORDER = ("sweep", "ring", "pulse", "sparkle", "wash", "chase")
BLOCK = 150
"""Frames that a thread draws at a time: 7,200 make 48 blocks, as many for each of up to 4, 6, 8, 12 or 16 threads."""
LATEST = 400.0
_plans = {}


def available():
    return None


def render(places, frames, fps=40, sparkle=True):
    key = (id(places), fps, sparkle)
    if key not in _plans:
        _plans[key] = _frames(places, fps, sparkle)
    frames_of_plan = _plans[key]
    out = np.zeros((len(frames), len(places["x"]) * 3), np.uint8)
    with ThreadPoolExecutor(_cores()) as pool:
        starts = range(0, len(frames), BLOCK)
        list(pool.map(lambda at: frames_of_plan.fill(out[at : at + BLOCK], frames[at]), starts))
    return out.reshape(len(frames), -1, 3)


def _cores():
    """How many this process may run on."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()


def _frames(places, fps, sparkle):
    from eavesong.easing import LINEAR
    from eavesong.engines import draw
    from eavesong.language import load_effect
    from eavesong.scene import Scene, Terms
    from eavesong.scene.place import PlacedCue, Taken
    from eavesong.scene.timeline import Span

    layout, grid = _layout(places), _grid()
    span = Span(0.0, LATEST, 0.0, 0.0, LINEAR, LINEAR, True)
    cues = [
        PlacedCue(
            index=index,
            name=effect,
            effect=load_effect(f"{effect}.toml", EFFECTS),
            parameters={},
            palette=((0.0, (0.0, 0.0, 0.0)), (1.0, (1.0, 1.0, 1.0))),
            blend="source-over",
            opacity=1.0,
            props=(0,),
            weight=np.ones(layout.pixel_count, np.float32),
            taken=Taken("all", 0),
            spans=(span,),
            grid=grid,
        )
        for index, effect in enumerate(ORDER)
        if sparkle or effect != "sparkle"
    ]
    return draw(Scene(layout, grid, tuple(cues), Terms(frame_rate=fps), _Bass()))


class _Bass:
    """Signals of the stack: bass is |sin t| at every moment, the rest silent."""

    def at(self, seconds):
        silent = np.zeros_like(seconds)
        signals = dict.fromkeys(("loudness", "mid", "treble", "onset", "brightness"), silent)
        return signals | {"bass": np.abs(np.sin(seconds)), "spectrum": np.zeros((len(seconds), 32))}


def _grid():
    """120 beats a minute in 4/4 from the first second on."""
    from eavesong.music import BeatGrid

    count = int(LATEST * 2)
    return BeatGrid(tuple(0.5 * n for n in range(count)), tuple(n % 4 + 1 for n in range(count)), (), LATEST)


def _layout(places):
    """A layout with the given coordinates to the bit, driven by a power of 2.2."""
    from dataclasses import replace

    from eavesong.layout import layout_from_points

    points = np.stack([places["x"], places["y"], np.zeros_like(places["x"])], axis=1)
    layout = layout_from_points(points, title="Benchmark")
    pixels = replace(layout.pixels, **{key: np.array(places[key]) for key in ("x", "y", "u", "seed")})
    return replace(layout, pixels=pixels, patch=replace(layout.patch, gamma=np.full_like(layout.patch.gamma, 2.2)))
