"""How quickly the live page follows: the demo's show on its house (5,118 pixels), a song of three minutes.

    python tests/benchmarks/watch.py              every figure, about three minutes
    python tests/benchmarks/watch.py knob save    only these: first knob save code prop playing saves
    python tests/benchmarks/watch.py --keep DIR   leave the inputs in a folder, and find them there the next time
    python tests/benchmarks/watch.py saves --flood 120   seconds of saves, 60 without

Ends with 1 when a figure misses its bar. The page is Chromium without a head and with software drawing
(``/usr/bin/chromium``, or what CHROMIUM names), driven by Playwright, on the same processors as the studio.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil
from inputs import write_song

from preview import FLAGS, ROOT, SECONDS, SECTIONS

TIMES = 24
"""Turns of a knob; the other changes are made a quarter as often."""
NEVER = 30.0
LINE = "opacity = 0.5\n"
"""Of the show: it stands in the cue that is lit all the way through."""
PLAYS = 12.0
NEW = time.time_ns() % 10**9
"""In code that is saved: what an earlier run has compiled would not be compiled again."""
FLOOD = 60.0
"""Seconds of saves."""

KNOBS = {"opacity": 40, "parameters.least": 20, "parameters.share": 60}
"""Of the cue that is lit all the way through: knobs that always change the picture, and where they begin, of 200."""

READY = "window.eavesong?.state().ready"
TURN = """([knob, step]) => new Promise((done) => {
  const slider = document.querySelector(`#knobs-list [data-knob="${knob}"] input`), before = eavesong.state().changed;
  const begin = performance.now();
  slider.value = step;
  slider.dispatchEvent(new Event("input"));
  const look = () => {
    const { changed } = eavesong.state();
    if (changed !== before) done(changed - begin);
    else if (performance.now() > begin + NEVER) done(NEVER);
    else setTimeout(look, 4);
  };
  look();
})""".replace("NEVER", str(1000 * NEVER))
PLAY = """seconds => new Promise((done) => {
  const begin = performance.now(), drawn = eavesong.state().drawn, song = eavesong.state().song;
  const look = () => {
    const gone = (performance.now() - begin) / 1000, now = eavesong.state();
    if (gone > seconds) done({ rate: (now.drawn - drawn) / gone, lost: gone - (now.song - song) });
    else requestAnimationFrame(look);
  };
  look();
})"""


def write_inputs(folder: Path) -> None:
    """The demo's show with one effect of its own, its house and a song."""
    song = write_song(folder, SECONDS)
    edges = [SECONDS * at / len(SECTIONS) for at in range(len(SECTIONS) + 1)]
    rows = zip(edges[:-1], edges[1:], SECTIONS, strict=True)
    song.with_suffix(".sections").write_text("".join(f"{start}\t{end}\t{label}\n" for start, end, label in rows))
    shutil.copy(ROOT / "layouts" / "rose-bush.csv", folder)
    shutil.copy(ROOT / "layouts" / "two-storey-2026.toml", folder / "house.toml")
    shutil.copy(ROOT / "effects" / "glimmer.toml", folder / "own.toml")
    text = (ROOT / "src" / "eavesong" / "demo" / "street.show.toml").read_text()
    text = text.replace("lantern-walk.wav", song.name).replace('effect = "glimmer"', 'effect = "own.toml"', 1)
    (folder / "street.show.toml").write_text(text)


class Live:
    """The command and a page of it."""

    def __init__(self, folder: Path, browser) -> None:
        self.folder = folder
        self.context = browser.new_context(viewport={"width": 1280, "height": 720})
        self.tab = self.context.new_page()
        self.began = time.time()
        command = [sys.executable, "-m", "eavesong", "watch", "street.show.toml", "--layout", "house.toml",
                   "--at", "40", "--no-browser", "--port", "8191"]  # fmt: skip
        self.process = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True)
        address = re.search(r"http://\S+", self.process.stdout.readline())[0]
        self.tab.goto(address)
        self.until(READY)
        self.first = time.time() - self.began

    def until(self, true: str, seconds: float = NEVER) -> None:
        """Wait until an expression is true on the page; the page looks for itself, so that asking costs it little."""
        wait = f"""() => new Promise((done) => {{
          const end = performance.now() + {1000 * seconds};
          const look = () => {{
            if ({true}) done(true); else if (performance.now() > end) done(false); else setTimeout(look, 8);
          }};
          look();
        }})"""
        if not self.tab.evaluate(wait):
            raise TimeoutError(true)

    def rest(self) -> None:
        """Wait until nothing is left to be drawn."""
        self.until("eavesong.state().left === 0")

    def close(self) -> None:
        """End both."""
        self.context.close()
        self.process.send_signal(signal.SIGINT)
        if code := self.process.wait(timeout=30):
            raise RuntimeError(f"the studio ended with {code}")

    def saved(self, name: str, text: str) -> tuple[float, float]:
        """Seconds from a save to the change of the picture at the playhead, and to the whole song's."""
        self.rest()
        before = self.tab.evaluate("[eavesong.state().changed, eavesong.state().number]")
        begin = time.time()
        (self.folder / name).write_text(text)
        self.until(f"eavesong.state().changed !== {before[0]}")
        self.until(f"eavesong.state().number > {before[1]} && eavesong.state().left === 0")
        changed, whole = self.tab.evaluate(
            "[eavesong.state().changed, eavesong.state().whole].map((at) => (at + performance.timeOrigin) / 1000)"
        )
        return changed - begin, whole - begin


def knob(live: Live) -> dict[str, list[float]]:
    """A slider is moved on the page."""
    live.tab.click("#cues button:has-text('Night sky over the roofs')")
    live.until("document.querySelector('#knobs-list input')")
    near, whole = [], []
    for turn in range(TIMES):
        live.rest()
        name = list(KNOBS)[turn % len(KNOBS)]
        number = live.tab.evaluate("eavesong.state().number")
        begin = live.tab.evaluate("performance.now()")
        near.append(live.tab.evaluate(TURN, [name, KNOBS[name] + 4 * (turn // len(KNOBS) + 1)]) / 1000)
        live.until(f"eavesong.state().number > {number} && eavesong.state().left === 0")
        whole.append((live.tab.evaluate("eavesong.state().whole") - begin) / 1000)
    live.tab.click("#letgo")
    live.until("eavesong.parts.edits.count === 0")
    return {"near": near, "whole": whole}


def changes(live: Live, name: str, old: str, new) -> dict[str, list[float]]:
    """A file is saved again and again with something else in it."""
    text = (live.folder / name).read_text()
    assert old in text, f"{name} has no {old}"
    times = [live.saved(name, text.replace(old, new(step), 1)) for step in range(TIMES // 4)]
    live.saved(name, text)
    return {"near": [near for near, _ in times], "whole": [whole for _, whole in times]}


def playing(live: Live) -> dict[str, float]:
    """The song plays while the show is saved twice a second."""
    show = live.folder / "street.show.toml"
    text = show.read_text()
    live.tab.click("#play")
    live.until("eavesong.state().song > 40.3")
    live.tab.evaluate(f"window.played = ({PLAY})({PLAYS})")
    end, step = time.monotonic() + PLAYS - 0.5, 0
    while time.monotonic() < end:
        step += 1
        show.write_text(text.replace(LINE, f"opacity = 0.{5 + step % 4}{step % 10}\n", 1))
        time.sleep(0.5)
    found = live.tab.evaluate("window.played")
    live.tab.click("#play")
    show.write_text(text)
    return found


def saves(live: Live, seconds: float) -> dict[str, object]:
    """Fifty saves a second."""
    show, memory = live.folder / "street.show.toml", []
    text = show.read_text()
    process = psutil.Process(live.process.pid)
    begin, count = time.monotonic(), 0
    while time.monotonic() < begin + seconds:
        count += 1
        show.write_text(text.replace(LINE, f"opacity = 0.{100 + count % 800}\n", 1))
        if count % 50 == 0:
            memory.append(process.memory_info().rss / 1e6)
        time.sleep(max(0.0, begin + count / 50 - time.monotonic()))
    show.write_text(text.replace(LINE, "opacity = 0.123\n", 1))
    live.until("eavesong.parts['cue/1'].knobs.find(({ knob }) => knob === 'opacity').value === 0.123")
    third = len(memory) // 3
    return {"saves": count, "memory": memory, "growth": max(memory[-third:]) - max(memory[third : 2 * third])}


WAYS = {
    "save": (0.25, "a show file saved", ("street.show.toml", LINE, lambda step: f"opacity = 0.{51 + step}\n")),
    "code": (0.9, "an effect's code saved", ("own.toml", "level = ", lambda step: f"level = 0.9{step}{NEW} * ")),
    "prop": (0.5, "a prop moved in the layout", ("house.toml", "", None)),
}  # fmt: skip


def main(words: list[str]) -> int:
    """Measure what ``words`` name, everything without; the exit code."""
    from playwright.sync_api import sync_playwright

    keep = Path(words[words.index("--keep") + 1]) if "--keep" in words else None
    chosen = [word for word in words if word in ("first", "knob", *WAYS, "playing", "saves")]
    chosen = chosen or ["first", "knob", *WAYS, "playing", "saves"]
    flood = float(words[words.index("--flood") + 1]) if "--flood" in words else FLOOD
    missed, whole = False, {}
    with tempfile.TemporaryDirectory() as temporary, sync_playwright() as tool:
        folder = keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        write_inputs(folder)
        once = [sys.executable, "-m", "eavesong", "watch", "street.show.toml", "-l", "house.toml", "--once", "-q"]
        subprocess.run(once, cwd=folder, check=False)  # caches are warm afterwards
        path = os.environ.get("CHROMIUM") or shutil.which("chromium")
        browser = tool.chromium.launch(executable_path=path, args=FLAGS)
        live = Live(folder, browser)
        try:
            if "first" in chosen:
                missed |= told("command to first picture, warm caches", live.first, 2.5)
            live.until("eavesong.parts.limits")  # as when somebody has looked at it for some seconds
            if "knob" in chosen:
                found = knob(live)
                missed |= told("a knob turned, 95 %", sorted(found["near"])[int(0.95 * TIMES) - 1], 0.12)
                whole["knob"] = found["whole"]
            for name, (bar, words_, (file, old, new)) in WAYS.items():
                if name in chosen:
                    found = changes(live, file, *moved(folder, name, file, old, new))
                    missed |= told(f"{words_}, the slowest of {TIMES // 4}", max(found["near"]), bar)
                    whole[name] = found["whole"]
            if whole:
                slowest = max(whole, key=lambda kind: max(whole[kind]))
                missed |= told(f"any of them: the whole song up to date ({slowest})", max(whole[slowest]), 1.5)
                print(" " * 8 + ", ".join(f"{kind} {max(times):.3f} s" for kind, times in whole.items()), flush=True)
            if "playing" in chosen:
                missed |= told_playing(playing(live))
            if "saves" in chosen:
                missed |= told_saves(saves(live, flood), flood)
        finally:
            live.close()
            browser.close()
    return 1 if missed else 0


def told(what: str, seconds: float, bar: float) -> bool:
    """Print a time and its bar; whether it is missed."""
    print(f"{what:<52} {seconds:7.3f} s   at most {bar:g} s   {'' if seconds <= bar else 'MISSED'}", flush=True)
    return seconds > bar


def told_playing(found: dict[str, float]) -> bool:
    """Print how it played; whether too few pictures were drawn, or the song fell behind."""
    bad = found["rate"] < 24 or found["lost"] > 0.1
    song = f"the song lost {1000 * max(0.0, found['lost']):.0f} ms in {PLAYS:g} s"
    print(f"{'playing while files change':<52} {found['rate']:7.1f} pictures a second, at least 24; {song}", end="")
    print("   MISSED" if bad else "")
    return bad


def told_saves(found: dict[str, object], seconds: float) -> bool:
    """Print what the saves took; whether memory grew."""
    bad, memory = found["growth"] > 20, found["memory"]
    print(
        f"{f'50 saves a second for {seconds:g} s':<52} {found['saves']} saves, the last one shown; memory by tenths:",
        *(f"{memory[len(memory) * tenth // 10]:.0f}" for tenth in range(1, 10)), f"{memory[-1]:.0f} MB", "MISSED" * bad,
    )  # fmt: skip
    return bad


def moved(folder: Path, name: str, file: str, old: str, new):
    """For a prop, the numbers of its place; the text to change and what to write instead, else as given."""
    if name != "prop":
        return old, new
    found = re.search(r"^at = \[([\d.]+), (.*)\]$", (folder / file).read_text(), flags=re.M)
    return found[0], lambda step: f"at = [{float(found[1]) + 0.05 * (step + 1):.2f}, {found[2]}]"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
