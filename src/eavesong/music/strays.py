"""What is told of texts that are read beside another sound than the one they were made for; see `made_for`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from eavesong.errors import BeatsError, Problem
from eavesong.files import content_hash, read_text
from eavesong.music.made_for import PARTS, WORDS, hashes_in, key_of
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.music.grid import BeatGrid

GAP, AROUND = 2.6, 8
"""Usual beats, of those so many before and after, in which a song that goes on has one."""
MOST = 4
"""Gaps that are named."""
LATE = 0.5
"""Seconds after the end of the sound up to which a beat may lie: it counts the silence that another encoder cut off."""


def strays(
    hashes: Mapping[str, str], grid: BeatGrid, song: str, named: Mapping[str, str | Path | None] | None = None
) -> Iterator[Problem]:
    """What is to be said of texts that were made for another sound than the one they are read with.

    hashes: as scenes have them, with the SHA-256 of the sound as ``audio``. grid: what came of the texts. song: its
    file, as the person knows it. named: the texts that count, by their part; else those beside the song.
    """
    name = Path(song).name
    told = [part for part in PARTS if hashes.get(key_of(part), "") not in ("", hashes.get("audio"))]
    if told and hashes.get("audio"):
        texts = [f"'{_text(part, song, named).name}'" for part in told]
        are, times, it = ("was", "its times", "it") if len(told) == 1 else ("were", "their times", "each")
        listed = texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"
        found = f"{listed} {are} written for another file than {name} is now, so {times} may be wrong for it"
        delete = f" Where it fits all the same, delete the line '# {WORDS} …' from {it}."
        yield Problem(song, "", found, _remedy(told, _text(told[0], song, named), song) + delete)
    from_text = hashes.get("beats file", "") not in ("", content_hash(""))
    if from_text and "beats" not in told and grid.times[-1] > grid.duration + LATE:
        text = _text("beats", song, named)
        found = f"'{text.name}' goes on to {clock_text(grid.times[-1])}, and {name} ends at {clock_text(grid.duration)}"
        yield Problem(song, "", found, _remedy(("beats",), text, song))
    if grid.sections and "sections" not in told and (end := grid.sections[-1].end) > grid.duration + LATE:
        text = _text("sections", song, named)
        label = grid.sections[-1].label
        found = f"'{text.name}' lets {label} end at {clock_text(end)}, and {name} ends at {clock_text(grid.duration)}"
        yield Problem(song, "", found, "Write where it ends: cues on it would fade and build until then.")
    if from_text and "beats" not in told and (left := _left_over(grid)):
        found = f"'{_text('beats', song, named).name}' ends at {clock_text(grid.times[-1])}, and {name} goes on to "
        found += f"{clock_text(grid.duration)}: some {left:.0f} beats are missing"
        yield Problem(song, "", found, "Write them too: until then bars go on as the last beats lie, and drift.")
    if hashes.get("sections file", "") not in ("", content_hash("")):
        yield from _of_sections(grid, song, _text("sections", song, named).name)
    if from_text and (missing := gaps_in(grid)):
        start, end, count = missing[0]
        more = f", nor at {', '.join(clock_text(each) for each, _, _ in missing[1:MOST])}" if len(missing) > 1 else ""
        more += f" and {len(missing) - MOST} more" if len(missing) > MOST else ""
        found = (
            f"'{_text('beats', song, named).name}' has no beat between {clock_text(start)} and {clock_text(end)}{more}"
        )
        advice = f"Write the {count} that are missing there, through a pause of the music too: bars are numbered as if "
        yield Problem(song, "", found, f"{advice}no time went by.")


ENDS, TAIL = 16.0, 0.1
"""Usual beats, and of the song, that may follow on the last one: a fade, or silence."""
APART = 1.0
"""Seconds between sections, and before the end, that nobody takes for a hole."""


def _left_over(grid: BeatGrid) -> float:
    """How many usual beats of the song come after the last one; 0 where those are few."""
    left = grid.duration - grid.times[-1]
    beats = left * grid.tempo / 60 if grid.beat_count > 1 else 0.0
    return beats if beats > ENDS and left > TAIL * grid.duration else 0.0


def _of_sections(grid: BeatGrid, song: str, text: str) -> Iterator[Problem]:
    """Holes between sections, in which cues on all of them are dark; and kinds with a slip in them."""
    from eavesong.music.kinds import kind_meant

    edges = [(one.end, other.start) for one, other in pairwise(grid.sections)]
    if grid.sections:
        edges.append((grid.sections[-1].end, grid.duration))
    holes = [(end, start) for end, start in edges if start - end > APART]
    if holes:
        end, start = holes[0]
        others = len(holes) - 1
        more = f", nor in {others} other place{'s' * (others > 1)}" if others else ""
        found = f"'{text}' has no section from {clock_text(end)} to {clock_text(start)}{more}"
        yield Problem(song, "", found, "Cues on sections or kinds are dark there: let one end where the next begins.")
    for section in grid.sections:
        if meant := kind_meant(section.label):
            found = f"'{text}' calls a section '{section.label}', and no kind is called so"
            yield Problem(song, "", found, f"Did you mean ({meant})?")


def gaps_in(grid: BeatGrid) -> list[tuple[float, float, int]]:
    """The times without a beat, in seconds, where beats before and after come on, and how many are missing in each:
    those that last at least ``GAP`` usual beats around them."""
    apart = np.diff(grid.times)
    if len(apart) <= 2 * AROUND:
        return []
    near = sliding_window_view(np.pad(apart, AROUND, mode="edge"), 2 * AROUND + 1)
    beats = apart / np.sort(near, axis=1)[:, AROUND]  # np.median would import masked arrays
    long = np.flatnonzero(beats >= GAP).tolist()
    return [(grid.times[at], grid.times[at + 1], round(float(beats[at])) - 1) for at in long]


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
    files = {f"{part} file": content_hash(texts[part]) for part in ("beats", "sections")}
    hashes = {"audio": sound_hash(song)} | files | hashes_in(texts)
    return tuple(strays(hashes, grid, str(song), {"beats": paths[0], "sections": paths[1]}))


def _text(part: str, song: str, named: Mapping[str, str | Path | None] | None) -> Path:
    return Path((named or {}).get(part) or Path(song).with_suffix(f".{part}"))


def _remedy(parts: Sequence[str], text: Path, song: str) -> str:
    """What to do about texts that are for another sound, of which this is the first: one goes with all beside it."""
    name, own = Path(song).name, Path(song).with_suffix(".beats").name
    them = "it" if len(parts) == 1 else "them all"
    carry = f"'eavesong align {text.name} --from THE-FILE-AS-IT-WAS --to {name} --overwrite' carries {them} over"
    if parts[0] == "beats":
        return f"{carry}; 'eavesong beats {name} --reading 1 --out {own} --overwrite' hears it anew."
    write = f"'eavesong beats {name} --{parts[0]} {text.name} --overwrite' writes it anew"
    return f"{carry}; or put it away, and {write}."
