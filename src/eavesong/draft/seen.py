"""Who is seen when: in which phrase a family stands in a look."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from eavesong.draft.cast import Family
from eavesong.draft.form import CALM, FULL, STEADY, Form, Stanza

SHAPE = ("roof", "trees", "centre")
"""Families that are never quite dark, but for one of `OUTLINES` in calm parts: the outline of the house, the largest
thing in the garden, and screens."""
USED = 0.45
"""Share of a song in which something moves on everybody else, at least: lights that are mostly dark are a waste."""
OUTLINES = ("roof", "trees")
"""Of these only one is lit in a calm part: what is dark then is there to open with the next strong one."""

LONG = {STEADY: 17, FULL: 14}
"""Bars from which what goes on is long, by how full it is."""
EXCHANGED = 8
"""Bars of what is long after which its colours change places."""
SHORT = 4
"""Bars at its end for which they would not."""

Bars = frozenset[int]


@dataclass(frozen=True)
class Phrase:
    """A phrase of a letter."""

    part: Stanza
    at: int
    """Which of its part's, from 0."""
    start: int
    end: int
    """The bar after its last."""
    turned: bool
    """Whether it is one of every second phrase of its letter."""


def phrases_of(form: Form, letter: str) -> Iterator[Phrase]:
    """The phrases of a letter, in their order."""
    count = 0
    for _, together in groupby(form.parts, key=lambda part: part.letter):
        parts = list(together)
        if parts[0].letter != letter:
            continue
        for part in parts:
            for at, (start, end) in enumerate(part.phrases):
                yield Phrase(part, at, start, end, count % 2 == 1)
                count += 1


def turned_bars(form: Form, letter: str) -> Bars:
    """Bars of every second phrase of a letter."""
    return frozenset(bar for each in phrases_of(form, letter) if each.turned for bar in range(each.start, each.end))


def exchanged_bars(form: Form, letter: str, alike: Collection[str] = ()) -> Bars:
    """Bars in which house and garden wear one another's colours: every second eight of what goes on for long.

    alike: letters that look like this one with its colours exchanged; before these it ends as it began.
    """
    bars: set[int] = set()
    runs = [list(together) for _, together in groupby(form.parts, key=lambda part: (part.letter, part.tier))]
    for parts, after in zip(runs, [*runs[1:], []], strict=True):
        begin, stop, tier = parts[0].start, parts[-1].end, parts[0].tier
        if parts[0].letter != letter or tier == CALM or stop - begin < LONG[tier]:
            continue
        spans: list[tuple[int, int]] = []
        block = 0
        for start, end in (phrase for part in parts for phrase in part.phrases):
            block = (start - begin + 1) // EXCHANGED if stop - start >= SHORT else block
            spans += [(start, end)] if block % 2 else []
        clash = bool(after) and after[0].letter in alike
        while clash and spans and spans[-1][1] > stop - EXCHANGED:
            spans.pop()
        bars.update(bar for start, end in spans for bar in range(start, end))
    return frozenset(bars)


def joined(
    tier: int, leaders: tuple[Family, Family], support: Sequence[Family], extras: Sequence[Family], phrase: Phrase
) -> list[Family]:
    """The families on which something moves in a phrase: more as a part goes on, and each time it returns.

    tier: how full its letter is; a part may be less.
    """
    first, second = leaders
    part = phrase.part
    times = part.turn - 1 + phrase.at
    if part.tier == CALM:
        return list(dict.fromkeys((first, *(support if tier == CALM else ()), *((second,) if phrase.turned else ()))))
    who = [first, *support, *((second,) if part.tier == FULL or times else ())]
    if part.tier == FULL:
        saved = () if part.turn == part.turns or times else tuple(extras[:1])
        who += [each for each in extras if each not in saved or each.name in OUTLINES]
    elif tier == STEADY:
        who += extras[: part.turn - 1]
    return list(dict.fromkeys(who))


def dark_in(leaders: tuple[Family, Family], phrase: Phrase) -> str:
    """The name of the outline that is quite dark in a phrase where it has no other part; empty in all but calm ones."""
    if phrase.part.tier > CALM:
        return ""
    first, second = (family.name for family in leaders)
    if first in OUTLINES or second in OUTLINES:
        return "roof" if (first if first in OUTLINES else second) == "trees" else "trees"
    return "roof" if phrase.turned else "trees"
