"""What can only be timed inside the process; prints seconds as JSON.

python inside.py frames SHOW LAYOUT SECONDS   the bytes of that part of the show, kept in memory
python inside.py render SHOW LAYOUT OUT SECONDS stack|wired   the whole render, and then the same bytes in memory
python inside.py effect FILE                  reading an effect and compiling it, or loading it from the cache
"""

import json
import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from process import have_at_hand

BLOCK = 16  # frames computed together, as the renderer does at least
FRAMES_PER_SECOND = 40


def frames(show, layout, seconds):
    """Seconds for all frames, kept in memory: sampled and driven by as many threads as processors."""
    from eavesong.layout import load_layout

    return {"seconds": _in_memory(show, load_layout(layout), seconds)}


def _in_memory(show, layout, seconds):
    import numpy as np

    from eavesong.engines import draw
    from eavesong.scene import Order, scene_of
    from eavesong.show import load_show

    scene = scene_of(load_show(show), layout, Order.of(show, "", frame_rate=FRAMES_PER_SECOND))
    computed = draw(scene)
    count = int(seconds) * FRAMES_PER_SECOND
    computed.block(0, BLOCK)  # loads what is loaded once
    start = time.perf_counter()
    out = np.zeros((count, scene.layout.patch.channel_count), np.uint8)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda first: computed.fill(out[first : first + BLOCK], first), range(0, count, BLOCK)))
    return time.perf_counter() - start


def render(show, layout, out, seconds, wired):
    """Seconds for the whole render, from reading its files to closing the frames file, once everything is imported.

    Then those for the same bytes kept in memory, in the same process. Unless ``wired``, u is random and the power is
    2.2, as in the six-cue stack.
    """
    from eavesong.layout import load_layout
    from eavesong.render import render_scene
    from eavesong.scene import Order, scene_of
    from eavesong.show import load_show

    def once(stop: float) -> None:
        render_scene(scene_of(load_show(show), read(layout), Order.of(show, layout, stop=stop)), out)

    read = load_layout if wired == "wired" else lambda path: _of_the_stack(load_layout(path))
    once(1.0)
    size = read(layout).patch.channel_count * int(seconds) * FRAMES_PER_SECOND
    have_at_hand(Path(out).parent, size)
    start = time.perf_counter()
    once(float(seconds))
    elapsed = time.perf_counter() - start
    have_at_hand(Path(out).parent, size)
    return {"seconds": elapsed, "memory": _in_memory(show, read(layout), seconds)}


def _of_the_stack(layout):
    from dataclasses import replace

    import numpy as np

    u = np.random.default_rng(0).random(layout.pixel_count, dtype=np.float32)
    gamma = np.full_like(layout.patch.gamma, 2.2)
    return replace(layout, pixels=replace(layout.pixels, u=u), patch=replace(layout.patch, gamma=gamma))


def effect(file):
    """Seconds from an effect's text to a kernel that can be called, once what compiles and loads has started.

    The start, which every process pays once whatever it compiles or loads, is timed by a plain effect before: importing
    LLVM, or numba where that is still asked for, and a first kernel. Reading effects has been imported by then.
    """
    from eavesong.language import load_effect

    plain = Path(__file__).parent / "effects" / "plain.toml"
    load_effect(plain.name, plain.parent)
    start = time.perf_counter()
    _kernel_of(plain)
    started = time.perf_counter()
    _kernel_of(Path(file))
    elapsed = time.perf_counter() - started
    return {"start": started - start, "seconds": elapsed, "numba": "numba" in sys.modules}


def _kernel_of(file):
    from eavesong.kernels.store import compiled
    from eavesong.language import load_effect
    from eavesong.language.emit import emit

    loaded = load_effect(file.name, file.parent)
    return compiled(emit(loaded.program, loaded.title)).address


if __name__ == "__main__":
    print(json.dumps({"frames": frames, "render": render, "effect": effect}[sys.argv[1]](*sys.argv[2:])))
