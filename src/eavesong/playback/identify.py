"""Lighting one thing at a time, dimly: to see which prop is which, and whether it is wired the way it is written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import IO, TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import LayoutError, Problem, advise
from eavesong.light import bytes_of
from eavesong.playback.clock import SongClock, Time
from eavesong.playback.session import Settings, on_stage
from eavesong.playback.source import Still
from eavesong.playback.stop import Stop
from eavesong.playback.wiring import wire_layout

if TYPE_CHECKING:
    from eavesong.layout import Layout, Patch

BRIGHTEST = 0.3
"""Light at most, as a share of full: of an output at full brightness, driven so."""
FIRST, LAST, REST = "G", "R", "RGB"
"""Colours: green where the wire begins, red where it ends, dim white between."""


@dataclass(frozen=True)
class Target:
    """Something to light: pixels in the order of their wire."""

    name: str
    pixels: NDArray[np.int64]
    where: str
    """Where it is patched, for people."""


def targets_of(layout: Layout, names: Sequence[str]) -> list[Target]:
    """What ``names`` mean: props, rows of props, tags, outputs as ``controller:number``; every output without names.

    Raises LayoutError for a name that the layout does not have.
    """
    outputs = {f"{run.controller}:{run.output}": None for run in layout.patch.runs}
    if not names:
        return [_output(layout, name) for name in outputs]
    found: list[Target] = []
    problems = []
    for name in names:
        if name in outputs:
            found.append(_output(layout, name))
        elif props := layout.named(name) or layout.tagged(name):
            found += [_prop(layout, index) for index in props]
        else:
            known = (*layout.names(), *layout.tags(), *outputs)
            advice = advise(name, known, "prop or output")
            problems.append(Problem(layout.path, "", f"no prop, tag or output is called '{name}'", advice))
    if problems:
        raise LayoutError(problems)
    return found


def identify(
    layout: Layout, names: Sequence[str], settings: Settings, *, seconds: float = 3.0, level: float = 0.1,
    rounds: int = 1, time: Time | None = None, out: IO[str] | None = None,
) -> Stop:  # fmt: skip
    """Light each target for ``seconds``, one after the other, at ``level`` of full drive (0..0.3).

    The first pixel of its wire is green, the last one red. Everything else is dark. Sends with a CID of its own, so
    that it can run beside a show, at a priority 10 higher. Raises LayoutError for unknown names, FramesError when the
    layout cannot be sent to.
    """
    targets = targets_of(layout, names)
    wiring = wire_layout(layout, allow_public=settings.allow_public)
    settings = replace(settings, companion="identify", priority=min(200, settings.priority + 10), sound=False)
    with on_stage(settings, time, out=out) as stage:
        for target in list(targets) * rounds:
            if stage.stop.asked:
                break
            stage.status.event("identify", f"{target.name}: {len(target.pixels)} pixels, {target.where}")
            look = Still(target.name, wiring, lit(layout.patch, target.pixels, level), seconds)
            stage.player.play(look, SongClock(stage.time))
    return stage.stop


def lit(patch: Patch, pixels: Iterable[int], level: float) -> NDArray[np.uint8]:
    """A frame, uint8 (channel,), that lights ``pixels`` (in wire order) and nothing else."""
    frame = np.zeros(patch.channel_count, np.uint8)
    light = min(max(level, 0.0), BRIGHTEST)
    wire = list(pixels)
    for place, pixel in enumerate(wire):
        letters = FIRST if place == 0 else LAST if place == len(wire) - 1 else REST
        order = patch.orders[patch.order[pixel]]
        start = int(patch.channel_start[pixel])
        drive = bytes_of(light, float(patch.brightness[pixel]), float(patch.gamma[pixel]))
        for offset, letter in enumerate(order):
            if letter in letters:
                frame[start + offset] = drive
    return frame


def _prop(layout: Layout, index: int) -> Target:
    prop = layout.props[index]
    runs = [run for run in layout.patch.runs if run.prop == prop.name]
    places = dict.fromkeys(f"{run.controller}:{run.output}" for run in runs)
    universes = sorted({run.universe for run in runs})
    where = f"{', '.join(places) or 'in no output'}{_universes(universes)}"
    return Target(prop.name, np.arange(prop.start, prop.stop), where)


def _output(layout: Layout, name: str) -> Target:
    runs = [run for run in layout.patch.runs if f"{run.controller}:{run.output}" == name]
    runs.sort(key=lambda run: (run.universe, run.slot))
    pixels = dict.fromkeys(pixel for run in runs for pixel in range(run.first_pixel, run.first_pixel + run.pixel_count))
    props = ", ".join(dict.fromkeys(run.prop for run in runs))
    universes = sorted({run.universe for run in runs})
    return Target(name, np.array(list(pixels), np.int64), f"{props}{_universes(universes)}")


def _universes(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    return f", universe {numbers[0]}" if len(numbers) == 1 else f", universes {numbers[0]} to {numbers[-1]}"
