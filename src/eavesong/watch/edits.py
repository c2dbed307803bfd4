"""Knobs: what somebody turns on the page, as an edit of the text that it stands in.

What is seen while a knob is turned is the text as *keep* would write it, read by the same readers as a saved file.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.items import Comment, Whitespace

from eavesong.errors import MisfitError
from eavesong.statements import lines_by_path, too_much

MOST_UNDONE = 200
"""Turns that can be undone."""

Value = float | str


@dataclass(frozen=True)
class Turned:
    """One knob turned: of which cue (from 0; -1 for the parameters of an effect file), which, and to what."""

    cue: int
    knob: str
    """``parameters.width``, ``parameters.width.from``, ``palette``, ``palette.2``, ``opacity``, ``fade_in``, …"""
    value: Value
    usual: tuple[str, ...] = ()
    """The colours of a palette that the text gives by its name or not at all."""


class Edits:
    """The turns since a text was read, and the text with them in it."""

    def __init__(self, text: str) -> None:
        self.base = text
        """What the file holds."""
        self.turns: list[Turned] = []
        self._texts: list[str] = []
        self.moved = False
        """Whether the file has been saved elsewhere since the first turn that is still there."""

    @property
    def text(self) -> str:
        """The text as it would be kept."""
        return self._texts[-1] if self._texts else self.base

    def turn(self, turn: Turned) -> None:
        """Turn a knob. Turning the same one on counts as one turn. Raises MisfitError where the text has no such."""
        again = bool(self.turns) and (self.turns[-1].cue, self.turns[-1].knob) == (turn.cue, turn.knob)
        before = (self._texts[-2] if len(self._texts) > 1 else self.base) if again else self.text
        text = turned(before, turn)
        if again:
            self.turns.pop()
            self._texts.pop()
        self.turns.append(turn)
        self._texts.append(text)
        if len(self.turns) > MOST_UNDONE:  # the oldest two become one
            del self._texts[0], self.turns[0]

    def undo(self) -> bool:
        """Take the last turn back; whether there was one."""
        if not self.turns:
            return False
        self.turns.pop()
        self._texts.pop()
        self.moved = self.moved and bool(self.turns)
        return True

    def let_go(self) -> None:
        """Return to what the file holds."""
        self.turns, self._texts, self.moved = [], [], False

    def kept(self) -> None:
        """The file holds the text now."""
        self.base = self.text
        self.let_go()

    def rebase(self, text: str) -> list[Turned]:
        """The file holds another text now: the turns are made in that one. Those that cannot be are given back."""
        if text == self.base:
            return []
        turns, self.base = self.turns, text
        had = bool(turns)
        self.let_go()
        lost = []
        for turn in turns:
            try:
                self.turn(turn)
            except (MisfitError, ValueError):
                lost.append(turn)
        self.moved = had and bool(self.turns)
        return lost


def turned(text: str, turn: Turned) -> str:
    """The TOML ``text`` with one knob turned, and nothing else in it changed. MisfitError where it has no such knob."""
    if too_much(text):
        raise MisfitError("the file is larger than a person writes", "Change it in an editor.")
    begin, end, at = _own_part(text, turn.cue)
    try:
        document = tomlkit.parse(text[begin:end])
        parts = turn.knob.split(".", 2)
        if turn.cue < 0:
            _set(document["parameters"][parts[1]], "default", turn.value)
        else:
            _KNOBS[parts[0]](document["cue"][at], parts, turn)
        return text[:begin] + tomlkit.dumps(document) + text[end:]
    except (KeyError, IndexError, TypeError, AttributeError, tomlkit.exceptions.TOMLKitError):
        raise MisfitError("the file has no such knob any more", "Look at it again.") from None


_HEADER = re.compile(r"[ \t]*\[\[[ \t]*cue[ \t]*\]\]")


def _own_part(text: str, cue: int) -> tuple[int, int, int]:
    """Where the part of a show that is a cue begins and ends, and which cue of that part it is; else the whole text.

    A part is read in a tenth of the time that a show of some length takes.
    """
    lines = lines_by_path(text)
    line = lines.get(("cue", cue))
    if cue < 0 or line is None:
        return 0, len(text), cue
    starts = [0, *(found.end() for found in re.finditer("\n", text))]
    after = [other for path, other in lines.items() if other > line and path[:2] != ("cue", cue)]
    if not _HEADER.match(text, starts[line - 1]):  # an array of inline tables
        return 0, len(text), cue
    return starts[line - 1], starts[min(after) - 1] if after else len(text), 0


def _parameter(cue: Any, parts: list[str], turn: Turned) -> None:
    if "parameters" not in cue:
        table = tomlkit.inline_table()
        table[parts[1]] = _plain(turn.value)
        _add(cue, "parameters", table)
        return
    table = cue["parameters"]
    if len(parts) == 3:
        _set(table[parts[1]], parts[2], turn.value)
    else:
        _set(table, parts[1], turn.value)


def _palette(cue: Any, parts: list[str], turn: Turned) -> None:
    if len(parts) == 1:
        _set(cue, "palette", turn.value)
        return
    at = int(parts[1])
    if "palette" not in cue or isinstance(cue["palette"], str):
        colours = list(turn.usual)
        colours[at] = str(turn.value)
        listed = tomlkit.array()
        listed.extend(colours)
        _set(cue, "palette", listed)
    elif isinstance(cue["palette"][at], dict):
        _set(cue["palette"][at], "colour", turn.value)
    else:
        cue["palette"][at] = str(turn.value)


def _number(cue: Any, parts: list[str], turn: Turned) -> None:
    _set(cue, parts[0], turn.value)


def _fade(cue: Any, parts: list[str], turn: Turned) -> None:
    fade = cue.get(parts[0])
    if isinstance(fade, dict):
        _set(fade, next(unit for unit in ("beats", "bars", "seconds") if unit in fade), turn.value)
    else:
        _set(cue, parts[0], turn.value)


_KNOBS: dict[str, Callable[[Any, list[str], Turned], None]] = {
    "parameters": _parameter, "palette": _palette, "opacity": _number, "fade_in": _fade, "fade_out": _fade,
}  # fmt: skip


def _set(table: Any, key: str, value: Any) -> None:
    """Set a key; a new one goes below the last one that stands there, above blank lines and comments that follow."""
    if key in table:
        table[key] = _plain(value)
    else:
        _add(table, key, _plain(value))


def _add(table: Any, key: str, value: Any) -> None:
    if isinstance(table, tomlkit.items.InlineTable):
        table[key] = value
        return
    body = table.value.body
    end = len(body)
    while end and isinstance(body[end - 1][1], Comment | Whitespace):
        end -= 1
    after = body[end:]
    del body[end:]
    table.append(key, value)
    body.extend(after)


def _plain(value: Any) -> Any:
    """A number as a person writes it: four digits at most, whole ones without a point."""
    if not isinstance(value, float):
        return value
    if not math.isfinite(value):
        raise MisfitError("this is not a finite number", "Write a number.")
    short = float(f"{value:.4g}")
    return int(short) if short == int(short) and abs(short) < 1e9 else short
