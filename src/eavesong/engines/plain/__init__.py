"""The plain engine: float64 numpy, slow and easy to read; what the fast one is compared with."""

from eavesong.engines.plain.drawing import Drawing

__all__ = ["Drawing"]
