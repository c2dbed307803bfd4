"""The report, and the parts list alone, as one HTML page each that needs nothing else and prints well."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from pathlib import Path

from eavesong.checks.curves import flash_strip, power_curve, voltage_bars
from eavesong.checks.data import Data
from eavesong.checks.flashes import Flashes
from eavesong.checks.limits import Limits
from eavesong.checks.parts import Part
from eavesong.checks.power import Load, Power
from eavesong.checks.voltage import Voltage
from eavesong.show.model import FLASH_WARNING

Row = Sequence[object]


def report_page(limits: Limits) -> str:
    """The whole report as HTML: every row, and pictures of power, voltage and flashes."""
    body = [
        _opening(limits, "Within limits"),
        _findings(limits),
        *_power(limits.power, limits.assumed.share),
        *_voltages(limits.voltages),
        *_data(limits.data),
        *_flashes(limits.flashes, limits.assumed.distance, limits.assumed.area, limits),
        *_parts(limits.parts),
    ]
    return _page(f"Within limits: {limits.layout}", body)


def parts_page(limits: Limits) -> str:
    """The parts list as HTML to print and take along."""
    return _page(f"Parts: {limits.layout}", [_opening(limits, "Parts"), *_parts(limits.parts)])


def _page(title: str, body: Iterable[str]) -> str:
    style = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{escape(title)}</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<style>\n{style}</style>\n</head>\n'
        f"<body>\n<main>\n{chr(10).join(body)}\n</main>\n</body>\n</html>\n"
    )


def _opening(limits: Limits, kind: str) -> str:
    what = f"{limits.pixels:,} pixels"
    if limits.frames:
        what += f", {limits.frame_count:,} frames of ‘{escape(limits.frames)}’ at {limits.frame_rate:g} a second"
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in limits.cautions)
    return f'<h1>{escape(limits.layout)}</h1>\n<p class="sub">{kind}: {what}</p>\n<ul class="cautions">{cautions}</ul>'


def _findings(limits: Limits) -> str:
    if not limits.findings:
        return '<p class="verdict good">Nothing to look at.</p>'
    words = "Within limits, with warnings" if limits.passes else "Not within limits"
    rows = "".join(
        f'<li><span class="about {"warn" if finding.warning else "bad"}">{escape(finding.about)}</span> '
        f"{escape(str(finding))}</li>"
        for finding in limits.findings
    )
    return f'<p class="verdict {"good" if limits.passes else "bad"}">{words}.</p>\n<ul>{rows}</ul>'


def _table(heads: Sequence[str], rows: Iterable[Row], numbers: Iterable[int]) -> str:
    """A table; ``numbers`` are the columns set to the right."""
    right = set(numbers)

    def cells(tag: str, row: Row) -> str:
        kinds = (' class="n"' if place in right else "" for place in range(len(row)))
        return "".join(f"<{tag}{kind}>{escape(str(cell))}</{tag}>" for kind, cell in zip(kinds, row, strict=True))

    lines = "\n".join(f"<tr>{cells('td', row)}</tr>" for row in rows)
    return f"<table>\n<thead><tr>{cells('th', heads)}</tr></thead>\n<tbody>\n{lines}\n</tbody>\n</table>"


def _watts(value: float | None) -> str:
    return "–" if value is None else f"{value:,.0f}" if value >= 100 else f"{value:.1f}"


def _power(power: Power, share: float) -> Iterator[str]:
    yield "<h2>Power</h2>"
    if power.house.curve:
        yield power_curve(power.house)
    measured = power.house.peak is not None
    heads = ["", "pixels", "white W", *(["peak W", "mean W"] if measured else [f"at {share:.0%} W", "dark W"])]
    rows = [_load(load, measured) for load in (power.house, *power.supplies, *power.outputs)]
    yield _table([*heads, "usable W", "worst moment"], rows, range(1, 6))
    energy = power.energy
    song = "" if energy.song_watt_hours is None else f"{energy.song_watt_hours:.1f} Wh a song; "
    yield (
        f'<p class="note">From the mains {energy.mean_watts:,.0f} W on average, {song}{energy.season_kwh:,.1f} kWh in '
        f"{energy.season_hours:g} hours of a season, {energy.season_cost:,.2f} at {energy.tariff:g} a kWh.</p>"
    )
    if power.unfed_pixels:
        yield f'<p class="note">{power.unfed_pixels:,} pixels have no supply in the layout.</p>'


def _load(load: Load, measured: bool) -> Row:
    pair = (load.peak, load.mean) if measured else (load.share, load.idle)
    name = "The whole house" if load.kind == "house" else f"{load.kind.capitalize()}: {load.name}"
    usable = "" if load.usable is None else _watts(load.usable)
    return (name, f"{load.pixels:,}", _watts(load.full), *map(_watts, pair), usable, load.worst or "")


def _voltages(voltages: Sequence[Voltage]) -> Iterator[str]:
    yield "<h2>Voltage</h2>"
    ordered = sorted(voltages, key=lambda voltage: voltage.full.volts - voltage.full.needed)
    yield voltage_bars(ordered)
    pale = ", and pale beyond it in the worst frame" if any(voltage.worst for voltage in voltages) else ""
    yield f'<p class="note">Lowest voltage of each circuit at full white{pale}; the mark is what its pixels need.</p>'
    rows = [
        (
            voltage.circuit, voltage.supply or "ideal, none named", voltage.points, f"{voltage.volts:.1f}",
            f"{max(voltage.full.volts, 0):.2f}", f"{max(voltage.worst.volts, 0):.2f}" if voltage.worst else "–",
            f"{voltage.full.needed:.2f}",
            f"{(voltage.worst or voltage.full).prop}, pixel {(voltage.worst or voltage.full).pixel}",
            "; or ".join(voltage.suggestions),
        )
        for voltage in ordered
    ]  # fmt: skip
    heads = ["circuit", "supply", "feeds", "gives V", "white V", "worst V", "needs V", "lowest at", "at full white"]
    yield _table(heads, rows, range(2, 7))


def _data(data: Data) -> Iterator[str]:
    if not data.outputs:
        return
    yield f"<h2>Data at {data.frame_rate:g} frames a second</h2>"
    yield _table(
        ["output", "pixels", "null", "ms a frame", "at most", "pixels at most"],
        [
            (f"{output.controller}, output {output.output}", f"{output.pixels:,}", output.null_pixels,
             f"{output.milliseconds:.2f}", f"{output.most_frames:.1f}/s", f"{output.most_pixels:,}")
            for output in data.outputs
        ],
        range(1, 6),
    )  # fmt: skip
    yield _table(
        ["controller", "universes", "slots used", "free", "Mbit/s", "outputs used", "free"],
        [
            (box.name, box.universes, f"{box.slots_used:,}", f"{box.slots_free:,}", f"{box.megabits:.2f}",
             box.outputs_used, "not said" if box.outputs_free is None else box.outputs_free)
            for box in data.controllers
        ],
        range(1, 7),
    )  # fmt: skip
    yield (
        f'<p class="note">{data.packets:,} packets and {data.megabits:.1f} Mbit a second in all, '
        f"{data.ethernet_share:.1%} of a 100 Mbit/s network. A full universe on an E1.11 line can be refreshed 44.1 "
        "times a second.</p>"
    )


def _flashes(flashes: Flashes | None, distance: float, area: bool, limits: Limits) -> Iterator[str]:
    if flashes is None:
        return
    yield "<h2>Flashes</h2>"
    if flashes.allowed:
        yield f'<p class="verdict bad">{FLASH_WARNING} Warn everyone who may come by.</p>'
    reading = "areas below a quarter of a 10 degree field let pass" if area else "strict reading, no place too small"
    count = "passes" if flashes.broadcast_passes else f"fails on {flashes.broadcast_share:.0%} of the display"
    yield (
        f"<p>WCAG 2.2 SC 2.3.1, {reading}, seen from {distance:g} m. Most in any second: "
        f"<strong>{flashes.most_transitions / 2:g} flashes</strong>, 3 pass. ITU-R BT.1702 count: {count}.</p>"
    )
    yield flash_strip(flashes, limits.frame_count / limits.frame_rate)
    rows = [
        (
            episode.start.clock, episode.end.clock, f"{episode.start.bar} to {episode.end.bar}",
            " and ".join(episode.kinds), f"{episode.transitions / 2:g}", f"{episode.pixels:,}",
            f"{episode.square_metres:.2f}", f"{episode.steradians:.4f}", f"{episode.field_share:.0%}",
            ("the whole display; " if episode.whole_display else "a part; " if episode.part else "")
            + ", ".join(episode.props),
            ", ".join(episode.start.cues),
        )
        for episode in flashes.episodes
    ]  # fmt: skip
    heads = ["from", "to", "bars", "kind", "in a second", "pixels", "m²", "sr", "of 10°", "where", "cues"]
    if rows:
        yield _table(heads, rows, range(4, 9))


def _parts(parts: Sequence[Part]) -> Iterator[str]:
    yield "<h2>Parts</h2>"
    rows = [(part.group, part.item, part.detail, f"{part.count:g}", part.unit, part.note) for part in parts]
    yield _table(["", "item", "detail", "amount", "", "note"], rows, [3])
