"""What ``eavesong new`` writes: a house, a show and a setlist that work as they are, to be changed line by line."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from eavesong.errors import OutputError, Problem
from eavesong.files import write_whole

HOUSE, SHOW, SETLIST = "house.toml", "first.show.toml", "evenings.toml"
PER_METRE = {"m": 1.0, "ft": 1 / 0.3048}
"""So many of each unit make a metre: the foot is 0.3048 m (international yard and pound agreement, 1959)."""


@dataclass(frozen=True)
class Answers:
    """What somebody says of a house; lengths in ``units``."""

    title: str = "Our house"
    units: str = "m"
    width: float = 10.0
    height: float = 6.0
    """To the ridge."""
    windows: int = 2
    trees: int = 1
    arches: int = 3
    song: str = "song.flac"
    """How the song's file is called; it lies beside the show, or will."""


MOST_PIXELS = 800
"""On one output at 40 frames a second: 25 ms less the reset of 280 us hold 824 of 24 bits at 800 kbit/s (WS2811)."""


def make_starter(folder: Path, answers: Answers) -> tuple[Path, ...]:
    """Write the house, the show and the setlist into ``folder``, which is made where it is missing; their paths.

    Raises OutputError when one of the three is there already, so that nothing is lost, or when nothing can be written.
    """
    texts = {HOUSE: house_text(answers), SHOW: show_text(answers), SETLIST: setlist_text(answers)}
    there = [Problem(str(folder / name), "", "is there already", "Name a new folder.") for name in texts
             if (folder / name).exists()]  # fmt: skip
    if there:
        raise OutputError(there)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(Problem(str(folder), "", f"cannot be made: {fault.strerror or fault}")) from None
    for name, text in texts.items():
        write_whole(folder / name, text)
    return tuple(folder / name for name in texts)


def house_text(answers: Answers) -> str:
    """The layout file of a house with a gable, eaves and what the answers name; pixels 5 or 10 cm apart."""
    return "\n".join(_house(answers))


def _house(answers: Answers) -> Iterator[str]:
    wide, high, metre = answers.width, answers.height, PER_METRE[answers.units]

    def n(length: float) -> str:
        """Metres as they are written: two decimals at most."""
        return f"{round(length, 2):g}"

    yield "# A house to begin with: measure yours, change the numbers, then look: eavesong layout house.toml"
    yield "# x runs from left to right as seen from the street, y up from the ground, z from the house to the street."
    yield f'title = {_quoted(answers.title)}\nunits = "{answers.units}"'
    yield "# Pages show the lights in a photo beside this file; docs/preview.md says how to tell where the house is:"
    yield '# photo = "house.jpg"'
    yield ""
    yield "# The box that patterns run across; without it, the box round all lights. Without the #, it stays as it is"
    yield "# when lights are added:"
    yield f"# [frame]\n# from = [0, 0, 0]\n# to = [{n(wide)}, {n(high)}, {n(4 * metre)}]\n"
    eaves = 0.6 * high
    gable = f"[[0, {n(eaves)}], [{n(wide / 2)}, {n(high)}], [{n(wide)}, {n(eaves)}]]"
    yield _prop("gable", "polyline", '["roofline", "upper"]', f"points = {gable}", f"pitch = {n(0.1 * metre)}")
    yield _prop("eaves", "line", '["roofline", "eaves"]', f"from = [0, {n(eaves)}]", f"to = [{n(wide)}, {n(eaves)}]",
                f"pitch = {n(0.1 * metre)}")  # fmt: skip
    if answers.windows:
        yield _prop("window", "rectangle", '"window"', f"width = {n(metre)}", f"height = {n(1.2 * metre)}",
                    f"pitch = {n(0.1 * metre)}", *_row(answers.windows, wide, 0.3 * high, 0, n))  # fmt: skip
    if answers.trees:
        yield _prop("tree", "cone", '"tree"', f"height = {n(2.5 * metre)}", f"base = {n(1.2 * metre)}", "strings = 12",
                    "pixels = 40", *_row(answers.trees, wide, 0, 2 * metre, n))  # fmt: skip
    if answers.arches:
        yield _prop("arch", "arch", '["arch", "path"]', f"width = {n(1.2 * metre)}", f"height = {n(0.8 * metre)}",
                    "pixels = 50", *_row(answers.arches, wide, 0, 4 * metre, n))  # fmt: skip
    roof = ['"eaves", "gable"'] if 25 * wide / metre <= MOST_PIXELS else ['"eaves"', '"gable"']
    yield _controller([*roof, *(row for name, count, pixels in (
        ("window", answers.windows, 44), ("tree", answers.trees, 12 * 40), ("arch", answers.arches, 50)
    ) if count for row in _chains(name, count, pixels))])  # fmt: skip


def _chains(name: str, count: int, pixels: int) -> Iterator[str]:
    """The row ``name`` of ``count`` props on as many outputs as it takes to refresh them 40 times a second."""
    share = max(1, MOST_PIXELS // pixels)
    if count <= share:
        yield f'"{name}"'
        return
    for first in range(1, count + 1, share):
        yield ", ".join(f'"{name} {number}"' for number in range(first, min(first + share, count + 1)))


def _controller(chains: Sequence[str]) -> str:
    outputs = (
        f"\n[[controller.output]]\nnumber = {number}\nchain = [{chain}]\n" for number, chain in enumerate(chains, 1)
    )
    return _CONTROLLER + "".join(outputs)


def _prop(name: str, shape: str, tags: str, *lines: str) -> str:
    return "\n".join(("[[prop]]", f'name = "{name}"', f'shape = "{shape}"', f"tags = {tags}", *lines, ""))


def _row(count: int, wide: float, up: float, front: float, n: Callable[[float], str]) -> tuple[str, ...]:
    """Where the first of a row is and how the others follow, spread evenly over the width."""
    step = wide / count
    at = f"at = [{n(step / 2)}, {n(up)}, {n(front)}]"
    return (at,) if count == 1 else (at, f"repeat = {{ count = {count}, step = [{n(step)}, 0] }}")


_CONTROLLER = """\
# What drives the lights: a box with outputs, each with the props that are wired to it, in order. Until you have one,
# its address is this computer, and 'eavesong play' is a rehearsal. Then write its own address, and its wiring.
#
# Mains, outdoor supplies and thin wire can hurt and burn: 'eavesong limits' reckons what they carry, but local codes
# hold, and licensed practice where they ask for it.
[[controller]]
name = "garage"
address = "127.0.0.1"
"""


def show_text(answers: Answers) -> str:
    """A show of five cues, none of which needs more than the house has."""
    garden = " or ".join(word for word, count in (("path", answers.arches), ("tree", answers.trees)) if count)
    first = "window" if answers.windows else "eaves"
    return f"""\
# A show to begin with. What it does: eavesong check {SHOW} --layout {HOUSE}; live, while you change it:
# eavesong watch {SHOW} --layout {HOUSE}. A whole show drafted from a song: eavesong draft SONG --layout {HOUSE}
title = "First show"
song = {_quoted(answers.song)}

[[cue]]                       # at the bottom: a calm house, all the time
name = "Calm"
effect = "gradient"
palette = "candle"
opacity = 0.35

[[cue]]                       # the roof, in all but the quiet parts
name = "Roof"
effect = "crossing"
on = "roofline"
kinds = ["steady", "build", "high"]
palette = "lagoon"
fade_in = 4

[[cue]]                       # the garden, where there is one
name = "Garden"
effect = "swell"
on = "{garden or "roofline"}"
kinds = ["steady", "high"]
palette = "evening sky"
fade_in = 2
fade_out = 2

[[cue]]                       # the strongest parts only: keep something for them
name = "All of it"
effect = "heart"
kinds = "high"
palette = "holly"
blend = "plus-lighter"
opacity = 0.7

[[cue]]                       # one colour, in the first four bars
name = "Curtain up"
effect = "plain"
on = "{first}"
bars = [1, 5]
palette = "gold"
fade_out = 4
"""


def setlist_text(answers: Answers) -> str:
    """A setlist of one song, every evening for two hours."""
    return f"""\
# Evenings to begin with: eavesong batch {SETLIST}, then eavesong play {SETLIST} --dry-run
title = "Evenings"
layout = "{HOUSE}"
pages = "pages"               # a page to open in a browser for each song

[evening]
start = "17:00"
end = "19:00"

[[song]]
song = {_quoted(answers.song)}
show = "{SHOW}"       # a song without a show gets one drafted from it
"""


def _quoted(text: str) -> str:
    """A TOML basic string of what can be printed of ``text``, 80 characters at most."""
    import json

    return json.dumps("".join(letter for letter in text.strip() if letter.isprintable())[:80], ensure_ascii=False)
