"""A show's text for another copy of its song: which file the song is, and where its cues by bars are now.

Only values that change are written anew; everything else, comments among it, stays to the letter.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from eavesong.exchange.place import Carried
from eavesong.scene.timeline import sections_of
from eavesong.show.model import MOST_RANGES
from eavesong.show.running import runs_through
from eavesong.statements import lines_by_path
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.show import Cue, Show

WAYS = ("bars", "beats", "times")
OTHERWISE = 1.0
"""Seconds in which a cue is lit in one copy and not in the other, from which on it is told."""


@dataclass(frozen=True)
class Moved:
    """A show's text, and what became of its cues."""

    text: str
    changed: tuple[str, ...]
    """Cues whose bars, beats or times are others now, by what people call them, with their numbers in the text."""
    gone: tuple[str, ...]
    """Cues all of whose span is not in the copy; they stand in the text as comments."""
    often: tuple[str, ...] = ()
    """Cues that come too often to be written one by one: they come again as they did from their first time on, or end
    where they may have no more."""
    others: tuple[str, ...] = ()
    """Cues whose ``turn`` means other parts of the music there, with when they are lit and when they were to be."""


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


def moved_cues(text: str, bars: Carried, show: Show | None = None) -> Moved:
    """The text of a ``show`` with every span of bars, beats or times where it is in the copy."""
    lines, known = text.split("\n"), lines_by_path(text)
    cues: list[Any] = tomllib.loads(text).get("cue", [])
    changes: list[tuple[int, int, list[str]]] = []
    changed: list[str] = []
    gone: list[str] = []
    others: list[str] = []
    often: list[str] = []
    for index, cue in enumerate(cues):
        way = next((way for way in WAYS if way in cue), None)
        line = known.get(("cue", index, way)) if way else None
        if way is None or line is None:
            if show is not None and (told := _by_turn(show.cues[index], bars)):
                others.append(f"{_called(cue, index + 1 - len(gone))} ({told})")
            continue
        begin, end = _statement(lines, line - 1)
        after, every = _carried(cue, way, bars, show is not None and _runs_through(show, index))
        called = _called(cue, index + 1 - (len(gone) if after else 0))  # as it stands in the text that is written
        if not after:
            first, last = _table(lines, known, index)
            changes.append((first, last, _commented(lines[first:last])))
            gone.append(called)
        elif len(after) > MOST_RANGES:
            again = after[0][0] + float(cue.get("every", 0.0)) - 1e-6
            few = [span for span in after if span[0] < again] if "every" in cue else after[:MOST_RANGES]
            changes.append((begin, end, [f"{way} = {_written(few)}"]))
            often.append(called)
        elif every != cue.get("every") or not _same(_inside(cue, way, bars), after):
            changes.append((begin, end, [f"{way} = {_written(after)}"]))
            if every is None and ("cue", index, "every") in known:
                changes.append((*_statement(lines, known[("cue", index, "every")] - 1), []))
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
    return Moved("\n".join(lines), tuple(changed), tuple(gone), tuple(often), tuple(others))


def _carried(
    cue: dict[str, Any], way: str, bars: Carried, whole: bool
) -> tuple[list[tuple[float, float]], float | None]:
    """A cue's spans in the copy, and after how much they come again there; None where they are written one by one.
    whole: with a beginning that is cut off."""
    ranges, every = _ranges(cue[way]), cue.get("every")
    if every is None:
        after = [span for start, stop in ranges for span in _there(bars, way, start, stop, whole)]
        return after, None
    spans = bars.unrolled(way, ranges, float(every))
    after = sorted(span for start, stop in spans for span in _there(bars, way, start, stop, whole))
    if after and (first := bars.rolled(way, after, float(every))) is not None:
        return first, every
    return after, None


def _there(bars: Carried, way: str, start: float, stop: float, whole: bool) -> list[tuple[float, float]]:
    spans = bars.cue_spans(way, start, stop)
    return bars.begun_before(way, start, stop, spans) if whole else spans


def _inside(cue: dict[str, Any], way: str, bars: Carried) -> list[tuple[float, float]]:
    """The spans of a cue, as they are written, that lie within the song."""
    return [(start, stop) for start, stop in _ranges(cue[way]) if bars.in_song(way, start, stop)]


def _runs_through(show: Show, index: int) -> bool:
    cue = show.cues[index]
    fades_in = any((cue.fade_in.beats, cue.fade_in.bars, cue.fade_in.seconds))
    return runs_through(fades_in, show.parameters_of(cue).values(), show.effects[cue.effect].program)


def _called(cue: dict[str, Any], number: int) -> str:
    return f"cue {number} '{cue['name']}'" if cue.get("name") else f"cue {number} ({cue.get('effect')})"


def _by_turn(cue: Cue, bars: Carried) -> str:
    """When a cue whose ``turn`` counts parts of the song is lit in the copy, and when it was to be; empty where both
    are the same."""
    if not cue.turn:
        return ""
    lit = [(part.start, part.end) for part in sections_of(cue, bars.copy)]
    meant = [span for part in sections_of(cue, bars.grid) for span in bars.spans("times", part.start, part.end)]
    long = sum(end - start for start, end in lit) + sum(end - start for start, end in meant)
    common = sum(max(0.0, min(a[1], b[1]) - max(a[0], b[0])) for a in lit for b in meant)
    if long - 2 * common < OTHERWISE:
        return ""
    one, other = (", ".join(f"{clock_text(start, 0)} to {clock_text(end, 0)}" for start, end in each[:2])
                  + (f" and {len(each) - 2} more" if len(each) > 2 else "") for each in (lit, meant))  # fmt: skip
    return f"lit {one or 'nowhere'}; what was meant is {other or 'not there'}"


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
