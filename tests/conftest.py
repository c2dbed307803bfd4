"""What tests share: repeatable examples, one folder of compiled kernels for the whole run, and a browser.

Kernels are kept where eavesong keeps them: in the folder that EAVESONG_CACHE names, where a CI keeps it between
runs, else in the user's own cache. The second run then compiles nothing.
"""

from __future__ import annotations

import gc
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

sys.path.append(str(Path(__file__).parent))  # for `support`
import together

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does: threads of small matrices only wait

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")
together.settle_kernels()

gc.disable()  # while tests are collected, nothing is garbage


def pytest_configure(config: pytest.Config) -> None:
    """Where several processes are to collect all tests, their assertions are rewritten once for all of them."""
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        together.rewrite_assertions(config, Path(__file__).parent)


def pytest_collection_finish() -> None:
    """What was collected stays to the end, so that looking for garbage need not go through it again and again."""
    gc.freeze()
    gc.set_threshold(10_000)  # as the command does
    gc.enable()


LONGEST = (
    "season/test_faults.py", "preview/test_page.py", "season/test_cluster.py", "watch/test_page.py", "cli/test_demo.py",
    "season/test_asked.py", "music/test_track.py", "cli/test_elsewhere.py", "season/test_run.py",
    "survey/test_sheet.py", "watch/test_studio.py", "watch/test_examiner.py", "within/test_stages.py",
)  # fmt: skip
"""Files of tests that take longest, begun first: else one of them would be what everybody waits for in the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, each of them as a whole."""
    ranks = {Path(__file__).parent / name: rank for rank, name in enumerate(LONGEST)}
    items.sort(key=lambda item: ranks.get(item.path, len(ranks)))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are processors: some tests wait for sounds, networks and other programs."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(scope="session", autouse=True)
def _patient() -> None:
    """No word of a player is lost because the computer that tests is busy. None of the many that are begun looks
    through all that was collected for garbage, nor has later looks go through it: each takes half a second."""
    from eavesong.playback import teller, urgency

    teller.PATIENCE = 60.0
    urgency.gc = SimpleNamespace(collect=lambda: 0, freeze=lambda: None, unfreeze=lambda: None)


def _recordings(folders: pytest.TempPathFactory) -> Any:
    from eavesong.demo.score import synthesise
    from eavesong.demo.songs import SCORES

    return together.once(folders, "recordings", lambda _: {score.title: synthesise(score) for score in SCORES})


@pytest.fixture(scope="session")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What is played of the scores of the demo, by their titles; played once for all processes of tests."""
    return _recordings(tmp_path_factory)


@pytest.fixture(scope="session")
def demo_songs(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The songs of the demo in a folder, to be read only; made once for all processes of tests."""
    from eavesong.demo import songs

    def make(folder: Path) -> Any:
        played = _recordings(tmp_path_factory)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(songs, "synthesise", lambda score: played[score.title])
            return songs.make_songs(folder)

    return together.once(tmp_path_factory, "songs", make)


FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required", "--js-flags=--no-opt",
]  # fmt: skip
"""The last: a page that is open for seconds repays nothing of what optimising its code takes."""


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
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
