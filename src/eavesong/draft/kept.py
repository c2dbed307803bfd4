"""Cues of an earlier show that stay as they are written, because they say ``keep = true``."""

from __future__ import annotations

import math
import re
import shlex
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.draft.text import ASKED, NO_PART, quoted
from eavesong.palettes import BUILT_IN
from eavesong.statements import lines_by_path

if TYPE_CHECKING:
    from eavesong.show import Cue, Show

_PALETTE = re.compile(
    r"""^(\s*(?:palette|"palette"|'palette')\s*=\s*)"""
    r"""(?:\"{3}[\s\S]*?\"{3}|'{3}[\s\S]*?'{3}|"(?:[^"\\]|\\.)*"|'[^']*')""",
    re.MULTILINE,
)
_TABLE = re.compile(r"\s*\[")
_HEADING = re.compile(r"# --- (.*?) -*$")
_PART = re.compile(r": bars (-?\d+) to (\d+)$")


@dataclass(frozen=True)
class Kept:
    """A cue that stays."""

    name: str
    """Empty where it has none."""
    lines: tuple[str, ...]
    """Its text, with the comment above it."""
    bar: float | None
    """Where it begins, in bars from 1; None where it says otherwise."""
    under: str = ""
    """The words of the heading under which it stands; empty where the show has none above it."""
    below: tuple[str, ...] = ()
    """The names of the cues between that heading and itself: it is painted over them."""
    above: tuple[str, ...] = ()
    """The names of the cues between itself and the next heading: they are painted over it."""
    at_the_bottom: bool = False
    """Whether it stands before all headings, with others above it that do not stay."""
    on_top: bool = False
    """Whether nothing that does not stay is painted over it."""
    palette: str = ""
    """The palette of its show's own that it wears; empty where it wears none of those."""
    colours: str = ""
    """That palette, as TOML has it."""
    made_from: tuple[str, ...] = ()
    """The names of the palettes that it was made from."""

    @property
    def in_part(self) -> bool:
        """Whether it stands among the cues of a part of the song."""
        return self.under == NO_PART or bool(_PART.search(self.under))

    @property
    def of_another_part(self) -> bool:
        """Whether it stands among the cues of a part in which it does not begin, as below the next one's heading."""
        part = _PART.search(self.under)
        return part is not None and self.bar is not None and not int(part[1]) <= self.bar < int(part[2])

    def beside(self, palettes: Mapping[str, str]) -> Kept:
        """As it is where these palettes, as TOML by their names, leave it its own; else its colours are written out:
        also where that is called like one that comes with eavesong, which the draft may mean."""
        if palettes.get(self.palette, self.colours) == self.colours and self.palette not in BUILT_IN:
            return self
        text = _PALETTE.sub(lambda found: f"{found[1]}{self.colours}", "\n".join(self.lines))
        return replace(self, lines=tuple(text.split("\n")), palette="")

    def put_in_place(self, blocks: list[tuple[str, list[str]]]) -> bool:
        """Put it in place of a drafted cue of its name among those of its section, each a name and its lines: of
        several of the one of its bars, else of the first; whether there is one. It is painted over what else is new of
        that name, ``B: ground, then``, while it is lit: else it would not be seen there."""
        own = self.name.casefold()  # letters of a word were capitals once
        free = [at for at, (name, lines) in enumerate(blocks) if name and name.casefold() == own and not _stays(lines)]
        if not free:
            return False
        same = [at for at in free if _bars(blocks[at][1]) == _bars(self.lines)]
        place = (same or free)[0]
        blocks[place] = self.name, list(self.lines)
        mine = _spans(self.lines)  # one that says otherwise when may be lit at any time
        over = [
            at for at, (name, lines) in enumerate(blocks)
            if at > place and name and name.casefold().startswith(f"{own}, ") and not _stays(lines)
            and any(start < end and begin < stop for start, stop in mine for begin, end in _spans(lines))
        ]  # fmt: skip
        blocks.insert(max(over, default=place), blocks.pop(place))
        return True

    def placed(self, blocks: list[tuple[str, list[str]]]) -> None:
        """Put it among the cues of its section, each a name and its lines: over what it was over, else on top, but
        below what was over it; in a part also over what is new there on all of its props, so that it is seen. One that
        was the lowest stays the lowest."""
        names = [name.casefold() or None for name, _ in blocks]
        above = {name.casefold() for name in self.above}
        over = []
        for name, times in Counter(map(str.casefold, self.below)).items():  # in whatever order by now
            over += [at for at, each in enumerate(names) if each == name][:times][-1:]
        lowest = (self.under or self.at_the_bottom) and not self.below and not self.on_top and not self.of_another_part
        at = max(over) + 1 if over else len(blocks)
        if self.in_part and not over:
            at = next((place for place, name in enumerate(names) if name in above), at)
        elif self.in_part:
            until = next((place for place in range(at, len(blocks)) if names[place] in above), len(blocks))
            mine = _on(self.lines)
            at = max([at, *(place + 1 for place in range(at, until) if mine and mine <= _on(blocks[place][1]))])
        blocks.insert(0 if lowest else at, (self.name, list(self.lines)))


def _on(lines: Sequence[str]) -> frozenset[str]:
    """The words of what a cue is on, as it is written."""
    said = " ".join(line for line in lines if re.match(r"\s*on\s*=", line))
    return frozenset(re.findall(r"[\w-]+", said.casefold())) - {"on", "or", "and", "not"}


def _stays(lines: Sequence[str]) -> bool:
    return any(re.match(r"\s*keep\s*=\s*true", line) for line in lines)


def _bars(lines: Sequence[str]) -> list[str]:
    """What a cue says of its bars, as it is written."""
    return ["".join(line.split()) for line in lines if re.match(r"\s*bars\s*=", line)]


def _spans(lines: Sequence[str]) -> list[tuple[float, float]]:
    """From which to which bar a cue is lit; at any, where it does not say so in bars."""
    import tomllib

    try:
        bars = tomllib.loads("\n".join(lines)).get("cue", [{}])[0].get("bars", [])
    except tomllib.TOMLDecodeError:  # no cue
        return []
    several = bars if bars and isinstance(bars[0], list) else [bars or (-math.inf, math.inf)]
    return [(float(start), float(end)) for start, end in several]


def kept_cues(path: str | Path) -> tuple[Kept, ...]:
    """The cues of the show at ``path`` that are to stay, in its order. Raises ShowError as `load_show` does."""
    from eavesong.show import load_show

    show = load_show(path)
    rows = show.text.split("\n")
    lines = lines_by_path(show.text)
    headers = [lines[("cue", index)] for index in range(len(show.cues))]
    told = []
    for index, cue in enumerate(show.cues):
        if cue.keep:
            kept = _kept(show, cue, _block(rows, headers[index]))
            at, under = _heading(rows, headers[index])
            below = [show.cues[n].name or "" for n in range(index) if headers[n] > at]
            beyond = _next_heading(rows, headers[index])
            above = [show.cues[n].name or "" for n in range(index + 1, len(show.cues)) if headers[n] < beyond]
            on_top = all(other.keep for other in show.cues[index:])
            first = not under and not on_top and (not below or any(map(_HEADING.match, rows)))
            told.append(
                replace(kept, under=under, below=tuple(below), above=tuple(above), at_the_bottom=first, on_top=on_top)
            )
    return tuple(told)


HEAD = ("licence", "credits", "allow_flashes")
"""What the head of a show says that no draft knows."""


def head_of(show: Show) -> tuple[str, tuple[str, ...]]:
    """The title of a show, and the lines of its head that stay as they are written when it is drafted anew."""
    rows, lines = show.text.split("\n"), lines_by_path(show.text)
    ends = sorted({*lines.values(), len(rows) + 1})
    kept: list[str] = []
    for key in HEAD:
        if first := lines.get((key,)):
            block = rows[first - 1 : next(end for end in ends if end > first) - 1]
            while block and (not block[-1].strip() or block[-1].lstrip().startswith("#")):
                block.pop()
            kept += block
    return show.title, tuple(kept)


def asked_before(show: Show) -> dict[str, Any]:
    """What a draft was asked for with: ``palettes``, ``calm`` and ``seed``, those that were given; see `asked_in`."""
    told = next((row.removeprefix(ASKED) for row in show.text.split("\n") if row.startswith(ASKED)), "")
    found: dict[str, Any] = {}
    try:
        words = shlex.split(told)
        for option, value in zip(words[::2], words[1::2], strict=True):
            if option == "--palette":
                found["palettes"] = (*found.get("palettes", ()), value)
            elif option == "--calm":
                found["calm"] = min(1.0, max(0.0, float(value)))
            elif option == "--seed":
                found["seed"] = int(value)
    except ValueError:  # changed by hand
        return {}
    return found


def asked_in(palettes: Sequence[str] | None, calm: float | None, seed: int | None) -> str:
    """Options of a draft in a line that `asked_before` reads; None for what was not given."""
    words = [word for palette in palettes or () for word in ("--palette", shlex.quote(palette))]
    words += ["--calm", f"{calm:g}"] if calm is not None else []
    words += ["--seed", str(seed)] if seed is not None else []
    return " ".join(words)


def _heading(rows: list[str], header: int) -> tuple[int, str]:
    """The line (from 1) and the words of the heading above the cue whose header is line ``header``; 0 for none."""
    for line in range(header - 1, 0, -1):
        if found := _HEADING.match(rows[line - 1]):
            return line, found[1]
    return 0, ""


def _next_heading(rows: list[str], header: int) -> int:
    """The line (from 1) of the heading below the cue whose header is line ``header``; one beyond the last for none."""
    return next((line for line in range(header + 1, len(rows) + 1) if _HEADING.match(rows[line - 1])), len(rows) + 1)


def _block(rows: list[str], header: int) -> list[str]:
    """The lines of the cue whose header is line ``header`` (from 1), with the comment right above it."""
    first = header - 1
    while first > 0 and rows[first - 1].startswith("#") and not rows[first - 1].startswith("# ---"):
        first -= 1
    end = header
    while end < len(rows) and not _TABLE.match(rows[end]):
        end += 1
    while end > header and (not rows[end - 1].strip() or rows[end - 1].startswith("#")):
        end -= 1
    return rows[first:end]


def _kept(show: Show, cue: Cue, rows: list[str]) -> Kept:
    own = cue.palette if isinstance(cue.palette, str) and cue.palette in show.palettes else ""
    bar = cue.bars[0][0] if cue.bars else None
    made_from = tuple(name for name, made in show.palettes_from.items() if own in made)
    colours = colours_of(show, own) if own else ""
    return Kept(cue.name or "", tuple(rows), bar, palette=own, colours=colours, made_from=made_from)


def colours_of(show: Show, name: str) -> str:
    """The colours of a palette that a show has of its own, or the name of another, as TOML has them."""
    import tomllib

    stops = tomllib.loads(show.text)["palettes"][name]
    return quoted(stops) if isinstance(stops, str) else f"[{', '.join(map(_stop, stops))}]"


def _stop(stop: Any) -> str:
    if isinstance(stop, str):
        return quoted(stop)
    at = f", at = {stop['at']}" if "at" in stop else ""
    return f"{{ colour = {quoted(stop['colour'])}{at} }}"
