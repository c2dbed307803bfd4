"""What frames were made by: equal orders on equal files by equal code give equal bytes."""

from __future__ import annotations

from eavesong.engines import USUAL, fingerprint_of
from eavesong.files import content_hash
from eavesong.sources import fingerprint


def made_by(engine: str = USUAL) -> str:
    """The fingerprint, in hex, of all code that frames come from, with that of the engine that draws them."""
    return content_hash(fingerprint("eavesong.render.render"), fingerprint_of(engine))
