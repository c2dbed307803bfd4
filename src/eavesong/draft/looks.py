"""Looks: what each letter of a song looks like, who leads it and what moves in it.

A look has two sides: what hangs on the house and what stands in its garden, each in one colour of the letter. One
family leads, another takes over in every second phrase, one stands beside them; roof and trees are never dark. What
moves on a family changes from phrase to phrase, so that no picture stands for long. Strokes light up what this leaves
dark. Strength decides how much of it there is and how fast it goes.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

import numpy as np

from eavesong.draft.cast import GARDEN, Cast, Family
from eavesong.draft.cue import Value
from eavesong.draft.form import CALM, Form, tiers_of
from eavesong.draft.likeness import Costume, sides_of
from eavesong.draft.moods import Colours, close
from eavesong.draft.safe import STROKES, TURNS, busiest
from eavesong.draft.seen import OUTLINES, SHAPE, USED, Bars, dark_in, exchanged_bars, joined, phrases_of
from eavesong.music.stress import begins_at

RING = 1.3
"""Seconds that a drum stroke rings; twice as long where strokes are so quick that light would flash between them."""
MOST = 0.7
"""Share of strokes or stresses that are most of them."""
CLEAR = 0.97
"""How much begins at strokes that are followed, against what begins on stressed beats, at least."""
VOICES = {"low": "bass drum", "middle": "snare"}
Pair = tuple[str, str]
MOVING: dict[str, tuple[Pair, ...]] = {
    "roof": (("runners", "garland"), ("garland", "runners"), ("swell", "swell")),
    "front": (("runners", "garland"), ("garland", "runners"), ("swell", "swell")),
    "trees": (("helix", "garland"), ("garland", "helix"), ("swell", "swell")),
    "ground": (("relay", "garland"), ("garland", "relay"), ("swell", "swell")),
    "centre": (("lozenges", "emblem"), ("emblem", "lozenges"), ("rings", "rings")),
}
"""What suits each family: in one phrase, and in the next. Bulbs change places with bulbs; what rolls goes on rolling,
so that a letter is known again by what moves in it."""
SOFTLY: dict[str, tuple[Pair, ...]] = {
    "roof": (("swell", "glimmer"), ("glimmer", "swell")), "front": (("swell", "glimmer"), ("glimmer", "swell")),
    "trees": (("swell", "ebb"), ("ebb", "swell"), ("swell", "glimmer")),
    "ground": (("relay", "ebb"), ("ebb", "relay")), "centre": (("emblem", "lozenges"), ("lozenges", "emblem")),
}  # fmt: skip
"""The same in a calm part."""
TAKING_TURNS = ("garland", "swell")
"""What differs from one bar to the next."""
TURNING = 0.3
"""Share of the pixels, roughly, that must differ from one bar to the next, or the bars look the same."""
ANGLES = (0, 20, 160)
"""Degrees at which waves may roll."""


@dataclass(frozen=True)
class Drums:
    """Strokes that a lead follows."""

    words: str
    parameters: dict[str, Value]


@dataclass(frozen=True)
class Staging:
    """One letter's look."""

    letter: str
    tier: int
    """`CALM`, `STEADY` or `FULL`."""
    leaders: tuple[Family, Family]
    """Those who lead, phrase by phrase."""
    support: tuple[Family, ...]
    """Who stands beside them."""
    colours: Colours
    angle: int
    """Degrees at which waves roll."""
    moving: dict[str, Pair]
    """What moves on each family, by name: in one phrase, and in the next."""
    drums: Drums | None
    """What the leads follow instead of beats, where there are drums."""
    shape: tuple[Family, ...]
    """Families that hold a deep, even light wherever they have no other part."""
    extras: tuple[Family, ...] = field(default=())
    """Families that join when the letter goes on, returns, and comes for the last time."""
    beside_roof: tuple[Family, ...] = field(default=())
    """Posts, which show what the roof shows."""
    exchanged: Bars = frozenset()
    """Bars in which house and garden wear one another's colours."""
    stressed: bool = False
    """Whether leads follow stressed beats."""
    downbeats: bool = True
    """Whether there are some, and as much begins with bars as on them."""

    @property
    def lit(self) -> frozenset[str]:
        """The families that are lit each time the letter comes, by name."""
        return frozenset(family.name for family in (*self.leaders, *self.support, *self.shape))

    def bars(self, form: Form) -> frozenset[int]:
        """The bars in which the letter comes."""
        return frozenset(bar for part in form.parts_of(self.letter) for bar in range(part.start, part.end))

    def seen(self, form: Form) -> dict[Family, Bars]:
        """In which bars something moves on each family."""
        seen: dict[Family, set[int]] = {family: set() for family in (self.leaders[0], *self.support, self.leaders[1])}
        for phrase in phrases_of(form, self.letter):
            for family in joined(self.tier, self.leaders, self.support, self.extras, phrase):
                seen.setdefault(family, set()).update(range(phrase.start, phrase.end))
        roof = next((family for family in seen if family.name == "roof"), None)
        if roof:
            seen |= {family: seen.get(family, set()) | seen[roof] for family in self.beside_roof}
        return {family: frozenset(bars) for family, bars in seen.items()}

    def at_rest(self, form: Form) -> dict[Family, Bars]:
        """In which bars each family of the shape rests: where nothing moves on it, and it is not dark to leave room."""
        seen = self.seen(form)
        both = {family.name for family in self.shape} >= {*OUTLINES}
        dark: dict[str, set[int]] = {name: set() for name in OUTLINES}
        for phrase in phrases_of(form, self.letter) if both else ():
            dark.get(dark_in(self.leaders, phrase), set()).update(range(phrase.start, phrase.end))
        bars = self.bars(form)
        return {
            family: bars - seen.get(family, frozenset()) - frozenset(dark.get(family.name, ())) for family in self.shape
        }

    def plain(self) -> Staging:
        """The same with its colours where they are."""
        return replace(self, exchanged=frozenset())

    def palette_of(self, family: Family, exchanged: bool = False) -> str:
        """Who leads, and all on the same side of the picture, in the main colour; the other side in the one beside;
        the other way round where they are exchanged."""
        mine, first = family.name in GARDEN, self.leaders[0].name in GARDEN
        return self.letter if (mine == first) != exchanged else f"{self.letter} beside"


def looks_of(form: Form, cast: Cast, costumes: dict[str, Costume], rng: random.Random) -> dict[str, Staging]:
    """A look for every letter, in its costume; neighbours differ in what moves."""
    tiers = tiers_of(form)
    looks: dict[str, Staging] = {}
    roofed = any(family.name == "roof" for family in cast.families)
    for letter in form.letters:
        beside = [pair for pair in pairwise(part.letter for part in form.parts) if letter in pair]
        near = [looks[other] for other in form.letters if other in looks and any(other in pair for pair in beside)]
        tier, costume = tiers[letter], costumes[letter]
        first, second, third = costume.families
        drums = _drums(form, letter, tier)
        others = tuple(family for family in cast.families if family not in costume.families)
        shape = tuple(family for family in cast.families if family.name in SHAPE)
        posts = tuple(family for family in others if family.name == "front" and roofed)
        looks[letter] = Staging(
            letter, tier, (first, second), (third,) if tier > CALM else (), costume.colours, rng.choice(ANGLES),
            _moving(cast, costume, tier, drums, near, rng), drums, shape,
            tuple(family for family in others if family not in posts), posts, _exchanged(form, letter, costumes),
            *_stresses(form, letter),
        )  # fmt: skip
    return _with_everybody(looks, form, cast)


def _exchanged(form: Form, letter: str, costumes: dict[str, Costume]) -> Bars:
    """In which bars a letter's colours are exchanged: not just before what would look the same."""
    garden, house = sides_of(costumes[letter])
    sides = {other: sides_of(costume) for other, costume in costumes.items() if other != letter}
    alike = [other for other, (theirs, yours) in sides.items() if close(house, theirs) and close(garden, yours)]
    return exchanged_bars(form, letter, alike)


def _moving(
    cast: Cast, costume: Costume, tier: int, drums: Drums | None, near: list[Staging], rng: random.Random
) -> dict[str, Pair]:
    """What moves on every family: enough of it differs from bar to bar, from phrase to phrase, and from the looks
    beside."""
    able: list[tuple[Pair, ...]] = []
    for family in cast.families:
        pairs = list((SOFTLY if tier == CALM else MOVING)[family.name])
        rng.shuffle(pairs)
        # Strokes over what moves would light some places too often in a second.
        struck = drums and family in costume.families[:2]
        able.append((("emblem",) * 2 if family.name == "centre" else ("garland",) * 2,) if struck else tuple(pairs))
    worn = [family in costume.families for family in cast.families]

    def worth(chosen: tuple[Pair, ...]) -> float:
        """Higher for what turns enough, stands still on one family at most and differs from the looks beside."""
        turning = [
            sum(family.share for family, pair, on in zip(cast.families, chosen, worn, strict=True)
                if on and pair[at] in TAKING_TURNS) for at in (0, 1)
        ]  # fmt: skip
        still = sum(on and one == other for (one, other), on in zip(chosen, worn, strict=True))
        beside = sum(look.moving[family.name] == pair for look in near
                     for family, pair, on in zip(cast.families, chosen, worn, strict=True) if on)  # fmt: skip
        return 10 * min(*turning, TURNING) - 2 * max(still - 1, 0) - 0.5 * beside

    best = max(product(*able), key=worth)
    found = {family.name: pair for family, pair in zip(cast.families, best, strict=True)}
    if {"front", "roof"} <= {*found} and "front" not in [family.name for family in costume.families[:2]]:
        found["front"] = found["roof"]
    return found


def _with_everybody(looks: dict[str, Staging], form: Form, cast: Cast) -> dict[str, Staging]:
    """Nobody is dark for most of the song: who is seen too little stands beside in more looks, the fullest first."""
    worn = dict(looks)
    for family in cast.families:
        least = 0.0 if all(family in look.shape for look in looks.values()) else USED * (form.last - form.first)
        for letter in sorted(looks, key=lambda each: (-looks[each].tier, -len(looks[each].bars(form)))):
            if sum(len(look.seen(form).get(family, ())) for look in worn.values()) >= max(least, 1):
                break
            worn[letter] = replace(worn[letter], support=tuple(dict.fromkeys((*worn[letter].support, family))))
    return worn


def _drums(form: Form, letter: str, tier: int) -> Drums | None:
    """Which strokes a look follows: one a bar at least, and no quicker than eyes bear."""
    if tier == CALM:
        return None
    bars = sum(part.end - part.start for part in form.parts_of(letter))
    times = {label: form.times_of(label, letter) for label in VOICES}
    stresses = form.times_of("stress", letter) or [each.time for each in form.events.labelled("stress")]
    least = CLEAR * _force(form, stresses)
    heard = {
        label: busiest(found) for label, found in times.items() if len(found) >= bars and _force(form, found) >= least
    }
    beats = round(max(RING * form.tempo / 60, 1.0))
    if len(heard) == 2 and max(heard.values()) <= STROKES:
        return Drums("left follows the bass drum, right the snare", {"beats": beats})
    if not heard:
        return None
    label = min(heard, key=lambda each: (heard[each] > TURNS, each == "low"))  # snares stand out most
    parameters: dict[str, Value] = {"alone": 1, "snare": float(label == "middle")}
    if heard[label] <= TURNS:
        told = f"one side and then the other with the {VOICES[label]}"
        return Drums(told, {"beats": beats, "turns": 1, **parameters})
    return Drums(f"rings on with the {VOICES[label]}", {"beats": round(2 * beats), **parameters})


def _force(form: Form, times: list[float]) -> float:
    """How much begins at most of some moments, 0 to 1."""
    return float(np.quantile(begins_at(form.signals, times), 1 - MOST)) if times else 0.0


def _stresses(form: Form, letter: str) -> tuple[bool, bool]:
    """Whether a letter has stressed beats in half of its bars at least, and whether as much begins with its bars."""
    bars = [bar for part in form.parts_of(letter) for bar in range(part.start, part.end)]
    stresses = form.times_of("stress", letter)
    begins = [form.grid.time_of_bar(bar - 1) for bar in bars]
    stressed = 2 * len(stresses) >= len(bars)
    return stressed, stressed and _force(form, begins) >= CLEAR * _force(form, stresses)
