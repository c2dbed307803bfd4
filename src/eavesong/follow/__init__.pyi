from .figures import Figures, follow
from .picture import follow_picture
from .report import follow_text

__all__ = [
    "Figures",
    "follow",
    "follow_picture",
    "follow_text",
]
