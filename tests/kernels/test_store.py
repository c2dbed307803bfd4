"""Compiled kernels are kept between runs, and made again when what is kept is damaged."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from eavesong.kernels import calls, checksum, store
from eavesong.kernels.code import load

SOURCE = '''"""Gives the level {level}."""

from numba import cfunc, types
from numpy import float32 as f

from eavesong.kernels import fast
from eavesong.kernels.lanes import FLOATS, TILE, store


@cfunc(types.void(FLOATS), fastmath=fast.MATHS, error_model="numpy")
def kernel(out):
    for n in range(TILE):
        store(out, n, f({level}))
'''


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder for kernels."""
    monkeypatch.setattr(store, "kernel_folder", lambda module="": tmp_path)
    return tmp_path


def level_of(kernel):
    from eavesong.kernels.lanes import TILE
    from support import floats, in_c

    out = np.zeros(TILE, np.float32)
    in_c(kernel, 1)(floats(out))
    assert (out == out[0]).all()
    return float(out[0])


def made(level):
    store.compiled.cache_clear()
    return store.compiled(SOURCE.format(level=level))


def kept_files(folder):
    return sorted(folder.rglob("*.code"))


def test_equal_sources_are_compiled_once(folder):
    made(0.25)
    (code,) = kept_files(folder)
    before = code.stat().st_mtime_ns
    assert level_of(made(0.25)) == 0.25
    assert code.stat().st_mtime_ns == before


@pytest.mark.parametrize("damage", ["cut", "emptied", "overwritten", "one bit"])
def test_damaged_code_is_made_again(folder, damage):
    made(0.75)
    (path,) = kept_files(folder)
    data = path.read_bytes()
    flipped = data[:-1] + bytes([data[-1] ^ 1])
    path.write_bytes(
        {"cut": data[: len(data) // 2], "emptied": b"", "overwritten": b"\xff\x00\xfe" * 9, "one bit": flipped}[damage]
    )
    assert level_of(made(0.75)) == 0.75
    assert load(path) is not None
    assert level_of(made(0.75)) == 0.75


def test_a_source_that_cannot_be_compiled_stays_an_error(folder):
    store.compiled.cache_clear()
    with pytest.raises(NameError, match="undefined_name"):
        store.compiled("kernel = undefined_name\n")


def test_kernels_of_changed_sources_are_kept_elsewhere():
    """The folder is named by the fingerprint of all code that kernels stand on: what it holds is never out of date."""
    from eavesong.sources import fingerprint, stands_on

    folder = store.kernel_folder("eavesong.preview.paint")
    assert folder.name == fingerprint("eavesong.preview.paint", machine=True)[:16]
    assert "eavesong.preview.brush" in stands_on("eavesong.preview.paint")


DRAWN = """
import numpy as np
from support import frames_of, points, scattered
print(int(frames_of("x", points(scattered(20))).block(0, 1).sum()))
"""

IN_A_NEW_PROCESS = (
    DRAWN
    + """
from eavesong.kernels.store import all_kernels
for path in all_kernels().rglob("*.code"):
    path.write_bytes(path.read_bytes()[:1000])
"""
)


def test_the_damaged_sampling_loop_is_made_again(tmp_path):
    """The second process finds the loop's machine code cut short by the first."""
    tests = Path(__file__).parents[1]
    environment = os.environ | {"EAVESONG_CACHE": str(tmp_path), "PYTHONPATH": os.pathsep.join([str(tests), *sys.path])}
    runs = [
        subprocess.run(
            [sys.executable, "-c", IN_A_NEW_PROCESS], env=environment, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert int(runs[0]) > 0


def test_what_is_kept_is_run_without_numba(tmp_path):
    """The first process compiles and keeps, the second has no numba to import."""
    tests = Path(__file__).parents[1]
    environment = os.environ | {"EAVESONG_CACHE": str(tmp_path), "PYTHONPATH": os.pathsep.join([str(tests), *sys.path])}
    hidden = "import sys; sys.modules['numba'] = None\n"
    for head in ("", hidden):
        ran = subprocess.run(
            [sys.executable, "-c", head + DRAWN], env=environment, capture_output=True, text=True, check=True
        )  # fmt: skip
        assert int(ran.stdout) > 0


def test_arrays_that_a_kernel_does_not_take_are_refused():
    kernel = checksum._sums
    found = np.zeros(2, np.uint64)
    for words in (np.zeros(4, np.uint8), np.zeros((2, 2), np.uint16), np.zeros(8, np.uint16)[::2]):
        with pytest.raises(TypeError, match="takes uint16 of 1 axes in one piece"):
            kernel(words, found)
    kernel(np.array([1, 2, 3], np.uint16), found)
    assert list(found) == [6, 1 + 3 + 6]


@pytest.mark.parametrize(
    "kernel", [calls.sample, calls.drive_currents, calls.scale, checksum._sums], ids=lambda k: k.name
)
def test_kernels_ask_nothing_of_numba(kernel):
    """What does could not be kept, as it ends the process where numba was not imported."""
    assert kernel.compiled().alone


def test_what_frames_stand_on_includes_the_kernels_that_draw_them():
    from eavesong.sources import stands_on

    assert {"eavesong.kernels.sample", "eavesong.kernels.drive"} <= set(stands_on("eavesong.engines.numba.drawing"))
