"""How well the lead is heard: present or not by half seconds, and its pitch within a semitone, on sets in folders.

    python lead.py SET... --kept FOLDER [--jobs 2]

Pitch is judged where a lead sounds (``mir_eval.melody.raw_pitch_accuracy`` takes half a semitone, so notes of MIDI are
right or wrong by that; ``within a semitone`` allows a whole one), whether or not it was heard to be there.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from struck import all_heard, heard_of, lead_of

from eavesong.music.lead import find_lead

STEP = 0.5
FINE = 0.01


def pitch_at(notes: np.ndarray, moments: np.ndarray) -> np.ndarray:
    """The MIDI pitch at each moment, 0 where no note sounds; ``notes`` (n, 3)."""
    pitch = np.zeros(len(moments))
    for begin, end, note in notes:
        pitch[(moments >= begin) & (moments < end)] = note
    return pitch


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    print(f"{'set':12} {'songs':>5}  present  of it true  semitone  half  any octave  songs with .75")
    for folder in asked.sets:
        rows = []
        for song in all_heard([folder], asked.kept, "lead", asked.jobs):
            tones = heard_of(song, asked.kept)[1]
            true = lead_of(song)
            found = np.array([(note.start, note.end, note.pitch) for note in find_lead(tones)]).reshape(-1, 3)
            moments = np.arange(0, len(tones) / 20, FINE)
            told, said = pitch_at(true, moments), pitch_at(found, moments)
            halves = len(moments) // 50 * 50
            there = (told[:halves].reshape(-1, 50) > 0).mean(axis=1) >= 0.5
            heard = (said[:halves].reshape(-1, 50) > 0).mean(axis=1) >= 0.5
            both = told > 0
            off = np.abs(said - told)[both]
            octave = np.abs((said - told)[both] + 6) % 12 - 6
            rows.append(((there == heard).mean(), there.mean(), (off <= 1).mean(), (off < 0.5).mean(),
                         (np.abs(octave) <= 1)[said[both] > 0].mean() if (said[both] > 0).any() else 0))  # fmt: skip
        table = np.array(rows)
        cells = "  ".join(f"{each:.3f}" for each in table.mean(axis=0))
        print(f"{folder.name:12} {len(rows):5}  {cells}  {(table[:, 2] >= 0.75).mean():.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
