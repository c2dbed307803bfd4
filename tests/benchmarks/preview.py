"""How fast stills, clips and the page are: a song of three minutes on a house of ten thousand pixels.

    python tests/benchmarks/preview.py            every figure, some minutes
    python tests/benchmarks/preview.py still page only these: still, film, page
    python tests/benchmarks/preview.py --keep DIR leave everything in a folder, and find it there the next time

Ends with 1 when a figure misses its bar. Other work on the machine makes seconds longer, processor seconds hardly. The
page is measured in Chromium with software GL (``/usr/bin/chromium``, or what CHROMIUM names), driven by Playwright.
"""

import contextlib
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from inputs import write_song

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PIXELS, SECONDS, FPS = 10_000, 180, 40
SECTIONS = ("intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus", "chorus", "outro")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--autoplay-policy=no-user-gesture-required"]  # fmt: skip


def write_inputs(folder: Path) -> Path:
    """The demo's show on its house, wired more closely, to a song of three minutes: a frames file."""
    frames = folder / "street.h5"
    if frames.exists():
        return frames
    song = write_song(folder, SECONDS)
    edges = [SECONDS * at / len(SECTIONS) for at in range(len(SECTIONS) + 1)]
    rows = zip(edges[:-1], edges[1:], SECTIONS, strict=True)
    song.with_suffix(".sections").write_text("".join(f"{start}\t{end}\t{label}\n" for start, end, label in rows))
    shutil.copy(ROOT / "layouts" / "rose-bush.csv", folder)
    shutil.copy(ROOT / "src" / "eavesong" / "demo" / "street.show.toml", folder)
    text = (ROOT / "layouts" / "two-storey-2026.toml").read_text()
    layout = folder / "house.toml"
    for closer in range(100, 20, -1):
        layout.write_text(wired_closer(text, closer / 100))
        if pixels_of(layout) >= PIXELS:
            break
    run("render", folder / "street.show.toml", "-l", layout, "-o", frames, "--song", song, "--fps", FPS, "-q")
    return frames


def wired_closer(text: str, share: float) -> str:
    """A layout's text with every pitch shortened to a share of it, and universes given out anew."""
    text = re.sub(r"^(universe|slot) = .*$", "", text, flags=re.M)
    return re.sub(r"^pitch = ([\d.]+)", lambda found: f"pitch = {float(found[1]) * share:.4f}", text, flags=re.M)


def pixels_of(layout: Path) -> int:
    from eavesong.layout import load_layout

    return load_layout(layout).pixel_count


def run(*words: object) -> tuple[float, float, float]:
    """Seconds, peak MB and seconds of all processors of one command of eavesong, in a process of its own."""
    began = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-m", "eavesong", *map(str, words)])
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"eavesong {' '.join(map(str, words))} ended with {status}")
    return time.perf_counter() - began, usage.ru_maxrss / 1024, usage.ru_utime + usage.ru_stime


Figure = tuple[str, float, str, float]
"""What it is, how much, its unit, its bar: at most, or at least where it is negative; infinity for none."""
NONE = float("inf")


def measure_still(frames: Path) -> list[Figure]:
    runs = [run("preview", frames, "--out", frames.with_name("still.png"), "--at", "61", "-q") for _ in range(6)][1:]
    return [
        ("still, whole process, warm", min(seconds for seconds, _, _ in runs), "s", 1.5),
        ("its processor seconds", min(busy for _, _, busy in runs), "s", NONE),
    ]


def measure_film(frames: Path) -> list[Figure]:
    song = next(frames.parent.glob("song-*.wav"))
    seconds, peak, busy = run("preview", frames, "--out", frames.with_name("film.mp4"), "--song", song, "-q")
    size = frames.with_name("film.mp4").stat().st_size / 1e6
    return [
        (f"MP4 of {SECONDS} s at 1280x720", seconds, "s", float(SECONDS)), ("its processor seconds", busy, "s", NONE),
        ("its peak memory", peak, "MB", 600.0), ("its size", size, "MB", NONE),
    ]  # fmt: skip


def measure_page(frames: Path) -> list[Figure]:
    from playwright.sync_api import sync_playwright

    page, silent = frames.with_name("page.html"), frames.with_name("silent.html")
    song = next(frames.parent.glob("song-*.wav"))
    made = run("preview", frames, "--out", silent, "--silent", "-q")[0]
    run("preview", frames, "--out", page, "--song", song, "-q")
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"), args=FLAGS)
        ready, rate, busy, away = play(browser, page.as_uri(), 26)
        _, by_gl, gl_busy, _ = play(browser, page.as_uri() + "#gl", 8)
        browser.close()
    return [
        ("page without its song", silent.stat().st_size / 1e6, "MB", 12.0), ("made in", made, "s", NONE),
        ("ready to play", ready, "s", 3.0), ("pictures a second at 1280x720", rate, "/s", -24.0),
        ("processor time of one", busy, "ms", NONE), ("frames off the song in 30 s, at most", float(away), "", 1.0),
        ("pictures a second by software GL", by_gl, "/s", NONE), ("processor time of one", gl_busy, "ms", NONE),
    ]  # fmt: skip


def play(browser: Any, address: str, seconds: float) -> tuple[float, float, float, int]:
    """Play a page for some seconds, after four: seconds until it was ready, pictures a second, milliseconds of all
    processors for one, and by how many frames a picture was off the song at most, from the beginning on."""
    began = time.perf_counter()
    tab = browser.new_page(viewport={"width": 1280, "height": 720})
    tab.goto(address)
    tab.wait_for_function("window.eavesong?.state().ready")
    ready = time.perf_counter() - began
    tab.evaluate("eavesong.seek(42)")
    tab.click("#play")
    if tab.locator("#warning").is_visible():
        tab.click("#warning-play")
    tab.wait_for_function("eavesong.state().playing")
    off = watch(tab, 4)
    first, busy, at = tab.evaluate("eavesong.state().drawn"), processor_seconds(), time.perf_counter()
    off = max(off, watch(tab, seconds))
    state = tab.evaluate("eavesong.state()")
    count, busy, took = state["drawn"] - first, processor_seconds() - busy, time.perf_counter() - at
    print("the page:", {name: state[name] for name in ("frame", "heard", "song", "quality", "flat")})
    tab.close()
    return ready, count / took, 1000 * busy / max(count, 1), off


def watch(tab: Any, seconds: float) -> int:
    """By how many frames what is drawn is off what was heard as it was drawn, at most, looked at twice a second."""
    end, off = time.perf_counter() + seconds, 0
    while time.perf_counter() < end:
        time.sleep(min(0.5, max(0.0, end - time.perf_counter())))
        state = tab.evaluate("eavesong.state()")
        off = max(off, abs(state["frame"] - int(state["heard"] * FPS + 1e-3)))
    return off


def processor_seconds() -> float:
    """Of this process and of all below it: the browser's (Linux; /proc/PID/stat, proc(5))."""
    parents: dict[int, int] = {}
    ticks: dict[int, int] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            fields = stat.read_text().rpartition(")")[2].split()
            process = int(stat.parent.name)
            parents[process], ticks[process] = int(fields[1]), int(fields[11]) + int(fields[12])
    own = {os.getpid()}
    for _ in range(8):
        own |= {process for process, parent in parents.items() if parent in own}
    return sum(ticks.get(process, 0) for process in own) / os.sysconf("SC_CLK_TCK")


PARTS = {"still": measure_still, "film": measure_film, "page": measure_page}


def main(words: list[str]) -> int:
    keep = Path(words[words.index("--keep") + 1]) if "--keep" in words else None
    chosen = [word for word in words if word in PARTS] or list(PARTS)
    missed = 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        frames = write_inputs(folder)
        for part in chosen:
            for name, value, unit, bar in PARTS[part](frames):
                holds = value >= -bar if bar < 0 else value <= bar
                missed += not holds
                told = "" if bar == NONE else f"   bar {abs(bar):g} {unit}, {'met' if holds else 'MISSED'}"
                print(f"{name:<37}{value:>9.2f} {unit:<3}{told}")
    print(f"own peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB; load {os.getloadavg()[0]:.1f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
