"""The song, decoded once and encoded as AAC, for clips and for the page."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

BIT_RATE = 128_000
RATES = (96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000)
"""Sample rates that AAC knows (ISO/IEC 14496-3, table 1.18)."""

KIND = "audio/mp4"
"""The media type of songs as they are packed."""


class Encoder:
    """Sound in blocks to packets of an AAC stream."""

    def __init__(self, container: Any, rate: int, channels: int) -> None:
        import av

        own = rate if rate in RATES else 48000
        self.stream = container.add_stream("aac", rate=own)
        self.stream.layout = "mono" if channels == 1 else "stereo"
        self.stream.options = {"aac_coder": "fast"}  # half the time, and at this rate no farther from the song
        self.stream.bit_rate = BIT_RATE if channels > 1 else BIT_RATE * 5 // 8
        self.rate, self.at, self.container = rate, 0, container
        self.fit = av.AudioResampler(format="fltp", layout=self.stream.layout, rate=own)

    def put(self, block: NDArray[np.float32]) -> None:
        """Encode the next samples, float32 (n, 1 or 2)."""
        import av

        layout = "mono" if block.shape[1] == 1 else "stereo"
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout=layout)
        frame.sample_rate, frame.pts = self.rate, self.at
        frame.time_base = Fraction(1, self.rate)
        self.at += len(block)
        self._mux(self.fit.resample(frame))

    def end(self) -> None:
        """Encode what is left."""
        self._mux(self.fit.resample(None))
        self._mux([None])

    def _mux(self, frames: list[Any]) -> None:
        for frame in frames:
            for packet in self.stream.encode(frame):
                self.container.mux(packet)


def blocks_between(
    path: Path, start: float = 0.0, end: float | None = None, size: int = 1 << 14
) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Sample rate and blocks (n, 1 or 2) of a song from ``start`` to ``end`` seconds, silence after its end; to its
    end where that is None."""
    from eavesong.music.sound import open_sound

    with open_sound(path) as sound:
        first, at = round(start * sound.rate), 0
        last = sys.maxsize if end is None else round(end * sound.rate)
        channels = min(2, sound.channels)
        for block in sound.blocks():
            part = block[max(0, first - at) : max(0, last - at), :channels]
            at += len(block)
            for begin in range(0, len(part), size):
                yield sound.rate, part[begin : begin + size]
            if at >= last:
                return
        for begin in range(max(at, first), last if end is not None else 0, size):
            yield sound.rate, np.zeros((min(size, last - begin), channels), np.float32)


def packed_song(path: Path) -> tuple[bytes, str]:
    """A song as AAC in an MP4, and its media type. Raises AudioError when it cannot be read."""
    import av

    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as container:
        encoder = None
        for rate, block in blocks_between(path):
            encoder = encoder or Encoder(container, rate, block.shape[1])
            encoder.put(block)
        if encoder is not None:
            encoder.end()
    return out.getvalue(), KIND
