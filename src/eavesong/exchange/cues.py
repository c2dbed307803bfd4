"""A show's text for another copy of its song: which file the song is, and where its cues by bars are now.

Only values that change are written anew; everything else, comments among it, stays to the letter.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass
from typing import Any

from eavesong.exchange.place import Carried
from eavesong.statements import lines_by_path

WAYS = ("bars", "beats", "times")


@dataclass(frozen=True)
class Moved:
    """A show's text, and what became of its cues."""

    text: str
    changed: tuple[str, ...]
    """Cues whose bars, beats or times are others now, by what people call them, with their numbers in the text."""
    gone: tuple[str, ...]
    """Cues all of whose span is not in the copy; they stand in the text as comments."""


def with_song(text: str, song: str) -> str:
    """The show's text with ``song`` as its song, and no beats and sections but those beside it."""
    lines = text.split("\n")
    known = lines_by_path(text)
    for key in ("beats", "sections"):
        if (key,) in known:
            begin, end = _statement(lines, known[(key,)] - 1)
            lines[begin:end] = [f"# {line}" if line.strip() else line for line in lines[begin:end]]
    value = f"song = {_quoted(song)}"
    if ("song",) in known:
        begin, end = _statement(lines, known[("song",)] - 1)
        lines[begin:end] = [value]
        return "\n".join(lines)
    at = known.get(("title",), 0)
    return "\n".join([*lines[:at], value, *lines[at:]])


def moved_cues(text: str, bars: Carried) -> Moved:
    """The show's text with every span of bars, beats or times where it is in the copy."""
    lines, known = text.split("\n"), lines_by_path(text)
    cues: list[Any] = tomllib.loads(text).get("cue", [])
    changes: list[tuple[int, int, list[str]]] = []
    changed: list[str] = []
    gone: list[str] = []
    for index, cue in enumerate(cues):
        way = next((way for way in WAYS if way in cue), None)
        line = known.get(("cue", index, way)) if way else None
        if way is None or line is None:
            continue
        begin, end = _statement(lines, line - 1)
        before = _ranges(cue[way])
        after = [span for start, stop in before for span in bars.cue_spans(way, start, stop)]
        inside = [(start, stop) for start, stop in before if bars.in_song(way, start, stop)]
        number = index + 1 - (len(gone) if after else 0)  # as it stands in the text that is written
        called = f"cue {number} '{cue['name']}'" if cue.get("name") else f"cue {number} ({cue.get('effect')})"
        if not after:
            first, last = _table(lines, known, index)
            changes.append((first, last, _commented(lines[first:last])))
            gone.append(called)
        elif not _same(inside, after):
            changes.append((begin, end, [f"{way} = {_written(after)}"]))
            changed.append(called)
    if ("bars_began",) in known:
        begin, end = _statement(lines, known[("bars_began",)] - 1)
        noted = tomllib.loads(text)["bars_began"]
        before = [(float(bar), float(second)) for bar, second, *_ in noted]
        began = bars.began(bar for bar, _ in before)
        if not _same(before, began):
            words = {
                spans[0][0]: own
                for bar, _, *own in noted
                if own and (spans := bars.spans("bars", float(bar), float(bar) + 1))
            }
            each = (
                f"[{', '.join([f'{bar:g}', f'{at:.2f}', *(_quoted(word) for word in words.get(bar, ()))])}]"
                for bar, at in began
            )
            changes.append((begin, end, [f"bars_began = [{', '.join(each)}]"]))
    for begin, end, instead in sorted(changes, reverse=True):
        lines[begin:end] = instead
    return Moved("\n".join(lines), tuple(changed), tuple(gone))


def _commented(lines: list[str]) -> list[str]:
    while lines and not lines[-1].strip():
        lines = lines[:-1]
    return ["# Not in this copy of the song:", *(f"# {line}".rstrip() for line in lines), ""]


def _table(lines: list[str], known: dict[tuple[str | int, ...], int], index: int) -> tuple[int, int]:
    """The lines of the cue at ``index``, from its head to the next table that is not below it."""
    first = known[("cue", index)] - 1
    last = next((at for at in range(first + 1, len(lines))
                 if re.match(r"\s*\[", lines[at]) and not re.match(r"\s*\[\[?\s*cue\s*\.", lines[at])
                 and _heads(lines, at)), len(lines))  # fmt: skip
    while last > first + 1 and lines[last - 1].lstrip().startswith("#"):
        last -= 1  # a comment right above the next table belongs to that
    return first, last


def _heads(lines: list[str], at: int) -> bool:
    """Whether a line that begins with a bracket is the head of a table, not the inside of an array."""
    return bool(re.fullmatch(r"\s*\[\[?[^\[\],]+\]\]?\s*(#.*)?", lines[at]))


def _statement(lines: list[str], begin: int) -> tuple[int, int]:
    """From and to which line the statement goes that begins there: an array may take several."""
    for end in range(begin + 1, min(len(lines), begin + 400) + 1):
        try:
            tomllib.loads("\n".join(lines[begin:end]))
        except tomllib.TOMLDecodeError:
            continue
        return begin, end
    return begin, begin + 1


def _ranges(value: Any) -> list[tuple[float, float]]:
    from eavesong.words import seconds_on_clock

    def number(each: Any) -> float:
        """A moment as a number: a time on a clock in seconds, a bar as it stands."""
        return float(seconds_on_clock(each) or 0.0) if isinstance(each, str) else float(each)

    several = value if any(isinstance(each, list) for each in value) else [value]
    return [(number(start), number(stop)) for start, stop in several]


def _quoted(text: str) -> str:
    """A TOML basic string, whose escapes are JSON's."""
    return json.dumps(text, ensure_ascii=False)


def _same(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> bool:
    near = [max(abs(a - c), abs(b - d)) < 0.06 for (a, b), (c, d) in zip(sorted(one), sorted(other), strict=False)]
    return len(one) == len(other) and all(near)


def _written(spans: list[tuple[float, float]]) -> str:
    each = [f"[{start:g}, {stop:g}]" for start, stop in _apart(sorted(spans))]
    return each[0] if len(each) == 1 else f"[{', '.join(each)}]"


def _apart(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for start, stop in spans:
        if joined and start < joined[-1][1]:
            joined[-1] = joined[-1][0], max(stop, joined[-1][1])
        else:
            joined.append((start, stop))
    return joined
