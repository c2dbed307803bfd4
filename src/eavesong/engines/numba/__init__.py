"""The fast engine: each cue's effect compiled to machine code, run over tiles that stay in the nearest cache."""

from eavesong.engines.numba.drawing import Drawing

__all__ = ["Drawing"]
