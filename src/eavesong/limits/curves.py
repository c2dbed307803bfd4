"""Small pictures for the page: power over the song, voltage of each circuit, times of flashing.

Words stand beside the drawings, not in them, so that they stay readable however narrow the screen is.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from eavesong.limits.flashes import Flashes
from eavesong.limits.power import Load
from eavesong.limits.voltage import Voltage

WIDE, HIGH = 900, 150

MOST_BARS = 40


def power_curve(house: Load) -> str:
    """Watts of the whole house over the song."""
    most = max(house.curve) or 1.0
    step = WIDE / len(house.curve)
    steps = " ".join(
        f"L{i * step:.1f} {_y(value, most):.1f} L{(i + 1) * step:.1f} {_y(value, most):.1f}"
        for i, value in enumerate(house.curve)
    )
    mean = _y(house.mean or 0.0, most)
    return (
        f'<figure><svg viewBox="0 0 {WIDE} {HIGH}" preserveAspectRatio="none" class="curve" role="img" '
        'aria-label="power over the song">'
        f'<path d="M0 {HIGH} {steps} L{WIDE} {HIGH} Z" class="power"/>'
        f'<line x1="0" x2="{WIDE}" y1="{mean:.1f}" y2="{mean:.1f}" class="mean"/></svg>'
        f"<figcaption>Power of the house over the song: peak {most:,.0f} W, mean {house.mean or 0:,.0f} W (dashed)."
        "</figcaption></figure>"
    )


def _y(value: float, most: float) -> float:
    return HIGH - (HIGH - 4) * value / most


def voltage_bars(voltages: Sequence[Voltage]) -> str:
    """Lowest volts of each circuit as a share of what its supply gives: at full white, and pale beyond it in the
    worst frame; a mark where its pixels need it to reach."""
    rows = "".join(_bar(voltage) for voltage in voltages[:MOST_BARS])
    more = f" The first {MOST_BARS} of {len(voltages)} circuits." if len(voltages) > MOST_BARS else ""
    pale = ", and pale beyond it in the worst frame" if any(voltage.worst for voltage in voltages) else ""
    return (
        f'<figure role="img" aria-label="lowest voltage of each circuit">{rows}'
        f"<figcaption>Lowest voltage of each circuit at full white{pale}; the mark is what its pixels need.{more}"
        "</figcaption></figure>"
    )


def _bar(voltage: Voltage) -> str:
    lowest = voltage.worst or voltage.full
    kind = "good" if lowest.holds else "bad"
    return (
        f'<div class="bar {kind}"><span>{escape(voltage.circuit)}</span><div>'
        f'<i class="pale" style="width:{_percent(lowest.volts / voltage.volts)}"></i>'
        f'<i style="width:{_percent(voltage.full.volts / voltage.volts)}"></i>'
        f'<b style="left:{_percent(lowest.needed / voltage.volts)}"></b></div></div>'
    )


def _percent(share: float) -> str:
    return f"{100 * min(max(share, 0.0), 1.0):.1f}%"


def flash_strip(flashes: Flashes, seconds: float) -> str:
    """The song from left to right, red where it flashes too often."""
    scale = WIDE / max(seconds, 1e-6)
    origin = flashes.origin
    marks = "".join(
        f'<rect x="{(episode.start.seconds - origin) * scale:.1f}" y="0" height="22" '
        f'width="{max(2.0, (episode.end.seconds - episode.start.seconds) * scale):.1f}" class="flash"/>'
        for episode in flashes.episodes
    )
    return (
        f'<svg viewBox="0 0 {WIDE} 22" preserveAspectRatio="none" class="strip" role="img" '
        f'aria-label="times of flashing"><rect width="{WIDE}" height="22" class="quiet"/>{marks}</svg>'
    )
