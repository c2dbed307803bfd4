"""Pictures: the cues of a look, phrase by phrase; what moves changes with the phrase.

Each family keeps one colour. What a part goes on with, and what it returns with, adds a family.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from eavesong.draft.cast import Family, called, union
from eavesong.draft.cue import Draft, Value, joined, spoken
from eavesong.draft.form import CALM, FULL, STEADY, Form, Stanza
from eavesong.draft.looks import Staging
from eavesong.draft.safe import SUPPORT, whole_beats
from eavesong.draft.seen import Bars, turned_bars

GLIDE = 0.5
"""Beats in which neighbours in a garland take turns where more begins on other beats than on the first of a bar."""
SHORTEST_BAR = 1.2
"""Seconds of a bar below which neighbours take turns every two."""
EXCHANGED = ", the other way round"
"""What tells the cues of those eight bars in which house and garden wear one another's colours."""
CUT = 0.04
"""Seconds in which one picture gives way to the next: at once to eyes, but no blow."""
LIGHT = {CALM: 0.8, STEADY: 0.7, FULL: 0.95}
"""Light of what moves under the leads."""

Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Shown:
    """What some families show in some bars."""

    effect: str
    palette: str
    light: float
    bars: Bars
    told: str
    """What tells this cue's name from others of the same families."""


def cues_of(look: Staging, form: Form, calm: float, rich: bool = True) -> Iterator[tuple[int, Draft]]:
    """The cues of a look, each with the number of the part under which it stands (from 0).

    rich: whether what moves changes from phrase to phrase, which takes more cues.
    """
    parts = [(number, part) for number, part in enumerate(form.parts) if part.letter == look.letter]
    turned = turned_bars(form, look.letter)
    cues = list(_moving(look, form, look.seen(form), turned if rich else frozenset()))
    cues += _leads(look, form, turned, calm)
    yield from ((parts[0][0], cue) for cue in cues)
    for number, part in parts:
        yield from ((number, cue) for cue in _sparks(look, form, part))


def _moving(look: Staging, form: Form, seen: dict[Family, Bars], turned: Bars) -> Iterator[Draft]:
    """What moves on every family that is seen; families that show the same are one cue."""
    pictures: dict[Shown, list[Family]] = {}
    # What comes slowly after what was as bright would leave a gap.
    alike = {part.start for before, part in pairwise(form.parts) if before.kind == part.kind}
    for family, bars in seen.items():
        for at, there in enumerate((bars - turned, bars & turned)):
            for other, here in enumerate((there - look.exchanged, there & look.exchanged)):
                if here:
                    picture = Shown(
                        look.moving[family.name][at], look.palette_of(family, bool(other)), LIGHT[look.tier], here,
                        f"{', then' if at else ''}{EXCHANGED if other else ''}",
                    )  # fmt: skip
                    pictures.setdefault(picture, []).append(family)
    for picture, families in pictures.items():
        words, parameters = _motion(look, form, picture.effect)
        words += "; house and garden have changed colours, eight bars in" if EXCHANGED in picture.told else ""
        begins = {int(start) for start, _ in spans_of(picture.bars)}
        handed = any(start - 1 in seen[family] for family in families for start in begins) or bool(begins & alike)
        yield Draft(
            f"{spoken(look.letter)}: {called(families)}{picture.told}", words, picture.effect, union(families),
            spans_of(picture.bars), parameters, picture.palette, opacity=picture.light,
            fade_in=2 if look.tier == CALM and not handed else cut(form),
        )  # fmt: skip


def _motion(look: Staging, form: Form, effect: str) -> tuple[str, dict[str, Value]]:
    """What an effect looks like, in words, and its parameters: all move by whole bars, and none goes out."""
    bar = float(form.metre)
    slow = whole_beats(form.tempo, 1.0, form.metre, SUPPORT)
    turning = _turning(look, form)
    parameters: dict[str, dict[str, Value]] = {
        "garland": {**turning, "glide": turning.get("glide", cut(form)), "back": 0.15},
        "swell": {"beats": 2 * max(bar, slow), "waves": 1, "angle": look.angle, "least": 0.08},
        "runners": {"gap": 0.9, "share": 0.55, "metres": _down((0.45 if look.tier == FULL else 0.9) / slow)},
        "relay": {"bars": turning.get("bars", 1), "change": 0.15 if look.downbeats else 0.5},
        "helix": {"beats": max(2.0, slow), "least": 0.15},
        "rings": {"beats": 2 * max(bar, slow), "gap": 0.25, "fade": 0.2},
        "lozenges": {"beats": max(2.0, slow), "least": 0.15},
        "emblem": {"bars": 2, "back": 0.15},
        "ebb": {"bars": 4, "least": 0.3},
        "glimmer": {"beats": 2 * bar, "share": 0.7, "least": 0.25},
    }
    often = "every two bars" if "bars" in turning else "from bar to bar"
    words = {
        "garland": f"bulb by bulb, and neighbours take turns {often}",
        "swell": "waves, one every two bars",
        "runners": "blocks run along the wires, one a bar or slower",
        "relay": "each holds a colour and hands it on to the next",
        "helix": "ribbons wind up", "rings": "slow rings grow", "glimmer": "here and there a bulb comes up and goes",
        "lozenges": "diamonds grow from the middle of each", "emblem": "a star that turns and breathes",
        "ebb": "it breathes, once in four bars",
    }  # fmt: skip
    return words[effect], parameters[effect]


def _turning(look: Staging, form: Form) -> dict[str, Value]:
    """How neighbours in a garland take turns: from bar to bar, gently where bars begin softly."""
    turning: dict[str, Value] = {}
    if 60 * form.metre / form.tempo < SHORTEST_BAR:
        turning["bars"] = 2
    return turning if look.downbeats else {**turning, "glide": GLIDE}


def _leads(look: Staging, form: Form, turned: Bars, calm: float) -> Iterator[Draft]:
    if look.tier > CALM:
        parts = [part for part in form.parts_of(look.letter) if part.tier > CALM]
        led = frozenset(bar for part in parts for bar in range(part.start, part.end))
        for at, (family, there) in enumerate(zip(look.leaders, (led - turned, led & turned), strict=True)):
            for other, here in enumerate((there - look.exchanged, there & look.exchanged)):
                if here:
                    yield _lead(look, family, form, spans_of(here), calm, at, bool(other))


def _lead(look: Staging, family: Family, form: Form, bars: Spans, calm: float, at: int, exchanged: bool) -> Draft:
    who = f"{spoken(look.letter)}: {family.called} lead" + ("s" if family.called == "roof" else "")
    who += EXCHANGED if exchanged else ""
    palette = look.palette_of(family, exchanged)
    turn = "leads" if at == 0 else "takes over in every second phrase"
    beads: dict[str, Value] = {"beads": 0.6}
    rows: dict[str, Value] = {"rows": 1} if family.row and at else {}
    if look.drums:
        return Draft(who, f"{look.drums.words}; it {turn}", "drum", family.on, bars,
                     {**look.drums.parameters, "least": 0.1, **rows, **beads}, palette, spare=at > 0)  # fmt: skip
    if not look.stressed:
        slow = max(float(form.metre), whole_beats(form.tempo, 1.0, form.metre))
        return Draft(
            who, f"no beat stands out: waves roll through; it {turn}", "swell", family.on, bars,
            {"beats": slow, "waves": 1, "angle": look.angle, "least": 0.15}, palette, spare=at > 0,
        )  # fmt: skip
    how = "neighbours take turns" if rows else "left and right take turns"
    fall = round(0.75 * (1 - 0.6 * calm), 2)
    least = round(0.1 + 0.3 * calm, 2)
    if calm <= 0.6:
        return Draft(
            who, f"{how} on stressed beats; it {turn}", "answer", family.on, bars,
            {"beats": 4.0, "stressed": 1, "fall": fall, "least": least, **rows, **beads}, palette, spare=at > 0,
        )  # fmt: skip
    beats = max(whole_beats(form.tempo, 0.5, form.metre), 2.0)
    return Draft(
        who, f"{how} every {beats:g} beats; it {turn}", "answer", family.on, bars,
        {"beats": beats, "fall": fall, "least": least, **rows, **beads}, palette, spare=at > 0,
    )  # fmt: skip


def _sparks(look: Staging, form: Form, part: Stanza) -> Iterator[Draft]:
    """The last time a full part comes: sparks on all who do not lead; over what strikes they would be too much."""
    everybody = dict.fromkeys((*look.support, *look.extras, *look.beside_roof))
    who = [each for each in everybody if each not in look.leaders]
    if part.turn == part.turns and part.turn > 1 and part.tier == FULL and who:
        yield Draft(
            f"{spoken(look.letter)}: sparks", "the last time: sparks on all who do not lead", "glimmer", union(who),
            ((float(part.start), float(part.end)),), {"beats": 2.0 * form.metre, "share": 0.1, "least": 0}, "spark",
            "plus-lighter", 0.9,
        )  # fmt: skip


def cut(form: Form) -> float:
    """Beats, to two digits, in which one picture gives way to the next: two frames of most controllers."""
    return round(CUT * form.tempo / 60, 2)


def spans_of(bars: Bars) -> Spans:
    """Bars as stretches of them."""
    return joined([(float(bar), float(bar + 1)) for bar in sorted(bars)])


def _down(share: float) -> float:
    """To two digits, never more."""
    return int(100 * share) / 100
