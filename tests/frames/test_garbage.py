"""Python's garbage collector closes HDF5 objects wherever it runs, and waits for h5py's global lock to do so."""

import gc
import subprocess
import sys
from pathlib import Path

import pytest

from eavesong.frames.garbage import none_collected
from eavesong.frames.unfinished import Unfinished

WRITES_WITH_GARBAGE = """
import gc, sys, threading, time
from pathlib import Path
import h5py
sys.path.append(sys.argv[1])
from eavesong.frames import unfinished
from playback.helpers import house, moving, write_frames

class Littered:
    "A file whose thread comes to collect garbage, as any may that allocates, while HDF5 waits for it."
    def __init__(self, file):
        self.file = file
    def write(self, data):
        if threading.current_thread() is not threading.main_thread() and gc.isenabled():
            time.sleep(0.2)
            cycle = [spare.pop()]
            cycle.append(cycle)
            del cycle
            gc.collect()
        return self.file.write(data)
    def __getattr__(self, name):
        return getattr(self.file, name)

made = unfinished.Unfinished.__init__
def littered(self, path):
    made(self, path)
    self._file = Littered(self._file)
unfinished.Unfinished.__init__ = littered

spare = [h5py.File(f"{number}.h5", "w", driver="core", backing_store=False) for number in range(9)]
described = house(universes=4)
write_frames(Path("x.h5"), described, moving(described, 64))
print("written")
"""


def test_nothing_is_collected_while_files_are_written_and_everything_afterwards(tmp_path: Path) -> None:
    (tmp_path / "a").touch()
    (tmp_path / "b").touch()
    assert gc.isenabled()
    first, second = Unfinished(tmp_path / "a"), Unfinished(tmp_path / "b")
    first.close()
    first.close()
    assert not gc.isenabled()
    second.close()
    assert gc.isenabled()


def test_who_collects_nothing_anyway_does_not_afterwards_either(tmp_path: Path) -> None:
    (tmp_path / "a").touch()
    gc.disable()
    try:
        Unfinished(tmp_path / "a").close()
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_within_a_moment_of_its_own_nothing_is_collected_either(tmp_path: Path) -> None:
    (tmp_path / "a").touch()
    with none_collected():
        Unfinished(tmp_path / "a").close()
        assert not gc.isenabled()
    assert gc.isenabled()


def test_a_file_that_cannot_be_opened_puts_nothing_off(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        Unfinished(tmp_path / "none")
    assert gc.isenabled()


def test_frames_are_written_whatever_garbage_there_is(tmp_path: Path) -> None:
    tests = Path(__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-c", WRITES_WITH_GARBAGE, str(tests)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.stdout, done.returncode) == ("written\n", 0), done.stderr
