"""The song of a pack as its show hears it, with the texts that were written for that very sound.

Whoever packs a show with the song as it was, since another master has taken its place, has the texts beside the new
one: they say which sound they are for, and go along where it is this.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import BeatsError
from eavesong.files import read_text
from eavesong.music.made_for import PARTS, made_for
from eavesong.show.load import hear_song

if TYPE_CHECKING:
    from eavesong.music import Events
    from eavesong.music.listening import Timed
    from eavesong.show import Show


@dataclass(frozen=True, eq=False)
class Packable:
    """A song, heard for a pack."""

    path: Path
    timed: Timed
    events: Events
    written: bool
    """Whether a text tells its events."""
    left: tuple[Path, ...]
    """Texts of the show's own song that are for another sound, or do not say for which, and so do not go along."""


def heard_for(show: Show, song: str | Path | None = None) -> Packable:
    """The song of ``show``, or another ``song``, with its beats, sections and events. Raises as `hear_song`."""
    from eavesong.music import events_for, events_text_for, read_events
    from eavesong.music.listening import timed

    own, left = _own_texts(show, song) if song is not None else ({}, ())
    if song is not None and own:
        heard_in, heard = Path(song), timed(song, own.get("beats"), own.get("sections"))
    else:
        heard_in, heard = hear_song(show, song)
    events_for(heard_in, heard.grid)  # what comes from the cache is rounded a little: so it is asked for twice
    events, written = events_for(heard_in, heard.grid), events_text_for(heard_in) is not None
    if "events" in own:
        events, written = events.given_way(read_events(own["events"])), True
    return Packable(heard_in, heard, events, written, left)


def _own_texts(show: Show, song: str | Path) -> tuple[dict[str, Path], tuple[Path, ...]]:
    """Of the texts of the show's own song, those that are for this ``song``, where it has none itself; and the rest."""
    from eavesong.music import events_text_for, texts_for
    from eavesong.music.sound import sound_hash

    if show.song is None:
        return {}, ()
    digest = sound_hash(song)
    theirs = (*texts_for(show.song, show.beats, show.sections), events_text_for(show.song))
    beside = (*texts_for(song), events_text_for(song))
    lacking = [(part, Path(text)) for part, text, own in zip(PARTS, theirs, beside, strict=True) if text and not own]
    taken = {part: text for part, text in lacking if made_for(read_text(text, BeatsError)) == digest}
    return taken, tuple(text for part, text in lacking if part not in taken)
