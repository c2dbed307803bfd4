"""How drafted shows follow their songs: the figures of `follow`, on songs and houses that are given.

    python tests/benchmarks/draft.py SONG... [--house LAYOUT]... [--show SHOW] [--seed N] [--pictures FOLDER]
    python tests/benchmarks/draft.py [SONG...] [--invented N] --belonging
    python tests/benchmarks/draft.py [SONG...] [--invented N] --sweep
    python tests/benchmarks/draft.py [SONG...] [--invented N] --time

Each song is drafted for each house (or ``--show`` is put on it), rendered, checked for flashes and limits, measured;
the last line holds medians. ``--pictures`` leaves a score picture, a filmstrip and the picture of `follow` of each.
``--invented`` adds songs nobody wrote, of ``--seconds``, from seed ``--first`` on.

``--belonging`` matches every draft to the song with whose beginnings its change of light correlates best. ``--sweep``
drafts every song for three houses, checks each, and puts each draft on the houses it was not made for: cues that light
nothing there are told. ``--time`` is how long a draft takes once its song is heard: the clock and the processor.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from eavesong.demo.songs import invent, make_songs
from eavesong.draft import Taste, draft_song
from eavesong.files import shipped
from eavesong.follow import follow, follow_picture
from eavesong.follow.figures import Figures, Followed
from eavesong.follow.hearing import hearing_of
from eavesong.follow.light import light_of
from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.limits import limits
from eavesong.music.listening import timed
from eavesong.preview import filmstrip, save_picture, score_picture
from eavesong.render import Order, render
from eavesong.scene import Reopened, place_cues
from eavesong.show import load_show

SHOWN = ("longest", "stale", "loud", "form", "energy", "accent", "answered", "beat", "alignment", "together")
LEAST_SPAN = {"loud": 9.0, "energy": 6.0}
"""Decibels between loud and soft bars from which a song's figure counts among the median."""
HOUSE = "two-storey-2026.toml"
HOUSES = ("two-storey-2026", "bungalow", "estate")
OTHERS = (*HOUSES, "two-storey-2027")
MOMENTS = 9
"""Pictures of a filmstrip."""


def main() -> None:
    """Draft, render, check and measure; print a line each."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("songs", nargs="*", type=Path)
    parser.add_argument("--house", action="append", type=Path)
    parser.add_argument("--show", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pictures", type=Path)
    parser.add_argument("--invented", type=int, default=0, metavar="N")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--first", type=int, default=1)
    for name in ("belonging", "sweep", "time"):
        parser.add_argument(f"--{name}", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        scores = [invent(given.first + number, given.seconds) for number in range(given.invented)]
        given.songs += [song.path for song in make_songs(folder, tuple(scores))] if scores else []
        if not given.songs:
            parser.error("no songs: name some, or say how many are invented, as in --invented 20")
        if given.belonging:
            belonging(given.songs, Path(folder))
        elif given.sweep:
            sweep(given.songs, Path(folder))
        elif given.time:
            times(given.songs)
        else:
            figures_of(given)


def belonging(songs: list[Path], folder: Path) -> None:
    """How many of the drafts correlate better with their own song than with any of the others."""
    house = Path(str(shipped("layouts") / HOUSE))
    layout, changes, begins = load_layout(house), [], []
    for song in songs:
        show, out = folder / "drafted.show.toml", folder / "drafted.h5"
        show.write_text(draft_song(song, layout, Taste(), str(song.resolve())))
        render(Order.of(show, house, song), out, overwrite=True)
        with open_frames(out) as frames:
            light, hearing = light_of(frames), hearing_of(song)
        changes.append(light.change)
        begins.append(np.interp(light.times, hearing.times, hearing.onset))
        print(f"{song.stem}: drafted", flush=True)
    right = 0
    for number, change in enumerate(changes):
        alike = [
            np.corrcoef(change[:end], begin[:end])[0, 1] for begin in begins if (end := min(len(change), len(begin)))
        ]
        best = int(np.argmax(alike))
        right += best == number
        print(f"{songs[number].stem}\t{songs[best].stem}\t{alike[number]:.3f}\t{alike[best]:.3f}", flush=True)
    print(f"{right} of {len(songs)} drafts belong to their songs")


def sweep(songs: list[Path], folder: Path) -> None:
    """Whether drafts pass the checks as they are, and their cues light something on houses they were not made for."""
    houses = {name: load_layout(shipped("layouts") / f"{name}.toml") for name in OTHERS}
    passed = dark = count = 0
    for song in songs:
        for name in HOUSES:
            show, out = folder / "drafted.show.toml", folder / "drafted.h5"
            show.write_text(draft_song(song, houses[name], Taste(), str(song.resolve())))
            done = render(Order.of(show, Path(str(shipped("layouts") / f"{name}.toml")), song), out, overwrite=True)
            with open_frames(out) as frames:
                report = limits(houses[name], frames)
                grid = Reopened(frames).grid
            loaded = load_show(show)
            placed = {other: place_cues(loaded, layout, grid) for other, layout in houses.items() if grid}
            out_there = sum(1 for cues in placed.values() for cue in cues if not (cue.props and cue.spans))
            count, passed, dark = count + 1, passed + report.passes, dark + out_there
            told = "passes" if report.passes else "; ".join(str(each) for each in report.findings if not each.warning)
            print(song.stem, name, done.cue_count, f"{out_there} dark elsewhere", told[:120], sep="\t", flush=True)
    print(f"{passed} of {count} pass as they are; {dark} cues are dark on one of {len(houses)} houses")


def times(songs: list[Path]) -> None:
    """Clock and processor of a draft whose song is heard, the second time in this process and the first."""
    layout = load_layout(shipped("layouts") / HOUSE)
    for song in songs:
        timed(song)
        told = []
        for _ in range(2):
            clock, processor = time.perf_counter(), time.process_time()
            draft_song(song, layout)
            told += [time.perf_counter() - clock, time.process_time() - processor]
        first, first_cpu, again, again_cpu = told
        print(f"{song.stem}: first {first:.2f} s ({first_cpu:.2f}), again {again:.2f} s ({again_cpu:.2f})", flush=True)


def figures_of(given: argparse.Namespace) -> None:
    """A line of figures for each song and house, and their medians."""
    houses = given.house or [Path(str(shipped("layouts") / HOUSE))]
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
