"""Looks: what each letter of a song looks like, who leads it and what is added when it returns.

A look is one family that leads, changing hands from phrase to phrase, and at most two that stand beside it. Each family
keeps one colour in a letter. Under the lead lies a texture of bulbs, waves or ribbons that moves by whole bars; strokes
light up what it leaves dark. Everybody else is dark: only what is off leaves room for what is on.
Strength decides how much of it there is and how fast it goes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from eavesong.colours import parse_colour
from eavesong.draft.cast import Cast, Family, called, union
from eavesong.draft.cue import Draft, Value, joined
from eavesong.draft.form import CALM, FULL, STEADY, Form, Stanza, tiers_of
from eavesong.draft.likeness import SHAPE, Costume
from eavesong.draft.moods import Colours, lighter, yellow
from eavesong.draft.safe import STROKES, SUPPORT, TURNS, busiest, faint, whole_beats
from eavesong.music.stress import begins_at

RING = 1.3
"""Seconds that a drum stroke rings; twice as long where strokes are so quick that light would flash between them."""
LONG = 30.0
"""Seconds after which the colours of a part that goes on are exchanged (common practice)."""
GLIDE = 0.5
"""Beats in which neighbours in a garland take turns where more begins on other beats than on the first of a bar."""
SHORTEST_BAR = 1.2
"""Seconds of a bar below which neighbours take turns every two."""
MOST = 0.7
"""Share of strokes or stresses that are most of them."""
CLEAR = 0.97
"""How much begins at strokes that are followed, against what begins on stressed beats, at least."""
VOICES = {"low": "bass drum", "middle": "snare"}
TEXTURES: dict[str, tuple[str, ...]] = {
    "roof": ("garland", "meet", "tails"), "front": ("garland", "runners"), "trees": ("helix", "garland"),
    "ground": ("garland", "leap", "runners"), "centre": ("rings", "garland"),
}  # fmt: skip
"""What suits each family."""
SHARED = ("garland", "swell")
"""What suits any two of them."""
SOFTLY = ("glimmer", "garland")
"""What suits any of them in a calm part."""
ANGLES = (0, 20, 90, 160)
"""Degrees at which waves may roll."""


Spans = tuple[tuple[float, float], ...]


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
    leaders: tuple[Family, ...]
    """Those who lead, phrase by phrase; the first in the main colour, the other in the one beside it."""
    support: tuple[Family, ...]
    """Who stands behind, in the colour beside."""
    colours: Colours
    angle: int
    """Degrees at which waves roll."""
    textures: tuple[str, str]
    """Under the first leader, and under the second and who stands behind."""
    drums: Drums | None
    """What the leads follow instead of beats, where there are drums."""
    rest: tuple[Family, ...]
    """Families that hold a deep, even light all through; the others are dark but for what happens once in a while."""
    extras: tuple[Family, ...] = field(default=())
    """Families that join when the letter returns."""
    stressed: bool = False
    """Whether leads follow stressed beats."""
    downbeats: bool = True
    """Whether there are some, and as much begins with bars as on them."""

    @property
    def lit(self) -> frozenset[str]:
        """The families that are lit each time the letter comes, by name."""
        return frozenset(family.name for family in (*self.leaders, *self.support, *self.rest))


def looks_of(form: Form, cast: Cast, costumes: dict[str, Costume], rng: random.Random) -> dict[str, Staging]:
    """A look for every letter, in its costume; neighbours differ in what moves."""
    tiers = tiers_of(form)
    looks: dict[str, Staging] = {}
    for letter in form.letters:
        beside = [pair for pair in pairwise(part.letter for part in form.parts) if letter in pair]
        near = [looks[other] for other in form.letters if other in looks and any(other in pair for pair in beside)]
        tier, costume = tiers[letter], costumes[letter]
        first, second, third = costume.families
        drums = _drums(form, letter, tier)
        # Strokes over what moves would light some places too often in a second.
        under = SOFTLY if tier == CALM else ("garland",) if drums else TEXTURES[first.name]
        other = SOFTLY if tier == CALM else SHARED if tier == FULL else TEXTURES[third.name]
        moving = _pick(under, [look.textures[0] for look in near], rng)
        # Neighbours take turns in one of the two; in all that is lit where the house is full and its lead strikes.
        turns = ("garland",) if moving != "garland" or (drums and tier == FULL) else ()
        second_moving = _pick(turns or other, [moving, *(look.textures[1] for look in near)], rng)
        others = tuple(family for family in cast.families if family not in costume.families)
        dim = {CALM: (third,), STEADY: (second,), FULL: others}[tier]
        shape = tuple(family for family in others if family.name in SHAPE[tier])
        looks[letter] = Staging(
            letter, tier, (first, second), (third,), costume.colours, rng.choice(ANGLES), (moving, second_moving),
            drums, tuple(family for family in (*dim, *shape) if family.name != "front"), others,
            *_stresses(form, letter),
        )  # fmt: skip
    return _with_everybody(looks, form, cast)


def _with_everybody(looks: dict[str, Staging], form: Form, cast: Cast) -> dict[str, Staging]:
    """Nobody is dark for the whole song: who has no part yet stands behind in the look that is seen longest."""
    lit: set[Family] = set()
    for letter, look in looks.items():
        hands_over = any(len(part.phrases) > 1 for part in form.parts_of(letter))
        lit |= {look.leaders[0]}
        if look.tier > CALM:
            lit |= {*look.support} | ({look.leaders[1]} if hands_over or look.tier == FULL else set())
    left = tuple(family for family in cast.families if family not in lit)
    longest = max(looks, key=lambda letter: (
        looks[letter].tier > CALM, sum(part.end - part.start for part in form.parts_of(letter))))  # fmt: skip
    return looks | {longest: replace(looks[longest], support=tuple(dict.fromkeys((*looks[longest].support, *left))))}


def _pick(choices: tuple[str, ...], taken: list[str], rng: random.Random) -> str:
    free = [choice for choice in choices if choice not in taken] or list(choices)
    return rng.choice(free)


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


def _turning(look: Staging, form: Form) -> dict[str, Value]:
    """How neighbours in a garland take turns: from bar to bar, gently where bars begin softly."""
    turning: dict[str, Value] = {"back": 0.15}
    if 60 * form.metre / form.tempo < SHORTEST_BAR:
        turning["bars"] = 2
    return turning if look.downbeats else {**turning, "glide": GLIDE}


def cues_of(look: Staging, form: Form, calm: float) -> Iterator[tuple[int, Draft]]:
    """The cues of a look, each with the number of the part under which it stands (from 0)."""
    parts = [(number, part) for number, part in enumerate(form.parts) if part.letter == look.letter]
    first = parts[0][0]
    everywhere = joined([(part.start, part.end) for _, part in parts])
    turns = [joined([span for _, part in parts for span in part.phrases[at::2]]) for at in (0, 1)]
    leads = [replace(_lead(look, family, form, turns[at], calm, at), spare=at > 0)
             for at, family in enumerate(look.leaders) if turns[at]]  # fmt: skip
    under = [*_at_rest(look, form, everywhere), *_textures(look, form, everywhere, turns), _strokes(look, everywhere)]
    cues = [(first, cue) for cue in (*under, *leads)]
    cues += [(number, cue) for number, part in parts for cue in _return(look, form, part)]
    late = _late(form, look.letter)
    for number, cue in cues:
        yield from ((number, each) for each in _parted(cue, look.letter, late))


def _late(form: Form, letter: str) -> set[int]:
    """Bars of phrases that begin when a letter has been on for longer than `LONG`, every second stretch of that."""
    late: set[int] = set()
    began, before = 0.0, ""
    for part in form.parts:
        at = form.grid.time_of_bar(part.start - 1)
        began, before = at if part.letter != before else began, part.letter
        for start, end in part.phrases:
            if part.letter == letter and (form.grid.time_of_bar(start - 1) - began) // LONG % 2 == 1:
                late |= {*range(start, end)}
    return late


def _parted(cue: Draft, letter: str, late: set[int]) -> Iterator[Draft]:
    """A cue as it is up to the ``late`` bars, and in the letter's later colours in these."""
    there = {bar for start, end in cue.bars for bar in range(int(start), int(end))}
    if there & late and f"{cue.palette} ".startswith(f"{letter} "):
        before = joined([(float(bar), float(bar + 1)) for bar in sorted(there - late)])
        after = joined([(float(bar), float(bar + 1)) for bar in sorted(there & late)])
        if before:
            yield replace(cue, bars=before)
        palette = f"{letter} later{cue.palette[len(letter) :]}"
        yield replace(cue, name=f"{cue.name}, later", bars=after, palette=palette,
                      why=f"{cue.why}; in other colours, so that none is seen too long")  # fmt: skip
    else:
        yield cue


def _at_rest(look: Staging, form: Form, bars: Spans) -> Iterator[Draft]:
    if look.rest:
        light = {CALM: 0.6, STEADY: 0.8, FULL: 1.0}[look.tier]
        least = _up(max(0.3, 1 - 0.5 * faint(look.colours.deep) / light))  # strokes are felt on top of it
        yield Draft(
            f"{look.letter.upper()}: {called(look.rest)} at rest", "low and even, to leave room for what leads", "stir",
            union(look.rest), bars, {"angle": look.angle, "beats": 8 * form.metre, "least": least},
            f"{look.letter} deep", opacity=light, spare=True,
        )  # fmt: skip


def _textures(look: Staging, form: Form, bars: Spans, turns: list[Spans]) -> Iterator[Draft]:
    """What lies under the leads: who leads first, and who leads next with who stands behind."""
    first, second = look.leaders
    light = {CALM: 0.7, STEADY: 0.55, FULL: 1.0}[look.tier]
    others = look.support if look.tier > CALM else ()
    behind = tuple(dict.fromkeys((second, *others) if look.tier != STEADY else others))
    behind = tuple(family for family in behind if family != first)
    yield _texture(look, form, (first,), turns[0] if look.tier == CALM else bars, 0, light)
    if behind and (turns[1] or look.tier != CALM):
        yield _texture(look, form, behind, turns[1] if look.tier == CALM else bars, 1, light)


def _texture(look: Staging, form: Form, who: tuple[Family, ...], bars: Spans, at: int, light: float) -> Draft:
    bar, effect = float(form.metre), look.textures[at]
    slow = whole_beats(form.tempo, 1.0, form.metre, SUPPORT)
    parameters: dict[str, dict[str, Value]] = {
        "garland": _turning(look, form),
        "swell": {"beats": 2 * max(bar, slow), "waves": 1, "angle": look.angle, "least": 0.1},
        "tails": {"gap": 3.0, "metres": _down(3 / slow)},
        "runners": {"gap": 0.9, "metres": _down(0.9 / slow)},
        "meet": {"beats": 2 * slow, "width": 0.5},
        "leap": {"beats": slow / 4, "row": 4.0, "reach": 2.0},
        "helix": {"beats": max(2.0, slow), "least": 0.1},
        "rings": {"beats": 2 * max(bar, slow), "gap": 0.5, "width": 1, "fade": 0.2},
        "glimmer": {"beats": bar, "share": 0.5, "least": 0.15},
    }
    often = "every two bars" if "bars" in _turning(look, form) else "from bar to bar"
    words = {
        "garland": f"bulb by bulb, and neighbours take turns {often}",
        "swell": "waves, one every two bars",
        "tails": "tails run along the wires, one a bar or slower",
        "runners": "blocks run along the wires, one a bar or slower",
        "meet": "lights meet on every wire and part again",
        "leap": "a light leaps from one to the next",
        "helix": "ribbons wind up", "rings": "slow rings grow", "glimmer": "here and there a bulb comes up and goes",
    }  # fmt: skip
    palette = f"{look.letter} beside" if at else look.letter
    return Draft(
        f"{look.letter.upper()}: {called(who)}", words[effect], effect, union(who), bars, parameters[effect], palette,
        opacity=light, fade_in=2 if look.tier == CALM else 0,
    )  # fmt: skip


def _lead(look: Staging, family: Family, form: Form, bars: Spans, calm: float, at: int) -> Draft:
    who = f"{look.letter.upper()}: {family.called} lead" + ("s" if family.called == "roof" else "")
    turn = "leads" if at == 0 else "takes over in every second phrase"
    palette = f"{look.letter} beside" if at else look.letter
    beads: dict[str, Value] = {"beads": 0.6} if family.name in ("roof", "front") else {}
    if look.tier == CALM:
        bars_there = 4 if calm > 0.6 else 2
        return Draft(
            who, f"soft: one wave from left to right in {bars_there} bars, and it {turn}", "swell", family.on, bars,
            {"beats": float(bars_there * form.metre), "waves": 0.5, "angle": 0, "least": 0.1}, palette, opacity=0.8,
            fade_in=1,
        )  # fmt: skip
    rows: dict[str, Value] = {"rows": 1} if family.row and at else {}
    if look.drums:
        return Draft(who, f"{look.drums.words}; it {turn}", "drum", family.on, bars,
                     {**look.drums.parameters, "least": 0.1, **rows, **beads}, palette)  # fmt: skip
    if not look.stressed:
        slow = max(float(form.metre), whole_beats(form.tempo, 1.0, form.metre))
        return Draft(
            who, f"no beat stands out: waves roll through; it {turn}", "swell", family.on, bars,
            {"beats": slow, "waves": 1, "angle": look.angle, "least": 0.15}, palette,
        )  # fmt: skip
    how = "neighbours take turns" if rows else "left and right take turns"
    fall = round(0.75 * (1 - 0.6 * calm), 2)
    least = round(0.1 + 0.3 * calm, 2)
    if calm <= 0.6:
        return Draft(
            who, f"{how} on stressed beats; it {turn}", "answer", family.on, bars,
            {"beats": 4.0, "stressed": 1, "fall": fall, "least": least, **rows, **beads}, palette,
        )  # fmt: skip
    beats = max(whole_beats(form.tempo, 0.5, form.metre), 2.0)
    return Draft(
        who, f"{how} every {beats:g} beats; it {turn}", "answer", family.on, bars,
        {"beats": beats, "fall": fall, "least": least, **rows, **beads}, palette,
    )  # fmt: skip


def _return(look: Staging, form: Form, part: Stanza) -> Iterator[Draft]:
    """What a return adds to a look: a family more each time, and everybody with sparks the last time."""
    bars = ((float(part.start), float(part.end)),)
    time = {2: "second", 3: "third", 4: "fourth"}.get(part.turn, f"{part.turn}th")
    if part.turn == part.turns and part.turn > 1 and look.tier == FULL:
        if look.extras:
            yield Draft(
                f"{look.letter.upper()}: everybody, at last", "the last time: nobody is dark", "garland",
                union(look.extras), bars, _turning(look, form), f"{look.letter} beside", opacity=0.9,
            )  # fmt: skip
        # Over what strikes they would be one change too many in a second.
        who = [each for each in dict.fromkeys((*look.support, *look.rest, *look.extras)) if each not in look.leaders]
        if who:
            yield Draft(
                f"{look.letter.upper()}: sparks", "the last time: sparks on all who do not lead", "glimmer", union(who),
                bars, {"beats": 2.0 * form.metre, "share": 0.1, "least": 0}, "spark", "plus-lighter", 0.9, spare=True,
            )  # fmt: skip
    elif part.turn > 1 and look.extras:
        family = look.extras[(part.turn - 2) % len(look.extras)]
        yield Draft(
            f"{look.letter.upper()}: {family.called} join", f"{time} time: {family.called} join", "garland", family.on,
            bars, _turning(look, form), f"{look.letter} beside", opacity=0.6, spare=True,
        )  # fmt: skip


def _strokes(look: Staging, bars: Spans) -> Draft:
    """What begins hard is seen on who is lit, in that of their colours which may stir most, but on nobody in yellow."""
    worn = look.colours
    palettes = {
        look.letter: (worn.main, lighter(worn.main)), f"{look.letter} beside": (worn.beside, lighter(worn.beside)),
        f"{look.letter} deep": (worn.deep,),
    }  # fmt: skip
    lights = {name: faint(*colours) for name, colours in palettes.items()}
    palette = max(palettes, key=lambda name: lights[name] * sum(parse_colour(palettes[name][0])))
    light = lights[palette]
    first, second = look.leaders
    beside = (second, *look.support) if second != first else ()
    able = (() if yellow(worn.main) else (first,)) + (() if yellow(worn.beside) else (*beside, *look.rest))
    who = tuple(dict.fromkeys(able or look.leaders))
    return Draft(
        f"{look.letter.upper()}: strokes are felt", "what begins hard; faint, so that quick strokes cannot flash",
        "stir", union(who), bars, {"off": 0.5, "least": 0}, palette, "plus-lighter", _down(light), spare=True,
    )  # fmt: skip


def _down(share: float) -> float:
    """To two digits, never more."""
    return int(100 * share) / 100


def _up(share: float) -> float:
    """To two digits, never less."""
    return 1 - _down(1 - share)
