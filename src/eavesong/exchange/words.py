"""What was found, in plain words, and how sure it is."""

from __future__ import annotations

from collections.abc import Sequence

from eavesong.exchange.aligned import Alignment
from eavesong.exchange.place import bars_doubled, bars_missing
from eavesong.music.grid import BeatGrid

SURE, LIKELY = 0.12, 0.05
"""How much more both must be alike than a bar off to be one recording for sure, or likely. Songs that share a beat
gain hardly anything by the right bar; one recording does (tests/benchmarks/exchange.py)."""
OWN, CLOSE = 0.8, 0.845
"""Share of bars that have to be most like their own, unless both are as alike as that all through. Of one recording
under noise 0.9 and more are, and of songs that share beat and speed 0.8 at most: in the pairs of invented songs of
tests/benchmarks/exchange.py and 2,000 more. Clipping makes bars alike, but leaves both closer than such songs are."""
ALIKE = 0.85
"""Likeness from which on it is one recording even where every bar is like the next."""
LEAST = 0.2
"""Share of the shorter of both that has to go together."""
PIECED = 0.6
"""Likeness that an edit in several pieces has to have: pieces are chosen where they fit, by chance too."""
SHORTEST = 8.0
"""Seconds that have to go together."""
SAME_SPEED = 5e-5
"""Change of speed that is not worth a word: 9 ms in three minutes."""
AT_ONCE = 0.004
"""Seconds later or earlier that are not worth a word."""


def sureness(found: Alignment) -> str:
    """``sure``, ``likely`` or, where it is another song or another recording of it, ``unsure``."""
    common = [piece.seconds for piece in found.pieces if piece.line]
    if found.found < LEAST or sum(common) < SHORTEST or (len(common) > 1 and found.likeness < PIECED):
        return "unsure"
    if found.own is not None and found.own < OWN and found.likeness < CLOSE:
        return "unsure"
    if found.margin >= SURE or (found.likeness >= ALIKE and found.found > 0.5):
        return "sure"
    return "likely" if found.margin >= LIKELY else "unsure"


def why(found: Alignment) -> str:
    """The figures that sureness stands on, in a sentence."""
    share, like, off = (100 * value for value in (min(found.found, 1.0), found.likeness, found.likeness - found.margin))
    if not found.found:
        return "nothing of it goes together with this file"
    own = "" if found.own is None else f", and {100 * found.own:.0f} % of the bars are most like their own"
    return f"{share:.0f} % of it goes together, {like:.0f} % alike; whole bars off it would be {max(off, 0):.0f} %{own}"


def describe(found: Alignment, grid: BeatGrid) -> list[str]:
    """What is different in the copy of the song whose beats are ``grid``, each in a few words."""
    told = [text for text in (_start(found), _speed(found)) if text]
    if missing := bars_missing(grid, found):
        told.append(f"{_bars(missing)} not in it")
    if doubled := bars_doubled(grid, found):
        told.append(f"{_bars(doubled)} in it more than once")
    for piece in found.pieces:
        if piece.line is None and piece.seconds > 1.0 and piece.begin > 0 and piece.end < found.length - 0.5:
            told.append(f"{_clock(piece.begin)} to {_clock(piece.end)} is new")
    return told or ["the same as the one it was made for"]


ROUND = 4
"""Bars over which effects go round, at most in most shows: those that go over one bar, two or four."""


def rounds(elsewhere: Sequence[tuple[int, float]]) -> list[str]:
    """That bars are counted otherwise in the copy, where effects that go over several of them begin on other ones.

    elsewhere: bars of the song whose number in the copy is another, both from 1.
    """
    apart = next(((bar, there) for bar, there in elsewhere if (there - bar) % ROUND), None)
    if apart is None:
        return []
    bar, there = apart
    goes = "what an effect does over two bars or four, as sweeps to and fro, begins on other bars"
    return [f"bar {bar} of the song is bar {there:g} of it, so {goes}"]


def _start(found: Alignment) -> str:
    first = next((piece for piece in found.pieces if piece.line), None)
    if first is None or first.line is None:
        return ""
    later = float(first.line.at(0.0))
    if abs(later) < AT_ONCE:
        return ""
    if later > 0:
        return f"starts {later:.2f} s later"
    return f"starts {-later / first.line.stretch:.2f} s into it"


def _speed(found: Alignment) -> str:
    faster = 1 / found.line.stretch - 1
    if abs(faster) < SAME_SPEED:
        return ""
    digits = 3 if abs(faster) < 1e-3 else 2
    return f"{100 * abs(faster):.{digits}f} % {'faster' if faster > 0 else 'slower'}"


def _bars(runs: list[tuple[int, int]]) -> str:
    each = [f"{first} to {last}" if last > first else f"{first}" for first, last in runs[:6]]
    more = f" and {len(runs) - 6} more runs" if len(runs) > 6 else ""
    several = len(runs) > 1 or runs[0][1] > runs[0][0]
    return f"bar{'s' if several else ''} {', '.join(each)}{more} {'are' if several else 'is'}"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
