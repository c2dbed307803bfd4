"""The limiter: frames are dimmed, smoothly, where a supply, an output or the house would be asked for too much.

The gain of each group falls in a straight line over ATTACK seconds, so that it is low enough when the load comes; it
stays for HOLD seconds and rises again over RELEASE seconds from none to all. Bars are shorter than HOLD in all but
the slowest songs, so the gain does not follow the beat. In no frame is it above what that frame allows.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import EavesongError, LayoutError, Problem, advise, nearest
from eavesong.within.rig import Rig

if TYPE_CHECKING:
    from eavesong.layout import Layout

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Gains = NDArray[np.float32]

ATTACK, HOLD, RELEASE = 0.5, 3.0, 4.0
"""Seconds."""

SURE = 1e-4
"""Share by which a dimmed frame stays below its limit: above what rounding in sums of float32 can hide."""

SCOPES = ("supply", "output", "house")


@dataclass(frozen=True)
class Limit:
    """What may be drawn by each supply, each output or the whole house."""

    scope: str
    amount: float | None = None
    """None: what the layout says the supply may give."""
    unit: str = "W"
    """``W`` or ``A``."""


_LIKE_A_LIMIT = re.compile(r"([A-Za-z]+)\s*[:= ]?\s*(\d+(?:[.,]\d+)?)\s*(k?)([A-Za-z]*)")
_WRITTEN = re.compile(r"\b(?:(?:supply|output|house):[\d.]+[AW]|supply(?= or |, ))")


def in_quotes(advice: str) -> str:
    """Advice on limits as a TOML file needs it: every limit in quotes."""
    return _WRITTEN.sub(lambda found: f'"{found[0]}"', advice)


def _meant(text: str) -> str:
    """The limit that a text was meant to be, ``supply:200W`` for ``supply=200``; empty where that is not plain."""
    found = _LIKE_A_LIMIT.fullmatch(text.strip())
    unit = (found[4][:1].upper() or "W") if found else ""
    scope = nearest(found[1], SCOPES, 0.75) or found[1].lower() if found else ""
    if not found or unit not in ("A", "W") or scope not in SCOPES:
        return ""
    amount = float(found[2].replace(",", ".")) * (1000 if found[3] else 1)
    return f"{scope}:{amount:g}{unit}" if 0 < amount < 1e6 else ""


def _advice(scope: str) -> str:
    one = "Of one supply alone, write in the layout which share of it may be used: usable = 0.3."
    return f"{advise(scope, SCOPES, 'word')} {one}"


def parse_limit(text: str) -> Limit:
    """``supply``, ``output:4A``, ``house:1500W``; LayoutError for anything else."""
    form = "Write supply, output:4A or house:1500W."
    scope, colon, amount = text.strip().partition(":")
    if (likely := _meant(text)) and not (scope in SCOPES and re.fullmatch(r"\s*[\d.]+\s*[WAwa]\s*", amount)):
        raise LayoutError(Problem("--limit", "", f"'{text}' is no limit", f"Write {likely}."))
    if re.fullmatch(r"[\d.]+\s*[aAwW]", scope):
        raise LayoutError(Problem("--limit", "", f"'{text}' does not say what it limits", f"Write house:{scope}."))
    if scope not in SCOPES:
        raise LayoutError(Problem("--limit", "", f"'{scope}' cannot be limited", _advice(scope)))
    if not colon:
        if scope != "supply":
            raise LayoutError(Problem("--limit", "", f"'{text}' says no amount", f"Write {scope}:200W, for instance."))
        return Limit(scope)
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*([WAwa])\s*", amount)
    if not found or not float(found[1]) > 0:
        raise LayoutError(Problem("--limit", "", f"'{amount}' is no amount above 0 in W or A", form))
    return Limit(scope, float(found[1]), found[2].upper())


@dataclass(frozen=True, eq=False)
class Groups:
    """Pixels that share one limit; each pixel in one group, group 0 has none."""

    of: NDArray[np.int64]
    """(n,)."""
    watts: Floats
    """(groups,): what each may draw; infinite for group 0."""
    names: tuple[str, ...]


def groups_of(layout: Layout, rig: Rig, limit: Limit) -> Groups:
    """The groups of one limit. Raises LayoutError where the layout has no such thing, or amperes say nothing."""
    plan = layout.power
    parts: list[tuple[str, NDArray[np.int64], float | None]] = []
    if limit.scope == "house":
        parts = [(layout.title, np.arange(layout.pixel_count), None)]
    elif limit.scope == "output":
        parts = [(string.name, string.pixels, None) for string in plan.strings]
    else:
        for supply in plan.supplies:
            stretches = [plan.strings[feed.string].pixels[feed.start : feed.stop] for feed in supply.feeds]
            parts.append((supply.name, np.concatenate(stretches), supply.watts * supply.usable))
    if not parts:
        advice = "Describe them, or limit the whole house: house:1500W."
        raise LayoutError(Problem(layout.path or layout.title, "", f"the layout has no {limit.scope} to limit", advice))
    of = np.zeros(layout.pixel_count, np.int64)
    watts = [math.inf]
    for number, (name, pixels, usable) in enumerate(parts, 1):
        of[pixels] = number
        watts.append(_watts(limit, name, rig.volts[pixels], usable))
    return Groups(of, np.array(watts), ("", *(name for name, _, _ in parts)))


def _watts(limit: Limit, name: str, volts: NDArray[np.float32], usable: float | None) -> float:
    if limit.amount is None:
        assert usable is not None, "only supplies say what they may give"
        return usable
    if limit.unit == "W":
        return limit.amount
    if len(set(volts.tolist())) != 1:
        found = f"'{name}' has pixels of several voltages, so amperes say nothing"
        raise LayoutError(Problem("--limit", "", found, "Give the limit in watts."))
    return limit.amount * float(volts[0])


@dataclass
class Wanted:
    """Which of the frames that are computed go into the file: the others are not told."""

    first: int = 0
    end: int = sys.maxsize

    def of(self, at: int, count: int) -> slice:
        """Where they stand among ``count`` frames from ``at`` on."""
        return slice(min(max(self.first - at, 0), count), min(max(self.end - at, 0), count))


class SmoothGains:
    """Gains (groups,) frame after frame: smooth, and never above what each frame allows."""

    def __init__(self, groups: int, frame_rate: float) -> None:
        self.attack, self.release = 1 / max(1.0, ATTACK * frame_rate), 1 / max(1.0, RELEASE * frame_rate)
        self.ahead = math.ceil(ATTACK * frame_rate) + 1
        self.recent = np.ones((max(1, math.ceil(HOLD * frame_rate)), groups))
        self.behind = len(self.recent) + math.ceil(RELEASE * frame_rate) + 2
        """Frames whose load can still be felt."""
        self.at = 0
        self.level = np.ones(groups)
        self.waiting: list[Floats] = []
        self.idle = True
        """Whether nothing of the past is felt any more."""

    def take(self, allowed: Floats) -> None:
        """Take what the next frames allow, (f, groups) of 0..1."""
        if self.idle and (allowed == 1).all():
            self.at += len(allowed)
            self.waiting += [self.level] * len(allowed)
            return
        for row in allowed:
            self.recent[self.at % len(self.recent)] = row
            self.at += 1
            self.level = np.minimum(self.recent.min(axis=0), self.level + self.release)
            self.waiting.append(self.level)
        self.idle = bool((self.level == 1).all() and (self.recent == 1).all())

    def ready(self, count: int) -> Floats:
        """Gains (count, groups) of the next frames; those that can be felt before them must have been taken."""
        gains = np.stack(self.waiting[: count + self.ahead])
        for row in range(len(gains) - 2, -1, -1):
            gains[row] = np.minimum(gains[row], gains[row + 1] + self.attack)
        del self.waiting[:count]
        return gains[:count]


class Limiter:
    """Takes what frames are asked for, in order, and tells by how much to dim them, some frames later."""

    def __init__(self, layout: Layout, rig: Rig, limits: Sequence[Limit], frame_rate: float) -> None:
        each = [groups_of(layout, rig, limit) for limit in limits]
        fed = [groups.of > 0 for limit, groups in zip(limits, each, strict=True) if limit.scope == "supply"]
        self.unfed = max((int((~reached).sum()) for reached in fed), default=0)
        """Pixels that no supply feeds, so that a limit on supplies does not reach them."""
        # Pixels that share all of their limits are measured and dimmed together.
        self.kinds, own = np.unique(np.stack([groups.of for groups in each]), axis=1, return_inverse=True)
        own = np.asarray(own).reshape(-1)
        channels = np.zeros(rig.channel_count, np.int64)
        watts = np.zeros(rig.channel_count, np.float32)
        for colour in range(4):
            used = rig.places[:, colour] >= 0
            channels[rig.places[used, colour]] = own[used]
            watts[rig.places[used, colour]] = rig.amperes[used, colour] * rig.volts[used]
        self.watts, self.runs = watts, _runs(channels, watts)
        idle = np.bincount(own, (rig.idle * rig.volts).astype(np.float64), self.kinds.shape[1])
        sums, tops = [], []
        names: list[str] = []
        for row, groups in enumerate(each):
            belongs = self.kinds[row][:, None] == np.arange(len(groups.watts))
            sums.append(belongs.astype(np.float64))
            tops.append(groups.watts)
            names += groups.names
        self.sums = np.concatenate(sums, axis=1)
        """(kinds, groups of all limits): 1 where a kind of pixels belongs to a group."""
        self.room = np.concatenate(tops) - idle @ self.sums
        self._refuse_idle(names)
        self.envelope = SmoothGains(len(self.room), frame_rate)
        self.lowest, self.dimmed = 1.0, 0
        """The lowest gain so far, and how many frames were dimmed, of those that are wanted."""
        self.wanted, self.given = Wanted(), 0

    def _refuse_idle(self, names: Sequence[str]) -> None:
        problems = [
            Problem("--limit", "", f"'{name}' draws more than its limit even in the dark", "Raise the limit.")
            for name, room in zip(names, self.room, strict=True)
            if room <= 0
        ]
        if problems:
            raise LayoutError(problems)

    def asked(self, block: Bytes) -> Floats:
        """Watts beyond idle that each group is asked for in frames (f, channels), C-contiguous; for any thread."""
        from eavesong.kernels.calls import drive_currents

        drawn = np.zeros((len(block), len(self.sums)))
        drive_currents(block, self.watts, self.runs, drawn)
        return np.asarray(drawn @ self.sums)

    def allows(self, block: Bytes) -> NDArray[np.bool_]:
        """(f,): whether nobody is asked for too much in frames (f, channels), C-contiguous."""
        return np.asarray((self.asked(block) <= self.room).all(axis=1))

    def lowered(self, block: Bytes, allowed: Bytes) -> Bytes:
        """Frames (f, channels) that are within the limits, where ``allowed`` ones were changed into ``block``.

        Where too much is asked for, what was brightened is brightened less, by the same share in all of a group.
        """
        if self.allows(block).all():
            return block
        low = np.minimum(block, allowed)
        asked, least = self.asked(block), self.asked(low)
        with np.errstate(invalid="ignore"):
            share = (self.room * (1 - SURE) - least) / np.maximum(asked - least, 1e-30)
        share = np.where(asked > self.room, np.clip(share, 0, 1), 1.0)
        more = block - low
        self.dim(more, self._of_kinds(share))
        return np.asarray(low + more)

    def still(self, frame: Bytes) -> Bytes:
        """A frame (channels,) that is shown by itself, dimmed where too much is asked for; by numpy alone, as players
        have no compiled loops."""
        drawn = np.zeros(len(self.sums))
        for first, end, kind, _ in self.runs.tolist():
            drawn[kind] += float(self.watts[first:end] @ frame[first:end].astype(np.float64))
        asked, most = drawn @ self.sums, self.room * (1 - SURE)
        gains = self._of_kinds(np.where(asked > most, most / np.maximum(asked, 1e-30), 1.0)[None])[0]
        held = frame.astype(np.float64)
        for first, end, kind, _ in self.runs.tolist():
            held[first:end] *= gains[kind]
        return held.astype(np.uint8)

    def take(self, asked: Floats) -> Gains:
        """Take what the next frames are asked for; the gains of the frames that are ready, (g, kinds)."""
        most = self.room * (1 - SURE)
        with np.errstate(invalid="ignore"):
            self.envelope.take(np.where(asked > most, most / np.maximum(asked, 1e-30), 1.0))
        return self._ready(len(self.envelope.waiting) - self.envelope.ahead)

    def end(self) -> Gains:
        """The gains of the frames that are left after the last block."""
        return self._ready(len(self.envelope.waiting))

    def _ready(self, count: int) -> Gains:
        if count <= 0:
            return np.ones((0, len(self.sums)), np.float32)
        gains = self.envelope.ready(count)
        self.given += count
        if not (gains < 1).any():
            return np.ones((count, len(self.sums)), np.float32)
        kinds = self._of_kinds(gains)
        told = kinds[self.wanted.of(self.given - count, count)]
        self.lowest = min(self.lowest, float(told.min(initial=1)))
        self.dimmed += int((told < 1).any(axis=1).sum())
        return kinds

    def _of_kinds(self, gains: Floats) -> Gains:
        """Gains (f, kinds) of the kinds of pixels, from those of all groups, (f, groups): the least of each."""
        return np.stack([gains[:, belongs > 0].min(axis=1) for belongs in self.sums], axis=1).astype(np.float32)

    def dim(self, block: Bytes, gains: Gains) -> None:
        """Multiply frames (f, channels), C-contiguous, by gains (f, kinds), in place; for any thread."""
        from eavesong.kernels.calls import scale

        if (gains < 1).any():
            scale(block, self.runs, gains)


def _runs(groups: NDArray[np.int64], watts: NDArray[np.float32]) -> NDArray[np.int64]:
    """(k, 4): first channel, end, group of neighbours in the same group, and whether all of them draw alike."""
    edges = [0, *(np.flatnonzero(np.diff(groups)) + 1).tolist(), len(groups)]
    rows = [(first, end, groups[first], np.ptp(watts[first:end]) == 0) for first, end in pairwise(edges)]
    return np.array(rows, np.int64).reshape(-1, 4)


def limits_from(texts: Sequence[str]) -> tuple[Limit, ...]:
    """The limits in ``texts``; every one that cannot be read at once, as LayoutError."""
    return tuple(_each(texts))


def _each(texts: Sequence[str]) -> Iterator[Limit]:
    problems: list[Problem] = []
    for text in texts:
        try:
            yield parse_limit(text)
        except EavesongError as fault:
            problems += fault.problems
    if problems:
        raise LayoutError(problems)
