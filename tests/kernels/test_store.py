"""Compiled kernels are kept between runs, and made again when what is kept is damaged."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from eavesong.kernels import store

SOURCE = '''"""Gives the level {level}."""

from numba import cfunc, types
from numpy import float32 as f

from eavesong.kernels import fast
from eavesong.kernels.lanes import FLOATS, TILE, store


@cfunc(types.void(FLOATS), cache=True, fastmath=fast.MATHS, error_model="numpy")
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
    from support import floats

    out = np.zeros(TILE, np.float32)
    kernel.ctypes(floats(out))
    assert (out == out[0]).all()
    return float(out[0])


def made(level):
    store.compiled.cache_clear()
    return store.compiled(SOURCE.format(level=level))


def kept_files(folder, suffix):
    return sorted(folder.rglob(f"*{suffix}"))


def test_what_is_compiled_is_a_readable_file_and_machine_code_beside_it(folder):
    assert level_of(made(0.5)) == 0.5
    (text,) = kept_files(folder, ".py")
    assert text.read_text() == SOURCE.format(level=0.5)
    assert len(kept_files(folder, ".nbi")) == len(kept_files(folder, ".nbc")) == 1


def test_equal_sources_are_compiled_once(folder):
    made(0.25)
    (code,) = kept_files(folder, ".nbc")
    before = code.stat().st_mtime_ns
    assert level_of(made(0.25)) == 0.25
    assert code.stat().st_mtime_ns == before


@pytest.mark.parametrize("suffix", [".nbi", ".nbc", ".py"])
@pytest.mark.parametrize("damage", ["cut", "emptied", "overwritten"])
def test_damaged_files_are_made_again(folder, suffix, damage):
    made(0.75)
    (path,) = kept_files(folder, suffix)
    data = path.read_bytes()
    path.write_bytes({"cut": data[: len(data) // 2], "emptied": b"", "overwritten": b"\xff\x00\xfe" * 9}[damage])
    assert level_of(made(0.75)) == 0.75
    if suffix == ".py":
        assert path.read_text() == SOURCE.format(level=0.75)
    else:
        assert len(path.read_bytes()) > len(data) // 2
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


IN_A_NEW_PROCESS = """
import numpy as np
from support import frames_of, points, scattered
from eavesong.kernels.store import all_kernels
print(int(frames_of("x", points(scattered(20))).block(0, 1).sum()))
for path in all_kernels().rglob("*_sample*.nbc"):
    path.write_bytes(path.read_bytes()[:1000])
"""


def test_the_damaged_sampling_loop_is_made_again(tmp_path):
    """The second process finds the loop's machine code cut short by the first."""
    tests = Path(__file__).parents[1]
    environment = os.environ | {"EAVESONG_CACHE": str(tmp_path), "PYTHONPATH": str(tests)}
    runs = [
        subprocess.run(
            [sys.executable, "-c", IN_A_NEW_PROCESS], env=environment, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert int(runs[0]) > 0
