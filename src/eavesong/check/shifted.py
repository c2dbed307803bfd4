"""Shows whose bars are no longer those of the song: its beats were corrected after the show was written."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.grid import Section
from eavesong.music.made_for import made_for
from eavesong.scene.timeline import sections_among
from eavesong.words import clock_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from eavesong.music.grid import BeatGrid
    from eavesong.scene import Scene
    from eavesong.show import Show
    from eavesong.show.model import Cue

FARTHEST = 4
"""Bars by which a correction moves a show, at most, that is looked for."""
PARTS = 4
"""Parts of a song that have to begin where cues do, at least; fewer meet by chance."""
MOST, FEW = 0.9, 0.4
"""Share of parts that begin with cues by bars: at least, with the bars moved, and at most as they are."""


ELSEWHERE = 0.7
"""Of a bar, from which on something begins elsewhere. Bars that are put right by a beat or two take cues along; by
more, a cue begins with the bar before or behind the one that was meant."""

BESIDE = 0.1
"""Likewise, from which on it begins by a beat elsewhere. What is put right by ear stays below."""

INSIDE = 0.2
"""Likewise, from which on a section that was moved begins beside the bar with which the cues of its part begin, and
from which on a kept cue is told: its bars are as they were written, while all others are drafted anew."""


SAME = 0.5
"""Share of a part of the song that has one name now, above which it is called so."""


@dataclass(frozen=True)
class Elsewhere:
    """What begins elsewhere than when the show was written: the first of it, how many do, of how many."""

    what: str
    """``bar 25``, or ``section C``."""
    then: float
    """The second at which it began; of a section, at which the nearest one did."""
    now: float
    count: int
    of: int
    far: bool = True
    """Whether cues are by that with another bar than the one that was meant; else they went along by a beat or two."""
    also: int = 0
    """Beside sections: how many bars at which one began do so elsewhere, by a beat or two."""

    def __str__(self) -> str:
        """``bar 25 begins at 0:50.00 now, and began at 0:48.00``."""
        began = f"began at {clock_text(self.then)}"
        if self.what.startswith("section"):  # which of those before it is, nobody knows
            began = f"none of the sections did then: the nearest {began}"
        return f"{self.what} begins at {clock_text(self.now)} now, and {began}"


def moved_since(scene: Scene) -> Elsewhere | None:
    """The first of the bars whose beginnings the show holds that begins elsewhere now, else the first section that
    begins at none of them; None where all is as it was, or where no cue is by bars."""
    assert scene.show is not None, "a scene without a show has no cues to look at"
    if not any(cue.bars or cue.beats for cue in scene.show.cues):
        return None
    return moved_in(scene.grid, scene.show, scene.hashes.get("audio", ""))


def moved_in(grid: BeatGrid, show: Show, sound: str) -> Elsewhere | None:
    """The same of a show in the song as it is counted now; None for one that was written for another ``sound``, by its
    SHA-256: its seconds say nothing of this one."""
    began = show.bars_began
    if not began or made_for(show.text) not in ("", sound):
        return None
    places = grid.musical_time([second for _, second, *_ in began]).bar + 1
    by = np.abs(places - [bar for bar, *_ in began])
    bars = [
        (f"bar {bar:g}", second, grid.time_of_bar(bar - 1))
        for (bar, second, *_), far in zip(began, by.tolist(), strict=True)
        if far > BESIDE
    ]
    if bars and by.max() > ELSEWHERE:
        first = int(np.argmax(by[by > BESIDE] > ELSEWHERE))
        return Elsewhere(*bars[first], len(bars), len(began))
    sections = []
    for section in grid.sections:
        now = max(1.0, float(grid.musical_time(section.start).bar[0]) + 1)
        bar = min((bar for bar, *_ in began), key=lambda bar: abs(bar - now))
        then = min((second for _, second, *_ in began), key=lambda second: abs(second - section.start))
        length = grid.time_of_bar(now) - grid.time_of_bar(now - 1)
        if section.start > 0 and abs(bar - now) > INSIDE and abs(section.start - then) > INSIDE * length:
            sections.append((f"section {section.label}", then, section.start))
    if sections:
        return Elsewhere(*sections[0], len(sections), len(grid.sections), also=len(bars))
    return Elsewhere(*bars[0], len(bars), len(began), far=False) if bars else None


Spans = tuple[tuple[float, float], ...]
"""From which to which second something is lit."""


@dataclass(frozen=True)
class OtherParts:
    """Cues by the same sections or kinds, and turns, that light other parts of the song than when they were written."""

    what: str
    """``section 'D', turn 'last',``, as the first of the cues names it; ``what is 'high'``."""
    cues: tuple[int, ...]
    lost: Spans
    """What they lit and light no more, or not from or up to there; likewise ``gained``."""
    gained: Spans
    called: str
    """What most of the lost is called now; empty where they name that, where it is parted, or has no section."""
    dark: bool
    """Whether they light nothing at all now."""

    @property
    def by_now(self) -> str:
        """What most of the lost is called now, as a sentence behind others; empty where that is not known."""
        return f" Most of what it lost is '{self.called}' now." if self.called else ""

    def __str__(self) -> str:
        """``section 'C' is another part of the song now: it was 0:43 to 1:01 and 1 more, and is 0:34 to 0:43``."""
        if self.lost and self.gained:
            told = f"another part of the song now: it was {_times(self.lost)}, and is {_times(self.gained)}"
        elif self.lost:
            told = f"{'nothing' if self.dark else 'less'} of the song now: {_times(self.lost)} no more"
        else:
            told = f"more of the song now: {_times(self.gained)} too"
        return f"{self.what} is {told}"


def other_parts_in(grid: BeatGrid, show: Show, sound: str) -> list[OtherParts]:
    """The cues by sections or kinds of ``show`` that would be lit elsewhere with the sections that it notes; none for
    a show that does not tell that, or that was written for another ``sound``.

    What begins and ends where it did is where it was. A cue whose sections were not there then was written since.
    """
    began = show.bars_began
    if made_for(show.text) not in ("", sound) or not began:
        return []
    by_labels, by_kinds = any(each[2] for each in began), any(each[3] for each in began)
    noted = [(bar, grid.time_of_bar(bar - 1), part.label, part.kind) for bar, part in grid.beginnings.items()]
    end = float(grid.last_line + 1)
    noted.append((end, grid.time_of_bar(end - 1), "", ""))
    alike: dict[tuple[object, ...], list[int]] = {}
    for at, cue in enumerate(show.cues):
        if (by_labels and cue.sections) or (by_kinds and cue.kinds and not cue.sections):
            labels = tuple(label.lower() for label in cue.sections or ())
            alike.setdefault((labels, cue.kinds, cue.turn), []).append(at)
    found = []
    for cues in alike.values():
        cue = show.cues[cues[0]]
        then, now = _lit(cue, began, grid.duration), _lit(cue, noted, grid.duration)
        if cue.sections and not then:
            continue
        if _others(grid, _joined(then), _joined(now)) or _others(grid, _joined(now), _joined(then)):
            lost, gained = _others(grid, then, now), _others(grid, now, then)
            found.append(OtherParts(_named(cue), tuple(cues), lost, gained, _called_now(cue, lost, grid), not now))
    return found


def _lit(cue: Cue, began: Sequence[tuple[float, float, str, str]], until: float) -> Spans:
    """When a cue by sections or kinds is lit, where sections begin so; nothing is behind the song."""
    ends = [(one[1], min(other[1], until), *one[2:]) for one, other in pairwise(began)]
    sections = [Section(*each) for each in ends if each[1] > each[0]]
    return tuple((part.start, part.end) for part in sections_among(cue, sections))


def _joined(spans: Spans) -> Spans:
    """Spans, of which those that go on at once are one."""
    joined: list[tuple[float, float]] = []
    for start, end in spans:
        joined.append((joined.pop()[0] if joined and joined[-1][1] == start else start, end))
    return tuple(joined)


def _others(grid: BeatGrid, some: Spans, others: Spans) -> Spans:
    """Those of some spans that begin or end where none of the others does, nor by a beat or two beside it: sections
    begin with bars, and go along where these are put right."""
    bars = [int(bar) for bar in grid.musical_time([start for start, _ in some]).bar] if some else []
    near = [ELSEWHERE * (grid.time_of_bar(bar + 1) - grid.time_of_bar(bar)) for bar in bars]
    return tuple(
        span
        for span, most in zip(some, near, strict=True)
        if not any(abs(span[0] - start) <= most and abs(span[1] - end) <= most for start, end in others)
    )


def _named(cue: Cue) -> str:
    """``section 'D', turn 'last',``, or ``what is 'high'``."""
    names = " or ".join(f"'{name}'" for name in cue.sections or cue.kinds or ())
    turns = " or ".join(f"'{turn}'" if isinstance(turn, str) else f"{turn}" for turn in cue.turn)
    return f"{'section' if cue.sections else 'what is'} {names}{f', turn {turns},' if turns else ''}"


def _called_now(cue: Cue, lost: Spans, grid: BeatGrid) -> str:
    """What most of what a cue by sections has lost is called now, if it does not name that."""
    share = {part.label: 0.0 for part in grid.sections}
    for part in grid.sections:
        share[part.label] += _shared(lost, ((part.start, part.end),))
    most = max(share, key=lambda each: share[each], default="")
    own = {"", *(label.lower() for label in cue.sections or ())}
    enough = cue.sections and most.lower() not in own and share[most] > SAME * sum(end - start for start, end in lost)
    return most if enough else ""


def _times(spans: Spans) -> str:
    """``0:43 to 1:01 and 1 more``."""
    more = f" and {len(spans) - 1} more" if len(spans) > 1 else ""
    return f"{clock_text(spans[0][0], 0)} to {clock_text(spans[0][1], 0)}{more}"


@dataclass(frozen=True)
class Restaged:
    """A part of the song that is another one than when cues by bars were written for it."""

    start: float
    """In seconds, likewise ``end``."""
    end: float
    how: str
    new: bool = False
    """Whether it is a section that begins where none did."""

    def __str__(self) -> str:
        """``'D' (steady) from 0:57 on is 'chorus' (high) now``."""
        return self.how


def restaged_in(grid: BeatGrid, show: Show, sound: str) -> list[Restaged]:
    """The parts whose beginning is gone, or new, and those of another kind or that return as another one by now; none
    for a show without cues by bars, or for one that was written for another ``sound``. Parts that are called otherwise
    each time that they come are what they were."""
    began = show.bars_began
    if made_for(show.text) not in ("", sound) or not any(cue.bars or cue.beats for cue in show.cues):
        return []
    found: list[Restaged] = []
    stayed = []
    begin = grid.beginnings
    new = dict(begin)
    for (bar, second, label, kind), (_, end, *_) in pairwise(began):
        here = [at for at, section in begin.items() if _begins(grid, at, section, bar, second)]
        here = here or [at for at, section in begin.items() if _moved(grid, at, section, second, label)]
        if here:
            stayed.append((second, end, _called(label, kind), label.lower(), kind, begin[here[0]]))
        elif on := next((each for each in grid.sections if each.start <= second < each.end), None):
            how = f"no section begins at {clock_text(second, 0)} now, where {_called(label, kind)} did: "
            found.append(Restaged(second, end, how + f"{_called(on.label, on.kind)} goes on there"))
        for at in here:
            new.pop(at, None)
    for at, section in new.items():
        if not began or section.start <= 0 or _begins(grid, at, section, *began[-1][:2]):
            continue
        how = f"{_called(section.label, section.kind)} begins at {clock_text(section.start, 0)} now, where none did"
        found.append(Restaged(section.start, section.end, how, new=True))
    pairs = {(label, section.label.lower()) for _, _, _, label, _, section in stayed if label}
    for second, end, was, label, kind, section in stayed:
        now = section.label.lower()
        renamed = sum(label in pair[:1] or now in pair[1:] for pair in pairs) <= 1  # each time, and nothing else
        if (label != now and not renamed) or (kind and section.kind not in ("", kind)):
            how = f"{was} from {clock_text(second, 0)} on is {_called(section.label, section.kind)} now"
            found.append(Restaged(second, end, how))
    return sorted(found, key=lambda each: each.start)


def _begins(grid: BeatGrid, at: float, section: Section, bar: float, second: float) -> bool:
    """Whether a section that begins at bar ``at`` does so where one began: at that bar, or at that second."""
    length = grid.time_of_bar(at) - grid.time_of_bar(at - 1)
    return abs(at - bar) <= INSIDE or abs(section.start - second) <= INSIDE * length


def _moved(grid: BeatGrid, at: float, section: Section, second: float, label: str) -> bool:
    """Whether a section that begins at bar ``at`` is one of that label that began less than a bar before or after it:
    where bars were counted anew it has moved with them, which is told as such."""
    length = grid.time_of_bar(at) - grid.time_of_bar(at - 1)
    return bool(label) and section.label.lower() == label.lower() and abs(section.start - second) < length


def _called(label: str, kind: str) -> str:
    """``'chorus' (high)``."""
    name = f"'{label}'" if label else "a section"
    return f"{name} ({kind})" if kind else name


def _shared(some: Sequence[tuple[float, float]], others: Sequence[tuple[float, float]]) -> float:
    """Seconds that spans, which lie apart, have in common with others."""
    return sum(max(0.0, min(a[1], b[1]) - max(a[0], b[0])) for a in some for b in others)


def kept_elsewhere(grid: BeatGrid, show: Show, sound: str) -> list[str]:
    """The cues that are to be kept at a bar which begins elsewhere than when the show was written, in words.

    Where that bar began follows from the beginnings that the show holds on either side of it; where both of these are
    as they were, so is what lies between, however uneven its bars are.
    """
    began = show.bars_began
    if len(began) < 2 or made_for(show.text) not in ("", sound):
        return []
    bars, seconds = np.array([each[:2] for each in began]).T
    by = np.abs(grid.musical_time(seconds).bar + 1 - bars)
    found = []
    for cue in (each for each in show.cues if each.keep):
        for bar in sorted({end for span in cue.bars or () for end in span if bars[0] <= end <= bars[-1]}):
            then = float(np.interp(bar, bars, seconds))
            after = int(np.clip(np.searchsorted(bars, bar), 1, len(bars) - 1))
            if (
                by[after - 1 : after + 1].max() > BESIDE
                and abs(float(grid.musical_time([then]).bar[0]) + 1 - bar) > INSIDE
            ):
                now = clock_text(grid.time_of_bar(bar - 1))
                began_at = f"began at {clock_text(then)}, and begins at {now}"
                if bar not in bars:  # nobody knows when it began
                    began_at = f"begins at {now}, among bars that begin elsewhere now"
                found.append(f"'{cue.name or cue.effect}' (bar {bar:g} {began_at})")
                break
    return found


def bars_late(scene: Scene) -> int:
    """By how many bars cues begin and end after the parts of the song (before, where below 0): 0 where parts begin with
    cues, or where they do so by no number of bars."""
    assert scene.show is not None, "a scene without a show has no cues to look at"
    grid = scene.grid
    written = scene.show.cues  # what comes every few bars begins with a part, or beside all of them, by its own rule
    own = [cue for cue in scene.cues if written[cue.index].bars and not written[cue.index].every]
    ends = {end for cue in own for span in cue.spans for end in (span.start, span.end)}
    parts = [part.start for part in grid.sections if 0 < part.start < grid.duration]
    if not ends or len(parts) < PARTS:
        return 0
    cut = set(np.rint(grid.musical_time(sorted(ends)).bar).astype(int).tolist())
    begin = np.rint(grid.musical_time(parts).bar).astype(int)
    share = {by: float(np.mean([bar + by in cut for bar in begin.tolist()])) for by in range(-FARTHEST, FARTHEST + 1)}
    best = max(sorted(share, key=abs), key=lambda by: share[by])
    return best if share[best] >= MOST and share[0] <= FEW else 0
