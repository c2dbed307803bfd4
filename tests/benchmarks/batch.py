"""Measure batches and retargeting against the limits we keep: python tests/benchmarks/batch.py

Twenty songs of three minutes, made by the demo's synthesiser, on a house of 10,000 pixels, the benchmarks' show of six
cues; whole commands, timed by the clock from start to exit. Memory is that of the command and all its workers together,
looked at every tenth of a second. A whole season: three hundred songs, each as large as three minutes of sound are when
compressed, all rendered before. Retargeting: the demo's show on 100,000 pixels in 40 props, one of them moved, in one
process, in turn with a full render.
"""

import argparse
import json
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import inputs
import psutil
from whole import Figure, kept

HERE = Path(__file__).parent
EAVESONG = str(Path(sys.executable).with_name("eavesong"))
TAGS = ("roofline", "window", "tree", "arch", "upright", "grid", "star", "path")
SECONDS = 180
SEASON, BRIEF = 300, 20
"""Songs of a season and their seconds: 4 MB each, as three minutes are when compressed."""


@dataclass(frozen=True)
class Ran:
    """A command that has run: seconds by the clock and of all processors, and, where it was looked at, the most memory
    that it and its workers had together, in MB."""

    seconds: float
    processor_seconds: float
    megabytes: float


class Bench:
    """A folder with songs, a house, shows and setlists, and a cache of its own."""

    def __init__(self, folder: Path, songs: int, runs: int) -> None:
        self.folder, self.songs, self.runs = folder, songs, runs
        self.cache = folder / "cache"
        show = inputs.write_show(folder, folder / "unused.wav")
        shutil.copy(HERE.parents[1] / "src/eavesong/demo/street.show.toml", folder)
        (folder / "six.show.toml").write_text(show.read_text().replace('song = "unused.wav"\n', ""))
        write_house(folder / "house.toml", 10_000)
        self._make_songs()

    def _make_songs(self) -> None:
        """Songs with their texts in ``with``, without in ``bare``; what is there already is kept."""
        from eavesong.demo.songs import invent, make_songs

        for name in ("with", "bare", "season"):
            (self.folder / name).mkdir(exist_ok=True)
        for number in range(self.songs):
            stem = f"invention-{number}"
            if not (self.folder / "with" / f"{stem}.wav").exists():
                make_songs(self.folder / "with", (invent(number, SECONDS),))
            if not (self.folder / "bare" / f"{stem}.wav").exists():
                os.link(self.folder / "with" / f"{stem}.wav", self.folder / "bare" / f"{stem}.wav")

    def setlist(self, kind: str, count: int | None = None) -> Path:
        """A setlist of the first songs, with texts or bare."""
        path = self.folder / f"{kind}-{count or self.songs}.toml"
        text = 'show = "six.show.toml"\nlayout = "house.toml"\nframes = "frames"\nfindings = "none"\n'
        songs = (f'[[song]]\nsong = "{kind}/invention-{n}.wav"\n' for n in range(count or self.songs))
        path.write_text(text + "".join(songs))
        return path

    def season(self) -> Path:
        """A setlist of SEASON songs, of which each twentieth has the same sound."""
        from eavesong.demo.songs import invent, make_songs

        folder = self.folder / "season"
        for number in range(SEASON):
            if number < 20 and not (folder / f"invention-{number}.wav").exists():
                make_songs(folder, (invent(number, BRIEF),))
            for kind in ("wav", "beats", "sections"):
                if not (path := folder / f"invention-{number}.{kind}").exists():
                    os.link(folder / f"invention-{number % 20}.{kind}", path)
        return self.setlist("season", SEASON)

    def batch(self, setlist: Path, *more: str, fresh: bool = True, weighed: bool = False, **environment: str) -> Ran:
        """Run a batch; ``fresh``: without frames and heard songs from before. Weighing it slows it down a little."""
        if fresh:
            shutil.rmtree(self.folder / "frames", ignore_errors=True)
            shutil.rmtree(self.cache / "songs", ignore_errors=True)
        settings = {**os.environ, "EAVESONG_CACHE": str(self.cache), **environment}
        command = [EAVESONG, "batch", str(setlist), *more]
        before, began, most = _processor_seconds(), time.perf_counter(), 0.0
        with tempfile.TemporaryFile("w+") as log:
            process = subprocess.Popen(command, stdout=log, stderr=log, env=settings)
            family = psutil.Process(process.pid)
            while weighed and process.poll() is None:
                most = max(most, _memory(family))
                time.sleep(0.1)
            process.wait()
            taken = time.perf_counter() - began
            if process.returncode:
                log.seek(0)
                raise RuntimeError(log.read()[-2000:])
        return Ran(taken, _processor_seconds() - before, most)


def _processor_seconds() -> float:
    """Of all processes that were started here and have ended, and of theirs."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _memory(family: psutil.Process) -> float:
    """Megabytes (1e6) of a process and its children; pages they share count once (proportional set size)."""
    total = 0
    try:
        for process in (family, *family.children(recursive=True)):
            total += process.memory_full_info().pss
    except psutil.Error:
        pass  # one has just ended; the next look will do
    return total / 1e6


def write_house(path: Path, pixels: int, moved: int | None = None) -> Path:
    """40 grids in a house 40 m wide, ``moved`` is the number of one that stands 0.3 m higher."""
    text = 'title = "Forty grids"\n[frame]\nfrom = [0, 0, 0]\nto = [40, 10.5, 5]\n'
    for number in range(40):
        y = number // 8 * 2 + (0.3 if number == moved else 0)
        text += (
            f'[[prop]]\nname = "grid {number}"\nshape = "grid"\nat = [{number % 8 * 5 + 2}, {y}, {number % 5}]\n'
            f'columns = 25\nrows = {pixels // 1000}\nwidth = 2\nheight = 1.5\ntags = ["{TAGS[number % 8]}"]\n'
        )
    path.write_text(text)
    return path


def cold(bench: Bench) -> Iterator[Figure]:
    """Nothing cached: neither our kernels nor any song's analysis."""
    shutil.rmtree(bench.cache, ignore_errors=True)
    with tempfile.TemporaryDirectory() as folder:
        ran = bench.batch(bench.setlist("bare"), "--workers", "2", NUMBA_CACHE_DIR=folder)
    rate = bench.songs * SECONDS / ran.seconds
    yield Figure("analysis, nothing cached, 2 workers", rate, "x", 40, _time(ran))


def warm(bench: Bench) -> Iterator[Figure]:
    """Beat grids at hand, kernels compiled; signals are measured anew."""
    setlist = bench.setlist("with")
    bench.batch(bench.setlist("with", 2), "--workers", "2")
    two = min((bench.batch(setlist, "--workers", "2") for _ in range(bench.runs)), key=lambda ran: ran.seconds)
    one = min((bench.batch(setlist, "--workers", "1") for _ in range(bench.runs)), key=lambda ran: ran.seconds)
    yield Figure("beats at hand, 2 workers", bench.songs * SECONDS / two.seconds, "x", 150, _time(two))
    yield Figure("2 workers against 1", one.seconds / two.seconds, "x", 1.7, _time(one))


def _time(ran: Ran) -> str:
    """What else runs on the machine stretches the clock, and hardly the processors' time."""
    return f"{ran.seconds:.1f} s, CPU {ran.processor_seconds:.1f} s"


def nothing(bench: Bench) -> Iterator[Figure]:
    setlist = bench.setlist("with")
    bench.batch(setlist, "--workers", "2", fresh=False)
    taken = [bench.batch(setlist, fresh=False).seconds for _ in range(3)]
    yield Figure(f"nothing to do, {bench.songs} songs", statistics.median(taken), "s", 2)


def season(bench: Bench) -> Iterator[Figure]:
    setlist = bench.season()
    bench.batch(setlist, "--workers", "2", fresh=False)
    taken = [bench.batch(setlist, fresh=False) for _ in range(3)]
    middle = sorted(taken, key=lambda ran: ran.seconds)[1]
    yield Figure(f"nothing to do, {SEASON} songs", middle.seconds, "s", 2.5, _time(middle))


def memory(bench: Bench) -> Iterator[Figure]:
    few = bench.batch(bench.setlist("with", 2), "--workers", "2", weighed=True).megabytes
    many = bench.batch(bench.setlist("with"), "--workers", "2", weighed=True).megabytes
    yield Figure("memory, batch of 2", few, "MB")
    yield Figure(f"memory, batch of {bench.songs}", many, "MB")
    yield Figure(f"memory, {bench.songs} against 2", many / few, "x", 1.1)


RETARGET = """
import json, pathlib, sys, time
from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.retarget import retarget
from process import have_at_hand
folder, song, runs = sys.argv[1], sys.argv[2], int(sys.argv[3])
show, old, new = (f"{folder}/{name}" for name in ("street.show.toml", "old.toml", "new.toml"))
frames, full, out = (f"{folder}/{name}.h5" for name in ("old", "full", "out"))
render(Order(show, old, song), frames)
size = pathlib.Path(frames).stat().st_size
taken = {"full": [], "retarget": []}
for _ in range(runs):
    for path in (full, out):
        pathlib.Path(path).unlink(missing_ok=True)
    have_at_hand(folder, size)
    start = time.perf_counter()
    render(Order(show, new, song), full)
    taken["full"].append(time.perf_counter() - start)
    have_at_hand(folder, size)
    start = time.perf_counter()
    done = retarget(show, old, new, out, frames=frames, song=song)
    taken["retarget"].append(time.perf_counter() - start)
with open_frames(full) as a, open_frames(out) as b:
    same = all((a.frames[n:n + 64] == b.frames[n:n + 64]).all() for n in range(0, a.frame_count, 64))
print(json.dumps(taken | {"same": bool(same), "computed": done.computed}))
"""


def retarget(bench: Bench) -> Iterator[Figure]:
    write_house(bench.folder / "old.toml", 100_000)
    write_house(bench.folder / "new.toml", 100_000, moved=17)
    song = str(bench.folder / "with" / "invention-0.wav")
    command = [sys.executable, "-c", RETARGET, str(bench.folder), song, str(bench.runs)]
    ran = subprocess.run(
        command,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parent,
        env={**os.environ, "EAVESONG_CACHE": str(bench.cache)},
    )
    if ran.returncode:
        raise RuntimeError(ran.stderr[-2000:])
    found = json.loads(ran.stdout)
    full, part = (statistics.median(found[what]) for what in ("full", "retarget"))
    yield Figure("full render, 100,000 pixels", full, "s")
    yield Figure("one of 40 props moved", part, "s", note=f"computed: {', '.join(found['computed'])}")
    ratio = statistics.median(a / b for a, b in zip(found["full"], found["retarget"], strict=True))
    yield Figure("full against retargeted", ratio, "x", 6, "same bytes" if found["same"] else "OTHER BYTES")


ROWS: dict[str, Callable[[Bench], Iterator[Figure]]] = {
    "cold": cold,
    "warm": warm,
    "nothing": nothing,
    "season": season,
    "memory": memory,
    "retarget": retarget,
}
AT_LEAST = ("cold", "warm", "retarget")
"""Rows whose limits are the least, not the most."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=1, help="counted runs of each (default 1)")
    parser.add_argument("--songs", type=int, default=20, help="songs of three minutes (default 20)")
    parser.add_argument("--rows", default=",".join(ROWS), help="comma list, default all: %(default)s")
    parser.add_argument("--folder", type=Path, help="where songs are kept for the next time")
    options = parser.parse_args()
    print(f"{'':<36}{'measured':>9}      {'limit':>9}")
    missed = 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.folder or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        bench = Bench(folder, options.songs, options.runs)
        for row in options.rows.split(","):
            for figure in ROWS[row](bench):
                well = figure.limit is None or (figure.value >= figure.limit if row in AT_LEAST else kept(figure))
                missed += not well
                print(line_of(figure, well), flush=True)
    sys.exit(missed > 0)


def line_of(figure: Figure, well: bool) -> str:
    """As ``whole.line``, with a verdict that may be about a least value."""
    limit, verdict = "", ""
    if figure.limit is not None:
        limit, verdict = f"{figure.limit:g} {figure.unit}", "kept" if well else "MISSED"
    return f"{figure.what:<36}{figure.value:>9.3g} {figure.unit:<4}{limit:>9}  {verdict:<8}{figure.note}".rstrip()


if __name__ == "__main__":
    main()
