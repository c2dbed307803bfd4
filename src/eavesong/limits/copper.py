"""Copper wire: size from the gauge, resistance from size and temperature.

Sources: ASTM B258 (gauges), International Annealed Copper Standard, 1/58 ohm mm²/m at 20 °C and 0.00393 per kelvin
(NBS Handbook 100).
"""

from __future__ import annotations

import math

from eavesong.layout.kinds import Conductor

RESISTIVITY = 1 / 58
"""Ohm mm²/m at 20 °C."""

PER_KELVIN = 0.00393

STRANDED = 1.02
"""Resistance of stranded wire over that of solid wire of the same nominal size: the lay makes strands longer (NEC
chapter 9, table 8: 7.95/7.77 for 18 AWG; from memory)."""


def diameter(gauge: int) -> float:
    """Millimetres of a solid wire of an American wire gauge: 0.127 mm * 92 ** ((36 - gauge) / 39)."""
    return float(0.127 * 92 ** ((36 - gauge) / 39))


def area(gauge: int) -> float:
    """Square millimetres of a wire of an American wire gauge."""
    return math.pi / 4 * diameter(gauge) ** 2


def warm(ohms: float, celsius: float) -> float:
    """The resistance at ``celsius`` of copper that has ``ohms`` at 20 °C; not below a tenth of it."""
    return ohms * max(0.1, 1 + PER_KELVIN * (celsius - 20))


def ohms_per_metre(wire: Conductor, celsius: float = 20.0) -> float:
    """Of one conductor."""
    if wire.ohms_per_metre is not None:
        return warm(wire.ohms_per_metre, celsius)
    size = area(wire.gauge) if wire.gauge is not None else wire.area
    assert size is not None, "the layout refuses a wire without a size"
    lay = STRANDED if wire.copper == "stranded" else 1.0
    return warm(RESISTIVITY / size * lay, celsius)


def loop_ohms(wire: Conductor, metres: float, celsius: float = 20.0) -> float:
    """Out and back through a cable of two equal conductors, ``metres`` long one way."""
    return 2 * metres * ohms_per_metre(wire, celsius)
