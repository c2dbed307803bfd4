"""Music: a song's sound becomes its beat grid and the signals that effects follow.

Importing this room costs numpy only; what reads and analyses sound is imported when a song is heard for the
first time.
"""

from eavesong.music.describe import describe
from eavesong.music.grid import BeatGrid, MusicalTime, Section
from eavesong.music.listening import Heard, Sounding, beats_for, hear, listen, listen_again, texts_for
from eavesong.music.reading import Reading, Wishes
from eavesong.music.signals import Signals
from eavesong.music.texts import beats_text, read_grid, read_sections, sections_text, write_beats, write_sections

__all__ = [
    "BeatGrid",
    "Heard",
    "MusicalTime",
    "Reading",
    "Section",
    "Signals",
    "Sounding",
    "Wishes",
    "beats_for",
    "beats_text",
    "describe",
    "hear",
    "listen",
    "listen_again",
    "read_grid",
    "read_sections",
    "sections_text",
    "texts_for",
    "write_beats",
    "write_sections",
]
