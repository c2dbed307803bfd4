"""Where the labels of performed songs say that bars begin, and where their notes do.

    python labels.py MIDI_DIR [--each]

``MIDI_DIR`` is a folder as `arrange.py` takes: ``NAME.mid`` and ``NAME.beats``, whose labels a program made. Of each
song mostly in four two things are told from the notes alone, nothing being heard: on which beat of the labels' bars the
pitch classes of two beats change most against the two before, and on which the longest low notes begin. Where both are
the same other beat the labels are late or early by as much: that chords and basses begin bars is common practice.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

import mido
import numpy as np

NEAR = 0.12
"""Beats within which a note begins on one."""
LOW = 52
"""MIDI pitch below which a note is low: the E below middle C."""
LONGEST = 4.0
"""Beats from which a low note is as long as any."""


def notes_of(path: Path) -> np.ndarray:
    """The notes (n, 3) of a file: begin and end in seconds, MIDI pitch."""
    now, begun, found = 0.0, {}, []
    for message in mido.MidiFile(path, clip=True):
        now += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        key = (message.channel, message.note)
        if message.type == "note_on" and message.velocity:
            begun.setdefault(key, []).append(now)
        elif begun.get(key):
            found.append((begun[key].pop(0), now, message.note))
    return np.array(sorted(found)).reshape(-1, 3)


def beginnings(notes: np.ndarray, beats: np.ndarray, bars: np.ndarray) -> tuple[int, int]:
    """On which beat of the bars (0 the first), which begin at the beats numbered ``bars``, chords and basses begin."""
    count = len(beats)
    begin, end = (np.interp(notes[:, at], beats, np.arange(count), left=-1.0) for at in (0, 1))
    sounding, low = np.zeros((count, 12)), np.zeros(count)
    for first, last, pitch in zip(begin, end, notes[:, 2].astype(int), strict=True):
        sounding[max(0, int(first + 0.1)) : int(last - 0.1) + 1, pitch % 12] += 1
        at = round(first)
        if pitch < LOW and abs(first - at) < NEAR and 0 <= at < count:
            low[at] = max(low[at], min(LONGEST, last - first))
    change = np.zeros(count)
    for beat in range(2, count - 2):
        before, after = sounding[beat - 2 : beat].sum(axis=0), sounding[beat : beat + 2].sum(axis=0)
        change[beat] = 1 - before @ after / (np.linalg.norm(before) * np.linalg.norm(after) + 1e-9)
    place = np.full(count, -1)
    for first, last in zip(bars, [*bars[1:], count], strict=True):
        place[first:last] = np.arange(last - first)
    chords, basses = (int(np.argmax([told[place == at].mean() for at in range(4)])) for told in (change, low))
    return chords, basses


def late(path: Path) -> int:
    """How many beats after its labels the bars of the song with this text begin: 0 unless its bars are mostly of four
    and chords and basses agree."""
    rows = np.loadtxt(path)
    bars = np.flatnonzero(rows[:, 2] > 0)
    if np.bincount(np.diff(bars)).argmax() != 4:
        return 0
    chords, basses = beginnings(notes_of(path.with_suffix(".mid")), rows[:, 0], bars)
    return chords if chords == basses else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", action="store_true", help="songs in which both begin on another beat")
    asked = parser.parse_args()
    counts: Counter[tuple[int, int]] = Counter()
    for path in sorted(asked.folder.glob("*.beats")):
        rows = np.loadtxt(path)
        bars = np.flatnonzero(rows[:, 2] > 0)
        if np.bincount(np.diff(bars)).argmax() != 4:
            continue
        chords, basses = beginnings(notes_of(path.with_suffix(".mid")), rows[:, 0], bars)
        counts[chords, basses] += 1
        if asked.each and chords == basses != 0:
            print(f"{path.stem}: chords and basses begin on beat {chords + 1}")
    print(f"{counts.total()} songs in four; chords and basses begin on beat")
    for (chords, basses), count in counts.most_common():
        print(f"{chords + 1} and {basses + 1}: {count}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
