"""The text of a drafted show: cues in the order of the song's parts, a heading for each, a reason above every cue."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import takewhile
from shlex import quote
from typing import TYPE_CHECKING

from eavesong.draft.cue import Draft, Value, spoken
from eavesong.music.made_for import made_for_line

if TYPE_CHECKING:
    from eavesong.draft.form import Stanza

WIDTH = 100
"""Characters of a heading, and of a line of spans."""
NO_PART = "kept, of no part"
"""The words of the heading above kept cues that stood in a part, and of whose bars no part has any."""
ASKED = "# Asked for, and again with --keep: "
"""What stands before the options of a draft that was asked for with some."""
WORN, UNWORN = "# Palettes by part: ", "# Worn by no part: "
"""What stands before the parts that wear each palette asked for, and before palettes that no part wears."""
TIMES = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh", 8: "eighth"}


def heading(words: str) -> str:
    """A comment line that parts the file."""
    return f"# --- {words} ".ljust(WIDTH, "-")


def part_heading(part: Stanza) -> str:
    """``C, second time, high: bars 17 to 25``."""
    time = f", {TIMES.get(part.turn, f'{part.turn}th')} time" if part.turns > 1 else ""
    kind = f", {part.kind}" if part.kind else ""
    return heading(f"{part.label}{time}{kind}: bars {part.start} to {part.end}")


def quoted(text: str) -> str:
    """A TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def bars_began_lines(began: Sequence[tuple[float, float, str, str]], sound: str = "", bar_beats: int = 0) -> list[str]:
    """At which bars and seconds which sections began, and how many beats most bars had, for whoever looks at the show
    once beats are others."""
    told = (
        "# Where sections began as this was drafted, in bars and seconds: 'eavesong check' says where they have moved."
    )
    made_for = made_for_line(sound).splitlines()  # in another copy seconds are others, and bars may still be right
    each = [
        f"[{', '.join([f'{bar:g}', f'{seconds:.2f}', *(quoted(word) for word in (label, kind) if word)])}]"
        for bar, seconds, label, kind in began
        if seconds >= 0
    ]
    return [told, *made_for, *_wrapped("bars_began = [", each), *([f"bar_beats = {bar_beats}"] if bar_beats else [])]


def colours_text(colours: Sequence[str]) -> str:
    """The colours of a palette, as TOML has them."""
    return f"[{', '.join(quoted(colour) for colour in colours)}]"


def palette_lines(palettes: Mapping[str, str], added: Collection[str] = (), sources: Collection[str] = ()) -> list[str]:
    """The table of palettes, as TOML has each. added: names of those that are added to others, which has to be known
    where one is changed; sources: of those that others were made from."""
    rows = [f"{_key(name)} = {colours}" for name, colours in palettes.items() if name not in sources]
    if made := [f"{_key(name)} = {colours}" for name, colours in palettes.items() if name in sources]:
        rows += [
            "# What parts wear was made of these, see [palettes_from]: it follows when the show is drafted anew.",
            *made,
        ]
    names = [name for name in palettes if name in added]
    told = (
        f"# {' and '.join(names)}: added to the others at every stroke, which can turn their hue; change them together."
    )
    return ["[palettes]", *([told] if names else []), *rows]


def made_from_lines(made_from: Mapping[str, Collection[str]], there: Sequence[str]) -> list[str]:
    """Which palettes, of those that are ``there``, were made from one that has a name, so that a house may have other
    colours in its place."""
    rows: list[str] = []
    for name, made in made_from.items():
        if own := [quoted(each) for each in there if each in made]:
            rows += _wrapped(f"{_key(name)} = [", own)
    return ["", "[palettes_from]", *rows] if rows else []


def worn_lines(called: Sequence[str], wearing: Mapping[str, int]) -> list[str]:
    """Which of several palettes, by what they are ``called``, is worn in which parts, and which in none, and why.

    wearing: the palette that each letter wears, by number.
    """
    names = [quote(name) for name in called]
    worn = {name: [spoken(letter) for letter, at in wearing.items() if names[at] == name] for name in names}
    told = [f"{name} in {', '.join(letters)}" for name, letters in worn.items() if letters]
    lines = [f"{WORN}{'; '.join(told)}"] if len(names) > 1 else []
    if unworn := [name for name, letters in worn.items() if not letters]:
        parts = f"The song has {len(wearing)} different parts" if len(wearing) > 1 else "All of the song is one part"
        how = 'Write colours of several as one: --palette "#ffd9a0, teal, white".'
        lines.append(f"{UNWORN}{'; '.join(unworn)}. {parts}, and a part wears one palette. {how}")
    return lines


def worn_told(text: str) -> list[str]:
    """What the head of a drafted show says of the palettes that its parts wear."""
    head = takewhile(lambda line: line.startswith("#"), text.split("\n"))
    return [line.removeprefix("# ") for line in head if line.startswith((WORN, UNWORN))]


def cue_lines(cue: Draft) -> list[str]:
    """A cue as a person would write it: only what differs from what goes without saying."""
    lines = [f"# {cue.why}", "[[cue]]", f"name = {quoted(cue.written)}", f"effect = {quoted(cue.effect)}"]
    if cue.on != ("all",):
        texts = [quoted(text) for text in cue.on]
        lines.append(f"on = {texts[0] if len(texts) == 1 else '[' + ', '.join(texts) + ']'}")
    if cue.bars:
        spans = [f"[{start:g}, {end:g}]" for start, end in cue.bars]
        lines += [f"bars = {spans[0]}"] if len(spans) == 1 else _wrapped("bars = [", spans)
    if cue.parameters:
        lines.append(
            f"parameters = {{ {', '.join(f'{key} = {_value(value)}' for key, value in cue.parameters.items())} }}"
        )
    if cue.palette:
        lines.append(f"palette = {quoted(cue.palette)}")
    if cue.blend:
        lines.append(f"blend = {quoted(cue.blend)}")
    if cue.opacity != 1:
        lines.append(f"opacity = {cue.opacity:g}")
    lines += [f"{key} = {value:g}" for key, value in (("fade_in", cue.fade_in), ("fade_out", cue.fade_out)) if value]
    return lines


def _wrapped(head: str, items: list[str]) -> list[str]:
    lines, line = [], head
    for number, item in enumerate(items):
        piece = item + ("]" if number == len(items) - 1 else ", ")
        if len(line) + len(piece) > WIDTH:
            lines.append(line.rstrip())
            line = "    "
        line += piece
    return [*lines, line]


def _key(name: str) -> str:
    return name if name and all(c.isascii() and (c.isalnum() or c in "_-") for c in name) else quoted(name)


def _value(value: Value) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(each)}" for key, each in value.items()) + " }"
    return quoted(value) if isinstance(value, str) else f"{value:g}"
