"""What is odd with a house itself, whatever is shown on it: tags that look like slips of the pen, and sizes."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from eavesong.errors import Problem
from eavesong.layout.doubts import MEANT, odd_grids, odd_places, odd_spacings
from eavesong.layout.proportions import odd_sizes
from eavesong.layout.size import doubt_of_layout
from eavesong.scene.roles import PARENTS, ZONES
from eavesong.show.selection import parse_selector
from eavesong.statements import place

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.show import Show

ALIKE = 0.8
"""Of `difflib.SequenceMatcher`: one letter left out, doubled or in the wrong place in a word of four or five."""
CALLED = frozenset({*PARENTS, *ZONES, "big", "small"})
"""The words that shows ask for which come with eavesong, and those that roles know."""


def house_findings(layout: Layout, show: Show | None = None) -> Iterator[Problem]:
    """Tags by which nothing that is known asks for a prop, but for another letter, and sizes that houses and props
    hardly have.

    show: whose own words are known, too.
    """
    asked = {word for cue in show.cues for text in cue.on for word in parse_selector(text).words} if show else set()
    name = layout.path or layout.title
    told: set[tuple[str, str]] = set()
    for prop in layout.props:
        for tag in sorted(prop.tags):
            if (meant := _slip(tag, prop.tags, asked)) and (prop.member_of, tag) not in told:
                told.add((prop.member_of, tag))
                found = f"nothing asks for the tag '{tag}' of '{prop.member_of}'"
                yield Problem(name, _place(layout, prop.member_of, "tags"), found, f"Did you mean '{meant}'?")
    astray = [*odd_places(layout)]  # of a house with one of them, its size says nothing of its units
    if not astray and (doubt := doubt_of_layout(layout)):
        yield Problem(name, "", *doubt)
    for entry, odd, advice in (*odd_sizes(layout), *odd_spacings(layout), *odd_grids(layout), *astray):
        yield Problem(name, _place(layout, entry) if entry else "", odd, advice)


def _slip(tag: str, others: Collection[str], asked: Collection[str]) -> str:
    """The word that a tag was probably meant to be; empty where it is a good word, or the prop has that anyway."""
    if tag in CALLED or tag in asked or tag in MEANT:
        return ""
    plural = {f"{word}s": word for word in CALLED} | {f"{word}es": word for word in CALLED}
    likely = [plural[tag]] if tag in plural else [word for word in CALLED if _near(tag, word)]
    if not likely:
        return ""
    meant = max(likely, key=lambda word: (_alike(tag, word), word))
    known = PARENTS if meant in PARENTS else ZONES
    return "" if any(other in known for other in others) else meant


def _near(word: str, known: str) -> bool:
    return len(word) > 2 and word[0] == known[0] and _alike(word, known) >= ALIKE


def _alike(word: str, known: str) -> float:
    return difflib.SequenceMatcher(None, word, known).ratio()


def _place(layout: Layout, entry: str, *key: str) -> str:
    """Where an entry, or a key of it, stands in the layout's file."""
    names = list(dict.fromkeys(prop.member_of for prop in layout.props))
    if not layout.text:
        return ", ".join((f"prop '{entry}'", *key))
    return place(layout.text, ("prop", names.index(entry), *key))
