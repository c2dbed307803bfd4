from .alone import by_itself
from .run import Serving, once, watch

__all__ = [
    "Serving",
    "by_itself",
    "once",
    "watch",
]
