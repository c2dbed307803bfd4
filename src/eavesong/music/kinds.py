"""Kinds of sections: what a section is to somebody who lights it, whatever its name.

Names differ from song to song and from hand to hand; kinds do not, so a cue tied to a kind serves every song. They
follow from how strong each section sounds beside the others, from which of them come again, and from their order.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from eavesong.music.grid import BeatGrid, Section
    from eavesong.music.signals import Signals

    Floats = NDArray[np.float64]

KINDS = {
    "quiet": "much softer than the song's high parts",
    "steady": "neither quiet nor high; all of a song that stays as strong as it is",
    "build": "grows, and a high part follows",
    "high": "as strong as the song gets: where a strong part comes again, that part every time",
    "break": "something new and softer between two high parts",
    "end": "the last section, when it is not high and a high part came before",
}
"""The kinds and what they mean."""
_LABEL = re.compile(rf"(?P<label>.*\S)\s+\((?P<kind>{'|'.join(KINDS)})\)", re.IGNORECASE)
_BRACKET = re.compile(r".*\S\s+\((?P<word>[A-Za-z]{3,8})\)")

SHARES = {"loudness": 0.6, "bass": 0.2, "onset": 0.2}
"""What makes a section strong: signals, each 0 to 1, and how much they count."""
SAME = 0.94
"""Strength against a stronger section's above which nobody hears a difference: 0.9 dB, by Stevens's law."""
QUIET = 0.72
"""Strength against that of the high parts below which a section is quiet: 5 dB less."""
NEARLY = 0.9
"""Strength against the strongest section's from which a part that comes again is rather the high part (1.5 dB)."""
GROWN = 1.15
"""How much stronger than its first third the last third of a build is: 2 dB."""
SILENT = 0.02
"""Strength of a song of which nothing can be heard."""
MOST, ENOUGH = 0.7, 0.6
"""Share of a song from which one kind is too much of it to tell anything, and how much of it stays."""
UNBROKEN = 60.0
"""Seconds from which neighbours of one kind are told apart by what differs between them."""
OVER, EVEN = 10.0, 0.1
"""What a stretch of a minute of one kind costs where it is too long and where it is not, longer ones with the square of
their length; to change a section costs 1 to 2."""
TURNED = 80.0
"""What it costs where the stronger of two neighbours becomes the lower kind, for each factor of e between them beyond
what nobody hears: 2.5 dB cost as much as a stretch of a minute and a few seconds."""
APART = 1.005
"""Ratio of two strengths from which one ranks before the other: 0.07 dB, less than anybody hears, but some must."""
ORDER = {"quiet": 0, "steady": 1, "high": 2}
"""The kinds that say how strong a section is, the weakest first."""
TOWARDS = {"quiet": {1: "steady"}, "high": {-1: "steady"}, "steady": {1: "high", -1: "quiet"}}
"""What a section of each kind becomes that is stronger (1) or weaker (-1) than its like."""


@dataclass(frozen=True)
class _Part:
    label: str
    strength: float
    """0 to 1."""
    growth: float
    """Strength of the last third against the first."""
    seconds: float


def label_and_kind(text: str) -> tuple[str, str]:
    """The label and the kind of a section as texts hold them: ``verse (quiet)`` is a verse that is quiet.

    The kind is empty where no word of `KINDS` stands in brackets at the end; any other brackets are part of the label.
    """
    found = _LABEL.fullmatch(text)
    return (found["label"], found["kind"].lower()) if found else (text, "")


def kind_meant(label: str) -> str:
    """The kind that the word in brackets at the end of a label nearly is; empty where it is none, or far from all."""
    found = _BRACKET.fullmatch(label)
    return nearest(found["word"].lower(), tuple(KINDS)) if found else ""


def labelled(section: Section) -> str:
    """A section's label with its kind, where it has one, in brackets: what `label_and_kind` reads."""
    return f"{section.label} ({section.kind})" if section.kind else section.label


def with_kinds(grid: BeatGrid, signals: Signals) -> BeatGrid:
    """``grid`` with a kind for each section that has none, from the song's ``signals``.

    Signals are brought to one scale for loud and soft recordings, so the kinds are the same for both.
    """
    if all(section.kind for section in grid.sections):
        return grid
    kinds = kinds_of(grid.sections, signals)
    sections = (
        section if section.kind else replace(section, kind=kind)
        for section, kind in zip(grid.sections, kinds, strict=True)
    )
    return replace(grid, sections=tuple(sections))


def kinds_of(sections: Sequence[Section], signals: Signals) -> list[str]:
    """The kind of each section: one of `KINDS`. At least one is high where two differ in strength.

    Sections are ranked within the song: where one kind would be most of it, or go on for more than a minute, those of
    its sections that differ most become the kind next to it.
    """
    strength = sum(share * np.asarray(getattr(signals, name), np.float64) for name, share in SHARES.items())
    parts = [_part(section, np.asarray(strength), signals.frame_rate) for section in sections]
    least = _least_of_high(parts)
    strong = {label for label, mean in _means(parts).items() if mean >= least}
    high = [part.strength >= (NEARLY * least if part.label in strong else least) for part in parts]
    kinds = [_kind(parts, index, high, least) for index in range(len(parts))]
    return _broken(_shared(kinds, parts), parts)


def _shared(kinds: list[str], parts: Sequence[_Part]) -> list[str]:
    """``kinds`` of which neither quiet nor high is most of the song, where its sections differ."""
    whole = sum(part.seconds for part in parts)
    for kind in ("quiet", "high"):
        direction = next(iter(TOWARDS[kind]))
        share = sum(part.seconds for part, own in zip(parts, kinds, strict=True) if own == kind) / whole
        if share <= MOST or all(part.strength < SILENT for part in parts):
            continue
        order = sorted(range(len(parts)), key=lambda index: -direction * parts[index].strength)
        order = [index for index in order if kinds[index] == kind]
        last = parts[order[-1]].strength
        for index in order:
            alike = max(parts[index].strength, last) < APART * max(min(parts[index].strength, last), SILENT)
            if share <= ENOUGH or alike:
                break
            kinds[index] = TOWARDS[kind][direction]
            share -= parts[index].seconds / whole
    return kinds


def _broken(kinds: list[str], parts: Sequence[_Part]) -> list[str]:
    """``kinds`` in which neighbours of one kind last for a minute at most, where they differ.

    Of all ways in which sections may become the kind next to theirs the one with the least cost, by dynamic
    programming over the ends of stretches of one kind: a change costs about 1, a stretch of more than a minute more.
    """
    choices = _choices(kinds, parts)
    ends: list[dict[str, tuple[float, list[str]]]] = [{"": (0.0, [])}]
    for end in range(1, len(parts) + 1):
        best: dict[str, tuple[float, list[str]]] = {}
        for kind in choices[end - 1]:
            cost, seconds = 0.0, 0.0
            for begin in range(end - 1, -1, -1):
                if kind not in choices[begin]:
                    break
                cost, seconds = cost + choices[begin][kind], seconds + parts[begin].seconds
                ways = (
                    (way[0] + TURNED * _turned(kinds, parts, begin, other, kind), way[1])
                    for other, way in ends[begin].items()
                    if other != kind
                )
                before = min(ways, default=None)
                if before is None:
                    continue
                worth = OVER if seconds > UNBROKEN and end - begin > 1 else EVEN
                lasts = worth * (seconds / UNBROKEN) ** 2
                way = (before[0] + cost + lasts, [*before[1], *[kind] * (end - begin)])
                best[kind] = min(way, best.get(kind, way))
        ends.append(best)
    return min(ends[-1].values())[1]


def _turned(kinds: Sequence[str], parts: Sequence[_Part], index: int, before: str, kind: str) -> float:
    """By how much of a factor, as its logarithm, the kinds of a section and of the one before it tell the wrong way
    round which is the stronger; 0 where nobody hears it, and where they were given so."""
    if not {before, kind} <= ORDER.keys() or (before, kind) == (kinds[index - 1], kinds[index]):
        return 0.0
    lower, upper = (index - 1, index) if ORDER[before] < ORDER[kind] else (index, index - 1)
    ratio = SAME * parts[lower].strength / max(parts[upper].strength, SILENT)
    return max(0.0, float(np.log(max(ratio, SILENT))))


def _choices(kinds: Sequence[str], parts: Sequence[_Part]) -> list[dict[str, float]]:
    """What each section may be, and what that costs: what it is, the kind above where another of its stretch is weaker,
    or the kind below where one is stronger. 1 for the strongest or the weakest of them, up to 2 for the others. Where
    they differ at all, what nobody hears to be weaker than the strongest may rise with it, and the other way round.

    A section that is a stretch by itself ranks among those beside it.
    """
    choices = [{kind: 0.0} for kind in kinds]
    strength = [max(part.strength, SILENT) for part in parts]
    for run in _runs(kinds):
        beside = 1 if len(run) == 1 else 0
        around = strength[max(0, run.start - beside) : run.stop + beside]
        low, high = min(around), max(around)
        for index in run:
            own = strength[index]
            for direction, kind in TOWARDS.get(kinds[index], {}).items():
                ratio, others = (own / low, own / high) if direction > 0 else (high / own, low / own)
                if ratio >= APART or (others >= SAME and high >= APART * low):
                    choices[index][kind] = 2.0 - float(np.log(ratio) / np.log(high / low))
    return choices


def _runs(kinds: Sequence[str]) -> list[range]:
    """The sections of each stretch of one kind."""
    edges = [0, *(at for at in range(1, len(kinds)) if kinds[at] != kinds[at - 1]), len(kinds)]
    return [range(begin, end) for begin, end in pairwise(edges)]


def _seconds(parts: Sequence[_Part], run: Sequence[int]) -> float:
    return sum(parts[index].seconds for index in run)


def _part(section: Section, strength: Floats, rate: float) -> _Part:
    begin, end = (round(seconds * rate) for seconds in (section.start, section.end))
    inside = strength[begin:end] if end > begin and begin < len(strength) else np.zeros(1)
    third = max(1, len(inside) // 3)
    growth = float(inside[-third:].mean()) / max(float(inside[:third].mean()), SILENT)
    return _Part(section.label.casefold(), float(inside.mean()), growth, section.end - section.start)


def _least_of_high(parts: Sequence[_Part]) -> float:
    """The strength from which a section is high; more than any has where all are alike."""
    strengths = [part.strength for part in parts]
    if not parts or max(strengths) < SILENT or min(strengths) >= SAME * max(strengths):
        return np.inf
    means = _means(parts)
    labels = [part.label for part in parts]
    again = [mean for label, mean in means.items() if labels.count(label) > 1 and mean >= NEARLY * max(strengths)]
    top = max(again, default=max(strengths))
    return top * (1 + SAME) / 2


def _means(parts: Sequence[_Part]) -> dict[str, float]:
    """The mean strength under each label, over its seconds."""
    means = {}
    for label in {part.label for part in parts}:
        same = [part for part in parts if part.label == label]
        means[label] = sum(p.strength * p.seconds for p in same) / sum(p.seconds for p in same)
    return means


def _kind(parts: Sequence[_Part], index: int, high: Sequence[bool], least: float) -> str:
    part, before, after = parts[index], high[:index], high[index + 1 :]
    if high[index]:
        return "high"
    if part.strength < SILENT:
        return "quiet"
    if any(before) and not after:
        return "end"
    if part.growth > GROWN and any(after[:1]):
        return "build"
    first_high = before.index(True) if any(before) else len(parts)
    is_new = all(other.label != part.label for other in parts[:first_high])
    if any(before[-1:]) and any(after) and is_new:
        return "break"
    return "quiet" if part.strength < QUIET * least and any(high) else "steady"
