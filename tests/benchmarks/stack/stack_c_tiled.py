"""The six-cue stack in C as eavesong lays it out: tiles in L1, one vectorised pass, one that writes bytes."""

from . import stack_c

name = "C, tiled in 2 passes"
available = stack_c.available


def render(places, frames, fps=40, sparkle=True):
    return stack_c.render(places, frames, fps, sparkle, extra_flags=("-DTILE=1024",))
