"""What a wire may carry, and which fuse guards it.

For judging a plan. The least of the tables that could apply is taken, so that a local code or the maker of a cable
may well allow more; where they allow less, they come first.

Sources, all from memory but where it says otherwise: NFPA 79 table 12.5.1 (small conductors), NEC (NFPA 70) table
400.5(A)(1) for flexible cord with three current-carrying conductors, NEC 240.4(D) for the overcurrent protection of
small conductors, NEC table 310.15(B)(1) for warm surroundings with 60 °C insulation, NEC table 310.15(C)(1) for
bundles, NEC 210.20(A) and 215.3 for loads that go on for hours, ISO 8820-3 for the ratings of blade fuses.
"""

from __future__ import annotations

from bisect import bisect_right

from eavesong.layout.kinds import Conductor
from eavesong.limits.copper import RESISTIVITY, STRANDED, area

AMPERES = {
    30: 0.5, 28: 0.8, 26: 1.0, 24: 2.0, 22: 3.0, 20: 5.0,  # NFPA 79, table 12.5.1
    18: 7.0, 16: 10.0,  # NFPA 79, NEC 240.4(D) and 400.5(A)(1) agree
    14: 15.0, 12: 20.0,  # NEC 240.4(D) and 400.5(A)(1) agree
    10: 25.0, 8: 35.0, 6: 45.0, 4: 60.0, 2: 80.0,  # NEC 400.5(A)(1)
}  # fmt: skip
"""By American wire gauge, copper, at up to 30 °C, one cable by itself."""

CONTINUOUS = 0.8
"""Share of a fuse's or a breaker's rating that a load may take for hours (NEC 210.20(A))."""

FUSES = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
"""Amperes of blade fuses that are sold (ISO 8820-3)."""

WARM = ((30, 1.0), (35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58), (55, 0.41))
"""Up to so many degrees, so much of it (60 °C insulation); beyond that nothing."""

WARMEST = WARM[-1][0]

BUNDLES = ((3, 1.0), (6, 0.8), (9, 0.7), (20, 0.5), (30, 0.45), (40, 0.4))
"""Up to so many conductors that carry current in one bundle or pipe, so much of it; beyond that 0.35."""

CLOSE = 1.001
"""Sizes that differ by less are the same size: areas are given with three digits."""

_AREAS = sorted((area(gauge), amperes) for gauge, amperes in AMPERES.items())


def copper_area(wire: Conductor) -> float:
    """Square millimetres of solid copper that resist as the wire does, or that it is made of.

    A wire that is described by its resistance, copper-clad aluminium for instance, counts as the copper wire that
    warms as much, which is thinner than it looks.
    """
    if wire.ohms_per_metre is not None:
        return RESISTIVITY * STRANDED / wire.ohms_per_metre
    size = area(wire.gauge) if wire.gauge is not None else wire.area
    assert size is not None, "the layout refuses a wire without a size"
    return size


def allowed_amperes(wire: Conductor, celsius: float = 30.0, cables: int = 1) -> float:
    """What each conductor of a cable may carry for hours, at ``celsius``, where ``cables`` of two loaded conductors
    lie together.

    A size between two gauges counts as the thinner one; below AWG 30 it is as much less as there is less copper.
    Nothing above 55 °C.
    """
    size = copper_area(wire) * CLOSE
    place = bisect_right(_AREAS, (size, float("inf")))
    least_area, least = _AREAS[0]
    plain = least * size / least_area if not place else _AREAS[place - 1][1]
    warm = next((share for most, share in WARM if celsius <= most), 0.0)
    bundle = next((share for most, share in BUNDLES if 2 * cables <= most), 0.35)
    return plain * warm * bundle


def fuse_for(load: float, allowed: float) -> float | None:
    """The smallest fuse that carries ``load`` amperes for hours and blows before a wire carries more than
    ``allowed``; None where there is none."""
    for rating in FUSES:
        if load <= CONTINUOUS * rating:
            return rating if rating <= allowed else None
    return None


def largest_load(allowed: float) -> float:
    """Amperes that a wire which may carry ``allowed`` can be asked for through a fuse."""
    return CONTINUOUS * max((rating for rating in FUSES if rating <= allowed), default=0.0)
