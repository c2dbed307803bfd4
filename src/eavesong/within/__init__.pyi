from .limiter import parse_limit
from .rig import Rig, rig_of
from .stages import Within, within

__all__ = [
    "Rig",
    "Within",
    "parse_limit",
    "rig_of",
    "within",
]
