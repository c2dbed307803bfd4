"""One pass over a song's sound: how much power each part of the spectrum holds, a hundred times a second.

Every frame looks back only: frame k, at k / 100 seconds, is computed from the sound before that moment. Its window
rises slowly and falls within 5 ms, so what just happened counts in full and what is past fades out.

Channels are added as powers, after the spectrum: two in antiphase, whose sum is silence, are as loud as two in
phase.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.sound import Sound

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

FRAME_RATE = 100
"""Frames a second."""
WINDOW = 0.05
"""Seconds of sound in a frame: bins 20 Hz apart."""
FALL = 0.005
"""Seconds at the frame's own end over which the window falls."""
BAND_COUNT = 32
LOWEST, HIGHEST = 40.0, 16_000.0
"""Middles in Hz of the first and the last band."""
BASS_BELOW, TREBLE_FROM = 150.0, 4_000.0
"""Hz at which bass ends and treble begins."""
HEARD_FROM = 20.0
"""Hz below which nothing is heard (common practice)."""
FRAMES_AT_ONCE = 128


@dataclass(frozen=True, eq=False)
class Powers:
    """Power in each frame, summed over the channels, in units of full scale squared; float32."""

    bands: Singles
    """(f, 32): bands of equal width in pitch, 40 Hz to 16 kHz."""
    weighted: Singles
    """(f,): all of it, K-weighted."""
    bass: Singles
    mid: Singles
    treble: Singles
    duration: float
    """Seconds of sound."""


def measure(sound: Sound) -> Powers:
    """The powers of a whole song. Raises AudioError as ``Sound.blocks`` does.

    Frame 0 stands before the first sample and is silent; the last frame is the first that has heard everything.
    """
    powers: Powers = gather(sound, [powers_meter(sound.rate)])[0]
    return powers


def gather(sound: Sound, meters: list[Meter]) -> list[Any]:
    """What each meter makes of a whole song, which is read once. Raises AudioError as ``Sound.blocks`` does."""
    heard = 0
    for block in sound.blocks():
        heard += len(block)
        for meter in meters:
            meter.take(block)
    return [meter.result(heard / sound.rate) for meter in meters]


def powers_meter(rate: int) -> Meter:
    """The meter whose result is `Powers`."""
    from scipy.fft import next_fast_len

    length = next_fast_len(round(WINDOW * rate), real=True)
    return Meter(rate, FRAME_RATE, _window(length, max(1, round(FALL * rate))), weights, _powers)


def _powers(table: Singles, duration: float) -> Powers:
    bands, (weighted, bass, mid, treble) = table[:, :BAND_COUNT], table[:, BAND_COUNT:].T
    return Powers(bands, weighted, bass, mid, treble, duration)


class Meter:
    """Turns the sound at one sample rate into rows of powers, block by block.

    Frame k is what a window (n,) holds that ends at k / ``frame_rate`` seconds. ``weights`` gives, for frequencies
    (m,) in Hz, how much of the power there goes into which column (m, c); ``kept`` makes the result of all rows
    (f, c) and the duration; ``squeeze`` may shorten rows for keeping as they come.
    """

    def __init__(
        self,
        rate: int,
        frame_rate: int,
        window: Singles,
        weights: Callable[[Floats], Floats],
        kept: Callable[[Any, float], Any],
        squeeze: Callable[[Singles], Any] = np.asarray,
    ) -> None:
        from scipy.fft import rfftfreq

        self.rate, self.frame_rate, self.window, self.kept, self.squeeze = rate, frame_rate, window, kept, squeeze
        self.step = rate // frame_rate + 1
        self.weights = weights(rfftfreq(len(window), 1 / rate)).astype(np.float32)
        # A sine of full scale has a power of one half, whatever the window.
        self.weights *= 2 / (len(window) * float(np.sum(window.astype(np.float64) ** 2)))
        self.held: Singles | None = None
        self.heard = self.frame = 0
        self.rows: Any = None

    def take(self, block: Singles) -> None:
        """Hear the next block (n, channels)."""
        if self.held is None:
            self.held = np.zeros((len(self.window), block.shape[1]), np.float32)
        self.heard += len(block)
        self.held = np.concatenate([self.held, block])
        self._measure(self.heard * self.frame_rate // self.rate + 1)
        self.held = self.held[-len(self.window) - self.step :]

    def result(self, duration: float) -> Any:
        """What ``kept`` makes of everything heard."""
        if self.held is None:
            raise ValueError("nothing was heard")
        if rest := -self.heard * self.frame_rate % self.rate:
            silence = np.zeros((rest // self.frame_rate + 1, self.held.shape[1]), np.float32)
            self.held, self.heard = np.concatenate([self.held, silence]), self.heard + len(silence)
            self._measure(self.frame + 1)
        self.rows.resize((self.frame, *self.rows.shape[1:]), refcheck=False)
        return self.kept(self.rows, duration)

    def _measure(self, stop: int) -> None:
        starts = np.arange(self.frame, stop) * self.rate // self.frame_rate - len(self.window)
        held = np.zeros((0, 1), np.float32) if self.held is None else self.held
        starts -= self.heard - len(held)
        for batch in _batches(starts):
            spectra = sum((self._spectra(channel, batch) for channel in held.T), start=np.float32(0))
            self._keep(self.squeeze(spectra @ self.weights))

    def _keep(self, rows: Any) -> None:
        """Append rows to those kept, in place: lists of pieces would hold everything twice when they are joined."""
        if self.rows is None:
            self.rows = np.empty((FRAMES_AT_ONCE, *rows.shape[1:]), rows.dtype)
        if self.frame + len(rows) > len(self.rows):
            more = len(rows) + len(self.rows) // 8
            self.rows.resize((len(self.rows) + more, *rows.shape[1:]), refcheck=False)
        self.rows[self.frame : self.frame + len(rows)] = rows
        self.frame += len(rows)

    def _spectra(self, channel: Singles, starts: NDArray[np.int64]) -> Singles:
        from scipy.fft import rfft

        spectra = rfft(sliding_window_view(channel, len(self.window))[starts] * self.window, axis=1)
        return np.asarray(spectra.real**2 + spectra.imag**2)


def _batches(starts: NDArray[np.int64]) -> Iterator[NDArray[np.int64]]:
    for begin in range(0, len(starts), FRAMES_AT_ONCE):
        yield starts[begin : begin + FRAMES_AT_ONCE]


def _window(length: int, fall: int) -> Singles:
    """A Hann window with its top moved towards the end."""
    rise = length - fall
    up = np.sin(np.pi / 2 * (np.arange(rise) + 0.5) / rise) ** 2
    down = np.cos(np.pi / 2 * (np.arange(fall) + 0.5) / fall) ** 2
    return np.concatenate([up, down]).astype(np.float32)


def weights(hertz: Floats) -> Floats:
    """How much of the power at each frequency (n,) in Hz goes where, (n, 36).

    The columns are the 32 bands, then K-weighted, bass, mid and treble.
    """
    heard = hertz >= HEARD_FROM
    columns = [
        *_band_weights(hertz).T,
        k_weighting(hertz),
        heard & (hertz < BASS_BELOW),
        (hertz >= BASS_BELOW) & (hertz < TREBLE_FROM),
        hertz >= TREBLE_FROM,
    ]
    return np.stack([np.asarray(column, dtype=np.float64) for column in columns], axis=1)


def band_middles() -> Floats:
    """The middle of each of the 32 bands, in Hz: equal steps in pitch."""
    return np.geomspace(LOWEST, HIGHEST, BAND_COUNT)


def _band_weights(hertz: Floats) -> Floats:
    """Triangles in pitch, each reaching to its neighbours' middles, or to the next bin where bins are coarser."""
    middles = band_middles()
    step = np.log2(middles[1] / middles[0])
    reach = np.maximum(step, np.log2(1 + hertz[1] / middles))
    away = np.abs(np.log2(np.maximum(hertz, 1.0)[:, None] / middles))
    weights: Floats = np.maximum(0.0, 1.0 - away / reach)
    return weights


def k_weighting(hertz: Floats) -> Floats:
    """The power gain of K-weighting at each frequency (n,) in Hz.

    The head filter and the high-pass of ITU-R BS.1770 (tables 1 and 2), which are given for 48 kHz; what lies
    above 24 kHz is weighted as 24 kHz is. At 997 Hz the gain is 0.691 dB, which the standard takes off afterwards.
    """
    z = np.exp(-2j * np.pi * np.minimum(hertz, 24_000.0) / 48_000.0)
    head = (1.53512485958697 - 2.69169618940638 * z + 1.19839281085285 * z**2) / (
        1 - 1.69065929318241 * z + 0.73248077421585 * z**2
    )
    high_pass = (1 - 2 * z + z**2) / (1 - 1.99004745483398 * z + 0.99007225036621 * z**2)
    power: Floats = np.abs(head * high_pass) ** 2
    return power
