from .report import Retargeting, retargeting
from .reuse import Retargeted, retarget

__all__ = [
    "Retargeted",
    "Retargeting",
    "retarget",
    "retargeting",
]
