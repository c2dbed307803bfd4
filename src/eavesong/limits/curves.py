"""Small pictures for the page, as SVG: power over the song, voltage of each circuit, times of flashing."""

from __future__ import annotations

from collections.abc import Sequence

from eavesong.limits.flashes import Flashes
from eavesong.limits.power import Load
from eavesong.limits.voltage import Voltage

WIDE, HIGH = 900, 150


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
        f'<svg viewBox="0 0 {WIDE} {HIGH + 18}" role="img" aria-label="power over the song">'
        f'<path d="M0 {HIGH} {steps} L{WIDE} {HIGH} Z" fill="#f0c25e" stroke="#c98a1b" stroke-width="0.8"/>'
        f'<line x1="0" x2="{WIDE}" y1="{mean:.1f}" y2="{mean:.1f}" stroke="#1d2433" stroke-dasharray="3 4"/>'
        f'<text x="4" y="{mean - 4:.1f}">mean {house.mean or 0:,.0f} W</text>'
        f'<text x="0" y="{HIGH + 14}">0:00</text>'
        f'<text x="{WIDE}" y="{HIGH + 14}" text-anchor="end">peak {most:,.0f} W</text></svg>'
    )


def _y(value: float, most: float) -> float:
    return HIGH - (HIGH - 14) * value / most


def voltage_bars(voltages: Sequence[Voltage]) -> str:
    """Lowest volts of each circuit as a share of what its supply gives: at full white, and pale beyond it in the
    worst frame; a mark where its pixels need it to reach."""
    row = 16
    shown = voltages[:40]
    lines = []
    for place, voltage in enumerate(shown):
        top = place * row
        pale = _across(voltage.full.volts / voltage.volts)
        lowest = voltage.worst or voltage.full
        full = _across(lowest.volts / voltage.volts)
        needed = _across(lowest.needed / voltage.volts)
        colour = "#2f6b4f" if lowest.holds else "#a8322d"
        lines.append(
            f'<rect x="260" y="{top + 3}" width="{full:.1f}" height="9" fill="{colour}" opacity="0.35"/>'
            f'<rect x="260" y="{top + 3}" width="{pale:.1f}" height="9" fill="{colour}"/>'
            f'<line x1="{260 + needed:.1f}" x2="{260 + needed:.1f}" y1="{top + 1}" y2="{top + 14}" stroke="#1d2433"/>'
            f'<text x="252" y="{top + 12}" text-anchor="end">{_plain(voltage.circuit)}</text>'
        )
    return (
        f'<svg viewBox="0 0 {WIDE} {row * len(shown) + 4}" role="img" aria-label="lowest voltage of each circuit">'
        f"{''.join(lines)}</svg>"
    )


def _across(share: float) -> float:
    return (WIDE - 270) * min(max(share, 0.0), 1.0)


def _plain(text: str) -> str:
    from html import escape

    return escape(text if len(text) <= 42 else text[:41] + "…")


def flash_strip(flashes: Flashes, seconds: float) -> str:
    """The song from left to right, red where it flashes too often."""
    scale = WIDE / max(seconds, 1e-6)
    origin = flashes.origin
    marks = "".join(
        f'<rect x="{(episode.start.seconds - origin) * scale:.1f}" y="0" height="22" '
        f'width="{max(2.0, (episode.end.seconds - episode.start.seconds) * scale):.1f}" fill="#a8322d"/>'
        for episode in flashes.episodes
    )
    return (
        f'<svg viewBox="0 0 {WIDE} 24" role="img" aria-label="times of flashing">'
        f'<rect width="{WIDE}" height="22" fill="#e7e4da"/>{marks}</svg>'
    )
