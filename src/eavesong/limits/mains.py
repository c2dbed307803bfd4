"""What supplies take from the mains, beside what a circuit of the house may be asked for over hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from eavesong.limits.ampacity import CONTINUOUS

CIRCUITS = ((120.0, 15.0), (230.0, 16.0))
"""Volts of the mains and amperes of a usual circuit there (common practice); 80 % of it over hours."""

PLAIN_EFFICIENCY, PLAIN_POWER_FACTOR = 0.85, 0.6
"""Of a supply that the layout does not name (common practice, without power-factor correction)."""

LEAST = 1e-6
"""Amperes that rounding makes of nothing."""


@dataclass(frozen=True)
class MainsLoad:
    """What one supply, or all of them, take from the mains."""

    name: str
    full: float
    """Volt-amperes at full white."""
    peak: float | None
    """In the worst frame; None without frames."""

    def amperes(self, volts: float) -> float:
        """At full white on mains of so many volts."""
        return self.full / volts

    def peak_amperes(self, volts: float) -> float | None:
        """In the worst frame."""
        return None if self.peak is None else self.peak / volts


@dataclass(frozen=True)
class Mains:
    """The whole house and each supply."""

    house: MainsLoad
    supplies: tuple[MainsLoad, ...]

    @property
    def circuits(self) -> tuple[tuple[float, float, int], ...]:
        """Volts, amperes a circuit gives over hours, and how many of them full white needs at least.

        A supply cannot be split: large ones are put first, each into the first circuit with room for it.
        """
        rows = []
        for volts, rating in CIRCUITS:
            most = CONTINUOUS * rating
            parts = [load.amperes(volts) for load in self.supplies]
            unfed = self.house.amperes(volts) - sum(parts)  # what no supply feeds yet has circuits of its own
            rows.append((volts, most, packed([*parts, *([unfed] if unfed > LEAST else [])], most)))
        return tuple(rows)

    def beyond(self, volts: float, most: float) -> list[MainsLoad]:
        """The supplies that take more than so many amperes each, which no circuit of that size carries."""
        return [load for load in self.supplies if load.amperes(volts) > most]


def packed(parts: Sequence[float], most: float) -> int:
    """Circuits of ``most`` amperes that hold all parts; one above it has circuits of its own, as many as it takes."""
    rooms: list[float] = []
    alone = 0
    for part in sorted(parts, reverse=True):
        if part > most:
            alone += int(-(-part // most))
            continue
        place = next((n for n, room in enumerate(rooms) if part <= room), None)
        if place is None:
            rooms.append(most - part)
        else:
            rooms[place] -= part
    return alone + len(rooms)
