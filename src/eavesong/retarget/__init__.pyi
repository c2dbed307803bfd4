from .report import Retargeting, retargeting
from .retarget import Retargeted, retarget

__all__ = [
    "Retargeted",
    "Retargeting",
    "retarget",
    "retargeting",
]
