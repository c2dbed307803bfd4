"""Measure whole commands as a user meets them, against the limits we keep: python tests/benchmarks/whole.py

Every figure is the median of several processes, timed by the clock from start to exit, with the largest memory the
system saw (wait4). Inputs are made in a temporary folder; so is the cache, unless a row says that it is warm.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import inputs
from process import Run, median_run, run

HERE = Path(__file__).parent
FRAMES_PER_SECOND = 40
EAVESONG = (sys.executable, "-c", "from eavesong.cli import main; main()")


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    what: str
    value: float
    unit: str
    limit: float
    note: str = ""


class Bench:
    """A temporary folder with inputs, each made when first asked for, and a cache of its own."""

    def __init__(self, folder: Path, runs: int) -> None:
        self.folder, self.runs = folder, runs
        self.cache = folder / "cache"

    def render_command(self, pixels: int, seconds: int) -> list[str]:
        """The command that renders the six cues on so many pixels for so long."""
        layout = self.folder / f"house-{pixels}.toml"
        if not layout.exists():
            inputs.write_house(self.folder, pixels)
        show = self.folder / f"song-{seconds}.show.toml"
        if not show.exists():
            inputs.write_show(self.folder, inputs.write_song(self.folder, seconds))
        return [*EAVESONG, "render", str(show), "--layout", str(layout), "--out", str(self.frames_file)]

    @property
    def frames_file(self) -> Path:
        return self.folder / "frames.h5"

    def measure(self, command: list[str], runs: int | None = None) -> Run:
        """Median of several runs, after one that fills the cache and is not counted."""
        self.once(command)
        return median_run([self.once(command) for _ in range(runs or self.runs)])

    def once(self, command: list[str], cache: Path | None = None) -> Run:
        """One run; the frames file of the run before is taken away first, so that nothing in it is used again."""
        self.frames_file.unlink(missing_ok=True)
        return run(command, EAVESONG_CACHE=str(cache or self.cache))

    @cached_property
    def three_minutes(self) -> Run:
        """`render` of three minutes on 10,000 pixels with warm caches."""
        return self.measure(self.render_command(10_000, 180))


def show_help(bench: Bench) -> Iterator[Figure]:
    yield Figure("eavesong --help", bench.measure([*EAVESONG, "--help"]).seconds, "s", 0.3)


def song(bench: Bench) -> Iterator[Figure]:
    ours = bench.three_minutes
    rate = 10_000 * 180 * FRAMES_PER_SECOND / ours.seconds / 1e6
    yield Figure("render 10,000 pixels, 3 min", ours.seconds, "s", 3, f"{rate:.0f} M pixel-frames/s, all in")


def memory(bench: Bench) -> Iterator[Figure]:
    short = bench.three_minutes.megabytes
    hour = bench.measure(bench.render_command(10_000, 3600), runs=1)
    yield Figure("peak memory, 3 min", short, "MB", 500)
    yield Figure("peak memory, 60 min", hour.megabytes, "MB", 500, f"{hour.seconds:.1f} s")
    yield Figure("60 min against 3 min", hour.megabytes / short, "x", 1.1)


ROWS: dict[str, Callable[[Bench], Iterator[Figure]]] = {
    "help": show_help,
    "song": song,
    "memory": memory,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3, help="counted runs of each command (default 3)")
    parser.add_argument("--rows", default=",".join(ROWS), help="comma list, default all: %(default)s")
    options = parser.parse_args()
    print(f"{'':<34}{'measured':>12}{'limit':>10}")
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), options.runs)
        for row in options.rows.split(","):
            for figure in ROWS[row](bench):
                missed += figure.value > figure.limit
                print(line(figure), flush=True)
    sys.exit(missed > 0)


def line(figure: Figure) -> str:
    """`what   0.25 s   ≤ 0.3 s   kept`, 80 columns wide with a short note."""
    verdict = "kept" if figure.value <= figure.limit else "MISSED"
    measured, limit = f"{figure.value:.3g} {figure.unit}", f"{figure.limit:g} {figure.unit}"
    return f"{figure.what:<34}{measured:>12}{limit:>10}  {verdict:<8}{figure.note}".rstrip()


if __name__ == "__main__":
    main()
