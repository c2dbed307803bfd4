"""The report as text of at most 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from eavesong.checks.data import Data
from eavesong.checks.flashes import Episode, Flashes
from eavesong.checks.limits import Limits
from eavesong.checks.parts import Part
from eavesong.checks.power import Energy, Load, Power
from eavesong.checks.voltage import Lowest, Voltage
from eavesong.show.model import FLASH_WARNING

WIDTH = 80
MOST_ROWS = 20
"""Rows of a table in the terminal; the page and JSON have all of them."""


def report_text(limits: Limits) -> str:
    """The report: cautions, findings, power, voltage, data, flashes, parts in short."""
    parts = (
        _opening(limits),
        _findings(limits),
        _power(limits.power, limits.assumed.share),
        _voltages(limits.voltages),
        _data(limits.data),
        _flashes(limits.flashes, limits.assumed.distance, limits.assumed.area),
        _parts(limits.parts),
    )
    return "\n\n".join("\n".join(lines) for lines in map(tuple, parts) if lines)


def _wrapped(text: str, first: str = "", after: str | None = None) -> list[str]:
    indent = " " * len(first) if after is None else after
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent)


def _opening(limits: Limits) -> Iterator[str]:
    yield from _wrapped(f"Within limits: {limits.layout}")
    if limits.frames:
        seconds = limits.frame_count / limits.frame_rate
        yield from _wrapped(
            f"{limits.pixels:,} pixels, {limits.frame_count:,} frames of '{limits.frames}', {seconds:.1f} s at "
            f"{limits.frame_rate:g} a second"
        )
    else:
        yield from _wrapped(f"{limits.pixels:,} pixels, no frames: figures at full white and at a stated share of it")
    yield ""
    for caution in limits.cautions:
        yield from _wrapped(caution, "! ")


def _findings(limits: Limits) -> Iterator[str]:
    if not limits.findings:
        yield "Nothing to look at."
        return
    yield "To look at"
    for finding in limits.findings[:MOST_ROWS]:
        label = "warning" if finding.warning else finding.about
        yield from _wrapped(str(finding), f"  {label:<9} ")
    if len(limits.findings) > MOST_ROWS:
        yield f"  and {len(limits.findings) - MOST_ROWS} more: see the page or JSON"


def _fitted(text: str, width: int) -> str:
    return f"{text:<{width}}" if len(text) <= width else text[: width - 1] + "…"


def _watts(value: float | None) -> str:
    return "-" if value is None else f"{value:,.0f}" if value >= 100 else f"{value:.1f}"


def _power(power: Power, share: float) -> Iterator[str]:
    measured = power.house.peak is not None
    heads = ("white", "peak", "mean") if measured else ("white", f"at {share:.0%}", "dark")
    yield f"{'Power, watts':<34} {'pixels':>7} {heads[0]:>8} {heads[1]:>8} {heads[2]:>7} {'usable':>8}"
    rows = [power.house, *power.supplies, *sorted(power.outputs, key=lambda load: -load.full)]
    for load in rows[:MOST_ROWS]:
        yield _load(load, measured)
    if len(rows) > MOST_ROWS:
        yield f"  and {len(rows) - MOST_ROWS} more outputs"
    if power.house.worst is not None:
        yield from _wrapped(f"The house draws most at {power.house.worst}.")
    one = power.pixel
    seen = "" if one.peak_amperes is None else f", {1000 * one.peak_amperes:.0f} mA at most in these frames"
    yield from _wrapped(f"A single pixel draws {1000 * one.full_amperes:.0f} mA at full white{seen}.")
    if power.unfed_pixels:
        yield from _wrapped(f"{power.unfed_pixels:,} pixels have no supply in the layout.")
    yield from _energy(power.energy)


def _load(load: Load, measured: bool) -> str:
    name = load.name if load.kind != "house" else "the whole house"
    label = _fitted(f"{'  ' if load.kind == 'output' else ''}{name}", 34)
    second, third = (load.peak, load.mean) if measured else (load.share, load.idle)
    usable = "" if load.usable is None else _watts(load.usable)
    return (
        f"{label} {load.pixels:>7,} {_watts(load.full):>8} {_watts(second):>8} {_watts(third):>7} {usable:>8}".rstrip()
    )


def _energy(energy: Energy) -> Iterator[str]:
    song = "" if energy.song_watt_hours is None else f"{energy.song_watt_hours:.1f} Wh a song; "
    yield from _wrapped(
        f"From the mains: {energy.mean_watts:,.0f} W on average, {song}{energy.season_kwh:,.1f} kWh in a season of "
        f"{energy.season_hours:g} hours, {energy.season_cost:,.2f} at {energy.tariff:g} a kWh."
    )


def _voltages(voltages: Sequence[Voltage]) -> Iterator[str]:
    yield f"{'Voltage':<34} {'feeds':>5} {'gives':>6} {'white':>6} {'worst':>6} {'needs':>6}  lowest at"
    ordered = sorted(voltages, key=lambda voltage: voltage.full.volts - voltage.full.needed)
    for voltage in ordered[:MOST_ROWS]:
        lowest = voltage.worst or voltage.full
        worst = "-" if voltage.worst is None else _volts(voltage.worst)
        where = _fitted(f"{lowest.prop} {lowest.pixel}", 12).rstrip()
        yield (
            f"{_fitted(voltage.circuit, 34)} {voltage.points:>5} {voltage.volts:>6.1f} {_volts(voltage.full):>6} "
            f"{worst:>6} {lowest.needed:>6.1f}  {where}"
        )
    if len(voltages) > MOST_ROWS:
        yield f"  and {len(voltages) - MOST_ROWS} more with more to spare"


def _volts(lowest: Lowest) -> str:
    return f"{lowest.volts:.1f}" if lowest.volts > 0 else "none"


def _data(data: Data) -> Iterator[str]:
    if not data.outputs:
        return
    title = f"Data at {data.frame_rate:g} frames a second"
    yield f"{title:<34} {'pixels':>7} {'ms':>7} {'at most':>9} {'room for':>9}"
    ordered = sorted(data.outputs, key=lambda output: output.most_frames)
    for output in ordered[:MOST_ROWS]:
        name = _fitted(f"{output.controller}, output {output.output}", 34)
        pixels = output.pixels + output.null_pixels
        yield (
            f"{name} {pixels:>7,} {output.milliseconds:>7.2f} {output.most_frames:>7.1f}/s "
            f"{output.most_pixels - pixels:>9,}"
        )
    yield f"{'Network':<28} {'univ.':>7} {'slots':>7} {'free':>9} {'Mbit/s':>9}  outputs free"
    for box in data.controllers:
        free = "not said" if box.outputs_free is None else str(box.outputs_free)
        yield (
            f"{_fitted(box.name, 28)} {box.universes:>7} {box.slots_used:>7,} {box.slots_free:>9,} "
            f"{box.megabits:>9.2f}  {free}"
        )
    yield from _wrapped(
        f"{data.packets:,} packets and {data.megabits:.1f} Mbit a second in all, {data.ethernet_share:.1%} of a "
        "100 Mbit/s network. A full universe on an E1.11 line can be refreshed 44.1 times a second."
    )


def _flashes(flashes: Flashes | None, distance: float, area: bool) -> Iterator[str]:
    if flashes is None:
        return
    yield "Flashes (WCAG 2.2 SC 2.3.1; at most 3 in any second)"
    reading = (
        f"Areas below a quarter of a 10 degree field, seen from {distance:g} m, are let pass."
        if area
        else f"Strict reading: every pixel, parts of the view and the whole display; seen from {distance:g} m."
    )
    yield from _wrapped(reading, "  ")
    half = flashes.most_transitions / 2
    yield from _wrapped(f"Most in any second: {half:g} ({flashes.most_transitions} transitions).", "  ")
    broadcast = "passes" if flashes.broadcast_passes else f"fails on {flashes.broadcast_share:.0%} of the display"
    yield from _wrapped(f"ITU-R BT.1702 count (more than three flashes): {broadcast}.", "  ")
    for episode in flashes.episodes[:MOST_ROWS]:
        yield from _episode(episode)
    more = len(flashes.episodes) + flashes.more_episodes - MOST_ROWS
    if more > 0:
        yield f"  and {more} more episodes"
    if flashes.allowed:
        yield from _wrapped(f"{FLASH_WARNING} Warn everyone who may come by.", "! ")


def _episode(episode: Episode) -> Iterator[str]:
    bars = f", bar {episode.start.bar} to {episode.end.bar}" if episode.start.bar else ""
    whole = ", the whole display" if episode.whole_display else ", a part of the view" if episode.part else ""
    yield from _wrapped(
        f"{episode.start.clock} to {episode.end.clock}{bars}: {' and '.join(episode.kinds)}, "
        f"{episode.transitions / 2:g} flashes in a second{whole}",
        "  ",
        "    ",
    )
    yield from _wrapped(
        f"{episode.pixels:,} pixels, {episode.square_metres:.2f} m², {episode.steradians:.4f} sr, "
        f"{episode.field_share:.0%} of a 10 degree field; {_some(episode.props)}",
        "    ",
    )
    if episode.start.cues:
        yield from _wrapped(_some(episode.start.cues), "    ")


def _some(names: Sequence[str], most: int = 4) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _parts(parts: Iterable[Part]) -> Iterator[str]:
    groups: dict[str, list[Part]] = {}
    for part in parts:
        groups.setdefault(part.group, []).append(part)
    yield "Parts (all of them with --parts FILE)"
    for group, rows in groups.items():
        metres = sum(part.count for part in rows if part.unit == "m")
        counted = sum(part.count for part in rows if part.unit != "m")
        amount = f"{metres:,.1f} m in {len(rows)} pieces" if metres else f"{counted:,.0f} {rows[0].unit}"
        yield f"  {group:<17} {amount}"
