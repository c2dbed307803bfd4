"""How well sections are found: eavesong beside "every 8 bars" and librosa's example, on sets of songs with truth.

    python tests/benchmarks/hearing/sections.py FOLDER… [--kept FOLDER] [--bars true|late|found] [--alone]

A set is a folder with audio/NAME.wav and truth/NAME.beats.txt, NAME.downbeats.txt, NAME.sections.lab. Figures are
those of mir_eval.segment: F of boundaries within 0.5 s and 3 s (with precision and recall), and pairwise agreement of
labels, means over songs. Boundaries are told with ``trim=True``, which leaves out the song's start and end, because
every method is right there; the figures with both are the ones mostly published. Rows of the truth that are no music
('silence', 'end') are left out of both.

What is measured of each song is kept, so the second run takes seconds. ``--bars late`` begins every bar one beat late,
as a tracker may; ``found`` takes the beats that eavesong finds. ``--alone`` leaves librosa out, which takes longest.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

import laplacian
import mir_eval
import numpy as np
from kept import Song, grid_of, song_of, songs_of
from numpy.typing import NDArray

from eavesong.music.grid import BeatGrid
from eavesong.music.parts import find_sections

Floats = NDArray[np.float64]
Parts = tuple[list[float], list[str]]
"""The seconds at which sections begin, and their labels."""
COLUMNS = ("F 0.5 s", "P 3 s", "R 3 s", "F 3 s", "with ends", "", "labels P", "R", "F")


def main() -> None:
    """Print one table for each set."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "eavesong-sections")
    parser.add_argument("--bars", choices=("true", "late", "found"), default="true")
    parser.add_argument("--alone", action="store_true")
    wishes = parser.parse_args()
    warnings.filterwarnings("ignore", module="mir_eval")
    for folder in wishes.folders:
        songs = [song_of(folder, name, wishes.kept, wishes.alone) for name in songs_of(folder)]
        if not songs:
            sys.exit(f"{folder} holds no songs with sections in truth/*.sections.lab.")
        grids = [_grid(song, folder, wishes.bars) for song in songs]
        _print_table(folder.name, songs, grids, wishes)


def _grid(song: Song, folder: Path, bars: str) -> BeatGrid:
    if bars == "found":
        from eavesong.music import listen

        return listen(folder / "audio" / f"{song.name}.wav").grid
    if bars == "late":
        following = np.searchsorted(song.beats, song.downbeats + 0.01)
        return grid_of(song.beats, song.beats[following[following < len(song.beats)]], song.powers.duration)
    return song.grid


def _print_table(name: str, songs: list[Song], grids: list[BeatGrid], wishes: argparse.Namespace) -> None:
    methods: dict[str, Callable[[Song, BeatGrid], Parts]] = {
        "eavesong": _ours,
        "eavesong without chroma": lambda song, grid: _ours(song, grid, chroma=False),
        "every 8 bars": lambda _, grid: (list(grid.downbeats[::8]), ["A"] * len(grid.downbeats[::8])),
    }
    if not wishes.alone:
        methods["librosa, Laplacian"] = _laplacian
    print(f"{name}: {len(songs)} songs, {wishes.bars} bars")
    print(" " * 26 + "".join(f"{column:>11}" for column in COLUMNS))
    for method, of in methods.items():
        rows = [_figures(song, of(song, grid)) for song, grid in zip(songs, grids, strict=True)]
        print(f"{method:<26}" + "".join(f"{figure:>11.3f}" for figure in np.mean(rows, axis=0)), flush=True)
    print()


def _ours(song: Song, grid: BeatGrid, chroma: bool = True) -> Parts:
    sections = find_sections(song.powers, grid, song.chroma if chroma else None)
    return [part.start for part in sections], [part.label for part in sections]


def _laplacian(song: Song, _: BeatGrid) -> Parts:
    starts, clusters = laplacian.sections_of(song.pitches, song.timbre)
    edges = np.concatenate([[0.0], song.beats])  # what is measured of beats begins with what comes before the first
    return [float(edges[start]) for start in starts], [str(cluster) for cluster in clusters]


def _figures(song: Song, parts: Parts) -> list[float]:
    begin, end = song.intervals[0, 0], song.intervals[-1, 1]
    truth = song.intervals - begin
    edges = np.clip([*parts[0], np.inf], begin, end) - begin
    edges[0] = 0.0
    some = np.diff(edges) > 0
    found = np.stack([edges[:-1], edges[1:]], axis=1)[some]
    labels = [label for label, long in zip(parts[1], some, strict=True) if long]
    short, long = (mir_eval.segment.detection(truth, found, window=window, trim=True) for window in (0.5, 3.0))
    ends = [mir_eval.segment.detection(truth, found, window=window)[2] for window in (0.5, 3.0)]
    return [short[2], *long, *ends, *mir_eval.segment.pairwise(truth, song.labels, found, labels)]


if __name__ == "__main__":
    main()
