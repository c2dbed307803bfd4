"""The sound of a song as the figures take it: moments every 23 ms, and what each bar sounds like."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

RATE = 22_050
"""Samples a second, librosa's usual rate."""
HOP = 512
"""Samples from moment to moment."""
CEPSTRUM, CHROMA = 13, 8.0
"""How many coefficients tell a bar's timbre, and how much its pitch classes, 0 to 1, weigh beside them."""
FAINT = 1e-5
"""Amplitude below which nothing is heard, so that silence has a loudness."""


@dataclass(frozen=True, eq=False)
class Hearing:
    """What a song sounds like at k moments."""

    times: Floats
    """(k,) seconds."""
    onset: Floats
    """(k,): how strongly something begins, by the flux of its spectrum."""
    level: Floats
    """(k,): root mean square, full scale 1."""
    sound: Floats
    """(k, 25): timbre and pitch classes."""
    seconds: float
    """How long the song is."""

    def of_bars(self, edges: Floats) -> tuple[Floats, Floats]:
        """The sound of each bar (n, 25), and its loudness (n,) as the logarithm of its mean level; n + 1 ``edges``."""
        bounds = np.searchsorted(self.times, edges)
        spans = [slice(begin, max(end, begin + 1)) for begin, end in pairwise(bounds)]
        sound = np.array([self.sound[span].mean(axis=0) for span in spans])
        return sound, np.array([np.log(self.level[span].mean() + FAINT) for span in spans])


def hearing_of(song: str | Path) -> Hearing:
    """What the song at ``song`` sounds like, its channels mixed. Raises AudioError when it cannot be read."""
    from eavesong.music.borrowed import alone

    with alone():
        return _heard(song)


def _heard(song: str | Path) -> Hearing:
    import librosa

    samples = _mixed(song)
    onset = librosa.onset.onset_strength(y=samples, sr=RATE, hop_length=HOP)
    timbre = librosa.feature.mfcc(y=samples, sr=RATE, hop_length=HOP, n_mfcc=CEPSTRUM)
    chroma = librosa.feature.chroma_cqt(y=samples, sr=RATE, hop_length=HOP)
    level = librosa.feature.rms(y=samples, hop_length=HOP)[0]
    count = min(len(onset), timbre.shape[1], chroma.shape[1], len(level))
    return Hearing(
        times=np.arange(count) * HOP / RATE,
        onset=onset[:count].astype(np.float64),
        level=level[:count].astype(np.float64),
        sound=np.concatenate([timbre[:, :count], CHROMA * chroma[:, :count]]).T.astype(np.float64),
        seconds=len(samples) / RATE,
    )


def _mixed(song: str | Path) -> NDArray[np.float32]:
    import librosa

    from eavesong.music.sound import open_sound

    with open_sound(song) as sound:
        mixed = np.concatenate([block.mean(axis=1) for block in sound.blocks()])
        resampled: NDArray[np.float32] = librosa.resample(mixed, orig_sr=sound.rate, target_sr=RATE)
    # A constant-Q transform needs some length; what is added is silence.
    return np.pad(resampled, (0, max(0, RATE - len(resampled)))) if len(resampled) < RATE else resampled
