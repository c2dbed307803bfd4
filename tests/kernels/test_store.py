"""Compiled kernels are kept between runs, and made again when what is kept is damaged."""

import gc
import os
import subprocess
import sys
import threading
import time
import weakref
from pathlib import Path

import numpy as np
import pytest

from eavesong.kernels import calls, checksum, ladder, store
from eavesong.kernels.code import load
from eavesong.kernels.store import Kernel

SOURCE = '''"""Gives the level {level}."""

from numpy import float32 as f

from eavesong.kernels.words import store, tile


def kernel(out):
    for n in tile():
        store(out, n, f({level}))
'''


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder for kernels."""
    monkeypatch.setattr(store, "kernel_folder", lambda module="": tmp_path)
    return tmp_path


def level_of(kernel):
    from eavesong.kernels.exact import TILE
    from support import in_c

    out = np.zeros(TILE, np.float32)
    in_c(kernel)(out)
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


def test_of_two_who_want_the_same_one_compiles(folder):
    begun = []

    def make():
        begun.append(1)
        time.sleep(0.1)
        return store.object_of_sources(SOURCE.format(level=0.5))

    def want():
        found.append(level_of(store._code("key", "", make)))

    found, both = [], [threading.Thread(target=want) for _ in range(2)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join()
    assert (found, begun) == ([0.5, 0.5], [1])
    assert [path.suffix for path in folder.iterdir()] == [".code"]  # no lock is left


HOLDS = """
import sys
from pathlib import Path
from eavesong.kernels.store import one_at_a_time
with one_at_a_time(Path(sys.argv[1])):
    print("compiles", flush=True)
    sys.stdin.read()
"""


def test_whoever_stands_still_or_is_killed_while_it_compiles_keeps_nobody_waiting(folder, monkeypatch):
    source = SOURCE.format(level=0.25)
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    holder = subprocess.Popen([sys.executable, "-c", HOLDS, store.place_of(source)], text=True, **pipes)
    assert holder.stdout.readline() == "compiles\n"
    with monkeypatch.context() as patch:
        patch.setattr(store, "PATIENCE", 0.0)
        assert level_of(made(0.25)) == 0.25
    for path in kept_files(folder):
        path.unlink()
    holder.kill()
    holder.communicate()
    monkeypatch.setattr(store, "PATIENCE", float("inf"))
    assert level_of(made(0.25)) == 0.25


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


def test_what_a_command_has_kept_is_what_its_workers_run(monkeypatch):
    """They are told to keep to one thread, which makes no other code; what tells numba how to compile does."""
    place = store.place_of("key")
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    assert store.place_of("key") == place
    monkeypatch.setenv("NUMBA_OPT", "0")
    assert store.place_of("key") != place


DRAWN = """
import numpy as np
from support import frames_of, points, scattered
print(int(frames_of("x", points(scattered(20))).block(0, 1).sum()))
"""

KEPT_WITHIN = """
import films, numpy as np
from eavesong.within.stages import within
house = films.screen()
stages = within(house, 40.0, ["house:10W"], True)
frames = films.film(np.random.default_rng(1), "strobe", house.pixel_count, 120)
parts = stages.pass_through([stages.measured(frames)], 0, 120, 40)
print(int(np.concatenate([stages.finished(part) for part in parts]).sum()))
assert stages.softener.softened and stages.limiter.dimmed
"""

MEASURED = """
import films, numpy as np
from eavesong.limits import Assumptions
from eavesong.limits.circuits import circuits_of
from eavesong.limits.meter import Ammeter, Watch, measure
from eavesong.limits.power import Books
from eavesong.within.eyes import eyes_of
from eavesong.within.rig import rig_of
house, assumed = films.screen(), Assumptions()
rig, circuits = rig_of(house), circuits_of(house, assumed)
ammeter = Ammeter(rig, Books(house, circuits, rig, assumed).wiring(), 120)
watch = Watch(eyes_of(house, rig, 40.0))
frames = films.film(np.random.default_rng(1), "strobe", house.pixel_count, 120)
measure([frames], (ammeter, watch), lambda seen: None)
flows = [circuit.ladder.most_flows(rig.full[circuit.pixels]).sum() for circuit in circuits]
print(round(float(ammeter.amperes.sum.sum()) + watch.eyes.most + sum(flows)))
"""


def in_a_new_process(code, **more):
    """What it prints."""
    tests = Path(__file__).parents[1]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(tests), *sys.path])} | more
    command = [sys.executable, "-c", code]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout


def test_the_damaged_sampling_loop_is_made_again(tmp_path):
    """A process finds the loop's machine code cut short."""
    from support import frames_of, points, scattered

    calls.sample.ready()
    whole = store.place_of(calls.sample.key, calls.sample.find.__module__)
    cut = tmp_path / "kernels" / whole.relative_to(store.all_kernels())
    cut.parent.mkdir(parents=True)
    cut.write_bytes(whole.read_bytes()[:1000])
    drawn = int(frames_of("x", points(scattered(20))).block(0, 1).sum())
    assert drawn > 0
    assert int(in_a_new_process(DRAWN, EAVESONG_CACHE=str(tmp_path))) == drawn
    assert load(cut)


def test_what_is_kept_is_run_without_numba():
    """Drawing, keeping within limits, measuring: the first process compiles and keeps what nobody has kept yet, the
    second has no numba to import."""
    work = DRAWN + KEPT_WITHIN + MEASURED
    hidden = "import sys; sys.modules['numba'] = None\n"
    told = [in_a_new_process(head + work).split() for head in ("", hidden)]
    assert told[0] == told[1]
    assert len(told[0]) == 3
    assert all(int(number) > 0 for number in told[0])


@pytest.mark.parametrize("there", [True, False])
def test_llvm_is_loaded_meanwhile_where_it_is_there(there):
    """A thread of its own loads it; it says nothing where there is none."""
    hidden = "" if there else "sys.modules['llvmlite'] = None\n"
    code = (
        f"import sys, threading\n{hidden}from eavesong.kernels.code import load_meanwhile\n"
        "load_meanwhile()\n"
        "[thread.join() for thread in threading.enumerate() if thread is not threading.main_thread()]\n"
        "print('llvmlite.binding' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == (str(there), "")


def test_code_stays_for_as_long_as_it_runs():
    """``functools.cached_property`` holds no lock from Python 3.12 on, so two threads may find the code of a kernel at
    once, and what the second finds takes the place of what the first one is running."""

    class Home:
        """What owns the code's memory."""

    def function(*_arguments):
        del kernel.__dict__["_called"]
        gc.collect()
        seen.append(home() is not None)
        return 0

    seen, kernel, owner = [], Kernel(lambda: None, (), frozenset()), Home()
    home = weakref.ref(owner)
    kernel.__dict__["_called"] = (function, owner)
    del owner
    kernel()
    assert seen == [True]


def test_arrays_that_a_kernel_does_not_take_are_refused():
    kernel = checksum._sums
    begins, sizes, found = np.zeros(1, np.int64), np.full(1, 6), np.zeros(1, np.uint32)
    for data in (np.zeros(8, np.uint16), np.zeros((2, 4), np.uint8), np.zeros(16, np.uint8)[::2]):
        with pytest.raises(TypeError, match="takes uint8 of 1 axes in one piece"):
            kernel(data, begins, sizes, found)
    kernel(np.array([0, 1, 0, 2, 0, 3], np.uint8), begins, sizes, found)
    assert found.tolist() == [(1 + 3 + 6) << 16 | 6]


KERNELS = [
    kernel for module in (calls, checksum, ladder) for kernel in vars(module).values() if isinstance(kernel, Kernel)
]


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda k: k.name)
def test_kernels_ask_nothing_of_numba(kernel):
    """What does is not kept, as it would end the process where numba was not imported."""
    kernel.ready()
    assert load(store.place_of(kernel.key, kernel.find.__module__))


def test_what_frames_stand_on_includes_the_kernels_that_draw_them():
    from eavesong.sources import stands_on

    assert {"eavesong.kernels.sample", "eavesong.kernels.drive"} <= set(stands_on("eavesong.engines.numba.drawing"))
