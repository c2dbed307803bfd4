"""The form of a song as a show follows it: parts, what returns, phrases, and how strong every bar is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music import BeatGrid, Events, Signals

    Floats = NDArray[np.float64]

LONGEST_PHRASE, SHORTEST_PHRASE = 8, 4
"""Bars after which the light changes hands at the latest, and before which it does not (common practice)."""
LONGEST_NAME = 40
"""Characters of a label that count."""
HAIR = 0.01
"""Seconds by which what begins with a bar may be early."""
SHORTEST_PART = 2
"""Bars below which a part belongs to the one before it."""
LOW, HIGH = 5, 95
"""Percentiles of bars' loudness that are no strength and full strength."""
NARROW = 0.12
"""Range of loudness (0..1, about 3 dB near the top) that strength 0 to 1 spans at least."""
COSINES = 13
"""Numbers that tell what a bar sounds like (common practice for timbre)."""
WEIGHT = {"high": 0.25, "quiet": -0.15, "break": -0.15}
"""What kinds of sections add to their strength: choruses are larger than verses, whatever the loudness."""
SOFT, STRONG = 0.36, 0.68
"""Strength below which a part is calm, and from which it is full."""
CALM, STEADY, FULL = 0, 1, 2
"""How full a part is."""
RESTS = ("quiet", "break")
"""Kinds of sections that are rests, however loud they are."""


SHORTEST_PICKUP = 0.02
"""Seconds before the first downbeat that are not yet a pickup."""


@dataclass(frozen=True)
class Stanza:
    """A section, in whole bars from 1; ``end`` is the bar after its last."""

    label: str
    kind: str
    start: int
    end: int
    turn: int = 1
    """Which time it comes."""
    turns: int = 1
    """How many times it comes."""
    strength: float = 0.5
    """0 to 1, beside the song's other bars."""
    phrases: tuple[tuple[int, int], ...] = ()
    tier: int = STEADY
    """`CALM`, `STEADY` or `FULL`: at most as full as its letter."""

    @property
    def letter(self) -> str:
        """What parts that are the same have in common; names of palettes and cues begin with it."""
        return self.label.casefold()[:LONGEST_NAME].strip()


@dataclass(frozen=True, eq=False)
class Form:
    """What a draft knows of a song."""

    parts: tuple[Stanza, ...]
    strengths: Floats
    """(bars,): how strong each bar is, 0 to 1, from bar ``first`` on."""
    sounds: Floats
    """(bars, k): what each bar sounds like, each of its k numbers with mean 0 and spread 1 over the song."""
    first: int
    """The first bar, 1, or one before it where the song begins with a pickup."""
    tempo: float
    """Beats a minute."""
    metre: int
    """Beats of most bars."""
    range: float
    """How far loud and soft bars lie apart, loudness 0..1."""
    grid: BeatGrid
    signals: Signals
    events: Events

    @property
    def last(self) -> int:
        """The bar after the last."""
        return self.first + len(self.strengths)

    @property
    def letters(self) -> tuple[str, ...]:
        """Each letter once, in the order in which they come."""
        return tuple(dict.fromkeys(part.letter for part in self.parts))

    def parts_of(self, letter: str) -> tuple[Stanza, ...]:
        """Every time a letter comes."""
        return tuple(part for part in self.parts if part.letter == letter)

    def strength_of(self, letter: str) -> float:
        """The mean strength of a letter's bars."""
        parts = self.parts_of(letter)
        return float(np.average([part.strength for part in parts], weights=[part.end - part.start for part in parts]))

    def fullness_of(self, letter: str) -> float:
        """How strong a letter is, more where it is a high part and less where it is a quiet one or a break."""
        parts = self.parts_of(letter)
        kinds = [WEIGHT.get(part.kind, 0.0) for part in parts]
        return self.strength_of(letter) + float(np.average(kinds, weights=[part.end - part.start for part in parts]))

    def sound_of(self, letter: str) -> Floats:
        """(k,): the mean sound of a letter's bars."""
        bars = [self.sounds[part.start - self.first : part.end - self.first] for part in self.parts_of(letter)]
        mean: Floats = np.concatenate(bars).mean(axis=0)
        return mean

    def sound_of_bars(self, start: int, end: int) -> Floats:
        """(k,): the mean sound of some bars."""
        mean: Floats = self.sounds[start - self.first : end - self.first].mean(axis=0)
        return mean

    def times_of(self, label: str, letter: str) -> list[float]:
        """When events of a label are heard in a letter, in seconds."""
        spans = [(self.grid.time_of_bar(p.start - 1), self.grid.time_of_bar(p.end - 1)) for p in self.parts_of(letter)]
        times = [each.time for each in self.events.labelled(label)]
        return [at for at in times if any(start - HAIR <= at < end - HAIR for start, end in spans)]

    def bars(self, start: int, end: int) -> Floats:
        """Strengths of some bars."""
        return self.strengths[start - self.first : end - self.first]

    def bar_of(self, seconds: float) -> int:
        """The bar that a moment lies in, counted from 1."""
        return int(np.floor(float(self.grid.musical_time(seconds).bar[0]) + 1e-6)) + 1


def form_of(grid: BeatGrid, signals: Signals, events: Events) -> Form:
    """The form of a song with these beats, signals and events."""
    first = min(1, int(np.floor(float(grid.musical_time(SHORTEST_PICKUP).bar[0]) + 1e-6)) + 1)
    last = max(first + 1, grid.last_line + 1)
    loudness = _loudness(grid, signals, first, last)
    low, high = np.percentile(loudness, (LOW, HIGH))
    span = max(float(high - low), NARROW)
    middle = (low + high) / 2
    strengths = np.clip(0.5 + (loudness - middle) / span, 0.0, 1.0)
    parts = _parts(grid, first, last)
    starts = sorted({_near_bar(grid, event.time) for event in events.labelled("phrase")})
    counted = {letter: [part.letter for part in parts].count(letter) for letter in {part.letter for part in parts}}
    seen: dict[str, int] = {}
    told = []
    for part in parts:
        turn = seen[part.letter] = seen.get(part.letter, 0) + 1
        strength = float(strengths[part.start - first : part.end - first].mean())
        told.append(replace(part, turn=turn, turns=counted[part.letter], strength=strength,
                            phrases=_phrases(part.start, part.end, starts)))  # fmt: skip
    lengths = grid.beats_in_bars
    metre = int(np.median(lengths)) if lengths else 4
    sounds = _sounds(grid, signals, first, last)
    span = float(high - low)
    form = Form(tuple(told), strengths, sounds, first, grid.tempo, metre, span, grid, signals, events)
    return replace(form, parts=_with_tiers(form))


def _with_tiers(form: Form) -> tuple[Stanza, ...]:
    """The parts with how full each is. Songs as loud all through have contrast, too: rests are calm, and what is not
    high leaves room as long as something high is to come."""
    tiers = tiers_of(form)
    if len(form.parts) == 1:
        return tuple(replace(part, tier=tiers[part.letter]) for part in form.parts)
    highest = max((part.start for part in form.parts if part.kind == "high" and tiers[part.letter] == FULL), default=0)
    found = []
    for part in form.parts:
        room = part.kind != "high" and part.start < highest
        most = CALM if part.kind in RESTS else STEADY if room else FULL
        found.append(replace(part, tier=min(tiers[part.letter], most)))
    return tuple(found)


def tiers_of(form: Form) -> dict[str, int]:
    """How full each letter is, by its strength and its kind; the strongest is full where there is another."""
    strongest = max(form.letters, key=form.fullness_of)
    return {letter: _tier(form, letter, strongest) for letter in form.letters}


def _tier(form: Form, letter: str, strongest: str) -> int:
    strength = form.fullness_of(letter)
    if letter == strongest and len(form.letters) > 1:
        return FULL
    return CALM if strength < SOFT else FULL if strength >= STRONG else STEADY


def _loudness(grid: BeatGrid, signals: Signals, first: int, last: int) -> Floats:
    """The mean loudness of each bar from ``first`` up to ``last``."""
    edges = np.array([grid.time_of_bar(bar - 1) for bar in range(first, last + 1)])
    frames = np.clip(np.round(edges * signals.frame_rate).astype(int), 0, len(signals.loudness))
    loudness = np.asarray(signals.loudness, np.float64)
    means = [loudness[a:b].mean() if b > a else 0.0 for a, b in pairwise(frames.tolist())]
    return np.array(means)


def _sounds(grid: BeatGrid, signals: Signals, first: int, last: int) -> Floats:
    """The shape of each bar's spectrum: its first cosines, as a cepstrum has them, standardised over the song."""
    edges = np.array([grid.time_of_bar(bar - 1) for bar in range(first, last + 1)])
    frames = np.clip(np.round(edges * signals.frame_rate).astype(int), 0, len(signals.spectrum))
    bands = signals.spectrum.shape[1]
    means = np.array([signals.spectrum[a:b].mean(axis=0) if b > a else np.zeros(bands) for a, b in pairwise(frames)])
    cosines = np.cos(np.pi * np.outer(np.arange(bands) + 0.5, np.arange(COSINES)) / bands)
    shapes = means @ cosines
    sounds: Floats = (shapes - shapes.mean(axis=0)) / (shapes.std(axis=0) + 1e-6)
    return sounds


def _near_bar(grid: BeatGrid, seconds: float) -> int:
    return int(np.round(float(grid.musical_time(seconds).bar[0]))) + 1


def _parts(grid: BeatGrid, first: int, last: int) -> list[Stanza]:
    """The sections in whole bars, without gaps, none too short to be seen."""
    parts: list[Stanza] = []
    for section in grid.sections:
        start = min(max(_near_bar(grid, section.start), first), last)
        if parts and start - parts[-1].start < SHORTEST_PART:
            start = parts.pop().start
        parts.append(Stanza(section.label, section.kind, start, last))
    if parts and last - parts[-1].start < SHORTEST_PART and len(parts) > 1:
        parts.pop()
    if not parts:
        return [Stanza("song", "steady", first, last)]
    parts[0] = replace(parts[0], start=first)
    ends = [part.start for part in parts[1:]] + [last]
    return [replace(part, end=end) for part, end in zip(parts, ends, strict=True) if end > part.start]


def _phrases(start: int, end: int, starts: list[int]) -> tuple[tuple[int, int], ...]:
    """The phrases of a part: those heard, joined where they are short and parted where they are long."""
    edges = [start]
    for at in [*(at for at in starts if start < at < end), end]:
        while at - edges[-1] > LONGEST_PHRASE:
            edges.append(edges[-1] + (LONGEST_PHRASE if at - edges[-1] >= 2 * LONGEST_PHRASE
                                      else (at - edges[-1] + 1) // 2))  # fmt: skip
        if at - edges[-1] >= SHORTEST_PHRASE or at == end:
            edges.append(at)
    if len(edges) > 2 and edges[-1] - edges[-2] < SHORTEST_PHRASE // 2:
        del edges[-2]
    return tuple(pairwise(edges))
