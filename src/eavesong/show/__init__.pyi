from .load import Show, grid_of, load_show
from .model import BLENDS, Cue, show_schema
from .selection import Selector, parse_selector

__all__ = [
    "BLENDS",
    "Cue",
    "Selector",
    "Show",
    "grid_of",
    "load_show",
    "parse_selector",
    "show_schema",
]
