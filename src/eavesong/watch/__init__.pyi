from .alone import alone
from .run import Wishes, watch

__all__ = [
    "Wishes",
    "alone",
    "watch",
]
