"""How well drum strokes are heard: F within 50 ms (``mir_eval.onset``), low, middle and high, on sets in folders.

python strokes.py SET... --kept FOLDER [--jobs 2]
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import mir_eval
import numpy as np
from struck import all_heard, events_of, heard_of

from eavesong.music.strokes import STROKES, find_strokes

WINDOW = 0.05


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--each", action="store_true", help="every song")
    asked = parser.parse_args()
    print(f"{'set':12} {'songs':>5}  " + "  ".join(f"{kind:>22}" for kind in STROKES))
    for folder in asked.sets:
        songs = all_heard([folder], asked.kept, "events", asked.jobs)
        table: dict[str, list[tuple[float, float, float]]] = {kind: [] for kind in STROKES}
        bias = []
        for song in songs:
            true, found = events_of(song), find_strokes(heard_of(song, asked.kept)[0])
            told = []
            for kind in STROKES:
                if kind in true:
                    reference, estimate = np.unique(true[kind]), found[kind].times
                    table[kind].append(mir_eval.onset.f_measure(reference, estimate, window=WINDOW))
                    told.append(table[kind][-1][0])
                    pairs = mir_eval.util.match_events(reference, estimate, WINDOW)
                    bias += [estimate[b] - reference[a] for a, b in pairs]
                else:
                    told.append(np.nan)
            if asked.each:
                print(f"  {song.name:28}", np.round(told, 2))
        cells = ("{:.3f} P {:.2f} R {:.2f} {:3d}".format(*np.mean(rows, axis=0), len(rows)) for rows in table.values())
        print(f"{folder.name:12} {len(songs):5}  " + "  ".join(f"{cell:>22}" for cell in cells)
              + f"  late {1000 * np.mean(bias):+.1f} ms")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
