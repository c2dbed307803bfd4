"""Setting ``--offset`` by eye and ear: clicks and flashes, the light a little later each time."""

from __future__ import annotations

import contextlib
import math
import tempfile
import wave
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from eavesong.playback.clock import Time
from eavesong.playback.session import Settings, on_stage, start_clock
from eavesong.playback.source import FileSource, one_colour
from eavesong.playback.stop import Stop
from eavesong.playback.wiring import Wiring

RATE = 44_100
CLICKS = (0.5, 1.5, 2.5, 3.5)
"""Seconds at which it clicks, and flashes: one flash a second, well below the three of WCAG 2.2, 2.3.1."""
LENGTH = 4.0
FLASH = 0.1
LEVEL = 0.2
STEPS = tuple(step / 1000 for step in range(-80, 81, 20))
"""Seconds about the offset that was given."""


class ClickFlashes:
    """The whole house, dimly, for a tenth of a second at every click."""

    title = "calibration"
    frame_rate = 40.0
    frame_count: float = LENGTH * frame_rate
    start = 0.0

    def __init__(self, wiring: Wiring, lit: NDArray[np.uint8]) -> None:
        self.wiring = wiring
        self._lit = lit
        self._dark = np.zeros_like(lit)

    def read(self, number: int) -> NDArray[np.uint8]:
        """Lit during a flash, else black."""
        seconds = number / self.frame_rate
        return self._lit if any(0 <= seconds - click < FLASH - 1e-9 for click in CLICKS) else self._dark

    def close(self) -> None:
        """Nothing is open."""


def calibrate(path: str | Path, settings: Settings, *, time: Time | None = None, out: IO[str] | None = None) -> Stop:
    """Click and flash on the house of a frames file: four clicks at each of nine offsets, 20 ms apart.

    Whoever stands where the guests will stand tells which looks right, and gives that as ``--offset``.
    """
    source = FileSource(path, allow_public=settings.allow_public)
    with contextlib.closing(source), tempfile.TemporaryDirectory() as folder:
        lit = one_colour(source.file.patch, source.wiring.channel_count, (1.0, 1.0, 1.0), LEVEL)
        clicks = write_clicks(Path(folder) / "clicks.wav")
        with on_stage(settings, time, out=out) as stage:
            for step in STEPS:
                if stage.stop.asked:
                    break
                offset = settings.offset + step
                stage.player.offset = offset
                stage.status.event("calibrate", f"--offset {offset * 1000:g}", offset=offset)
                with contextlib.closing(start_clock(stage, clicks, 0.0)) as clock:
                    stage.player.play(ClickFlashes(source.wiring, lit), clock)
    return stage.stop


def write_clicks(path: Path) -> Path:
    """Four clicks of 2 kHz that fade within 10 ms, as a WAV file of 16 bits."""
    seconds = np.arange(round(LENGTH * RATE)) / RATE
    sound = np.zeros(len(seconds))
    for click in CLICKS:
        after = seconds - click
        sound += np.where(after >= 0, 0.5 * np.sin(2 * math.pi * 2000 * after) * np.exp(-after.clip(0) / 0.002), 0)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, len(sound), "NONE", ""))
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    return path
