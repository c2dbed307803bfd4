"""What to buy: pixels, props, outputs, supplies, leads, extensions, and questions about fuses."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass, fields

import numpy as np

from eavesong.layout import Layout
from eavesong.limits.assumptions import CAUTIONS, Assumptions
from eavesong.limits.circuits import Circuit, gaps_of
from eavesong.limits.data import Data
from eavesong.limits.power import Power
from eavesong.limits.voltage import Voltage


@dataclass(frozen=True)
class Part:
    """A line of the list."""

    group: str
    item: str
    detail: str
    count: float
    unit: str
    note: str = ""


def parts_of(
    layout: Layout, circuits: Sequence[Circuit], power: Power, voltages: Sequence[Voltage], data: Data,
    assumed: Assumptions,
) -> tuple[Part, ...]:  # fmt: skip
    """Everything the layout needs, group by group."""
    return (
        *_pixels(layout),
        *_props(layout),
        *_outputs(data),
        *_supplies(power),
        *_leads(layout, circuits, assumed),
        *_extensions(layout, assumed),
        *_fuses(layout, circuits, voltages),
    )


def _pixels(layout: Layout) -> Iterator[Part]:
    """By kind and pitch: the median distance of neighbours on each prop's wire, to the millimetre."""
    rows: Counter[tuple[str, str]] = Counter()
    for prop in layout.props:
        kind = layout.power.types[layout.power.type[prop.start]].name
        along = layout.pixels.along[prop.start : prop.stop].astype(np.float64)
        pitch = f"every {1000 * np.median(np.diff(along)):.0f} mm" if len(along) > 1 else "single"
        rows[kind, pitch] += prop.stop - prop.start
    for (kind, pitch), count in sorted(rows.items()):
        yield Part("pixels", kind, pitch, count, "pixels")


def _props(layout: Layout) -> Iterator[Part]:
    rows: dict[str, list[int]] = {}
    for index, prop in enumerate(layout.props):
        rows.setdefault(prop.member_of, []).append(index)
    for name, members in rows.items():
        first = layout.props[members[0]]
        pixels = sum(layout.props[m].stop - layout.props[m].start for m in members)
        metres = sum(layout.props[m].length for m in members)
        yield Part("props", name, f"{first.shape}, {pixels:,} pixels, {metres:.1f} m of wire", len(members), "pieces")


def _outputs(data: Data) -> Iterator[Part]:
    for box in data.controllers:
        yield Part("outputs", box.name, "used", box.outputs_used, "outputs")
        if box.outputs_free is None:
            yield Part("outputs", box.name, "free", 0, "outputs", "not known: the layout gives no 'outputs'")
        else:
            yield Part("outputs", box.name, "free", box.outputs_free, "outputs")


def _supplies(power: Power) -> Iterator[Part]:
    for load in power.supplies:
        asked = load.full if load.peak is None else load.peak
        assert load.usable is not None
        room = f"{load.usable - asked:+.0f} W to spare of {load.usable:.0f} W usable"
        basis = "at full white" if load.peak is None else "in the worst frame"
        yield Part("supplies", load.name, f"{load.volts or 0:g} V, {load.rated:.0f} W", 1, "pieces", f"{room}, {basis}")
    if power.unfed_pixels:
        note = "the layout names none for these"
        pixels = "1 pixel" if power.unfed_pixels == 1 else f"{power.unfed_pixels:,} pixels"
        yield Part("supplies", "still to choose", f"for {pixels}", 0, "pieces", note)


def _leads(layout: Layout, circuits: Sequence[Circuit], assumed: Assumptions) -> Iterator[Part]:
    """Every lead from a supply, with slack; the first of a circuit is its feed, the others are injections."""
    for circuit in circuits:
        for number, point in enumerate(circuit.points):
            if point.lead is None:
                continue
            group = "injection leads" if number else "leads"
            metres = point.lead.length * (1 + assumed.slack)
            pixel = layout.pixels.prop[circuit.pixels[point.position - circuit.first_position]]
            where = f"{circuit.string} to '{layout.props[pixel].name}'"
            yield Part(group, f"two conductors, {point.lead.conductor}", where, round(metres, 1), "m")


def _extensions(layout: Layout, assumed: Assumptions) -> Iterator[Part]:
    for gap in gaps_of(layout, layout.power, assumed):
        detail = f"{gap.string}: '{gap.before}' to '{gap.after}'"
        yield Part("extensions", "power and data", detail, round(gap.metres, 1), "m")


def _fuses(layout: Layout, circuits: Sequence[Circuit], voltages: Sequence[Voltage]) -> Iterator[Part]:
    rows: Counter[tuple[str, float, float]] = Counter()
    for circuit, voltage in zip(circuits, voltages, strict=True):
        for point, amperes in zip(circuit.points, voltage.lead_amperes, strict=True):
            if circuit.supply is not None:
                wire = str(point.lead.conductor) if point.lead else "the string's own wire"
                rows[wire, voltage.volts, round(max(amperes, 0.0), 1)] += 1
    for (wire, volts, amperes), count in sorted(rows.items()):
        question = "which rating does your local code ask for? Ask the person who knows it"
        yield Part("fuses", f"for {amperes:g} A at full white", f"{volts:g} V, {wire}", count, "pieces", question)


def parts_csv(parts: Sequence[Part]) -> str:
    """The list as comma-separated text (RFC 4180) that opens with the cautions in lines of their own."""
    out = io.StringIO()
    writer = csv.writer(out)
    for caution in CAUTIONS:
        writer.writerow(["caution", caution, *[""] * (len(fields(Part)) - 2)])
    writer.writerow([field.name for field in fields(Part)])
    writer.writerows([astuple(part) for part in parts])
    return out.getvalue()
