from .draft import Taste, draft, draft_song
from .form import Form, form_of
from .kept import Kept, kept_cues

__all__ = [
    "Form",
    "Kept",
    "Taste",
    "draft",
    "draft_song",
    "form_of",
    "kept_cues",
]
