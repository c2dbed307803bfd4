"""An audio device of our own: it asks for samples as PortAudio does, by a crystal that need not be right."""

from __future__ import annotations

import sys
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from playback.helpers import SimTime

BLOCK = 256
LATENCY = 0.03
"""Seconds from the request for samples to the converter."""


class SimDevice:
    """A sound card in simulated time.

    Its samples leave at ``rate · (1 + error)`` a second; what it says about when they are heard jitters by up to
    ``jitter`` seconds. ``position`` is the truth: seconds of the song that have left the converter.
    """

    def __init__(self, time: SimTime, error: float = 0.0, jitter: float = 0.0) -> None:
        self.time, self.error, self.jitter = time, error, jitter
        self.heard: list[np.ndarray] = []
        self.keep = 2_000
        """Blocks that are kept to be looked at."""
        self._random = np.random.default_rng(5)
        self._stream: Any = None
        self._started = 0.0
        self._asked = 0

    def open(self, *, samplerate: int, channels: int, callback: Any, **_: Any) -> SimDevice:
        self.rate, self.channels, self._callback = samplerate, channels, callback
        self._started, self._asked = self.time.now, 0
        return self

    # What `sounddevice.OutputStream` has.
    latency = LATENCY

    def start(self) -> None:
        self._started = self.time.now

    def abort(self) -> None:
        return

    close = abort

    @property
    def stream_time(self) -> float:
        return self.time.now - 500.0  # an epoch of its own

    def position(self) -> float:
        """Seconds of the song that have left the converter."""
        played = (self.time.now - self._started - LATENCY) * (1 + self.error)
        return min(played, self._asked / self.rate)

    def ask(self) -> None:
        """Ask for every block that is due by now."""
        while self._due() <= self.time.now:
            out = np.full((BLOCK, self.channels), np.nan, np.float32)
            heard = self._due() + LATENCY - 500.0 + self.jitter * self._random.uniform(-1, 1)
            times = SimpleNamespace(outputBufferDacTime=heard, currentTime=self.stream_time)
            self._asked += BLOCK
            self._wait_for_decoder()
            self._callback(out, BLOCK, times, None)
            if len(self.heard) < self.keep:
                self.heard.append(out)

    def _due(self) -> float:
        return self._started + self._asked / self.rate / (1 + self.error)

    def _wait_for_decoder(self) -> None:
        """Simulated time must not outrun a real thread."""
        import time

        feeder = self._callback.__self__._feeder
        while not feeder.ended and len(feeder._block) < BLOCK and feeder._blocks.empty() and feeder._thread.is_alive():
            time.sleep(0.0005)

    def run(self, seconds: float) -> None:
        """Let time pass, asking for samples as they are due."""
        end = self.time.now + seconds
        while self.time.now < end:
            self.time.sleep(min(0.005, end - self.time.now))
            self.ask()

    def halt(self, seconds: float) -> None:
        """Stand still: no sample leaves."""
        self.time.sleep(seconds)
        self._started += seconds

    def drive(self) -> None:
        """Ask whenever anybody sleeps."""
        sleep = self.time.sleep

        def asking(seconds: float) -> None:
            end = self.time.now + seconds
            while self.time.now < end:
                sleep(min(0.005, end - self.time.now))
                self.ask()

        self.time.sleep = asking  # type: ignore[method-assign]


def install(device: SimDevice, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have ``import sounddevice`` give this device."""
    module = ModuleType("sounddevice")
    module.OutputStream = lambda **options: _Stream(device, options)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "sounddevice", module)


class _Stream:
    """The stream that the code under test holds."""

    latency = LATENCY

    def __init__(self, device: SimDevice, options: dict[str, Any]) -> None:
        self._device = device.open(**options)
        self.start, self.abort, self.close = device.start, device.abort, device.close

    @property
    def time(self) -> float:
        return self._device.stream_time
