"""Which sound a text was made for: a line of its own says it, and whoever reads the text beside another sound is told.

Beats, sections and events are times in one file of a song. Where another master or a copy that begins earlier takes the
place of that file, under the same name, the texts beside it are wrong by as much. A text that eavesong writes therefore
begins with a comment that holds the SHA-256 of the sound; texts without one are believed as they are.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

WORDS = "for the sound with the SHA-256"
"""What stands before the hash, behind the ``#`` of a comment."""
PARTS = ("beats", "sections", "events")

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
