"""The six-cue stack: the same small light show computed by several array tools, to compare their speed.

One module per contender, `stack_<name>.py`, each with

- `name`: what the table calls it;
- `available()`: None, or why it cannot run here ("not installed");
- `render(places, frames, fps=40, sparkle=True)`: `places` holds float32 arrays of one length, `x`, `y` and `u` in
  0..1 (and `seed`, for those that want it), `frames` is a range of frame numbers without gaps; returns uint8
  (frames, pixels, 3).

The stack itself is written out once, plainly and in float64, in `reference.py`; all have to agree with it.
"""

CONTENDERS = ("eavesong", "c", "c_tiled", "taichi", "jax", "numexpr", "numpy_reuse", "numpy", "numpy_plain")
