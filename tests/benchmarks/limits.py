"""Measure checks, limiter and ladder against the limits we keep: python tests/benchmarks/limits.py

A song of three minutes on 10,000 pixels, six cues; flashes on the 5,118 pixels of a shipped house as well, whose parts
of the view are many. Every figure is the median of several runs, or the
shortest where renders are compared; inputs are made in a
temporary folder, and kernels are compiled before anything is timed.
"""

import argparse
import math
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import inputs
import numpy as np
from process import run

PIXELS, SECONDS = 10_000, 180
LIMITS = """
import sys
from eavesong.cli import main
try:
    main(["limits", *sys.argv[1:]])
except SystemExit:  # 1 where something was found, which is no failure here
    pass
"""


def timed(work: Callable[[], object], runs: int) -> float:
    """Median seconds, after one run that is not counted."""
    work()
    return statistics.median(_once(work) for _ in range(runs))


def _once(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ladder(runs: int) -> float:
    """Seconds for 1,000 pixels with 5 injections."""
    from eavesong.limits.ladder import Ladder

    string = Ladder(12.0, np.full(999, 0.004), np.array([0, 250, 500, 750, 999]), np.full(5, 0.05))
    loads = np.full(1000, 0.0565)
    return timed(lambda: string.voltages(loads), 20 * runs)


def report(folder: Path, frames: Path, runs: int) -> tuple[float, float]:
    """Seconds for power and flashes of frames in memory, and for the whole report from the file."""
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.limits import Assumptions, limits
    from eavesong.limits.circuits import circuits_of
    from eavesong.limits.flashes import FlashFinder
    from eavesong.limits.limits import blocks_of
    from eavesong.limits.meter import Ammeter, Watch, measure
    from eavesong.limits.moments import Moments
    from eavesong.limits.power import Books
    from eavesong.scene import Reopened
    from eavesong.within.eyes import eyes_of
    from eavesong.within.rig import rig_of

    layout, assumed = load_layout(folder / f"house-{PIXELS}.toml"), Assumptions()
    with open_frames(frames) as file:
        blocks = list(blocks_of(file))
        rig, circuits = rig_of(layout), circuits_of(layout, assumed)

        def after_reading() -> None:
            books = Books(layout, circuits, rig, assumed)
            song = Moments(Reopened(file), layout)
            ammeter = Ammeter(rig, books.wiring(), file.frame_count)
            watch = Watch(eyes_of(layout, rig, file.frame_rate))
            finder = FlashFinder(layout, assumed, file.frame_rate, song, file.start)
            measure(blocks, (ammeter, watch), finder)
            books.power(ammeter, song, file.frame_rate, file.start)
            finder.result(watch, allowed=False)

        return timed(after_reading, runs), timed(lambda: limits(layout, file, assumed), 1)


def eyes(folder: Path, runs: int) -> float:
    """Seconds for the flashes alone of a film of three minutes on a shipped house, frames in memory."""
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.limits import Assumptions
    from eavesong.limits.flashes import FlashFinder
    from eavesong.limits.limits import blocks_of
    from eavesong.limits.meter import Watch, measure
    from eavesong.limits.moments import Moments
    from eavesong.scene import Reopened
    from eavesong.within.eyes import eyes_of
    from eavesong.within.rig import rig_of

    house, out = Path(__file__).parents[2] / "layouts" / "two-storey-2026.toml", folder / "eyes.h5"
    eavesong = str(Path(sys.executable).with_name("eavesong"))
    run([eavesong, "render", str(folder / f"song-{SECONDS}.show.toml"), "-l", str(house), "-o", str(out), "-q"])
    layout = load_layout(house)
    with open_frames(out) as file:
        blocks, rig = list(blocks_of(file)), rig_of(layout)

        def look() -> None:
            song = Moments(Reopened(file), layout)
            watch = Watch(eyes_of(layout, rig, file.frame_rate))
            finder = FlashFinder(layout, Assumptions(), file.frame_rate, song, file.start)
            measure(blocks, (watch,), finder)
            finder.result(watch, allowed=False)

        return timed(look, runs)


def rendered(folder: Path, runs: int, choices: dict[str, list[str]]) -> dict[str, float]:
    """Seconds of the command ``eavesong render`` with each choice of options: the shortest of several runs in turn,
    so that what else the machine does weighs on all of them alike."""
    eavesong = str(Path(sys.executable).with_name("eavesong"))
    show, house, out = folder / f"song-{SECONDS}.show.toml", folder / f"house-{PIXELS}.toml", folder / "out.h5"
    command = [eavesong, "render", str(show), "-l", str(house), "-o", str(out), "-q"]
    best = dict.fromkeys(choices, math.inf)
    for turn in range(runs + 1):
        for name, options in choices.items():
            out.unlink(missing_ok=True)  # so that nothing of it is used again
            seconds = run([*command, *options, *([] if turn else ["--to", "1"])]).seconds
            if turn:
                best[name] = min(best[name], seconds)
    return best


def memory(folder: Path, seconds: int) -> float:
    """Megabytes of the command ``eavesong limits`` on a song of so many seconds."""
    eavesong = str(Path(sys.executable).with_name("eavesong"))
    show, house = folder / f"song-{seconds}.show.toml", folder / f"house-{PIXELS}.toml"
    if not show.exists():
        inputs.write_show(folder, inputs.write_song(folder, seconds))
    frames = folder / f"frames-{seconds}.h5"
    run([eavesong, "render", str(show), "-l", str(house), "-o", str(frames), "-q"])
    return run([sys.executable, "-c", LIMITS, str(house), str(frames)]).megabytes


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    rows: list[tuple[str, str, str]] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        inputs.write_house(folder, PIXELS)
        inputs.write_show(folder, inputs.write_song(folder, SECONDS))
        rows.append(("ladder of 1,000 pixels with 5 injections", f"{1000 * ladder(runs):.2f} ms", "5 ms"))
        short, long = memory(folder, SECONDS // 3), memory(folder, SECONDS)
        seconds, whole = report(folder, folder / f"frames-{SECONDS}.h5", runs)
        rows.append(("power and flashes after reading, 3 minutes", f"{seconds:.2f} s", "2 s"))
        rows.append(("the whole report, reading included", f"{whole:.2f} s", ""))
        rows.append(("flashes of 5,118 pixels, 3 minutes, parts too", f"{eyes(folder, runs):.2f} s", "3 s"))
        rows.append(("memory for 3 minutes over that for 1", f"{long:.0f} / {short:.0f} MB", "flat"))
        choices = {"off": [], "nothing is above it": ["--limit", "house:100000W"],
                   "half of the light is": ["--limit", "house:700W"]}  # fmt: skip
        best = rendered(folder, runs, choices)
        for words in list(choices)[1:]:
            value = f"{best[words] / best['off']:.2f} ({best[words]:.1f} s / {best['off']:.1f} s)"
            rows.append((f"limiter on over off, {words}", value, "1.5"))
        best = rendered(folder, runs, {"off": [], "soften": ["--soften"]})
        value = f"{best['soften'] / best['off']:.2f} ({best['soften']:.1f} s / {best['off']:.1f} s)"
        rows.append(("softening on over off", value, "2.5"))
    print(f"{'what':<48} {'measured':>24} {'limit':>6}")
    for what, value, limit in rows:
        print(f"{what:<48} {value:>24} {limit:>6}")


if __name__ == "__main__":
    main()
