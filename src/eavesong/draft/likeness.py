"""Who wears what: parts that sound alike look alike, those that sound different differ in colour and in who leads.

Moods and families are handed out to the letters of a song by trying: of many ways the one is taken in which looks lie
apart as sounds do, neighbours are told apart at once, and soft parts are cool and strong ones warm.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import parse_colour
from eavesong.draft.cast import GARDEN, Cast, Family
from eavesong.draft.form import CALM, FULL, SOFT, STEADY, STRONG, Form, tiers_of
from eavesong.draft.moods import AWAY, DULL, MOODS, WARM, Colours, apart, close
from eavesong.draft.restraint import share_left, wanted
from eavesong.draft.seen import OUTLINES, SHAPE, USED, Phrase, dark_in, joined, phrases_of

Floats = NDArray[np.float64]

HOME = 0.4
"""Share of a song from its beginning in which it keeps to its own colours."""
REMEMBERED = 8
"""Bars of a letter whose colours are remembered, at least: at the end, or as those of a palette that was asked for."""
TRIES = 1500
"""How many ways are tried."""
LIGHT = {CALM: 0.5, STEADY: 0.45, FULL: 0.6}
"""Light, roughly, of a family on which something moves, by how full a part is."""
LEAD, REST = 0.7, 0.36
"""Light, roughly, of who leads, and of who is at rest."""
MOST = 64
"""Phrases of a song that are looked at, at most."""
SAME_HUE, SAME_LEAD, TWICE, FITTING, DIRTY = 0.3, 0.2, 0.32, 0.03, 0.06
"""What neighbours of one hue cost, neighbours with one lead, and a mood that two letters share; what warmth in strong
parts and coolness in soft ones is worth; what a lamp that looks brown or grey when dim costs in the softest part."""
SAME_SIDE = 0.15
"""What it costs where neighbours have one hue on a side of the picture, garden or house; four times that on both."""
UNUSED = 1.0
"""What it costs where somebody is seen in less than `USED` of a song: times the share that is lacking."""
STRAYING = 2.0
"""What it costs to be away where a song is at home: never worth it."""
LIKENESS = 2.0
"""What it is worth that looks lie apart as sounds do: times a correlation, -1 to 1."""


@dataclass(frozen=True)
class Costume:
    """What a letter wears."""

    colours: Colours
    families: tuple[Family, Family, Family]
    """Who leads, who leads in every second phrase, and who stands behind; the same ones on a house that has fewer."""


def costumes_of(form: Form, cast: Cast, wardrobe: Sequence[Colours], rng: random.Random) -> dict[str, Costume]:
    """A costume for each letter, out of ``wardrobe``: of each palette that was asked for, as long as there are letters
    for it."""
    able = cast.leaders
    letters = form.letters
    beginning = _round(rng.sample(list(wardrobe), len(wardrobe)))
    long = _long(form, len({each.asked for each in wardrobe}))
    turn = {at: place for place, at in enumerate(sorted(range(len(letters)), key=lambda at: at not in long))}
    worn = [Costume(beginning[turn[at] % len(beginning)], _three(able, rng)) for at in range(len(letters))]
    asked = _asked(worn, long)  # as many as can be: what wears fewer is not tried
    judge = _Judge(form, cast, wardrobe)
    best = judge.of(worn)
    judged: dict[tuple[Costume, ...], float] = {}  # more than half of all tries were made before
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
        if _asked(tried, long) < asked:
            continue
        key = tuple(tried)
        worth = judged[key] = judged[key] if key in judged else judge.of(tried, best)
        if worth >= best:
            worn, best = tried, worth
    ended = _at_the_end(form, worn)
    return dict(zip(letters, ended if _asked(ended, long) == asked else worn, strict=True))


def _round(wardrobe: Sequence[Colours]) -> list[Colours]:
    """One of each palette that was asked for, then another of each, and so on."""
    turns = [sum(other.asked == each.asked for other in wardrobe[:at]) for at, each in enumerate(wardrobe)]
    return [wardrobe[at] for at in sorted(range(len(wardrobe)), key=turns.__getitem__)]


def _long(form: Form, palettes: int) -> frozenset[int]:
    """The letters by number that between them wear each of so many palettes: those that are long enough and keep their
    colours at the end, and others where these are too few. None for a single palette, which all wear."""
    bars, last = _bars(form), form.parts[-1].letter
    ending = last if len(form.parts_of(last)) == 1 else ""
    fits = {letter: (there < REMEMBERED, letter == ending) for letter, there in bars.items()}
    order = sorted(range(len(bars)), key=lambda at: (fits[form.letters[at]], -bars[form.letters[at]]))
    enough = sum(not any(each) for each in fits.values())
    return frozenset(order[: max(enough, palettes)] if palettes > 1 else ())


def _asked(worn: Sequence[Costume], among: Collection[int]) -> int:
    """How many of the palettes that were asked for are worn by some letters."""
    return len({worn[at].colours.asked for at in among})


def _bars(form: Form) -> dict[str, int]:
    """How many bars each letter has."""
    return {letter: sum(part.end - part.start for part in form.parts_of(letter)) for letter in form.letters}


def _at_the_end(form: Form, worn: list[Costume]) -> list[Costume]:
    """Nobody sees new colours at the end: a last part that was not heard before is what the first was, where that can
    be told from the part before it, else in the colours of what it sounds like."""
    order = {letter: at for at, letter in enumerate(form.letters)}
    last, before = form.parts[-1].letter, form.parts[-2].letter if len(form.parts) > 1 else ""
    if len(form.parts_of(last)) > 1:
        return worn
    bars = _bars(form)
    first = worn[order[form.parts[0].letter]]
    if before and first.colours.mood != worn[order[before]].colours.mood:
        return [first if at == order[last] else costume for at, costume in enumerate(worn)]
    others = [
        letter for letter in order if letter != last and apart(worn[order[letter]].colours, worn[order[before]].colours)
    ]
    others = [letter for letter in others if bars[letter] >= REMEMBERED] or others
    others = [letter for letter in others if worn[order[letter]].colours.deep == first.colours.deep] or others
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
        self.families = cast.families
        self.outlined = {family.name for family in cast.families} >= {*OUTLINES}
        self.looks: dict[tuple[int, str, tuple[str, ...]], tuple[Floats, Floats]] = {}
        self.shares = np.array([family.share for family in cast.families])
        self.foreign = AWAY & {each.mood for each in wardrobe if each.deep != wardrobe[0].deep}
        early = form.first + HOME * (form.last - form.first)
        home = {form.parts[-1].letter, *(part.letter for part in form.parts if part.start < early)}
        self.home = [letters.index(letter) for letter in home]
        tiers = tiers_of(form)
        self.tiers = [tiers[letter] for letter in letters]
        self.strengths = [form.strength_of(letter) for letter in letters]
        every = -(-sum(len(part.phrases) for part in form.parts) // MOST)
        self.phrases = [list(phrases_of(form, letter))[::every] for letter in letters]
        phrases = [phrase for found in self.phrases for phrase in found]
        self.used = np.array([0.0 if family.name in SHAPE else USED for family in cast.families])
        lengths = np.array([phrase.end - phrase.start for phrase in phrases], float)
        self.pairs = np.triu_indices(len(phrases), 1)
        self.bars = max(float(lengths.sum()), 1.0)
        weights = lengths[self.pairs[0]] * lengths[self.pairs[1]]
        self.weights = weights / max(float(weights.sum()), 1.0)
        self.heard = self._ranks(np.array([form.sound_of_bars(phrase.start, phrase.end) for phrase in phrases]))
        bright = wanted(form)
        self.bright = np.array([bright[each.start - form.first : each.end - form.first].mean() for each in phrases])
        order = {letter: at for at, letter in enumerate(letters)}
        heard = [order[part.letter] for part in form.parts]
        heard[-1] = heard[-1] if len(form.parts_of(letters[heard[-1]])) > 1 else 0  # it will be what the first was
        self.beside = {(min(pair), max(pair)) for pair in pairwise(heard) if pair[0] != pair[1]}

    def of(self, worn: Sequence[Costume], least: float = -np.inf) -> float:
        """Higher for costumes that suit better; where it cannot reach ``least``, anything below that."""
        worth, looks = 0.0, [self._look(each, at) for at, each in enumerate(worn)]
        lacking = self.used - sum(there for _, there in looks) / self.bars
        worth -= UNUSED * float(np.maximum(lacking, 0.0).sum())
        for one, other in self.beside:
            worth -= SAME_HUE * ((worn[one].colours.mood, worn[other].colours.mood) in self.alike)
            pairs = zip(sides_of(worn[one]), sides_of(worn[other]), strict=True)
            worth -= SAME_SIDE * sum(close(mine, yours) for mine, yours in pairs) ** 2
            worth -= SAME_LEAD * (worn[one].families[0] == worn[other].families[0])
        worth -= STRAYING * sum(worn[at].colours.mood in self.foreign for at in self.home)
        worth -= TWICE * (len(worn) - len({each.colours.mood for each in worn}))
        worth -= DIRTY * sum(_dull(each, strength) for each, strength in zip(worn, self.strengths, strict=True))
        fits = sum(_fits(each.colours, strength) for each, strength in zip(worn, self.strengths, strict=True))
        worth += FITTING * fits / len(worn)
        if len(self.weights) > 1 and worth + LIKENESS >= least:  # a correlation is 1 at most
            seen = self._ranks(self._dimmed(np.concatenate([light for light, _ in looks])))
            worth += LIKENESS * float(self.weights @ (seen * self.heard))
        return worth

    def _dimmed(self, light: Floats) -> Floats:
        """Cube roots of what families show (phrases, families, 3), by the root of their share, as `eavesong.follow`
        takes a look: with the house as bright as the song is loud."""
        given = light.mean(axis=2) @ self.shares
        dimmed = share_left(self.bright, given)
        looks: Floats = np.cbrt(light * dimmed[:, None, None]) * np.sqrt(self.shares)[:, None]
        return looks.reshape(len(light), -1)

    def _look(self, costume: Costume, letter: int) -> tuple[Floats, Floats]:
        """What each family shows in each phrase of a letter (phrases, families, 3), roughly, and for how many bars
        something moves on it (families,)."""
        key = (letter, costume.colours.mood, tuple(family.name for family in costume.families))
        if key not in self.looks:
            light = np.zeros((len(self.phrases[letter]), len(self.families), 3))
            bars = np.zeros(len(self.families))
            for at, phrase in enumerate(self.phrases[letter]):
                light[at], there = self._light(costume, self.tiers[letter], phrase)
                bars += there * (phrase.end - phrase.start)
            self.looks[key] = light, bars
        return self.looks[key]

    def _light(self, costume: Costume, tier: int, phrase: Phrase) -> tuple[Floats, NDArray[np.bool_]]:
        main, beside, deep = self.light[costume.colours.mood]
        first, second, third = costume.families
        others = [family for family in self.families if family not in costume.families]
        extras = [family for family in others if family.name != "front"]
        support = (third,) if tier > CALM else ()
        seen = {family.name for family in joined(tier, (first, second), support, extras, phrase)}
        seen |= {"front"} if "roof" in seen else set()
        lead = (second if phrase.turned else first).name if phrase.part.tier > CALM else ""
        dark = dark_in((first, second), phrase) if self.outlined else ""
        leading = first.name in GARDEN
        light = np.zeros((len(self.families), 3))
        for at, name in enumerate(family.name for family in self.families):
            if name in seen:
                share = LEAD if name == lead else LIGHT[tier]
                light[at] = share * (main if (name in GARDEN) == leading else beside)
            elif name in SHAPE and name != dark:
                light[at] = REST * deep
        return light, np.array([family.name in seen for family in self.families])

    def _ranks(self, points: Floats) -> Floats:
        """Ranks of the distances of all pairs, their weighted mean 0 and spread 1."""
        distances = np.linalg.norm(points[self.pairs[0]] - points[self.pairs[1]], axis=1)
        ranks = np.empty(len(distances))
        ranks[np.argsort(distances)] = np.arange(len(distances))
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
