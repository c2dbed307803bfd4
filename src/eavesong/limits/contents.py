"""What the report says, section by section: the one place that decides it, for text and page alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from eavesong.layout.lengths import FEET, length_text
from eavesong.layout.wiring import WiredProp, rows_of
from eavesong.limits.curves import flash_strip, power_curve, voltage_bars
from eavesong.limits.data import Data
from eavesong.limits.document import Block, Chapter, Column, Document, Item, Items, Paragraph, Picture, Table
from eavesong.limits.flashes import Episode, Flashes
from eavesong.limits.limits import USUAL, Limits
from eavesong.limits.mains import CIRCUITS, Mains
from eavesong.limits.parts import IN_ALL, Part
from eavesong.limits.power import Energy, Load, Power
from eavesong.limits.voltage import Lowest, Voltage
from eavesong.show.model import FLASH_WARNING


def document_of(limits: Limits) -> Document:
    """Everything: findings, power, mains, voltage and currents, data, flashes, parts."""
    sections = (
        Chapter("To look at", tuple(_findings(limits))),
        Chapter("Power", tuple(_power(limits.power, limits.assumed.share)), _power_brief(limits.power.house)),
        Chapter("Mains", tuple(_mains(limits.power.mains)), _mains_brief(limits.power.mains)),
        Chapter("Voltage and currents", tuple(_voltages(limits.voltages)), _voltages_brief(limits.voltages)),
        Chapter(f"Data at {limits.data.frame_rate:g} frames a second", tuple(_data(limits.data)),
                _many(limits.data.packets, "packets") + " a second"),
        Chapter("Wiring", tuple(_wiring(limits.wiring)), _many(len(limits.wiring), "stops")),
        Chapter("Flashes", tuple(_flashes(limits)), _flashes_brief(limits.flashes)),
        Chapter("Parts", tuple(_parts(limits.parts)), _many(len(limits.parts), "lines")),
    )  # fmt: skip
    return Document(
        limits.layout,
        f"{_verdict(limits)}: {_subject(limits)}",
        limits.cautions,
        tuple(s for s in sections if s.blocks),
    )


def parts_document(limits: Limits) -> Document:
    """The parts alone, to take along."""
    sections = (Chapter("Parts", tuple(_parts(limits.parts))), Chapter("Wiring", tuple(_wiring(limits.wiring))))
    return Document(
        limits.layout, f"Parts: {limits.pixels:,} pixels", limits.cautions, tuple(s for s in sections if s.blocks)
    )


def _wiring(stops: Sequence[WiredProp]) -> Iterator[Block]:
    """Every output's props in order; the terminal has it from ``eavesong layout --wiring``."""
    if not stops:
        return
    columns = (
        Column("output"), Column("place", True), Column("prop"), Column("its pixels"), Column("on the wire"),
        Column("begins"), Column("ends"), Column("dark before", True),
    )  # fmt: skip
    yield Paragraph("In the order of the wire. 'begins' and 'ends' are universe:slot; dark pixels only pass the signal "
                    "on.", page_only=True)  # fmt: skip
    yield Table(columns, rows_of(stops), page_only=True)


def _power_brief(house: Load) -> str:
    shown = "" if house.peak is None else f", {_watts(house.peak)} W in the show"
    return f"{_watts(house.full)} W at full white{shown}"


def _mains_brief(mains: Mains) -> str:
    return " or ".join(f"{mains.house.amperes(volts):.1f} A at {volts:.0f} V" for volts, _ in CIRCUITS)


def _voltages_brief(voltages: Sequence[Voltage]) -> str:
    unsound = sum(not voltage.sound for voltage in voltages)
    return f"{unsound} of {_many(len(voltages), 'circuits')} to mend" if unsound else "every circuit is sound"


def _flashes_brief(flashes: Flashes | None) -> str:
    if flashes is None or flashes.passes:
        return "within the limit"
    return _many(len(flashes.episodes) + flashes.more_episodes, "episodes")


def _verdict(limits: Limits) -> str:
    if not limits.passes:
        return "Not within limits"
    return "Within limits, with warnings" if limits.findings else "Within limits"


def _subject(limits: Limits) -> str:
    if not limits.frames:
        return f"{limits.pixels:,} pixels, no frames: figures at full white and at a stated share of it"
    seconds = limits.frame_count / limits.frame_rate
    asked = f"; rendered on these terms: {limits.asked}" if limits.asked not in ("", USUAL) else ""
    return (
        f"{limits.pixels:,} pixels, {limits.frame_count:,} frames of '{limits.frames}', {seconds:.1f} s at "
        f"{limits.frame_rate:g} a second{asked}"
    )


def _findings(limits: Limits) -> Iterator[Block]:
    if not limits.findings:
        yield Paragraph("Nothing to look at.", "good")
        return
    yield Paragraph(f"{_verdict(limits)}.", "good" if limits.passes else "bad")
    ordered = sorted(limits.findings, key=lambda finding: (finding.about != "pixels", finding.warning))
    yield Items(tuple(Item(finding.about, str(finding), not finding.warning) for finding in ordered))


def _watts(value: float | None) -> str:
    return "-" if value is None else f"{value:,.0f}" if value >= 100 else f"{value:.1f}"


def _power(power: Power, share: float) -> Iterator[Block]:
    if power.house.curve:
        yield Picture(power_curve(power.house))
    measured = power.house.peak is not None
    heads = ("peak W", "mean W") if measured else (f"at {share:.0%} W", "dark W")
    columns = [
        Column("", width=31), Column("pixels", True, 7), Column("white W", True, 8), Column(heads[0], True, 9),
        Column(heads[1], True, 8),
    ]  # fmt: skip
    rows = [power.house, *power.supplies, *sorted(power.outputs, key=lambda load: -load.full)]
    told = {"usable W": any(load.usable is not None for load in rows), "worst moment": measured}
    columns += [Column(head, head == "usable W", 9 * (head == "usable W")) for head, is_told in told.items() if is_told]
    cells = [[*_load(load, measured), *_told_of(load, told)] for load in rows]
    yield Table(tuple(columns), cells, "more outputs")
    if power.house.worst is not None:
        yield Paragraph(f"The house draws most at {power.house.worst}.")
    one = power.pixel
    seen = "" if one.peak_amperes is None else f", {_milliamperes(one.peak_amperes)} at most in these frames"
    yield Paragraph(f"A single pixel draws up to {_milliamperes(one.full_amperes)} at full white{seen}.")
    yield Paragraph(_energy(power.energy))


def _milliamperes(amperes: float) -> str:
    """To a tenth: 56.5 would be 56 or 57, as it happens."""
    return f"{1000 * amperes:.1f}".removesuffix(".0") + " mA"


def _load(load: Load, measured: bool) -> Sequence[str]:
    pair = (load.peak, load.mean) if measured else (load.share, load.idle)
    name = {"house": "the whole house", "output": f"  {load.name}"}.get(load.kind, load.name)
    return (name, f"{load.pixels:,}", _watts(load.full), *map(_watts, pair))


def _told_of(load: Load, told: Mapping[str, bool]) -> Iterator[str]:
    """What a supply may be planned with and when most is drawn, as far as the table has a column for it."""
    cells = {
        "usable W": "" if load.usable is None else _watts(load.usable),
        "worst moment": "" if load.worst is None else str(load.worst),
    }
    return (cells[head] for head, is_told in told.items() if is_told)


def _energy(energy: Energy) -> str:
    song = "" if energy.song_watt_hours is None else f"{energy.song_watt_hours:.1f} Wh a song; "
    return (
        f"From the mains: {energy.mean_watts:,.0f} W on average, {song}{energy.season_kwh:,.1f} kWh in a season of "
        f"{energy.season_hours:g} hours, {energy.season_cost:,.2f} at {energy.tariff:g} a kWh."
    )


def _mains(mains: Mains) -> Iterator[Block]:
    """Amperes from the mains at full white and in the worst frame, on each voltage."""
    measured = mains.house.peak is not None
    columns = [Column("amperes from the mains", width=31)]
    for volts, _ in CIRCUITS:
        columns.append(Column(f"white {volts:.0f} V", True, 11))
        if measured:
            columns.append(Column(f"show {volts:.0f} V", True, 10))
    rows = []
    for name, load in (("the whole house", mains.house), *((load.name, load) for load in mains.supplies)):
        row = [name]
        for volts, _ in CIRCUITS:
            row.append(f"{load.amperes(volts):.2f}")
            show = load.peak_amperes(volts)
            if show is not None:
                row.append(f"{show:.2f}")
        rows.append(row)
    yield Table(tuple(columns), rows, "more supplies")
    gives = "; ".join(
        f"a circuit of {rating:.0f} A at {volts:.0f} V gives {most:g} A over hours, so that full white needs at least "
        f"{count} of them"
        for (volts, rating), (_, most, count) in zip(CIRCUITS, mains.circuits, strict=True)
    )
    yield Paragraph(
        f"{gives[:1].upper()}{gives[1:]} (80 %, common practice). Losses and power factor are in these figures."
    )


def _voltages(voltages: Sequence[Voltage]) -> Iterator[Block]:
    ordered = sorted(voltages, key=lambda voltage: (voltage.sound, voltage.full.volts - voltage.full.needed))
    yield Picture(voltage_bars(ordered))
    columns = (
        Column("circuit", width=26), Column("supply"), Column("feeds", True, 5), Column("gives V", True, 7),
        Column("white V", True, 7), Column("worst V", True, 7), Column("needs V", True, 7),
        Column("lead A", True, 6), Column("wire A", True, 6), Column("lowest at"), Column("what would mend it"),
    )  # fmt: skip
    yield Table(columns, [_voltage(voltage) for voltage in ordered], "more with more to spare")
    yield Paragraph("'lead A' is the most through one feeding point at full white, 'wire A' the most that the string's "
                    "own wire ever carries, whatever is lit.")  # fmt: skip


def _voltage(voltage: Voltage) -> Sequence[str]:
    lowest = voltage.worst or voltage.full
    return (
        voltage.circuit, voltage.supply or "none named: ideal, at the first pixel", str(voltage.points),
        f"{voltage.volts:.1f}", _volts(voltage.full), _volts(voltage.worst), f"{lowest.needed:.1f}",
        f"{max(voltage.lead_amperes):.1f}", f"{voltage.most_along:.1f}", f"{lowest.prop}, pixel {lowest.pixel}",
        "; or ".join(map(str, voltage.remedies)),
    )  # fmt: skip


def _volts(lowest: Lowest | None) -> str:
    if lowest is None:
        return "-"
    return f"{lowest.volts:.2f}" if lowest.volts > 0 else "0.00"


def _data(data: Data) -> Iterator[Block]:
    if not data.outputs:
        return
    outputs = (
        Column("output", width=34), Column("pixels", True, 7), Column("dark", True, 5), Column("ms", True, 7),
        Column("at most", True, 9), Column("room for", True, 9),
    )  # fmt: skip
    ordered = sorted(data.outputs, key=lambda output: output.most_frames)
    rows = [
        (f"{output.controller}, output {output.output}", f"{output.pixels:,}", f"{output.null_pixels:,}",
         f"{output.milliseconds:.2f}", f"{output.most_frames:.1f}/s",
         f"{output.most_pixels - output.pixels - output.null_pixels:,}")
        for output in ordered
    ]  # fmt: skip
    yield Table(outputs, rows, "more outputs")
    boxes = (
        Column("controller", width=28), Column("universes", True, 9), Column("slots", True, 7), Column("free", True, 7),
        Column("Mbit/s", True, 8), Column("outputs free", True, 12),
    )  # fmt: skip
    rows = [
        (box.name, str(box.universes), f"{box.slots_used:,}", f"{box.slots_free:,}", f"{box.megabits:.2f}",
         "not said" if box.outputs_free is None else str(box.outputs_free))
        for box in data.controllers
    ]  # fmt: skip
    yield Table(boxes, rows, "more controllers")
    yield Paragraph(
        f"{data.packets:,} packets and {data.megabits:.1f} Mbit a second in all, {data.ethernet_share:.1%} of a "
        "100 Mbit/s network. A full universe on an E1.11 line can be refreshed 44.1 times a second."
    )


def _flashes(limits: Limits) -> Iterator[Block]:
    flashes, assumed = limits.flashes, limits.assumed
    if flashes is None:
        return
    if flashes.allowed:
        yield Paragraph(f"{FLASH_WARNING} Warn everyone who may come by.", "bad")
    yield Paragraph(
        f"WCAG 2.2 SC 2.3.1, at most 3 in any second. Areas below a quarter of a 10 degree field, seen from "
        f"{_away(limits)}, are let pass."
        if assumed.area
        else "WCAG 2.2 SC 2.3.1, at most 3 in any second. Strict reading: every pixel, parts of the view and the whole "
        f"display; seen from {_away(limits)}."
    )
    half, count = flashes.most_transitions / 2, flashes.most_transitions
    broadcast = "passes" if flashes.broadcast_passes else f"fails on {flashes.broadcast_share:.0%} of the display"
    yield Paragraph(
        f"Most in any second: {half:g} ({count} transitions). ITU-R BT.1702 count (more than three flashes): "
        f"{broadcast}."
    )
    yield Picture(flash_strip(flashes, limits.frame_count / limits.frame_rate))
    if flashes.episodes:
        yield _episodes(flashes)


def _away(limits: Limits) -> str:
    """Metres or feet from the nearest eye."""
    assert limits.flashes is not None, "there are frames"
    away = limits.flashes.distance
    return length_text(away, limits.units) if limits.units in FEET else f"{away:g} m"


def _episodes(flashes: Flashes) -> Table:
    columns = (
        Column("from", True, 8), Column("to", True, 8), Column("bars", width=14), Column("kind", width=16),
        Column("in a second", True, 11), Column("pixels", True, 7), Column("m²", True), Column("sr", True),
        Column("of 10°", True, 6), Column("where"), Column("cues"),
    )  # fmt: skip
    return Table(columns, [_episode(episode) for episode in flashes.episodes], "more episodes")


def _episode(episode: Episode) -> Sequence[str]:
    bars = f"{episode.start.bar} to {episode.end.bar}" if episode.start.bar else ""
    whole = "the whole display; " if episode.whole_display else "a part; " if episode.part else ""
    return (
        episode.start.clock, episode.end.clock, bars, " and ".join(episode.kinds), f"{episode.transitions / 2:g}",
        f"{episode.pixels:,}", f"{episode.square_metres:.2f}", f"{episode.steradians:.4f}",
        f"{episode.field_share:.0%}", whole + ", ".join(episode.props), ", ".join(episode.start.cues),
    )  # fmt: skip


def _parts(parts: Sequence[Part]) -> Iterator[Block]:
    groups: dict[str, list[Part]] = {}
    for part in parts:
        groups.setdefault(part.group, []).append(part)
    short = (Column("all of them with --parts FILE", width=30), Column("", width=40))
    yield Table(short, [(group, _amount(rows)) for group, rows in groups.items()], text_only=True)
    columns = (Column("item"), Column("detail"), Column("amount", True), Column("note"))
    for group, rows in groups.items():
        lines = [(part.item, part.detail, _count(part), part.note) for part in rows]
        yield Table(columns, lines, title=f"{group[:1].upper()}{group[1:]}", page_only=True)


def _amount(rows: Sequence[Part]) -> str:
    """``12.5 m in 3 pieces``, ``40 m in 2 kinds``, ``24 pixels``; of rows in several units only how many there are."""
    known = [part.count for part in rows if part.count is not None]
    units = {part.unit for part in rows}
    if not known:
        return "to fill in"
    if len(units) > 1 or rows[0].unit == "circuits":
        return f"{len(rows)} lines"
    if units <= {"m", "ft"}:
        units_of = "kinds" if rows[0].group == IN_ALL else "pieces"
        return f"{sum(known):,.1f} {rows[0].unit} in {_many(len(known), units_of)}"
    return _many(round(sum(known)), rows[0].unit)


def _many(count: int, units: str) -> str:
    return f"1 {units.removesuffix('s')}" if count == 1 else f"{count:,} {units}"


def _count(part: Part) -> str:
    if part.count is None:
        return f"___ {part.unit}"
    return f"{part.count:,g} {part.unit}" if part.unit in ("m", "ft") else _many(round(part.count), part.unit)
