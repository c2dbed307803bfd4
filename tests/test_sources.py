"""Fingerprints of code: what counts does, what makes no difference does not, and nobody keeps a list."""

import contextlib
import os
import shutil
import subprocess
import sys
from functools import partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest

import eavesong
from eavesong import sources
from eavesong.sources import fingerprint, stands_on
from watched import write_all

PACKAGE = Path(eavesong.__file__).parent
ASK = "import sys; from eavesong.sources import fingerprint; print(*map(fingerprint, sys.argv[1:]))"
KEYS = {
    "frames": "eavesong.render.render",
    "songs": "eavesong.music.listening",
    "paint": "eavesong.preview.paint",
    "kernels": "eavesong.kernels.blend_fast",
    "pages": "eavesong.season.look",
}


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """The package in a folder of the test's own, and the fingerprints there as a function."""
    folder = tmp_path_factory.mktemp("sources")
    shutil.copytree(PACKAGE, folder / "eavesong", ignore=shutil.ignore_patterns("__pycache__"))

    def ask():
        ran = subprocess.run(
            [sys.executable, "-c", ASK, *KEYS.values()], capture_output=True, text=True, check=True, cwd=folder,
            env={"PATH": "", "PYTHONPATH": str(folder), "EAVESONG_CACHE": str(folder / "cache")},
        )  # fmt: skip
        return dict(zip(KEYS, ran.stdout.split(), strict=True))

    return folder / "eavesong", ask


@pytest.fixture(scope="module")
def untouched(copy):
    """The fingerprints of the copy as it is."""
    return copy[1]()


@pytest.fixture
def changed(copy, untouched):
    """What becomes another when a module of the copy is changed, as a function."""
    return partial(_changed, copy, untouched)


def _changed(copy, before, name, old, new, same_time=False):
    """What of KEYS becomes another when ``old`` becomes ``new`` in the module; it is put back afterwards."""
    package, ask = copy
    path = package / name
    text, stat = path.read_text(), path.stat()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    if same_time:
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    after = ask()
    path.write_text(text)
    return {key for key in KEYS if before[key] != after[key]}


def test_a_comment_and_a_docstring_make_no_difference(changed):
    assert changed("music/grid.py", "from __future__", "# a word\nfrom __future__") == set()
    assert changed("light.py", '"""The law of light:', '"""A law of light:') == set()


def test_telling_of_a_song_is_no_part_of_its_frames(changed):
    assert changed("music/describe.py", "WIDTH", "WIDER") == set()


def test_a_constant_of_listening_makes_songs_and_frames_anew(changed):
    assert {"songs", "frames"} <= changed("music/signals.py", "TOP = 98", "TOP = 97")


def test_a_change_is_noticed_though_size_and_time_are_the_same(changed):
    """As where a package is unpacked with the times that its archive tells."""
    assert {"songs", "frames"} <= changed("music/signals.py", "TOP = 98", "TOP = 96", same_time=True)


def test_the_code_of_a_page_makes_pages_anew(changed):
    """It is no module: it lies in a folder that a module names."""
    assert changed("preview/page_files/glare.js", "export", "/* a word */ export") == {"pages"}


def test_another_way_of_reading_sources_reads_them_all_again(copy):
    """What was kept of them may be as the old way had it."""
    package, ask = copy
    ask()
    kept = {*(package.parent / "cache").glob("sources-*.json")}
    text = (package / "sources.py").read_text()
    (package / "sources.py").write_text(text + "\n# another way\n")
    ask()
    (package / "sources.py").write_text(text)
    assert len({*(package.parent / "cache").glob("sources-*.json")} - kept) == 1


def test_a_brush_makes_compiled_paint_anew(changed):
    text = (PACKAGE / "preview" / "brush.py").read_text()
    first = next(line for line in text.splitlines() if line.startswith("def "))
    assert changed("preview/brush.py", first, f"EXTRA = 1\n\n\n{first}") == {"paint", "pages"}


def test_a_kernel_makes_what_stands_on_it_anew(changed):
    assert "kernels" in changed("kernels/exact.py", "PALETTE_SIZE = 256", "PALETTE_SIZE = 255")


def test_the_model_of_hearing_counts_as_code(copy):
    package, ask = copy
    model = package / "music" / "model.npz"
    before, data = ask(), model.read_bytes()
    model.write_bytes(data + b"\0")
    after = ask()
    model.write_bytes(data)
    assert before["songs"] != after["songs"]


def test_a_module_stands_on_what_it_imports_late_and_through_façades():
    below = stands_on("eavesong.render.render")
    assert {"eavesong.scene.values", "eavesong.within.stages", "eavesong.frames.encode"} <= set(below)
    assert not any(name.startswith(("eavesong.preview", "eavesong.cli", "eavesong.playback")) for name in below)


RENDERED = """
import sys
from eavesong.render.render import Order, render
from eavesong.sources import stands_on
render(Order.of("two.show.toml", "house.toml", limit=("house:9W",), soften=True), "two.h5")
ours = {name: module for name, module in sys.modules.items() if name.startswith("eavesong.")}
homes = {name for name, module in ours.items() if not hasattr(module, "__path__")}
print(*homes - {*stands_on("eavesong.render.render"), *stands_on("eavesong.engines.numba")})
"""


def test_whatever_a_render_imports_counts(tmp_path):
    """Rooms themselves hold nothing but where their names have their home."""
    write_all(tmp_path)
    command = [sys.executable, "-c", RENDERED]
    assert subprocess.run(command, capture_output=True, text=True, check=True, cwd=tmp_path).stdout.split() == []


def test_versions_are_those_that_python_tells():
    told = {}
    for name in sources.COMPUTING:
        with contextlib.suppress(PackageNotFoundError):
            told[name] = version(name)
    assert dict(each.split() for each in sources._versions()) == told
    assert "numpy" in told


def test_a_package_that_was_installed_in_another_way_counts_too(monkeypatch):
    monkeypatch.setattr(sources, "_installed", lambda folder: {})
    sources._versions.cache_clear()
    assert f"numpy {version('numpy')}" in sources._versions()
    sources._versions.cache_clear()


def test_the_processor_counts_where_machine_code_is_kept():
    assert fingerprint("eavesong.light") != fingerprint("eavesong.light", machine=True)


def test_no_other_module_is_taken():
    with pytest.raises(ValueError, match="no module of eavesong"):
        fingerprint("eavesong.nothing")
