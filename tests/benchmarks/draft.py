"""How drafted shows follow their songs: the figures of `follow`, on songs and houses that are given.

    python tests/benchmarks/draft.py SONG... [--house LAYOUT]... [--show SHOW] [--seed N] [--pictures FOLDER]

Each song is drafted for each house (or ``--show`` is put on it), rendered, checked for flashes and limits, measured;
the last line holds medians. ``--pictures`` leaves a score picture, a filmstrip and the picture of `follow` of each.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from eavesong.draft import Taste, draft_song
from eavesong.files import shipped
from eavesong.follow import follow, follow_picture
from eavesong.follow.figures import Figures, Followed
from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.limits import limits
from eavesong.preview import filmstrip, save_picture, score_picture
from eavesong.render import Order, render
from eavesong.scene import Reopened

SHOWN = ("longest", "stale", "loud", "form", "energy", "accent", "answered", "beat", "alignment", "together")
LEAST_SPAN = {"loud": 9.0, "energy": 6.0}
"""Decibels between loud and soft bars from which a song's figure counts among the median."""
MOMENTS = 9
"""Pictures of a filmstrip."""


def main() -> None:
    """Draft, render, check and measure; print a line each."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("songs", nargs="+", type=Path)
    parser.add_argument("--house", action="append", type=Path)
    parser.add_argument("--show", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pictures", type=Path)
    given = parser.parse_args()
    houses = given.house or [Path(str(shipped("layouts") / "two-storey-2026.toml"))]
    print("song house cues seconds", *SHOWN, "seldom checks", sep="\t")
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for song in given.songs:
            rows += [_measured(song.resolve(), house.resolve(), given, Path(folder)) for house in houses]
    print("median", "", "", "", *(f"{_median(rows, name):.2f}" for name in SHOWN), sep="\t")


def _measured(song: Path, house: Path, given: argparse.Namespace, folder: Path) -> Figures:
    layout = load_layout(house)
    show, seconds = given.show, 0.0
    if show is None:
        draft_song(song, layout, Taste(seed=given.seed))  # the song is heard
        began = time.perf_counter()
        text = draft_song(song, layout, Taste(seed=given.seed), str(song))
        seconds = time.perf_counter() - began
        show = folder / f"{song.stem}.show.toml"
        show.write_text(text)
    out = folder / f"{song.stem}.h5"
    done = render(Order.of(show, house, song), out, overwrite=True)
    with open_frames(out) as frames:
        report = limits(layout, frames)
        followed = follow(frames, song)
        if given.pictures:
            _pictures(Reopened(frames), followed, given.pictures, song.stem)
    figures = followed.figures
    told = ["–" if (value := getattr(figures, name)) is None else f"{value:.2f}" for name in SHOWN]
    checks = "passes" if report.passes else "; ".join(str(each) for each in report.findings if not each.warning)[:90]
    print(
        song.stem,
        house.stem,
        done.cue_count,
        f"{seconds:.2f}",
        *told,
        len(figures.seldom),
        checks,
        sep="\t",
        flush=True,
    )
    return figures


def _pictures(source: Reopened, followed: Followed, folder: Path, name: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    downbeats = np.array(source.grid.downbeats if source.grid else [0.0])
    wanted = np.linspace(0.04, 0.96, MOMENTS) * source.end
    moments = [float(downbeats[np.abs(downbeats - at).argmin()]) + 0.1 for at in wanted]
    captions = [f"{int(at // 60)}:{at % 60:04.1f}" for at in moments]
    save_picture(filmstrip(source.frames, moments, captions, width=320), folder / f"{name}-strip.webp")
    save_picture(score_picture(source, width=1200).picture, folder / f"{name}-score.webp")
    save_picture(follow_picture(followed), folder / f"{name}-follow.webp")


def _median(rows: list[Figures], name: str) -> float:
    least = LEAST_SPAN.get(name, -np.inf)
    values = [getattr(row, name) for row in rows if (row.span or 0.0) >= least]
    told = [value for value in values if value is not None]
    return float(np.median(told)) if told else float("nan")


if __name__ == "__main__":
    main()
