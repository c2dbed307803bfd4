"""Blocks of frames: what the frame alone decides, evaluated in float64, then the loop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import exact
from eavesong.kernels.sample import sample
from eavesong.language.builtins import SIGNALS
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.render.plan import Plan, PlannedCue

Floats = NDArray[np.float64]

WINDOW = 1024
"""Frames whose musical time and scalars are worked out together. Windows start at whole multiples of this, so a
frame's numbers come from the same array operations whichever frames are asked for."""


@dataclass(frozen=True, eq=False)
class Window:
    """What the loop reads once a frame, for WINDOW frames."""

    scalars: NDArray[np.float32]
    """(WINDOW, columns)."""
    strength: NDArray[np.float32]
    """(cues, WINDOW): opacity and fade, 0 where the cue is not on."""
    spectra: NDArray[np.float32]
    """(WINDOW, SPECTRUM_SIZE)."""


class Frames:
    """The frames of a plan, in any order and any portion; safe to use from several threads."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._computed = lru_cache(maxsize=4)(self._compute_window)
        self._lock = Lock()

    def block(self, first: int, count: int) -> NDArray[np.uint8]:
        """The bytes (count, channels) of the frames from ``first`` on; frame k is shown k / frame_rate seconds in.

        Channels of props that were not asked for are 0.
        """
        out = np.zeros((count, self.plan.channel_count), np.uint8)
        self.fill(out, first)
        return out

    def fill(self, out: NDArray[np.uint8], first: int) -> None:
        """Write the frames from ``first`` on into ``out`` (count, channels), which holds zeros."""
        frame = first
        while frame < first + len(out):
            number, offset = divmod(frame, WINDOW)
            count = min(WINDOW - offset, first + len(out) - frame)
            rows = slice(offset, offset + count)
            window = self._window(number)
            plan = self.plan
            sample(
                plan.table,
                plan.places,
                np.ascontiguousarray(window.strength[:, rows]),
                window.spectra[rows],
                window.scalars[rows],
                plan.strings,
                plan.string_at,
                plan.curves,
                0,
                plan.tile_count,
                out[frame - first : frame - first + count],
            )
            frame += count

    def _window(self, number: int) -> Window:
        # Under a lock, so that two threads that come to a new window do not both work it out.
        with self._lock:
            return self._computed(number)

    def _compute_window(self, number: int) -> Window:
        seconds = (np.arange(WINDOW) + number * WINDOW) / self.plan.frame_rate
        inputs, spectra = frame_inputs(self.plan, seconds)
        columns = sum(cue.scalar_count for cue in self.plan.cues)
        scalars = np.zeros((WINDOW, max(columns, 1)), np.float32)
        strength = np.zeros((len(self.plan.cues), WINDOW), np.float32)
        for row, cue in enumerate(self.plan.cues):
            envelope = cue.cue.envelope(seconds)
            strength[row] = envelope.strength * cue.cue.opacity
            if strength[row].any():
                own = cue_inputs(inputs, envelope.progress, envelope.start_beat, self.plan)
                self._scalars(cue, own, spectra, scalars)
        return Window(scalars, strength, spectra.astype(np.float32))

    @staticmethod
    def _scalars(cue: PlannedCue, inputs: Mapping[str, Floats], spectra: Floats, scalars: NDArray[np.float32]) -> None:
        program = cue.cue.effect.program
        around = Surroundings(
            parameters=cue.parameters,
            inputs={name: values[:, None] for name, values in inputs.items()},
            palette=cue.palette.astype(np.float64),
            spectrum=spectra,
        )
        with np.errstate(over="ignore"):  # a number past float32's largest becomes infinite there, which is total too
            for slot, value in enumerate(evaluate(program.graph, program.scalars, around).values()):
                scalars[:, cue.first_scalar + slot] = np.broadcast_to(value, (WINDOW, 1))[:, 0]


def frame_inputs(plan: Plan, seconds: Floats) -> tuple[dict[str, Floats], Floats]:
    """Every frame input but those of a cue, (f,) each, and the spectrum (f, SPECTRUM_SIZE)."""
    musical = plan.grid.musical_time(seconds)
    names = ("beat", "bar", "beats_per_bar", "section", "section_progress")
    inputs = {"t": seconds} | {name: getattr(musical, name) for name in names}
    if plan.signals is None:
        silent = np.zeros_like(seconds)
        return inputs | dict.fromkeys(SIGNALS, silent), np.zeros((len(seconds), exact.SPECTRUM_SIZE))
    heard = plan.signals.at(seconds)
    spectra = heard.pop("spectrum")
    return inputs | heard, spectra


def cue_inputs(inputs: Mapping[str, Floats], progress: Floats, start_beat: Floats, plan: Plan) -> dict[str, Floats]:
    """The frame inputs with those of one cue added."""
    starts, which = np.unique(start_beat, return_inverse=True)
    start_bars = plan.grid.musical_time([plan.grid.time_of_beat(float(start)) for start in starts]).bar
    return dict(inputs) | {
        "cue_progress": progress,
        "cue_beat": inputs["beat"] - start_beat,
        "cue_bar": inputs["bar"] - start_bars[which.reshape(-1)],
    }
