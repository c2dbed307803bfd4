from .draft import Wishes, draft, draft_song
from .form import Form, form_of

__all__ = [
    "Form",
    "Wishes",
    "draft",
    "draft_song",
    "form_of",
]
