"""Which sound a text was made for: a line of its own says it, and whoever reads the text beside another sound is told.

Beats, sections and events are times in one file of a song. Where another master or a copy that begins earlier takes the
place of that file, under the same name, the texts beside it are wrong by as much. A text that eavesong writes therefore
begins with a comment that holds the SHA-256 of the sound; texts without one are believed as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import BeatsError, Problem
from eavesong.files import content_hash, read_text
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.music.grid import BeatGrid

WORDS = "for the sound with the SHA-256"
"""What stands before the hash, behind the ``#`` of a comment."""
PARTS = ("beats", "sections", "events")
LATE = 0.5
"""Seconds after the end of the sound up to which a beat may lie: it counts the silence that another encoder cut off."""

_LINE = re.compile(rf"^\s*#\s*{WORDS}\s+([0-9a-f]{{64}})\s*$", re.MULTILINE)


def made_for_line(audio_hash: str) -> str:
    """The comment that says which sound a text is for, by its SHA-256 in hex; empty for an empty one."""
    return f"# {WORDS} {audio_hash}\n" if audio_hash else ""


def made_for(text: str) -> str:
    """The SHA-256, in hex, of the sound that a text says it was made for; empty where it does not say."""
    found = _LINE.search(text)
    return found[1] if found else ""


def key_of(part: str) -> str:
    """What the hash of the sound that a text is for is called among a scene's hashes; part: one of PARTS."""
    return f"{part} for"


def hashes_in(texts: Mapping[str, str]) -> dict[str, str]:
    """The sounds that ``texts`` (by their part: ``beats``, …) say they were made for, as scenes have them."""
    told = {key_of(part): made_for(text) for part, text in texts.items()}
    return {key: digest for key, digest in told.items() if digest}


def strays(
    hashes: Mapping[str, str], grid: BeatGrid, song: str, named: Mapping[str, str | Path | None] | None = None
) -> Iterator[Problem]:
    """What is to be said of texts that were made for another sound than the one they are read with.

    hashes: as scenes have them, with the SHA-256 of the sound as ``audio``. grid: what came of the texts. song: its
    file, as the person knows it. named: the texts that count, by their part; else those beside the song.
    """
    name, told = Path(song).name, set[str]()
    for part in PARTS:
        text = _text(part, song, named)
        digest = hashes.get(key_of(part), "")
        if digest and digest != hashes.get("audio", digest):
            told.add(part)
            found = f"'{text.name}' was written for another file than {name} is now, so its times may be wrong for it"
            delete = f" Where it fits all the same, delete the line '# {WORDS} …' from it."
            yield Problem(song, "", found, _remedy(part, text, song) + delete)
    from_text = hashes.get("beats file", "") not in ("", content_hash(""))
    if from_text and "beats" not in told and grid.times[-1] > grid.duration + LATE:
        text = _text("beats", song, named)
        found = f"'{text.name}' goes on to {clock_text(grid.times[-1])}, and {name} ends at {clock_text(grid.duration)}"
        yield Problem(song, "", found, _remedy("beats", text, song))


def strays_of(
    song: str | Path, grid: BeatGrid, beats: str | Path | None = None, sections: str | Path | None = None
) -> tuple[Problem, ...]:
    """What is to be said of the texts of ``song``, whose beats are ``grid``: those named, else those beside it.

    Raises AudioError for a song, BeatsError for a text that cannot be read.
    """
    from eavesong.music.listening import events_text_for, texts_for
    from eavesong.music.sound import sound_hash

    paths = (*texts_for(song, beats, sections), events_text_for(song))
    texts = {part: read_text(path, BeatsError) if path else "" for part, path in zip(PARTS, paths, strict=True)}
    hashes = {"audio": sound_hash(song), "beats file": content_hash(texts["beats"])} | hashes_in(texts)
    return tuple(strays(hashes, grid, str(song), {"beats": paths[0], "sections": paths[1]}))


def _text(part: str, song: str, named: Mapping[str, str | Path | None] | None) -> Path:
    return Path((named or {}).get(part) or Path(song).with_suffix(f".{part}"))


def _remedy(part: str, text: Path, song: str) -> str:
    """What to do about a text that is for another sound."""
    name, own = Path(song).name, Path(song).with_suffix(".beats").name
    if part == "beats":
        carry = f"'eavesong align {text.name} --from THE-FILE-AS-IT-WAS --to {name} --overwrite' carries it over"
        return f"{carry}; 'eavesong beats {name} --reading 1 --out {own} --overwrite' hears it anew."
    anew = f"eavesong beats {name} --{part} {text.name} --overwrite"
    return f"Mend its times; or put it away, and '{anew}' writes it anew."
