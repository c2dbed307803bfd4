from .choose import Choice, Chosen, choose
from .clicks import write_clicks
from .describe import describe, describe_events, describe_others, doubt_of, inside_bars, word_for
from .events import Event, Events
from .grid import BeatGrid, MusicalTime, Section
from .jams import write_jams
from .listening import Heard, Sounding, beats_for, events_for, events_text_for, hear, listen, listen_again, texts_for
from .reading import Reading, Wishes
from .signals import Signals
from .texts import (
    beats_text,
    events_text,
    read_events,
    read_grid,
    read_sections,
    sections_text,
    write_beats,
    write_events,
    write_sections,
)

__all__ = [
    "BeatGrid",
    "Choice",
    "Chosen",
    "Event",
    "Events",
    "Heard",
    "MusicalTime",
    "Reading",
    "Section",
    "Signals",
    "Sounding",
    "Wishes",
    "beats_for",
    "beats_text",
    "choose",
    "describe",
    "describe_events",
    "describe_others",
    "doubt_of",
    "events_for",
    "events_text",
    "events_text_for",
    "hear",
    "inside_bars",
    "listen",
    "listen_again",
    "read_events",
    "read_grid",
    "read_sections",
    "sections_text",
    "texts_for",
    "word_for",
    "write_beats",
    "write_clicks",
    "write_events",
    "write_jams",
    "write_sections",
]
