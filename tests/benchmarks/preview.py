"""How fast stills, clips and the page are: a song of three minutes on a house of ten thousand pixels.

    python tests/benchmarks/preview.py            every figure, some minutes
    python tests/benchmarks/preview.py still page only these: still, film, page
    python tests/benchmarks/preview.py --keep DIR leave everything in a folder, and find it there the next time

Ends with 1 when a figure misses its bar. The page is measured in Chromium with software GL (``/usr/bin/chromium``, or
what CHROMIUM names), driven by Playwright.
"""

import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

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


def measure_still(frames: Path) -> list[tuple[str, float, str, float]]:
    out = frames.with_name("still.png")
    times = [run("preview", frames, "--out", out, "--at", "61", "-q")[0] for _ in range(4)][1:]
    return [("still, whole process, warm", min(times), "s", 1.5)]


def measure_film(frames: Path) -> list[tuple[str, float, str, float]]:
    song = next(frames.parent.glob("song-*.wav"))
    seconds, peak, busy = run("preview", frames, "--out", frames.with_name("film.mp4"), "--song", song, "-q")
    return [
        (f"MP4 of {SECONDS} s at 1280x720", seconds, "s", float(SECONDS)),
        ("its processor seconds", busy, "s", float("inf")), ("its peak memory", peak, "MB", 600.0),
    ]  # fmt: skip


def measure_page(frames: Path) -> list[tuple[str, float, str, float]]:
    from playwright.sync_api import sync_playwright

    page, silent = frames.with_name("page.html"), frames.with_name("silent.html")
    song = next(frames.parent.glob("song-*.wav"))
    made = run("preview", frames, "--out", silent, "--silent", "-q")[0]
    run("preview", frames, "--out", page, "--song", song, "-q")
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"), args=FLAGS)
        began = time.perf_counter()
        tab = browser.new_page(viewport={"width": 1280, "height": 720})
        tab.goto(page.as_uri())
        tab.wait_for_function("window.eavesong?.state().ready")
        ready = time.perf_counter() - began
        tab.evaluate("eavesong.seek(42)")
        tab.click("#play")
        if tab.locator("#warning").is_visible():
            tab.click("#warning-play")
        time.sleep(4)
        first, at = tab.evaluate("eavesong.state().drawn"), time.perf_counter()
        time.sleep(26)
        state = tab.evaluate("eavesong.state()")
        rate = (state["drawn"] - first) / (time.perf_counter() - at)
        away = abs(state["frame"] - int(state["heard"] * FPS + 1e-3))  # what was heard as the frame was drawn
        print("the page after 30 s:", {name: state[name] for name in ("frame", "heard", "song", "quality", "flat")})
        browser.close()
    return [
        ("page without its song", silent.stat().st_size / 1e6, "MB", 12.0), ("made in", made, "s", float("inf")),
        ("ready to play", ready, "s", 3.0), ("pictures a second at 1280x720", rate, "/s", -24.0),
        ("frames off the song after 30 s", float(away), "", 1.0),
    ]  # fmt: skip


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
                told = "" if bar == float("inf") else f"   bar {abs(bar):g} {unit}, {'met' if holds else 'MISSED'}"
                print(f"{name:<34}{value:>9.2f} {unit:<3}{told}")
    print(f"own peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB; load {os.getloadavg()[0]:.1f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
