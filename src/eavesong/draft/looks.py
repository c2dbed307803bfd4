"""Looks: what each letter of a song looks like, who leads it and what is added when it returns.

A look is one family that leads, changing hands from phrase to phrase, one that supports it in another colour over a
calm deep glow, and darkness elsewhere: only what is off leaves room for what is on.
Strength decides how much of it there is and how fast it goes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from eavesong.draft.cast import Cast, Family, called, union
from eavesong.draft.cue import Draft, Value, joined
from eavesong.draft.form import SOFT, STRONG, Form, Stanza
from eavesong.draft.moods import Colours
from eavesong.draft.safe import STROKES, SUPPORT, TURNS, busiest, whole_beats, within

CALM, STEADY, FULL = 0, 1, 2
SHADES = 4
"""How many moods a song has at most."""
RING = 1.3
"""Seconds that a drum stroke rings; twice as long where strokes are so quick that light would flash between them."""
VOICES = {"low": "bass drum", "middle": "snare"}
ANGLES = (0, 30, 90, 150)
"""Degrees at which the night behind may drift."""
SUPPORTS = {
    CALM: ("swell", "ebb", "pendulum"),
    STEADY: ("crossing", "relay", "meet"),
    FULL: ("rings", "crossing", "relay"),
}
"""What moves behind the lead, by how strong a part is."""


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
    """Those who lead, phrase by phrase."""
    support: Family
    colours: Colours
    angle: int
    """Degrees at which the base drifts."""
    moving: str
    drums: Drums | None
    """What the leads follow instead of beats, where there are drums."""
    rest: tuple[Family, ...]
    """Families that are dimly there all through; the others are dark but for what happens once in a while."""
    extras: tuple[Family, ...] = field(default=())
    """Families that join when the letter returns."""


def tiers_of(form: Form) -> dict[str, int]:
    """How full each letter is, by how strong it is; the strongest is full where there is another."""
    strongest = max(form.letters, key=form.strength_of)
    return {letter: _tier(form, letter, strongest) for letter in form.letters}


def shades_of(form: Form) -> dict[str, int]:
    """Which of a few sounds each letter has: letters far apart are to look least alike."""
    shades = {letter: form.shade_of(letter) for letter in form.letters}
    low, high = min(shades.values()), max(shades.values())
    return {letter: round((SHADES - 1) * (shade - low) / max(high - low, 0.2)) for letter, shade in shades.items()}


def looks_of(form: Form, cast: Cast, colours: dict[str, Colours], rng: random.Random) -> dict[str, Staging]:
    """A look for every letter; neighbours differ in who leads, and in what moves or in colours.

    Letters in order of shade hand the lead on through the families, so that those of like shade share most of what
    they light: what sounds alike looks alike.
    """
    families = list(cast.leaders)
    rng.shuffle(families)
    angles = {tier: rng.choice(ANGLES) for tier in (CALM, STEADY, FULL)}
    tiers, shades = tiers_of(form), shades_of(form)
    looks: dict[str, Staging] = {}
    for letter in form.letters:
        beside = [pair for pair in pairwise(part.letter for part in form.parts) if letter in pair]
        near = [looks[other] for other in form.letters if other in looks and any(other in pair for pair in beside)]
        tier = tiers[letter]
        start = round(shades[letter] / (SHADES - 1) * max(len(families) - 3, 0))
        three = [families[(start + step) % len(families)] for step in range(3)]
        taken = [look.leaders[0] for look in near]
        first, second, support = sorted(three, key=lambda family: taken.count(family))
        moving = _pick(SUPPORTS[tier], [look.moving for look in near], rng)
        others = tuple(family for family in reversed(cast.families) if family not in (first, second, support))
        looks[letter] = Staging(
            letter, tier, (first, second), support, colours[letter], angles[tier], moving, _drums(form, letter, tier),
            (first, second, support) if tier == FULL else (support,), others,
        )  # fmt: skip
    return _with_everybody(looks, form, cast)


def _with_everybody(looks: dict[str, Staging], form: Form, cast: Cast) -> dict[str, Staging]:
    """Nobody is dark for the whole song: who has no part yet rests in the look that is seen longest."""
    parts = {family for look in looks.values() for family in (*look.leaders, look.support)}
    left = tuple(family for family in cast.families if family not in parts)
    longest = max(looks, key=lambda letter: sum(part.end - part.start for part in form.parts_of(letter)))
    return looks | {longest: replace(looks[longest], rest=looks[longest].rest + left)}


def _tier(form: Form, letter: str, strongest: str) -> int:
    strength = form.strength_of(letter)
    if letter == strongest and len(form.letters) > 1:
        return FULL
    return CALM if strength < SOFT else FULL if strength >= STRONG else STEADY


def _pick(choices: tuple[str, ...], taken: list[str], rng: random.Random) -> str:
    free = [choice for choice in choices if choice not in taken] or list(choices)
    return rng.choice(free)


def _drums(form: Form, letter: str, tier: int) -> Drums | None:
    """Which strokes a look follows: one a bar at least, and no quicker than eyes bear."""
    if tier == CALM:
        return None
    spans = [(form.grid.time_of_bar(p.start - 1), form.grid.time_of_bar(p.end - 1)) for p in form.parts_of(letter)]
    bars = sum(part.end - part.start for part in form.parts_of(letter))
    times = {label: within((each.time for each in form.events.labelled(label)), spans) for label in VOICES}
    heard = {label: busiest(found) for label, found in times.items() if len(found) >= bars}
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


def cues_of(look: Staging, form: Form, calm: float) -> Iterator[tuple[int, Draft]]:
    """The cues of a look, each with the number of the part under which it stands (from 0)."""
    parts = [(number, part) for number, part in enumerate(form.parts) if part.letter == look.letter]
    first = parts[0][0]
    everywhere = joined([(part.start, part.end) for _, part in parts])
    yield first, _base(look, form, everywhere)
    yield from ((first, cue) for cue in _support(look, form, everywhere, calm))
    for index, family in enumerate(dict.fromkeys(look.leaders)):
        spans = [span for _, part in parts for span in part.phrases[index :: len(look.leaders)]]
        if spans:
            yield first, replace(_lead(look, family, form, joined(list(spans)), calm, index), spare=index > 0)
    for number, part in parts:
        yield from ((number, cue) for cue in _return(look, form, part, calm))


def _base(look: Staging, form: Form, bars: tuple[tuple[float, float], ...]) -> Draft:
    least = {CALM: 0.3, STEADY: 0.35, FULL: 0.4}[look.tier]
    return Draft(
        f"{look.letter.upper()}: {called(look.rest)} at rest", "dark, to leave room for what leads; the rest is off",
        "stir", union(look.rest), bars, {"angle": look.angle, "beats": 8 * form.metre, "least": least},
        f"{look.letter} deep", opacity={CALM: 0.7, STEADY: 0.85, FULL: 1.0}[look.tier],
    )  # fmt: skip


def _support(look: Staging, form: Form, bars: tuple[tuple[float, float], ...], calm: float) -> Iterator[Draft]:
    slow = whole_beats(form.tempo, 1.0, form.metre, SUPPORT * (1 - 0.5 * calm))
    bar = max(float(form.metre), slow)
    parameters: dict[str, dict[str, float]] = {
        "swell": {"beats": 4 * bar, "waves": 1},
        "ebb": {"bars": 4, "least": 0.2},
        "pendulum": {"beats": 4 * bar, "width": 0.6},
        "crossing": {"beats": 4 * bar, "width": 0.9},
        "relay": {"bars": 1, "colours": 3, "change": 0.02, "light": 0.4},
        "meet": {"beats": 4 * bar, "width": 0.5, "house": 1},
        "rings": {"beats": 2 * bar, "gap": 0.5, "width": 1, "fade": 0.2},
    }
    opacity = {CALM: 0.4, STEADY: 0.6, FULL: 0.85}[look.tier]
    others = {CALM: (), STEADY: look.leaders[-1:], FULL: look.leaders}[look.tier]
    families = tuple(dict.fromkeys((look.support, *others)))
    yield Draft(
        f"{look.letter.upper()}: {called(families)} behind", "moves slowly, by whole bars, and stands back",
        look.moving, union(families), bars,
        dict(parameters[look.moving]), f"{look.letter} beside", opacity=opacity, fade_in=2 if look.tier == CALM else 0,

    )  # fmt: skip


def _lead(
    look: Staging, family: Family, form: Form, bars: tuple[tuple[float, float], ...], calm: float, index: int
) -> Draft:
    who = f"{look.letter.upper()}: {family.called} lead" + ("s" if family.called == "roof" else "")
    turn = "leads" if index == 0 else "takes over in every second phrase"
    if look.tier == CALM:
        beats = float(form.metre) * (2 if calm > 0.6 else 1)
        return Draft(
            who, f"soft: left and right answer bar by bar, and it {turn}", "answer", family.on, bars,
            {"beats": beats, "fall": 0.35, "least": 0.3}, look.letter, opacity=0.7, fade_in=1,

        )  # fmt: skip
    if look.drums:
        parameters = {**look.drums.parameters, "least": 0.3} | ({"rows": 1} if family.row and index else {})

        return Draft(who, f"{look.drums.words}; it {turn}", "drum", family.on, bars, parameters, look.letter)
    beats = whole_beats(form.tempo, 0.5, form.metre)
    if look.tier == STEADY or calm > 0.6:
        beats = max(beats, 2.0)
    least = {STEADY: 0.4, FULL: 0.3}[look.tier] + 0.3 * calm
    rows = 1.0 if family.row and index else 0.0
    how = "neighbours take turns" if rows else "left and right take turns"
    each = "on every beat" if beats == 1 else f"every {beats:g} beats"
    return Draft(
        who, f"{how} {each}; it {turn}", "answer", family.on, bars,
        {"beats": beats, "fall": round(0.75 * (1 - 0.6 * calm), 2), "rows": rows, "least": round(min(least, 0.6), 2)},
        look.letter,
    )  # fmt: skip


def _return(look: Staging, form: Form, part: Stanza, calm: float) -> Iterator[Draft]:
    """What a return adds to a look: a family more each time, and everybody the last time."""
    bars = ((float(part.start), float(part.end)),)
    bar = float(form.metre)
    time = {2: "second", 3: "third", 4: "fourth"}.get(part.turn, f"{part.turn}th")
    if part.turn == part.turns and part.turn > 1 and look.tier == FULL:
        yield Draft(
            f"{look.letter.upper()}: everybody, at last", "the last time: the whole house, one half after the other",
            "answer", ("all",), bars, {"beats": 2 * bar, "fall": 0.2, "least": 0.5}, look.letter, "plus-lighter", 0.35,

        )  # fmt: skip
    elif part.turn > 1 and look.extras:
        family = look.extras[(part.turn - 2) % len(look.extras)]
        yield Draft(
            f"{look.letter.upper()}: {family.called} join", f"{time} time: {family.called} join, bar by bar", "answer",
            family.on, bars, {"beats": bar, "fall": 0.3, "rows": 1.0 if family.row else 0.0, "least": 0.4}, look.letter,
            opacity=0.5, spare=True,
        )  # fmt: skip
