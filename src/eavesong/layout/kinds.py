"""Kinds of pixels that need no entry in the layout: generic ones, from what datasheets say of their chips."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Conductor:
    """One conductor: American wire gauge, or mm², or ohms per metre at 20 °C; the first that is not None counts."""

    ohms_per_metre: float | None = None
    gauge: int | None = None
    area: float | None = None
    copper: str = "stranded"

    def __str__(self) -> str:
        if self.ohms_per_metre is not None:
            return f"{self.ohms_per_metre:g} ohm/m"
        return f"AWG {self.gauge} {self.copper}" if self.gauge is not None else f"{self.area:g} mm² {self.copper}"


@dataclass(frozen=True)
class PixelType:
    """What a pixel draws and how fast it listens."""

    name: str
    volts: float
    amperes: tuple[float, ...]
    """Of red, green, blue and, where there is a fourth, white at full drive."""
    idle: float
    """Amperes of a dark pixel."""
    bit_time: float
    """Microseconds."""
    reset: float
    """Microseconds."""
    lowest_volts: float
    """Volts it needs at least."""
    wire: Conductor = Conductor(gauge=20)
    spacing: float = 0.0
    """Metres of wire to the next pixel, at least."""

    @property
    def full(self) -> float:
        """Amperes at full white: every colour at full drive, and the chip itself."""
        return self.idle + sum(self.amperes)


def _generic(name: str, volts: float, ampere: float, colours: int = 3, idle: float = 0.001) -> PixelType:
    return PixelType(name, volts, (ampere,) * colours, idle, 1.25, 280.0, 0.9 * volts)


GENERIC = {
    kind.name: kind
    for kind in (
        # The rule of thumb, 3 x 20 mA: from tutorials, above what datasheets give, so on the safe side. White: from
        # memory.
        _generic("5 V, 20 mA", 5.0, 0.020, colours=4),
        # WS2811 datasheet: constant 18.5 mA at each output, one LED of each colour at 5 V, three in series at 12 V.
        _generic("5 V, 18.5 mA", 5.0, 0.0185),
        _generic("12 V, 18.5 mA", 12.0, 0.0185),
        # WS2812B-V5 as quoted by secondary texts: 12 mA a colour, 0.6 mA idle.
        _generic("5 V, 12 mA", 5.0, 0.012, idle=0.0006),
    )
}
"""Bit time 1.25 us (800 kbit/s), reset 280 us (WS2811 V1.4, WS2812B-V5), lowest volts a tenth below the nominal
(common practice)."""

USUAL = "5 V, 20 mA"
"""The kind of a pixel about which the layout says nothing."""
