"""What a frames file is, as ``eavesong info`` shows it: as values for programs, as lines for people."""

from __future__ import annotations

import os
from typing import Any

from eavesong.files import content_hash
from eavesong.frames.reader import FramesFile
from eavesong.words import clock_text, visible

WIDTH = 80


def summarise(file: FramesFile) -> dict[str, Any]:
    """Everything ``eavesong info`` tells, as values that JSON can hold: seconds, bytes, counts, hex digests."""
    universes = sorted({row.universe for row in file.patch if row.universe})
    raw = file.frame_count * file.channel_count
    return {
        "file": str(file.path),
        "title": file.title,
        "song": file.song,
        "song_seconds": file.song_seconds,
        "start": file.start,
        "duration": file.frame_count / file.frame_rate,
        "frame_count": file.frame_count,
        "frame_rate": file.frame_rate,
        "channel_count": file.channel_count,
        "pixel_count": len(file.places),
        "prop_count": len(file.props),
        "controllers": sorted({row.controller for row in file.patch if row.universe}),
        "universes": universes,
        "raw_bytes": raw,
        "stored_bytes": file.stored_bytes,
        "file_bytes": os.path.getsize(file.path),
        "chunk_frames": file.chunk_frames,
        "hashes": file.hashes,
        "texts": {name: len(text.encode()) for name, text in file.texts.items()},
        "written_by": file.written_by,
        "complete": file.complete,
    }


def lines(summary: dict[str, Any], *, verified: bool = False) -> list[str]:
    """The summary as a table that reads well at 80 columns; ``verified`` says that every chunk was read."""
    rows = [
        ("song", _song(summary)),
        ("frames", f"{_frames(summary)}, {_span(summary)}"),
        ("house", _house(summary)),
        ("sent to", _sent(summary)),
        ("asked for", summary.get("asked_for") or "nothing unusual"),
        ("size", _size(summary)),
        ("written by", summary["written_by"]),
        ("complete", "yes, and every checksum fits" if verified else "yes"),
    ]
    table = [f"  {name:<11} {_short(value, WIDTH - 14)}" for name, value in rows]
    return [_short(summary["title"] or "(no title)", WIDTH), *table, "", *_sources(summary)]


def _song(summary: dict[str, Any]) -> str:
    if not summary["song"]:
        return "none"
    return f"{summary['song']}, {clock_text(summary['song_seconds'], 1)}"


def _frames(summary: dict[str, Any]) -> str:
    return f"{summary['frame_count']:,} at {summary['frame_rate']:g} a second"


def _span(summary: dict[str, Any]) -> str:
    start, duration = summary["start"], summary["duration"]
    return f"from {clock_text(start, 1)} to {clock_text(start + duration, 1)}"


def _house(summary: dict[str, Any]) -> str:
    props, pixels = _count(summary["prop_count"], "prop"), _count(summary["pixel_count"], "pixel")
    return f"{props}, {pixels}, {_count(summary['channel_count'], 'channel')}"


def _sent(summary: dict[str, Any]) -> str:
    if not summary["universes"]:
        return "nowhere: the layout has no controllers"
    controllers = _count(len(summary["controllers"]), "controller")
    return f"{controllers}, universe{'s' * (len(summary['universes']) > 1)} {_ranges(summary['universes'])}"


def _size(summary: dict[str, Any]) -> str:
    share = summary["stored_bytes"] / summary["raw_bytes"]
    return f"{_bytes(summary['file_bytes'])}; {_bytes(summary['raw_bytes'])} of frames stored in {share:.1%} of that"


def _sources(summary: dict[str, Any]) -> list[str]:
    """One line for each text and each thing hashed: its name, its size where it is inside, its short hash."""
    return [f"  {'made from':<24} {'bytes':>11}  SHA-256"] + [
        f"  {_short(name, 24):<24} {_inside(summary, name):>11}  {digest[:16]}"
        for name, digest in sorted(summary["hashes"].items())
    ]


def _inside(summary: dict[str, Any], name: str) -> str:
    if name in summary["texts"]:
        return f"{summary['texts'][name]:,}"
    return "none" if summary["hashes"][name] == content_hash("") else "not inside"


def _ranges(numbers: list[int]) -> str:
    """``1-3, 7`` for 1, 2, 3, 7."""
    starts = [number for number in numbers if number - 1 not in set(numbers)]
    ends = [number for number in numbers if number + 1 not in set(numbers)]
    return ", ".join(str(start) if start == end else f"{start}-{end}" for start, end in zip(starts, ends, strict=True))


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _bytes(number: int) -> str:
    """Bytes in the largest decimal unit (SI prefixes) that leaves a number of at least 1."""
    for size, unit in ((10**9, "GB"), (10**6, "MB"), (10**3, "kB")):
        if number >= size:
            return f"{number / size:.1f} {unit}"
    return f"{number} bytes"


def _short(text: str, width: int) -> str:
    """``text`` on one line of at most ``width`` characters, without what would command the terminal."""
    text = visible(text)
    return text if len(text) <= width else text[: width - 1] + "…"
