"""Who wears what: parts that sound alike look alike, those that sound different differ in colour and in who leads.

Moods and families are handed out to the letters of a song by trying: of many ways the one is taken in which looks lie
apart as sounds do, neighbours are told apart at once, and soft parts are cool and strong ones warm.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import parse_colour
from eavesong.draft.cast import GARDEN, Cast, Family
from eavesong.draft.form import CALM, FULL, SOFT, STEADY, STRONG, Form, tiers_of
from eavesong.draft.moods import AWAY, DULL, MOODS, WARM, Colours, apart, close

Floats = NDArray[np.float64]

HOME = 0.4
"""Share of a song from its beginning in which it keeps to its own colours."""
REMEMBERED = 8
"""Bars of a letter whose colours are remembered at the end, at least, where there is one."""
TRIES = 1500
"""How many ways are tried."""
SHAPE = ("roof", "trees", "centre")
"""Families that are never quite dark: the outline of the house, the largest thing in the garden, and screens."""
LIGHT = {CALM: (0.4, 0.3, 0.0, 0.0), STEADY: (0.6, 0.3, 0.4, 0.1), FULL: (0.7, 0.6, 0.6, 0.6)}
"""Light, roughly, of who leads, who leads next, who stands beside them, and of the others, by how full a part is."""
REST = 0.5
"""Light, roughly, of who is at rest."""
DIMMED = 4.0
"""Light of the strongest letter against that of a silent one, roughly."""
SAME_HUE, SAME_LEAD, TWICE, FITTING, DIRTY = 0.3, 0.2, 0.32, 0.03, 0.06
"""What neighbours of one hue cost, neighbours with one lead, and a mood that two letters share; what warmth in strong
parts and coolness in soft ones is worth; what a lamp that looks brown or grey when dim costs in the softest part."""
SAME_SIDE = 0.15
"""What it costs where neighbours have one hue on a side of the picture, garden or house; four times that on both."""
STRAYING = 2.0
"""What it costs to be away where a song is at home: never worth it."""
LIKENESS = 1.5
"""What it is worth that looks lie apart as sounds do: times a correlation, -1 to 1."""


@dataclass(frozen=True)
class Costume:
    """What a letter wears."""

    colours: Colours
    families: tuple[Family, Family, Family]
    """Who leads, who leads in every second phrase, and who stands behind; the same ones on a house that has fewer."""


def costumes_of(form: Form, cast: Cast, wardrobe: Sequence[Colours], rng: random.Random) -> dict[str, Costume]:
    """A costume for each letter, out of ``wardrobe``."""
    able = cast.leaders
    letters = form.letters
    beginning = rng.sample(list(wardrobe), len(wardrobe))
    worn = [Costume(beginning[at % len(beginning)], _three(able, rng)) for at in range(len(letters))]
    judge = _Judge(form, cast, wardrobe)
    best = judge.of(worn)
    for _ in range(TRIES if len(letters) > 1 else 0):
        tried = list(worn)
        one, other = rng.randrange(len(letters)), rng.randrange(len(letters))
        change = rng.random()
        if change < 0.3:
            tried[one] = replace(worn[one], colours=rng.choice(beginning))
        elif change < 0.6:
            tried[one] = replace(worn[one], colours=worn[other].colours)
            tried[other] = replace(worn[other], colours=worn[one].colours)
        else:
            tried[one] = replace(worn[one], families=_three(able, rng))
        worth = judge.of(tried)
        if worth >= best:
            worn, best = tried, worth
    return dict(zip(letters, _at_the_end(form, worn), strict=True))


def _at_the_end(form: Form, worn: list[Costume]) -> list[Costume]:
    """Nobody sees new colours at the end: a last part that was not heard before is what the first was, where that can
    be told from the part before it, else in the colours of what it sounds like."""
    order = {letter: at for at, letter in enumerate(form.letters)}
    last, before = form.parts[-1].letter, form.parts[-2].letter if len(form.parts) > 1 else ""
    if len(form.parts_of(last)) > 1:
        return worn
    bars = {letter: sum(part.end - part.start for part in form.parts_of(letter)) for letter in order}
    first = worn[order[form.parts[0].letter]]
    if before and first.colours.mood != worn[order[before]].colours.mood:
        return [first if at == order[last] else costume for at, costume in enumerate(worn)]
    others = [
        letter for letter in order if letter != last and apart(worn[order[letter]].colours, worn[order[before]].colours)
    ]
    others = [letter for letter in others if bars[letter] >= REMEMBERED] or others
    if not others:
        return worn
    sound = form.sound_of(last)
    alike = min(others, key=lambda letter: float(np.linalg.norm(form.sound_of(letter) - sound)))
    ending = replace(worn[order[last]], colours=worn[order[alike]].colours)
    return [ending if at == order[last] else costume for at, costume in enumerate(worn)]


def _three(able: Sequence[Family], rng: random.Random) -> tuple[Family, Family, Family]:
    """Families in a new order, the second on the other side of the picture; centre pieces are too small to be first."""
    first = rng.choice([family for family in able if family.name != "centre"] or list(able))
    others = rng.sample(able, len(able))
    others.sort(key=lambda family: (family == first, (family.name in GARDEN) == (first.name in GARDEN)))
    second = others[0]
    third = rng.choice([family for family in able if family not in (first, second)] or [second])
    chosen = [first, second, third]
    return chosen[0], chosen[1 % len(chosen)], chosen[2 % len(chosen)]


class _Judge:
    """How well costumes suit a song."""

    def __init__(self, form: Form, cast: Cast, wardrobe: Sequence[Colours]) -> None:
        letters = form.letters
        self.light = {each.mood: [np.array(parse_colour(colour)) for colour in (each.main, each.beside, each.deep)]
                      for each in wardrobe}  # fmt: skip
        self.alike = {(one.mood, other.mood) for one in wardrobe for other in wardrobe if not apart(one, other)}
        self.place = {family.name: at for at, family in enumerate(cast.families)}
        self.looks: dict[tuple[int, str, tuple[str, ...]], Floats] = {}
        self.shares = np.sqrt([family.share for family in cast.families])
        self.foreign = AWAY & {each.mood for each in wardrobe if each.deep != wardrobe[0].deep}
        early = form.first + HOME * (form.last - form.first)
        home = {form.parts[-1].letter, *(part.letter for part in form.parts if part.start < early)}
        self.home = [letters.index(letter) for letter in home]
        tiers = tiers_of(form)
        self.tiers = [tiers[letter] for letter in letters]
        self.strengths = [form.strength_of(letter) for letter in letters]
        lengths = np.array([sum(part.end - part.start for part in form.parts_of(letter)) for letter in letters])
        self.pairs = np.triu_indices(len(letters), 1)
        weights = (lengths[self.pairs[0]] * lengths[self.pairs[1]]).astype(float)
        self.weights = weights / max(float(weights.sum()), 1.0)
        self.heard = self._ranks(np.array([form.sound_of(letter) for letter in letters]))
        order = {letter: at for at, letter in enumerate(letters)}
        self.beside = {
            (min(pair), max(pair)) for pair in pairwise(order[part.letter] for part in form.parts) if pair[0] != pair[1]
        }

    def of(self, worn: Sequence[Costume]) -> float:
        """Higher for costumes that suit better."""
        worth = 0.0
        if len(self.weights) > 1:
            seen = self._ranks(np.array([self._look(costume, at) for at, costume in enumerate(worn)]))
            worth += LIKENESS * float(self.weights @ (seen * self.heard))
        for one, other in self.beside:
            worth -= SAME_HUE * ((worn[one].colours.mood, worn[other].colours.mood) in self.alike)
            pairs = zip(sides_of(worn[one]), sides_of(worn[other]), strict=True)
            worth -= SAME_SIDE * sum(close(mine, yours) for mine, yours in pairs) ** 2
            worth -= SAME_LEAD * (worn[one].families[0] == worn[other].families[0])
        worth -= STRAYING * sum(worn[at].colours.mood in self.foreign for at in self.home)
        worth -= TWICE * (len(worn) - len({each.colours.mood for each in worn}))
        worth -= DIRTY * sum(_dull(each, strength) for each, strength in zip(worn, self.strengths, strict=True))
        fits = sum(_fits(each.colours, strength) for each, strength in zip(worn, self.strengths, strict=True))
        return worth + FITTING * fits / len(worn)

    def _look(self, costume: Costume, letter: int) -> Floats:
        """Cube roots of what families show, by the root of their share, as `eavesong.follow` takes a look."""
        key = (letter, costume.colours.mood, tuple(family.name for family in costume.families))
        if key not in self.looks:
            light = self._light(costume, self.tiers[letter]) * DIMMED ** (self.strengths[letter] - 1)
            self.looks[key] = (np.cbrt(light) * self.shares[:, None]).ravel()
        return self.looks[key]

    def _light(self, costume: Costume, tier: int) -> Floats:
        """What each family shows (families, 3), roughly."""
        light = np.zeros((len(self.place), 3))
        main, beside, deep = self.light[costume.colours.mood]
        given = list(zip(costume.families, LIGHT[tier], strict=False))
        worn = {family.name: share for family, share in reversed(given)}
        first = costume.families[0].name in GARDEN
        for name, at in self.place.items():
            share = worn.get(name, LIGHT[tier][3])
            colour = main if (name in GARDEN) == first else beside
            light[at] = share * colour if share >= REST or name not in SHAPE else max(share, REST) * deep
        return light

    def _ranks(self, points: Floats) -> Floats:
        """Ranks of the distances of all pairs, their weighted mean 0 and spread 1."""
        distances = np.linalg.norm(points[self.pairs[0]] - points[self.pairs[1]], axis=1)
        ranks = np.argsort(np.argsort(distances)).astype(float)
        ranks -= self.weights @ ranks
        even: Floats = ranks / max(float(np.sqrt(self.weights @ ranks**2)), 1e-9)
        return even


def sides_of(costume: Costume) -> tuple[str, str]:
    """The colours of garden and house."""
    worn = costume.colours
    garden = costume.families[0].name in GARDEN
    return (worn.main, worn.beside) if garden else (worn.beside, worn.main)


def _fits(colours: Colours, strength: float) -> int:
    """1 for warmth in a strong part and coolness in a soft one, -1 the other way round."""
    if colours.mood not in MOODS or SOFT <= strength < STRONG:
        return 0
    warm = MOODS[colours.mood][0] in WARM
    return 1 if warm == (strength >= STRONG) else -1


def _dull(costume: Costume, strength: float) -> float:
    """How many lamps of a mood look brown or grey in a part as soft as this; the more, the larger who wears them."""
    lamps = MOODS.get(costume.colours.mood, ())[:2]
    soft = min(max((STRONG - strength) / (STRONG - SOFT), 0.0), 1.0)
    garden = costume.families[0].name in GARDEN
    large = (1.5, 0.5) if garden else (0.5, 1.5)
    return soft * sum(share * (lamp in DULL) for share, lamp in zip(large, lamps, strict=False))
