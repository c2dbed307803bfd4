"""How well hits, stops, arrivals and builds are heard on songs in which they were placed (``stage.py``).

    python answers.py SET... --kept FOLDER [--bars found] [--each] [--jobs 2]

F by ``mir_eval.onset``: hits and arrivals within 0.1 s, the beginnings of stops and builds within 0.2 s and a bar. With
the true beats, or with those that are ``found``. Equivalent answers are right, unless ``--strict``: a stop where the
whole band rests by its notes for half a beat or more, and the arrival after that; a stop that begins with such a rest,
not later in it; a hit at an arrival, where everybody strikes at once, too.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import mir_eval
import numpy as np
from known import Known, songs_of
from struck import Floats, events_of, truth_path

from eavesong.music import BeatGrid
from eavesong.music.answers import find_events
from eavesong.music.bands import gather, powers_meter
from eavesong.music.ear import Ear, ear_meters
from eavesong.music.events import Events
from eavesong.music.parts import find_sections
from eavesong.music.signals import signals_of
from eavesong.music.sketch import Sketch, kept_sketch, sketch_kept, sketch_of
from eavesong.music.sound import open_sound
from eavesong.music.tones import tones_meter
from eavesong.music.track import track

LABELS = ("hit", "stop", "arrival", "build")
NONE = np.zeros(0)


def answered(song: Known, kept: Path, bars: str) -> Events:
    """The events found in a song with its true beats or with those that are found."""
    with open_sound(song.audio) as sound:
        powers, fine, chroma = gather(sound, [powers_meter(sound.rate), *ear_meters(sound.rate)])
    if bars == "found":
        grid = track(powers, Ear(fine, chroma, powers.duration))[0].grid
    else:
        grid = true_grid(song, powers.duration)
        grid = replace(grid, sections=find_sections(powers, grid, chroma))
    return find_events(sketched(song, kept), signals_of(powers), grid)


def true_grid(song: Known, duration: float = 1e4) -> BeatGrid:
    """The true beats of a song."""
    positions, count = [], 0
    for begins in np.abs(song.beats[:, None] - song.downbeats).min(axis=1) < 0.02:
        count = 1 if begins else count + 1
        positions.append(count)
    return BeatGrid(tuple(song.beats), tuple(positions), (), duration)


def sketched(song: Known, kept: Path) -> Sketch:
    """The sketch of a song, from the folder of kept ones if it is there; delete that to hear strokes anew."""
    path = kept / "sketches" / f"{song.set.name}-{song.name}.npz"
    if path.exists():
        with np.load(path) as entries:
            return sketch_kept({name: entries[name] for name in entries.files})
    with open_sound(song.audio) as sound:
        meters = [powers_meter(sound.rate), ear_meters(sound.rate)[0], tones_meter(sound.rate)]
        sketch = sketch_of(*gather(sound, meters))
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez(path, **kept_sketch(sketch))
    return sketch


def equivalent(label: str, true: dict[str, Floats], said: dict[str, Floats], grid: BeatGrid) -> tuple[Floats, Floats]:
    """What is true under a label and what was said, without what is neither right nor wrong."""
    reference, estimate = np.unique(true.get(label, NONE)), said[label].copy()
    rests = np.column_stack([true.get("rest", NONE), true.get("rest-end", NONE)])
    downbeats = np.array(grid.downbeats)
    after = np.array([downbeats[downbeats > end - 0.1][:1] for _, end in rests if (downbeats > end - 0.1).any()])
    if label == "stop":
        for begin, end in rests:
            inside = (estimate > begin - 0.2) & (estimate < end - 0.1)
            within = reference[(reference > begin - 0.2) & (reference < end)]
            if len(within):
                estimate[inside & (estimate < within[0])] = within[0]
            else:
                estimate = estimate[~inside]
    elif label == "arrival":
        estimate = estimate[(gaps(estimate, reference) < 0.1) | (gaps(estimate, after) > 0.1)]
    elif label == "hit":
        estimate = estimate[(gaps(estimate, reference) < 0.1) | (gaps(estimate, true.get("arrival", NONE)) > 0.1)]
        both = (gaps(reference, after) < 0.1) & (gaps(reference, said["arrival"]) < 0.1)
        reference = reference[~both | (gaps(reference, estimate) < 0.1)]
    return reference, np.unique(estimate)


def gaps(moments: Floats, others: Floats) -> Floats:
    """Seconds from each moment (n,) to the nearest of others (m,)."""
    return np.abs(moments[:, None] - others.reshape(1, -1)).min(axis=1, initial=np.inf)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--bars", choices=("true", "found"), default="true")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--each", action="store_true", help="every song")
    parser.add_argument("--strict", action="store_true", help="only what was placed is right")
    asked = parser.parse_args()
    for folder in asked.sets:
        songs = [song for song in songs_of([folder]) if truth_path(song, "events").exists()]
        counts = {label: np.zeros(3) for label in LABELS}
        with ProcessPoolExecutor(asked.jobs) as pool:
            found = list(pool.map(answered, songs, [asked.kept] * len(songs), [asked.bars] * len(songs)))
        for song, events in zip(songs, found, strict=True):
            true = events_of(song)
            bar = float(np.median(np.diff(song.downbeats)))
            said = {label: np.unique([each.time for each in events.labelled(label)]) for label in LABELS}
            for label in LABELS:
                reference, estimate = np.unique(true.get(label, NONE)), said[label]
                if not asked.strict:
                    reference, estimate = equivalent(label, true, said, true_grid(song))
                window = {"stop": 0.2, "build": bar}.get(label, 0.1)
                pairs = (
                    mir_eval.util.match_events(reference, estimate, window) if len(reference) * len(estimate) else []
                )
                counts[label] += (len(pairs), len(reference), len(estimate))
                if asked.each:
                    met, right = {a for a, _ in pairs}, {b for _, b in pairs}
                    missed = [round(float(reference[k]), 2) for k in range(len(reference)) if k not in met]
                    extra = [round(float(estimate[k]), 2) for k in range(len(estimate)) if k not in right]
                    if missed or extra:
                        print(f"  {song.name:26} {label:8} missed {missed} extra {extra}")
        cells = []
        for label, (good, there, told) in counts.items():
            share = 2 * good / max(there + told, 1)
            cells.append(
                f"{label} F {share:.3f} P {good / max(told, 1):.2f} R {good / max(there, 1):.2f} of {there:.0f}"
            )
        print(f"{folder.name} ({len(songs)} songs, {asked.bars} bars)  " + "  ".join(cells))
    return 0


if __name__ == "__main__":
    sys.exit(main())
