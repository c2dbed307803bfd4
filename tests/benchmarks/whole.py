"""Measure whole commands as a user meets them, against the limits we keep: python tests/benchmarks/whole.py

Every figure is the median of several processes, timed by the clock from start to exit, with the largest memory the
system saw (wait4). Inputs are made in a temporary folder; so is the cache, unless a row says that it is warm.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import inputs
from process import Run, have_at_hand, median_run, run

HERE = Path(__file__).parent
INSIDE = str(HERE / "inside.py")
FRAMES_PER_SECOND = 40
EAVESONG = str(Path(sys.executable).with_name("eavesong"))


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    what: str
    value: float
    unit: str
    limit: float | None = None
    note: str = ""


class Bench:
    """A temporary folder with inputs, each made when first asked for, and a cache of its own."""

    def __init__(self, folder: Path, runs: int) -> None:
        self.folder, self.runs = folder, runs
        self.cache = folder / "cache"

    def inputs(self, pixels: int, seconds: int) -> tuple[str, str]:
        """A show of the six cues for so long, and a layout of so many pixels."""
        layout = self.folder / f"house-{pixels}.toml"
        if not layout.exists():
            inputs.write_house(self.folder, pixels)
        show = self.folder / f"song-{seconds}.show.toml"
        if not show.exists():
            inputs.write_show(self.folder, inputs.write_song(self.folder, seconds))
        return str(show), str(layout)

    def render_command(self, pixels: int, seconds: int) -> list[str]:
        """The command that renders them."""
        show, layout = self.inputs(pixels, seconds)
        return [EAVESONG, "render", show, "--layout", layout, "--out", str(self.frames_file)]

    def in_memory(self, pixels: int, seconds: int, part: int | None = None) -> float:
        """Median seconds for the bytes of the same frames (of the first `part` seconds) in memory, without a file."""
        command = [sys.executable, INSIDE, "frames", *self.inputs(pixels, seconds), str(part or seconds)]
        return statistics.median(json.loads(self.once(command).output)["seconds"] for _ in range(self.runs))

    @property
    def frames_file(self) -> Path:
        return self.folder / "frames.h5"

    def measure(self, command: list[str], runs: int | None = None) -> Run:
        """Median of several runs, after one that fills the cache (with a second of the song) and is not counted."""
        self.once([*command, "--to", "1"] if "render" in command else command)
        return median_run([self.once(command) for _ in range(runs or self.runs)])

    def once(self, command: list[str], cache: Path | None = None) -> Run:
        """One run; the frames file of the run before is taken away first, so that nothing in it is used again."""
        self.frames_file.unlink(missing_ok=True)
        return run(command, EAVESONG_CACHE=str(cache or self.cache))

    @cached_property
    def three_minutes(self) -> Run:
        """`render` of three minutes on 10,000 pixels with warm caches."""
        return self.measure(self.render_command(10_000, 180))


def _work(one: Run) -> str:
    """Processor time: unlike the clock, hardly touched by whatever else the machine is doing."""
    return f"CPU {one.processor_seconds:.1f} s"


def show_help(bench: Bench) -> Iterator[Figure]:
    yield Figure("eavesong --help", bench.measure([EAVESONG, "--help"]).seconds, "s", 0.3)


def song(bench: Bench) -> Iterator[Figure]:
    ours = bench.three_minutes
    rate = 10_000 * 180 * FRAMES_PER_SECOND / ours.seconds / 1e6
    yield Figure("render 10,000 pixels, 3 min", ours.seconds, "s", 1, f"{_work(ours)}, {rate:.0f} M pixel-frames/s")


def show_check(bench: Bench) -> Iterator[Figure]:
    """`check` of the same show and house, everything heard and compiled before."""
    show, layout = bench.inputs(10_000, 180)
    ours = bench.measure([EAVESONG, "check", show, "--layout", layout])
    yield Figure("check 10,000 pixels, 3 min", ours.seconds, "s", 0.5, _work(ours))


def file(bench: Bench) -> Iterator[Figure]:
    """The whole render, file closed, against the same bytes kept in memory; both in one process, in turn.

    The stack's random u leaves little that compresses, so most chunks are stored as they are; with pixels in the order
    of a wire they are compressed, and that is what then takes the time.
    """
    show, layout = bench.inputs(100_000, 60)
    for order, limit in (("stack", 1.3), ("wired", 1.8)):
        command = [sys.executable, INSIDE, "render", show, layout, str(bench.frames_file), "60", order]
        taken, copied = [], []
        for _ in range(bench.runs):
            taken.append(json.loads(bench.once(command).output))
            copied.append(taken[-1]["seconds"] / to_the_disk(bench.frames_file))
        stored, full = bench.frames_file.stat().st_size / 1e6, 0.3 * 60 * FRAMES_PER_SECOND
        whole, alone = (statistics.median(one[what] for one in taken) for what in ("seconds", "memory"))
        ratio = statistics.median(one["seconds"] / one["memory"] for one in taken)
        yield Figure("render 100,000 pixels, 60 s", whole, "s", note=f"{order}: {stored:.0f} of {full:.0f} MB")
        yield Figure("  the same bytes in memory", alone, "s")
        yield Figure("  file against memory", ratio, "x", limit)
        most = 1.3 if (os.cpu_count() or 1) >= 16 else None  # fewer processors draw for longer than a disk takes
        yield Figure("  against dd of it to the disk", statistics.median(copied), "x", most)
    process = bench.measure(bench.render_command(100_000, 60), runs=1)
    yield Figure("  wired, as a whole command", process.seconds, "s", note=_work(process))


def to_the_disk(file: Path) -> float:
    """Seconds that ``dd`` takes to write the bytes of a file, which are at hand, to another one and onto the disk."""
    beside = file.with_name("copied")
    have_at_hand(file.parent, file.stat().st_size)
    file.read_bytes()
    start = time.perf_counter()
    subprocess.run(["dd", f"if={file}", f"of={beside}", "bs=4M", "conv=fsync"], check=True, stderr=subprocess.DEVNULL)
    taken = time.perf_counter() - start
    beside.unlink()
    return taken


def effect(bench: Bench) -> Iterator[Figure]:
    """Each effect in a process of its own with an empty cache, then again with what the first one left there."""
    times: dict[str, list[dict[str, float]]] = {"compile": [], "load": []}
    for name in inputs.CUES:
        with tempfile.TemporaryDirectory() as cache:
            for when in times:
                command = [sys.executable, INSIDE, "effect", str(inputs.EFFECTS / f"{name}.toml")]
                times[when].append(json.loads(bench.once(command, Path(cache)).output))
    rows = (("compile", "compile an effect", 600, None), ("load", "load it from the cache", 20, 60))
    for when, what, limit, most in rows:
        taken = [1000 * one["seconds"] for one in times[when]]
        start = 1000 * statistics.median(one["start"] for one in times[when])
        yield Figure(what, statistics.median(taken), "ms", limit, f"6 effects, up to {max(taken):.0f}")
        by = "numba" if any(one["numba"] for one in times[when]) else "LLVM, without numba"
        yield Figure("  before: imports, first kernel", start, "ms", most, by)


def memory(bench: Bench) -> Iterator[Figure]:
    short = bench.three_minutes.megabytes
    hour = bench.measure(bench.render_command(10_000, 3600), runs=1)
    yield Figure("peak memory, 3 min", short, "MB", 500)
    yield Figure("peak memory, 60 min", hour.megabytes, "MB", 500, f"{hour.seconds:.1f} s, {_work(hour)}")
    yield Figure("60 min against 3 min", hour.megabytes / short, "x", 1.1)


def size(bench: Bench) -> Iterator[Figure]:
    """As many pixel-frames on a small house as on a large one."""
    small = bench.in_memory(10_000, 180, part=100) / (10_000 * 100 * FRAMES_PER_SECOND)
    large = bench.in_memory(1_000_000, 180, part=5) / (1_000_000 * 5 * FRAMES_PER_SECOND)
    yield Figure("10,000 pixels, each frame", 1e9 * small, "ns")
    yield Figure("1,000,000 pixels, each frame", 1e9 * large, "ns")
    yield Figure("large against small", large / small, "x", 1.2)


ROWS: dict[str, Callable[[Bench], Iterator[Figure]]] = {
    "help": show_help,
    "effect": effect,
    "song": song,
    "check": show_check,
    "file": file,
    "size": size,
    "memory": memory,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3, help="counted runs of each command (default 3)")
    parser.add_argument("--rows", default=",".join(ROWS), help="comma list, default all: %(default)s")
    options = parser.parse_args()
    print(f"{'':<31}{'measured':>12}{'limit':>11}")
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), options.runs)
        for row in options.rows.split(","):
            for figure in ROWS[row](bench):
                missed += not kept(figure)
                print(line(figure), flush=True)
    sys.exit(missed > 0)


def kept(figure: Figure) -> bool:
    """Whether the limit, if there is one, is kept."""
    return figure.limit is None or figure.value <= figure.limit


def line(figure: Figure) -> str:
    """`what   0.25 s   0.3 s   kept`, 80 columns wide with a short note."""
    limit, verdict = "", ""
    if figure.limit is not None:
        limit, verdict = f"{figure.limit:g} {figure.unit}", "kept" if kept(figure) else "MISSED"
    return f"{figure.what:<31}{figure.value:>9.3g} {figure.unit:<4}{limit:>9}  {verdict:<8}{figure.note}".rstrip()


if __name__ == "__main__":
    main()
