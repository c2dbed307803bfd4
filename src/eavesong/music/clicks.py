"""The song with a click on every beat, to judge a beat grid by ear."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.errors import OutputError, Problem
from eavesong.files import whole_file

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.grid import BeatGrid
    from eavesong.music.sound import Sound

    Singles = NDArray[np.float32]

KINDS = {".wav": "WAV", ".flac": "FLAC"}
"""Endings of the files that are written, and libsndfile's names for them."""
SONG, CLICK = 0.55, 0.44
"""What is left of the song's full scale (5 dB less), and the height of a click: both together stay below 1."""
BEAT, DOWNBEAT = 1_000.0, 1_600.0
"""Hz of the clicks: plainly apart, and where ears are keen."""
LASTS, FADES = 0.05, 0.01
"""Seconds that a click lasts, and in which it falls to 37 %."""
LARGEST_WAV = 0xFFFF0000
"""Bytes of sound beyond which a plain WAV file cannot count: RF64 (EBU Tech 3306) is written instead."""
MOST_CHANNELS = {".wav": 64, ".flac": 8}
"""FLAC's limit is its format's."""


def write_clicks(song_path: str | Path, path: str | Path, grid: BeatGrid) -> None:
    """Write the song at ``song_path`` to ``path`` with clicks on the beats of ``grid``, higher ones on downbeats.

    16 bits, the song's own sample rate and channels; WAV, or FLAC where the name ends so. The song is 5 dB softer, so
    that nothing clips; clicks begin at the sample nearest to their beat. Written whole or not at all. Raises AudioError
    when the song cannot be read, OutputError when ``path`` cannot be written.
    """
    import soundfile

    from eavesong.music.sound import open_sound

    ending = Path(path).suffix.lower()
    if ending not in KINDS:
        raise OutputError(Problem(str(path), "", "is neither WAV nor FLAC", "Let the name end with .wav or .flac."))
    with open_sound(song_path) as sound, whole_file(path) as draft:
        if sound.channels > MOST_CHANNELS[ending]:
            found = f"{sound.channels} channels do not fit into {KINDS[ending]}"
            raise OutputError(Problem(str(path), "", found, "Let the name end with .wav."))
        long = grid.duration * sound.rate * sound.channels * 2 > LARGEST_WAV
        kind = "RF64" if long and ending == ".wav" else KINDS[ending]
        try:
            with soundfile.SoundFile(draft, "w", sound.rate, sound.channels, "PCM_16", format=kind) as file:
                for block in with_clicks(sound, grid):
                    file.write(block)
        except soundfile.LibsndfileError as fault:
            reason = str(fault).strip().removeprefix("Error :").strip(" .")
            raise OutputError(Problem(str(path), "", f"cannot be written: {reason}")) from None


def with_clicks(sound: Sound, grid: BeatGrid) -> Iterator[Singles]:
    """The blocks (n, channels) of ``sound``, softer, with the clicks added to every channel, within -1 and 1."""
    starts = np.round(np.array(grid.times) * sound.rate).astype(np.int64)
    shapes = [_click(DOWNBEAT if position == 1 else BEAT, sound.rate) for position in grid.positions]
    at = 0
    for block in sound.blocks():
        mixed = SONG * np.clip(block, -1.0, 1.0)
        first = int(np.searchsorted(starts, at - len(shapes[0]), side="right"))
        for beat in range(first, int(np.searchsorted(starts, at + len(block)))):
            _add(mixed, shapes[beat], int(starts[beat]) - at)
        at += len(block)
        yield np.clip(mixed, -1.0, 1.0)


def _add(block: Singles, click: Singles, offset: int) -> None:
    """Add to ``block`` (n, channels) what falls into it of a click that begins at sample ``offset`` of it."""
    begin, end = max(offset, 0), min(offset + len(click), len(block))
    block[begin:end] += click[begin - offset : end - offset, None]


def _click(hertz: float, rate: int) -> Singles:
    """A tone (n,) that is there at its first sample and fades; no higher than a recording of this rate can hold."""
    seconds = np.arange(max(2, round(LASTS * rate))) / rate
    tone = np.cos(2 * np.pi * min(hertz, 0.3 * rate * hertz / DOWNBEAT) * seconds)
    fade = np.exp(-seconds / FADES) * np.linspace(1, 0, len(seconds))
    return (CLICK * tone * fade).astype(np.float32)
