"""The song's sound as pages play it: kept in memory, so that a page plays on whatever becomes of the file."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from threading import Lock

from eavesong.errors import EavesongError

KINDS = {".wav": "audio/wav", ".flac": "audio/flac", ".ogg": "audio/ogg", ".opus": "audio/ogg", ".mp3": "audio/mpeg"}
"""What browsers play as it is; anything else is packed as the preview's page packs it."""
KEPT = 2
"""Songs that are kept: the one that is shown, and the one before it."""


class SongShelf:
    """The sounds that pages may ask for, by their hash."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[bytes, str]] = {}
        self._lock = Lock()

    def get(self, name: str, digest: str, path: Path) -> tuple[bytes, str] | None:
        """The bytes and media type of the sound called ``name``, if that is what ``path`` holds or held; else None.

        digest: SHA-256 of the sound that is shown, in hex.
        """
        with self._lock:
            if name in self._kept:
                return self._kept[name]
            if not digest or name != digest:
                return None
            found = _sound(path, digest)
            if found is not None:
                self._kept[name] = found
                while len(self._kept) > KEPT:
                    del self._kept[next(iter(self._kept))]
            return found


def _sound(path: Path, digest: str) -> tuple[bytes, str] | None:
    try:
        if not os.path.isfile(path):
            return None
        kind = KINDS.get(path.suffix.lower())
        if kind is None:
            from eavesong.preview.sound import packed_song

            return packed_song(path)
        data = path.read_bytes()
    except (OSError, EavesongError):
        return None
    return (data, kind) if hashlib.sha256(data).hexdigest() == digest else None
