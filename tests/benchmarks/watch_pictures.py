"""Make the clip of docs/watch.md: python tests/benchmarks/watch_pictures.py

The live page of the demo's show in Chromium: a slider is moved, the turn is kept, and then the file is changed.
"""

import io
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

from preview import FLAGS, ROOT
from watch import LINE, write_inputs

OUT = ROOT / "docs" / "pictures" / "watch.webp"
SIZE = {"width": 960, "height": 600}
SHOWN = 640
"""Columns of the clip."""


def main() -> None:
    """Make it."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as temporary, sync_playwright() as tool:
        folder = Path(temporary)
        write_inputs(folder)
        command = [sys.executable, "-m", "eavesong", "watch", "street.show.toml", "-l", "house.toml", "--no-browser",
                   "--at", "40.25"]  # fmt: skip
        process = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, text=True)
        browser = tool.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        tab = browser.new_page(viewport=SIZE)
        tab.goto(re.search(r"http://\S+", process.stdout.readline())[0])
        while not tab.evaluate("window.eavesong?.state().ready && eavesong.state().left === 0"):
            tab.wait_for_timeout(100)
        pictures = [photographed(tab, step) for step in story(tab, folder / "street.show.toml")]
        browser.close()
        process.send_signal(signal.SIGINT)
        process.wait(timeout=10)
    pictures[0][0].save(OUT, save_all=True, append_images=[picture for picture, _ in pictures[1:]], loop=0, quality=60,
                        duration=[lasts for _, lasts in pictures], method=4)  # fmt: skip
    print(f"{OUT}: {OUT.stat().st_size / 1e3:.0f} kB, {len(pictures)} pictures")


def story(tab, show: Path):
    """What happens, step by step: how long each is shown, in milliseconds."""
    if not tab.evaluate("document.body.classList.contains('listing')"):
        tab.click("#list")
    yield 900
    tab.click("#cues button:has-text('Waves of colour')")
    yield 700
    tab.wait_for_timeout(1600)
    slider = tab.locator("#knobs-list [data-knob='parameters.waves'] input")
    slider.focus()
    slider.evaluate("slider => slider.closest('label').scrollIntoView({ block: 'center' })")
    for _ in range(12):
        for _ in range(3):
            tab.keyboard.press("ArrowRight")
        tab.wait_for_timeout(250)
        yield 130
    yield 700
    tab.click("#keep")
    tab.wait_for_timeout(400)
    yield 900
    text = show.read_text()
    show.write_text(text.replace('"garden"', '"gardn"', 1))
    tab.wait_for_timeout(900)
    yield 1800
    show.write_text(text.replace('palette = "garden"', 'palette = "frost"').replace(LINE, "opacity = 1\n"))
    tab.wait_for_timeout(900)
    yield 1500


def photographed(tab, lasts: int):
    """A picture of the page, and how long it is shown."""
    with Image.open(io.BytesIO(tab.screenshot())) as shot:
        tall = round(SHOWN * SIZE["height"] / SIZE["width"])
        return shot.convert("RGB").resize((SHOWN, tall), Image.Resampling.LANCZOS), lasts


if __name__ == "__main__":
    main()
