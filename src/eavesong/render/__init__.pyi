from .render import Rendered, render
from .reuse import Retargeted, retarget

__all__ = [
    "Rendered",
    "Retargeted",
    "render",
    "retarget",
]
