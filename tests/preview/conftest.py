"""Frames that are known, and a browser."""

import os
import shutil

import pytest

from lamps import LAMPS, WALL, house, known_frames, write, write_click


@pytest.fixture(scope="session")
def three_lamps(tmp_path_factory):
    """A folder with ``lamps.h5`` (8 s at 20 frames a second) and ``click.wav``; to be read only."""
    folder = tmp_path_factory.mktemp("lamps")
    write(folder / "lamps.h5", house(LAMPS + WALL), known_frames())
    write_click(folder / "click.wav", [])
    return folder


FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip


@pytest.fixture(scope="session")
def browser():
    """Chromium, driven by Playwright. Where there is none, the tests are skipped, but not in continuous integration."""
    found = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if not found and not os.environ.get("CI"):
        pytest.skip("no chromium: install Debian's package, or name one in CHROMIUM")
    assert found, "continuous integration has no chromium"
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tool:
        own = tool.chromium.launch(executable_path=found, args=FLAGS)
        yield own
        own.close()
