"""The trace of a song: what begins when, in five bands, a hundred times a second, a byte each.

It is what the beats of a song are found by in another copy of it, and no music can be made from it: nothing in it
says which note, voice or word begins. As a text it has a head of words and numbers, then a line for each second: a
hundred moments of five bytes in hexadecimal digits. docs/exchange.md specifies it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import PackError, Problem

VERSION = 1
RATE = 100
"""Moments a second."""
BANDS = 5
STEP = 32.0
"""A byte is this many times the root of how much begins, 1 being usual for the seconds around."""
HEAD = "eavesong trace"
LONGEST = 4 * 3600
"""Seconds of the longest song."""
_LINE = re.compile(r"[0-9a-f]+")

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Trace:
    """What begins when: uint8 (f, 5), from bass to treble; row k stands at k / 100 seconds."""

    moments: Bytes

    @property
    def seconds(self) -> float:
        """How long the song is."""
        return len(self.moments) / RATE


def trace_of(song: str | Path) -> Trace:
    """The trace of the song at ``song``. Raises AudioError when it cannot be read.

    Each curve is `eavesong.music.novelty`: the rise of sixth-octave bands over their neighbours two frames before
    (Böck & Widmer 2013), meant over 30-130, 130-400, 400-1500, 1500-5000 Hz and above, over its own running mean.
    """
    from eavesong.music.bands import gather
    from eavesong.music.ear import Ear, ear_meters
    from eavesong.music.novelty import novelty
    from eavesong.music.sound import open_sound

    with open_sound(song) as sound:
        fine = gather(sound, ear_meters(sound.rate)[:1])[0]
    curves = novelty(Ear(fine, np.zeros((0, 24), np.float32), len(fine) / RATE))
    return Trace(np.minimum(np.rint(STEP * np.sqrt(np.maximum(curves, 0.0))), 255).astype(np.uint8))


def trace_text(trace: Trace) -> str:
    """The trace as a text."""
    head = f"{HEAD} {VERSION}\nmoments {len(trace.moments)}\n"
    seconds = [trace.moments[at : at + RATE].tobytes().hex() for at in range(0, len(trace.moments), RATE)]
    return head + "".join(f"{line}\n" for line in seconds)


def read_trace(text: str, name: str) -> Trace:
    """The trace in a text called ``name``. Raises PackError where it is none, or of a newer version."""
    lines = text.split("\n")
    head = re.fullmatch(rf"{HEAD} ([0-9]{{1,4}})", lines[0].strip())
    if not head:
        raise _error(name, "line 1", f"is no trace: it does not begin with '{HEAD} {VERSION}'")
    if int(head[1]) != VERSION:
        raise _error(
            name, "line 1", f"is of version {int(head[1])}", f"This eavesong reads version {VERSION}; renew it."
        )
    count = re.fullmatch(r"moments ([0-9]{1,8})", lines[1].strip()) if len(lines) > 1 else None
    if not count or not 0 < int(count[1]) <= LONGEST * RATE:
        raise _error(name, "line 2", "does not say how many moments there are", "Write 'moments 18000'.")
    rows = [line.strip() for line in lines[2:]]
    while rows and not rows[-1]:
        rows.pop()
    wanted = int(count[1])
    for number, row in enumerate(rows):
        here = min(RATE, wanted - RATE * number)
        if here <= 0 or len(row) != 2 * BANDS * here or not _LINE.fullmatch(row):
            found = f"does not hold {max(here, 0)} moments of {BANDS} bytes in hexadecimal digits"
            raise _error(name, f"line {number + 3}", found)
    if len(rows) != -(-wanted // RATE):
        raise _error(name, "", f"holds {len(rows)} seconds, and its head says {-(-wanted // RATE)}", "Fetch it again.")
    data = np.frombuffer(bytes.fromhex("".join(rows)), np.uint8)
    return Trace(data.reshape(-1, BANDS).copy())


def _error(name: str, place: str, found: str, instead: str = "") -> PackError:
    return PackError(Problem(name, place, found, instead))
