"""Houses kept between runs: what was read without a fault is the same again while its texts and our code are.

Most of the time that a usual house takes goes into importing and building the models that check it. A kept house needs
none of them. It stands behind its checksum, so what is damaged is never used, only made again; a cache that is full or
read-only costs the time that it would have spared.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import threading
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import LayoutError, OutputError
from eavesong.files import content_hash, read_text, tell_no_cache, user_cache, write_whole
from eavesong.sources import fingerprint

if TYPE_CHECKING:
    from eavesong.layout.house import Layout

DIGEST = hashlib.sha256().digest_size

LARGEST = 4 << 20
"""Bytes of a house that is kept: some 20,000 pixels. Larger ones would crowd the cache, and with them it is
the pixels that take time."""

FEWEST = 100
"""Bytes of a pixel, at least: what has so many of them is not even put together."""

MOST = 16
"""Houses that are kept: those used last."""

AT_HAND, MOST_PIXELS = 2, 250_000
"""Houses that this process keeps by itself, last year's and this year's, and their pixels at most, some 100 bytes each:
whoever makes many songs reads them again and again, and large ones are not kept else."""

_at_hand: dict[tuple[str, str], tuple[tuple[str, ...], Layout]] = {}
_lock = threading.Lock()


def recalled(name: str, text: str) -> Layout | None:
    """The house in the layout file ``name`` that holds ``text``; None where it is not kept, or its points changed."""
    if (held := _at_hand.get((name, text))) is not None and _is_of(name, text, *held):
        return held[1]
    try:
        path = _kept_at(name, text)
        data = path.read_bytes()
        if hashlib.sha256(data[DIGEST:]).digest() != data[:DIGEST]:
            return None
        files, layout = pickle.loads(data[DIGEST:])
        if not _is_of(name, text, files, layout):
            return None
        os.utime(path)
    except Exception:  # damaged, or of a class that is no more: made again, as is what changed meanwhile
        return None
    for arrays in (layout.pixels, layout.patch):
        arrays.__post_init__()  # which makes them read-only
    kept: Layout = layout
    _take_in_hand(name, text, files, kept)
    return kept


def _is_of(name: str, text: str, files: Iterable[str], layout: Layout) -> bool:
    """Whether a house is still that of its texts."""
    try:
        return layout.content_hash == hash_of(text, {file: _points_text(name, file) for file in files})
    except LayoutError:
        return False


def _take_in_hand(name: str, text: str, files: Iterable[str], layout: Layout) -> None:
    if layout.pixel_count > MOST_PIXELS:
        return
    with _lock:
        _at_hand[name, text] = (tuple(files), layout)
        while len(_at_hand) > AT_HAND:
            _at_hand.pop(next(iter(_at_hand)))


def keep(name: str, text: str, files: Iterable[str], layout: Layout) -> None:
    """Keep the house that was read from the layout file ``name`` and the points ``files`` that it names."""
    _take_in_hand(name, text, files, layout)
    if layout.pixel_count * FEWEST > LARGEST:
        return
    data = pickle.dumps((sorted(files), layout), protocol=5)
    if len(data) > LARGEST:
        return
    try:
        path = _kept_at(name, text)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, hashlib.sha256(data).digest() + data, synced=False)
        _let_go(path.parent)
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))


def hash_of(text: str, points: dict[str, str]) -> str:
    """The content hash of a layout file and of the points files that it names, texts by name."""
    return content_hash(text, *(part for file in sorted(points) for part in (file, points[file])))


def _kept_at(name: str, text: str) -> Path:
    return user_cache() / "houses" / content_hash(name, text, fingerprint("eavesong.layout.load"))[:32]


def _points_text(name: str, file: str) -> str:
    """The text of a points file; LayoutError where it has come to lie outside the layout's folder."""
    folder = Path(name).parent.resolve()
    path = (folder / file).resolve()
    if not path.is_relative_to(folder):
        raise LayoutError(())
    return read_text(path, LayoutError)


def _let_go(folder: Path) -> None:
    """Remove all but the MOST houses that were used last."""
    with contextlib.suppress(OSError):
        kept = sorted((path for path in folder.iterdir() if not path.name.startswith(".")), key=_used)
        for path in kept[:-MOST]:
            path.unlink(missing_ok=True)


def _used(path: Path) -> float:
    """When it was used last; never, where another process has removed it meanwhile."""
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
