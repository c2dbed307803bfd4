"""Values: what each frame decides for every pixel alike, evaluated in float64, a window of frames at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import exact
from eavesong.language.builtins import SIGNALS
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.scene.layers import parameters_at

if TYPE_CHECKING:
    from eavesong.music import BeatGrid, Signals
    from eavesong.scene.layers import Layer, Timed
    from eavesong.scene.place import PlacedCue

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Heard = tuple[dict[str, Floats], Floats, Floats]
"""Frame inputs (WINDOW,) each, spectra (WINDOW, SPECTRUM_SIZE), and the seconds (WINDOW,) that they are of."""

WINDOW = 1024
"""Frames whose musical time and scalars are worked out together. Windows start at whole multiples of this, so a
frame's numbers come from the same array operations whichever frames are asked for."""

KEPT = 8
"""Windows that a layer keeps: three minutes and a half at 40 frames a second."""


@dataclass(frozen=True, eq=False)
class Window:
    """What is read once a frame, for WINDOW frames."""

    scalars: NDArray[np.float32]
    """(WINDOW, columns): what the programs of all layers read once a frame, side by side."""
    strength: NDArray[np.float32]
    """(layers, WINDOW): opacity and fade, 0 where the cue is not on."""
    spectra: NDArray[np.float32]
    """(WINDOW, SPECTRUM_SIZE)."""


class Values:
    """The windows of a song's frames; safe to ask from several threads."""

    def __init__(
        self, grid: BeatGrid, signals: Signals | None, frame_rate: float, layers: Callable[[], tuple[Layer, ...]]
    ) -> None:
        """signals: None for silence. layers: gives what the scalars of windows are worked out for."""
        self.grid, self.signals, self.frame_rate, self._layers = grid, signals, frame_rate, layers
        self._heard: dict[int, Heard] = {}
        self._windows: dict[int, Window] = {}
        self._lock = Lock()

    def window(self, number: int) -> Window:
        """The frames from ``number`` times WINDOW on; frame k is shown k / frame_rate seconds into the song."""
        if (known := self._windows.get(number)) is not None:  # whatever another thread is working out
            return known
        # Under a lock, so that two threads that come to a new window do not both work it out.
        with self._lock:
            if number not in self._windows:
                _put_bounded(self._windows, number, self._compute(number), 4)
            return self._windows[number]

    def follow(self, other: Values) -> None:
        """Share what is heard with the values of another scene of the same song, whose layers may be shared too."""
        self._heard, self._lock = other._heard, other._lock

    def inputs(self, seconds: Floats) -> tuple[dict[str, Floats], Floats]:
        """Every frame input but those of a cue at ``seconds`` (f,), (f,) each, and the spectrum (f, SPECTRUM_SIZE)."""
        musical = self.grid.musical_time(seconds)
        names = ("beat", "bar", "beats_per_bar", "section", "section_progress")
        inputs = {"t": seconds} | {name: getattr(musical, name) for name in names}
        if self.signals is None:
            silent = np.zeros_like(seconds)
            return inputs | dict.fromkeys(SIGNALS, silent), np.zeros((len(seconds), exact.SPECTRUM_SIZE))
        heard = self.signals.at(seconds)
        spectra = heard.pop("spectrum")
        return inputs | heard, spectra

    def inputs_of(
        self, cue: PlacedCue, inputs: Mapping[str, Floats], seconds: Floats
    ) -> tuple[dict[str, Floats], Floats]:
        """The frame inputs with those of one cue added, and its strength (f,), opacity not in it."""
        envelope = cue.envelope(seconds)
        starts = sorted(set(envelope.start_beat.tolist()))
        which = np.searchsorted(starts, envelope.start_beat)
        start_bars = self.grid.musical_time([self.grid.time_of_beat(start) for start in starts]).bar
        own = dict(inputs) | {
            "cue_progress": envelope.progress,
            "cue_beat": inputs["beat"] - envelope.start_beat,
            "cue_bar": inputs["bar"] - start_bars[which],
        }
        return own, envelope.strength

    def _compute(self, number: int) -> Window:
        inputs, spectra, seconds = self._hear(number)
        layers = self._layers()
        columns = sum(layer.scalar_count for layer in layers)
        scalars = np.zeros((WINDOW, max(columns, 1)), np.float32)
        strength = np.zeros((len(layers), WINDOW), np.float32)
        for row, layer in enumerate(layers):
            if (timed := layer.windows.get(number)) is None:
                own, lit = self.inputs_of(layer.cue, inputs, seconds)
                timed = _timed(layer, own, (lit * layer.cue.opacity).astype(np.float32), spectra)
                _put_bounded(layer.windows, number, timed)
            strength[row] = timed[0]
            scalars[:, layer.first_scalar : layer.first_scalar + timed[1].shape[1]] = timed[1]
        return Window(scalars, strength, spectra.astype(np.float32))

    def _hear(self, number: int) -> Heard:
        if (found := self._heard.get(number)) is None:
            seconds = (np.arange(WINDOW) + number * WINDOW) / self.frame_rate
            found = (*self.inputs(seconds), seconds)
            _put_bounded(self._heard, number, found)
        return found


def _put_bounded(kept: dict[int, Any], number: int, value: Any, most: int = KEPT) -> None:
    """Keep ``value``; of more than ``most``, what has been kept longest is let go."""
    kept[number] = value
    while len(kept) > most:
        kept.pop(next(iter(kept)), None)


def _timed(layer: Layer, inputs: Mapping[str, Floats], strength: Singles, spectra: Floats) -> Timed:
    """Strength and scalars of a layer; no scalars in a window in which it is not on."""
    program = layer.program
    scalars = np.zeros((WINDOW, layer.scalar_count if strength.any() else 0), np.float32)
    if not scalars.shape[1]:
        return strength, scalars
    around = Surroundings(
        parameters=parameters_at(layer.cue.parameters, inputs["cue_progress"]),
        inputs={name: values[:, None] for name, values in inputs.items()},
        palette=layer.palette.astype(np.float64),
        spectrum=spectra,
    )
    with np.errstate(over="ignore"):  # a number past float32's largest becomes infinite there, which is total too
        for slot, value in enumerate(evaluate(program.graph, program.scalars, around).values()):
            scalars[:, slot] = np.broadcast_to(value, (WINDOW, 1))[:, 0]
    return strength, scalars
