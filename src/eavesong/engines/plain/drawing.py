"""A scene drawn in float64 numpy, every cue's whole graph for every pixel and frame, with nothing cut, kept or rounded
on the way: slow, and what any other engine is held against."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels.blend import blended
from eavesong.kernels.exact import TILE
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.light import bytes_of
from eavesong.scene.layers import of_pixels, parameters_at

if TYPE_CHECKING:
    from collections.abc import Mapping

    from eavesong.engines import Tiles
    from eavesong.scene import Scene
    from eavesong.scene.place import PlacedCue

Floats = NDArray[np.float64]

AT_ONCE = 1 << 21
"""Pixels times frames that are worked out together."""


class Drawing:
    """The frames of a scene, in any order and any portion; safe to use from several threads."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene

    def block(self, first: int, count: int) -> NDArray[np.uint8]:
        """The bytes (count, channels) of the frames from ``first`` on; see `eavesong.engines.Engine`."""
        out = np.zeros((count, self.scene.layout.patch.channel_count), np.uint8)
        self.fill(out, first)
        return out

    def fill(self, out: NDArray[np.uint8], first: int, tiles: Tiles | None = None) -> None:
        """Write the frames from ``first`` on into ``out`` (count, channels); see `eavesong.engines.Engine`."""
        size = max(1, AT_ONCE // max(1, self.scene.layout.pixel_count))
        for at in range(0, len(out), size):
            rows = out[at : at + size]
            self._drive(self.light((np.arange(len(rows)) + first + at) / self.scene.frame_rate), rows, tiles)

    def light(self, seconds: Floats) -> Floats:
        """Linear light (frames, pixels, 3), 0..1, at ``seconds`` (frames,) of the song."""
        light = np.zeros((3, len(seconds), self.scene.layout.pixel_count))
        inputs, spectra = self.scene.values.inputs(seconds)
        for cue in self.scene.cues:
            if not cue.spans or not cue.weight.any():
                continue
            own, strength = self.scene.values.inputs_of(cue, inputs, seconds)
            level, *colour = self.outputs(cue, own, spectra)
            alpha = _unit(level) * cue.weight * self.scene.wanted * (strength * cue.opacity)[:, None]
            light = blended(cue.blend, light, _unit(np.stack(colour)), alpha)
        return np.moveaxis(light, 0, -1)

    def outputs(self, cue: PlacedCue, inputs: Mapping[str, Floats], spectra: Floats) -> list[Floats]:
        """Level, red, green and blue of a cue's effect, (frames, pixels) each, before they are held within 0 and 1.

        inputs: what `eavesong.scene.values.Values.inputs_of` gives; spectra: (frames, SPECTRUM_SIZE).
        """
        from eavesong.colours import palette_table

        program = cue.program
        around = Surroundings(
            parameters=parameters_at(cue.parameters, inputs["cue_progress"]),
            inputs={name: values[:, None] for name, values in inputs.items()} | self._pixels["input"] | _own(cue),
            step=self._pixels["step_along"],
            across=self._pixels["step_across"],
            palette=palette_table(cue.palette).T.astype(np.float64),
            spectrum=spectra,
        )
        values = evaluate(program.graph, program.outputs, around)
        shape = len(spectra), self.scene.layout.pixel_count
        return [np.broadcast_to(values[node], shape) for node in program.outputs]

    @cached_property
    def _pixels(self) -> dict[str, dict[str, Floats]]:
        """Everything that a program can read of the pixels, float64 (1, pixels) each."""
        from eavesong.language.builtins import PIXEL_INPUTS

        layout = self.scene.layout
        names = {
            "input": [entry.name for entry in PIXEL_INPUTS],
            "step_along": list(layout.pixels.step),
            "step_across": list(layout.pixels.across),
        }
        return {
            kind: {name: of_pixels(layout, kind, name).astype(np.float64)[None] for name in known}
            for kind, known in names.items()
        }

    def _drive(self, light: Floats, out: NDArray[np.uint8], tiles: Tiles | None) -> None:
        """Turn light (frames, pixels, 3) into the bytes of frames (frames, channels)."""
        strings = self.scene.strings
        begin, stop = (TILE * tile for tile in tiles) if tiles else (0, light.shape[1])
        for start, last, start_channel, drive, *places in strings.runs.tolist():
            first, end = max(start, begin), min(last, stop)
            if first >= end:
                continue
            brightness, gamma = strings.drives[drive]
            width = 3 if places[3] < 0 else 4
            channel = start_channel + (first - start) * width
            colours = light[:, first:end]
            if width == 4:  # white gives what red, green and blue have in common (common practice)
                white = colours.min(axis=-1, keepdims=True)
                colours = np.concatenate([colours - white, white], axis=-1)
            driven = bytes_of(colours, brightness, gamma)
            for colour, place in enumerate(places[:width]):
                out[:, channel + place : channel + (end - first) * width : width] = driven[..., colour]


def _own(cue: PlacedCue) -> dict[str, Floats]:
    """What a cue puts in the place of what its house tells."""
    return {} if cue.number is None else {"number": cue.number.astype(np.float64)[None]}


def _unit(values: Floats) -> Floats:
    return np.clip(np.nan_to_num(values, nan=0.0, posinf=1.0, neginf=0.0), 0.0, 1.0)
