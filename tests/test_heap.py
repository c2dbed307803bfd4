"""One heap for all threads, as glibc tells it of itself (malloc_info(3))."""

import ctypes
import platform
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from eavesong import heap

THREADS = """
import ctypes, sys, threading
from eavesong.heap import one_heap
one_heap(int(sys.argv[2]))
libc, together = ctypes.CDLL(None), threading.Barrier(4)
def take():
    together.wait()
    libc.malloc(1000)
    together.wait()
threads = [threading.Thread(target=take) for _ in range(4)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
libc.fopen.restype = ctypes.c_void_p
told = ctypes.c_void_p(libc.fopen(sys.argv[1].encode(), b"w"))
libc.malloc_info(0, told)
libc.fclose(told)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="glibc alone keeps a heap for each thread")
def test_few_threads_share_one_heap(tmp_path: Path) -> None:
    heaps = []
    for threads in (heap.FEW, heap.FEW + 1):
        told = tmp_path / str(threads)
        subprocess.run([sys.executable, "-c", THREADS, str(told), str(threads)], check=True)
        heaps.append(len(re.findall(r"<heap nr=", told.read_text())))
    assert heaps[0] == 1
    assert heaps[1] > 1


def test_where_there_is_no_such_setting_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda name: SimpleNamespace())
    for system in ("linux", "darwin", "win32"):  # musl, say
        monkeypatch.setattr(sys, "platform", system)
        heap.one_heap(1)
