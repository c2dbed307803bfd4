from .findings import Report, check
from .load import Show, grid_of, load_show
from .model import BLENDS, Cue, show_schema
from .place import PlacedCue, place_cues
from .report import report_text
from .selection import Selector, parse_selector
from .timeline import Envelope, Span

__all__ = [
    "BLENDS",
    "Cue",
    "Envelope",
    "PlacedCue",
    "Report",
    "Selector",
    "Show",
    "Span",
    "check",
    "grid_of",
    "load_show",
    "parse_selector",
    "place_cues",
    "report_text",
    "show_schema",
]
