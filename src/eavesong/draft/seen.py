"""Who is seen when: in which phrase a family stands in a look."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from eavesong.draft.cast import Family
from eavesong.draft.form import CALM, FULL, Form, Stanza

SHAPE = ("roof", "trees", "centre")
"""Families that are never quite dark: the outline of the house, the largest thing in the garden, and screens."""
USED = 0.6
"""Share of a song in which something moves on everybody else, at least: lights that are mostly dark are a waste."""

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


def joined(
    tier: int, leaders: tuple[Family, Family], support: Sequence[Family], extras: Sequence[Family], phrase: Phrase
) -> list[Family]:
    """The families on which something moves in a phrase: more as a part goes on, and each time it returns."""
    first, second = leaders
    times = phrase.part.turn - 1 + phrase.at
    who = [first, *support, *((second,) if tier > CALM or phrase.turned else ())]
    if tier == FULL:
        saved = () if phrase.part.turn == phrase.part.turns or times else tuple(extras[:1])
        who += [each for each in extras if each not in saved or each.name in ("roof", "trees")]
    else:
        who += (second, *extras)[: times if tier == CALM else max(times - 1, 0)]
    return list(dict.fromkeys(who))
