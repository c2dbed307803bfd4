from .film import write_film, write_loop
from .heard import heard_picture
from .night import Painter, filmstrip, save_picture, still
from .page import write_page
from .score import score_picture
from .view import View, parse_view

__all__ = [
    "Painter",
    "View",
    "filmstrip",
    "heard_picture",
    "parse_view",
    "save_picture",
    "score_picture",
    "still",
    "write_film",
    "write_loop",
    "write_page",
]
