"""What can only be timed inside the process; prints seconds as JSON.

python inside.py frames SHOW LAYOUT SECONDS   the bytes of that part of the show, in memory, no file
python inside.py render SHOW LAYOUT OUT SECONDS   the whole render, file closed, and then the same bytes in memory
python inside.py effect FILE                  reading an effect and compiling it, or loading it from the cache
"""

import json
import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

BLOCK = 16  # frames computed together, as the renderer does at least
FRAMES_PER_SECOND = 40


def frames(show, layout, seconds):
    """Seconds for all frames: sampled and driven by as many threads as processors, each block then dropped."""
    from eavesong.render.frames import Frames
    from eavesong.render.plan import make_plan
    from eavesong.render.render import prepare

    job = prepare(show, layout)
    computed = Frames(make_plan(job.cues, job.layout, job.grid, job.signals, FRAMES_PER_SECOND))
    count = int(seconds) * FRAMES_PER_SECOND
    computed.block(0, BLOCK)  # loads what is loaded once

    def fill(first):
        return computed.block(first, min(BLOCK, count - first)).shape

    start = time.perf_counter()
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        shapes = list(pool.map(fill, range(0, count, BLOCK)))
    elapsed = time.perf_counter() - start
    return {"seconds": elapsed, "bytes": sum(rows * columns for rows, columns in shapes)}


def render(show, layout, out, seconds):
    """Seconds for `render` from reading its files to closing the frames file, once everything is imported and loaded.

    Then those for the same bytes in memory, in the same process.
    """
    from eavesong.render import render

    render(show, layout, out, stop=1.0)
    start = time.perf_counter()
    render(show, layout, out, stop=float(seconds))
    elapsed = time.perf_counter() - start
    return {"seconds": elapsed, "memory": frames(show, layout, seconds)["seconds"]}


def effect(file):
    """Seconds from an effect's text to a kernel that can be called, once numba's compiler has started.

    The start, which every process pays once whatever it compiles or loads, is timed by a plain effect before.
    """
    from eavesong.kernels import sample  # noqa: F401

    start = time.perf_counter()
    _kernel_of(Path(__file__).parent / "effects" / "plain.toml")
    started = time.perf_counter()
    _kernel_of(Path(file))
    return {"start": started - start, "seconds": time.perf_counter() - started}


def _kernel_of(file):
    from eavesong.kernels.store import compiled
    from eavesong.language import load_effect
    from eavesong.language.emit import emit

    loaded = load_effect(file.name, file.parent)
    return compiled(emit(loaded.program, loaded.title)).address


if __name__ == "__main__":
    print(json.dumps({"frames": frames, "render": render, "effect": effect}[sys.argv[1]](*sys.argv[2:])))
