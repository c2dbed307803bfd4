"""The six-cue stack fused by hand in C, in one loop; compiled when first used, called through ctypes."""

import ctypes
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from .reference import power_table
from .shared import pixel_parts

name = "C, one loop"
FLAGS = ("-O3", "-march=native", "-ffast-math", "-fopenmp")


def available():
    return None if shutil.which("gcc") else "gcc not installed"


def render(places, frames, fps=40, sparkle=True, extra_flags=()):
    pixel, table = pixel_parts(places), power_table()
    columns = (pixel["p"], pixel["r20"] / np.float32(20), pixel["y"], pixel["u8"])
    out = np.empty((len(frames), len(pixel["p"]), 3), np.uint8)
    whole = ctypes.c_int64
    pointers = [column.ctypes.data_as(ctypes.c_void_p) for column in columns]
    run = (whole(len(pixel["p"])), whole(frames.start), whole(len(frames)), ctypes.c_double(fps), int(sparkle))
    _library(extra_flags).render(*pointers, *run, *(a.ctypes.data_as(ctypes.c_void_p) for a in (table, out)))
    return out


@cache
def _library(extra_flags):
    source = Path(__file__).with_name("stack_c.c")
    with tempfile.TemporaryDirectory() as folder:
        built = Path(folder) / "stack_c.so"
        # Linked without -ffast-math: with it, gcc makes the whole process round tiny numbers to zero at start-up.
        compiled = f"{built}.o"
        subprocess.run(["gcc", *FLAGS, *extra_flags, "-fPIC", "-c", source, "-o", compiled], check=True)
        subprocess.run(["gcc", "-shared", "-fopenmp", compiled, "-o", built, "-lm"], check=True)
        return ctypes.CDLL(str(built))
