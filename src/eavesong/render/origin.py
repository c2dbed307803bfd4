"""What frames were made by: equal orders on equal files by equal code give equal bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from eavesong.engines import USUAL, fingerprint_of
from eavesong.files import content_hash
from eavesong.sources import fingerprint

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.show import Show


def made_by(engine: str = USUAL) -> str:
    """The fingerprint, in hex, of all code that frames come from, with that of the engine that draws them."""
    return content_hash(fingerprint("eavesong.render.render"), fingerprint_of(engine))


def other_sources(hashes: Mapping[str, str], show: Show, layout: Layout, sources: Mapping[str, str]) -> Iterator[str]:
    """What is not what frames were made from: ``the show``, ``an effect``, ``the layout``, ``the beats`` and so on.

    hashes: those of the frames file. sources: SHA-256 of the sound and of the texts that count, as scenes have them.
    """
    effects = {f"effect {name}": effect.text for name, effect in show.effects.items()}
    made_with = {name for name in hashes if name.startswith("effect ")}
    written = hashes.get("show") == _digest(show.text)
    fits = all(hashes.get(name, _digest(text)) == _digest(text) for name, text in effects.items())
    same = {
        "the show": written,
        # A show that was changed may ask for other effects, which are what they were.
        "an effect": fits and (not written or made_with == set(effects)),
        "the layout": hashes.get("layout files") == layout.content_hash,
        "the beats": hashes.get("beats file") == sources["beats file"],
        "the sections": hashes.get("sections file") == sources["sections file"],
        "the events": hashes.get("events file", sources["events file"]) == sources["events file"],
        "the song": hashes.get("audio") == sources["audio"],
    }
    yield from (what for what, is_same in same.items() if not is_same)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
