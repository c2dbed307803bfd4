"""Music: a song's sound becomes its beat grid and the signals that effects follow.

Importing this room costs numpy only; what reads and analyses sound is imported when a song is heard for the
first time.
"""

from eavesong.music.choose import Choice, Chosen, choose
from eavesong.music.clicks import write_clicks
from eavesong.music.describe import describe, describe_events, describe_others, word_for
from eavesong.music.events import Event, Events
from eavesong.music.grid import BeatGrid, MusicalTime, Section
from eavesong.music.jams import write_jams
from eavesong.music.listening import (
    Heard,
    Sounding,
    beats_for,
    events_for,
    events_text_for,
    hear,
    listen,
    listen_again,
    texts_for,
)
from eavesong.music.reading import Reading, Wishes
from eavesong.music.signals import Signals
from eavesong.music.texts import (
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
    "events_for",
    "events_text",
    "events_text_for",
    "hear",
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
