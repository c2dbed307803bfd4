"""What frames files say of how they were made, kept from one run to the next.

Opening a frames file checks all that it says of itself. That takes milliseconds, and a season has hundreds of files. So
what was read stays in the cache, with the SHA-256 of every byte of the file that is not frames: while these bytes are
the same, and as many frames lie between them, they say the same.

The frames between them are not read again for that: it is noted how the file stood on the disk when they were written,
or last fitted their checksums. Only where it has been touched since are they held against these again.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import FramesError, OutputError
from eavesong.files import content_hash, tell_no_cache, user_cache, write_whole
from eavesong.sources import fingerprint

if TYPE_CHECKING:
    from eavesong.frames import FramesFile

MOST_RANGES = 1000
"""Stretches between frames: a file with more is opened each time."""

MOST_DAMAGES = 3
"""Damaged stretches that are told one by one."""


@dataclass(frozen=True)
class Said:
    """What a frames file says of how it was made."""

    song: str
    """The name of the sound file."""
    hashes: dict[str, str]
    """SHA-256 in hex of all it was made from, by name."""
    order: str | None
    """The text of what was asked for; None where an older file does not tell."""
    share: float
    """Bytes that its frames take, as a share of their full size."""


def said(path: str) -> Said:
    """What the frames file at ``path`` says. Raises FramesError where it cannot be opened."""
    from eavesong.frames import open_frames

    if (kept := _kept(path)) is not None:
        return kept
    before = mark_of(path)
    with open_frames(path) as file:
        return noted(file, before)


def is_sound(path: str) -> bool:
    """Whether nobody has touched the frames file at ``path`` since its frames were known to fit their checksums."""
    try:
        return bool(json.loads(_kept_at(path).read_text(encoding="utf-8"))["sound"] == list(mark_of(path)))
    except (OSError, ValueError, TypeError, LookupError):
        return False


def damage(path: str) -> str:
    """What of the frames file at ``path`` is damaged, in words; empty where all fits its checksums, which is noted.

    The whole file is read where it has been touched since that was known. Raises FramesError where it cannot be opened.
    """
    from eavesong.frames import open_frames

    if is_sound(path):
        return ""
    before = mark_of(path)
    with open_frames(path) as file:
        try:
            file.verify()
        except FramesError as fault:
            return ", ".join(f"{each.place} {each.found}".strip() for each in fault.problems[:MOST_DAMAGES])
        noted(file, before, sound=True)
    return ""


def noted(file: FramesFile, before: tuple[int, ...], *, sound: bool = False) -> Said:
    """What an open frames file says, kept for the next time.

    before: ``mark_of`` it before it was opened: where it has been exchanged meanwhile, nothing is kept.
    sound: whether its frames are known to fit their checksums.
    """
    told = Said(file.song, file.hashes, file.text("order"), file.stored_bytes / (file.frame_count * file.channel_count))
    path, ranges = str(file.path), _between_frames(file)
    if len(ranges) <= MOST_RANGES and (digest := _digest(path, ranges)) and mark_of(path) == before:
        known = list(before) if sound or is_sound(path) else []
        _keep(path, {"digest": digest, "ranges": ranges, "said": asdict(told), "sound": known})
    return told


def _between_frames(file: FramesFile) -> list[list[int]]:
    """(begin, end) of each stretch of the file's bytes that is not frames, in order."""
    ranges, end = [], 0
    for begin, size in sorted(file.frames.where()):
        if begin > end:
            ranges.append([end, begin])
        end = begin + size
    return [*ranges, [end, os.path.getsize(file.path)]]


def _digest(path: str, ranges: Sequence[Sequence[int]]) -> str:
    """SHA-256 of the stretches of a file, of its size, and of the code that reads it; empty where it has another size
    or cannot be read."""
    digest = hashlib.sha256(f"{fingerprint(__name__)} {ranges}".encode())
    try:
        with open(path, "rb") as file:
            if os.fstat(file.fileno()).st_size != ranges[-1][1]:
                return ""
            for begin, end in ranges:
                file.seek(begin)
                digest.update(file.read(end - begin))
    except OSError:
        return ""
    return digest.hexdigest()


def mark_of(path: str) -> tuple[int, ...]:
    """By which a file is known that was exchanged, or written into: its times change even where its size does not."""
    try:
        stat = os.stat(path)
    except OSError:
        return ()
    return stat.st_ino, stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns


def _kept_at(path: str) -> Path:
    return user_cache() / "said" / f"{content_hash(os.path.abspath(path))}.json"


def _kept(path: str) -> Said | None:
    try:
        held = json.loads(_kept_at(path).read_text(encoding="utf-8"))
        return Said(**held["said"]) if _digest(path, held["ranges"]) == held["digest"] else None
    except (OSError, ValueError, TypeError, LookupError):  # none, or damaged: read again
        return None


def _keep(path: str, held: dict[str, object]) -> None:
    kept_at = _kept_at(path)
    try:
        kept_at.parent.mkdir(parents=True, exist_ok=True)
        write_whole(kept_at, json.dumps(held, ensure_ascii=False))
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))
