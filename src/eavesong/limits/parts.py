"""What to buy: a list to take to a shop, from pixels to spare fuses.

Counts and lengths come from the layout; where it names no supplies, from those that are proposed. What nobody can
count from here (mounts, boxes) is a line to fill.
"""

from __future__ import annotations

import csv
import io
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.feeds import Supply
from eavesong.layout.lengths import FEET, length_text
from eavesong.layout.size import units_in
from eavesong.limits.ampacity import FUSES, fuse_for
from eavesong.limits.assumptions import CAUTIONS, Assumptions
from eavesong.limits.circuits import Circuit, FeedPoint, cuts_of, gaps_of, pixel_name, way_text
from eavesong.limits.data import Data
from eavesong.limits.mains import CIRCUITS, Mains
from eavesong.words import METRES

Floats = NDArray[np.float64]

SAME_PITCH = 1
"""Whole millimetres by which two pitches may differ and be bought as one."""

UNSAID = "taken for granted: the layout does not say what they are ('pixel_type')"

DATA_CABLE = "data and ground, AWG 22 or thicker"
"""From a controller to the first pixel (common practice); it carries no power."""


@dataclass(frozen=True)
class Part:
    """A line of the list."""

    group: str
    item: str
    detail: str
    count: float | None
    """None: a line to fill."""
    unit: str
    note: str = ""


@dataclass(frozen=True, eq=False)
class Needs:
    """What the list is made from."""

    layout: Layout
    """With what is proposed."""
    circuits: tuple[Circuit, ...]
    full: Floats
    """(n,) amperes of each pixel at full white."""
    data: Data
    mains: Mains
    proposed: tuple[Supply, ...]
    assumed: Assumptions


def parts_of(needs: Needs) -> tuple[Part, ...]:
    """Everything the layout needs, group by group."""
    leads, extensions, data = tuple(_leads(needs)), tuple(_extensions(needs)), tuple(_data_leads(needs))
    pixels, fuses, connectors = tuple(_pixels(needs)), tuple(_fuses(needs)), tuple(_connectors(needs))
    found = (
        *pixels, *_nulls(needs), *_props(needs.layout), *_controllers(needs), *_supplies(needs),
        *_in_all((*leads, *extensions, *data)), *leads, *extensions, *data, *_cuts(needs), *fuses, *connectors,
        *_spares((*pixels, *fuses, *connectors), needs.assumed.spares), *_mains(needs), *_to_fill(needs),
    )  # fmt: skip
    return tuple(_in_feet(part) for part in found) if units_in(needs.layout.text) in FEET else found


def _in_feet(part: Part) -> Part:
    """A cable in the unit of a house that is measured in feet."""
    feet = None if part.count is None else round(part.count / METRES["ft"], 1)
    return replace(part, count=feet, unit="ft") if part.unit == "m" else part


def _pixels(needs: Needs) -> Iterator[Part]:
    """By kind and pitch: the median distance of neighbours on each prop's wire, or the wire that the kind has between
    two where that is more; a millimetre makes no difference."""
    layout, units = needs.layout, units_in(needs.layout.text)
    found: defaultdict[str, list[tuple[float, int]]] = defaultdict(list)
    for prop in layout.props:
        kind = layout.power.types[layout.power.type[prop.start]]
        along = layout.pixels.along[prop.start : prop.stop].astype(np.float64)
        pitch = max(float(np.median(np.abs(np.diff(along)))), kind.spacing) if len(along) > 1 else 0.0
        found[kind.name].append((1000 * pitch, prop.stop - prop.start))
    power = layout.power
    unsaid = {power.types[kind].name for kind in np.unique(power.type[power.taken_for_granted]).tolist()}
    for kind, pitches in sorted(found.items()):
        rows: Counter[str] = Counter()
        for row in _alike(pitches):
            usual = max(row, key=lambda one: one[1])[0]
            apart = length_text(usual / 1000, units) if units in FEET else f"{usual:.0f} mm"
            rows[f"every {apart}" if usual else "single"] += sum(count for _, count in row)
        for detail, count in rows.items():
            yield Part("pixels", kind, detail, count, "pixels", UNSAID if kind in unsaid else "")


def _alike(pitches: Sequence[tuple[float, int]]) -> list[list[tuple[float, int]]]:
    """Pitches (millimetres, pixels) in rows: the most usual one, and all that are a millimetre from it at most."""
    left, rows = list(pitches), []
    while left:
        counts: Counter[int] = Counter()
        for pitch, count in left:
            counts[round(pitch)] += count
        usual = max(counts, key=lambda pitch: counts[pitch])
        rows.append([one for one in left if abs(round(one[0]) - usual) <= SAME_PITCH])
        left = [one for one in left if abs(round(one[0]) - usual) > SAME_PITCH]
    return sorted(rows, key=min)


def _nulls(needs: Needs) -> Iterator[Part]:
    layout = needs.layout
    rows: Counter[str] = Counter()
    for string in layout.power.strings:
        for position, count in string.nulls:
            rows[layout.power.types[layout.power.type[string.pixels[position]]].name] += count
    for kind, count in sorted(rows.items()):
        yield Part("pixels", kind, "dark, only to pass the signal on", count, "pixels", "'null_pixels' of the layout")


def _props(layout: Layout) -> Iterator[Part]:
    rows: dict[str, list[int]] = {}
    for index, prop in enumerate(layout.props):
        rows.setdefault(prop.member_of, []).append(index)
    for name, members in rows.items():
        first = layout.props[members[0]]
        pixels = sum(layout.props[m].stop - layout.props[m].start for m in members)
        metres = sum(layout.props[m].length for m in members)
        wire = length_text(metres, units_in(layout.text))
        in_all = " in all" if len(members) > 1 else ""
        yield Part("props", name, f"{first.shape}, {pixels:,} pixels{in_all}, {wire} of wire", len(members), "pieces")


def _controllers(needs: Needs) -> Iterator[Part]:
    for box in needs.data.controllers:
        outputs = "1 output" if box.last_output == 1 else f"{box.last_output} outputs"
        universes = "1 universe" if box.universes == 1 else f"{box.universes} universes"
        detail = f"with at least {outputs} and {universes}"
        free = "" if box.outputs_free is None else f"this one has {box.outputs_used + box.outputs_free} outputs"
        yield Part("controllers", box.name, detail, 1, "pieces", free)


def _supplies(needs: Needs) -> Iterator[Part]:
    """Sized for full white, or for the stated share of it."""
    share, names = needs.assumed.supply_share, {supply.name for supply in needs.proposed}
    idle = np.array([kind.idle for kind in needs.layout.power.types])[needs.layout.power.type]
    for number, supply in enumerate(needs.layout.power.supplies):
        pixels = np.concatenate([circuit.pixels for circuit in needs.circuits if circuit.supply == number])
        asked = supply.volts * float((idle + (needs.full - idle) * share)[pixels].sum())
        room = supply.watts * supply.usable - asked
        basis = "at full white" if share == 1 else f"at {share:.0%} of full white: render with --limit supply"
        left = f"{room:.0f} W to spare of" if room >= 0 else f"{-room:.0f} W too little with"
        note = f"{left} {supply.watts * supply.usable:.0f} W usable, {basis}"
        note = f"proposed; {note}" if supply.name in names else note
        detail = f"{supply.volts:g} V, {supply.watts:.0f} W, for outdoors or in a dry, vented box"
        yield Part("supplies", supply.name, detail, 1, "pieces", note)
    unfed = sum(len(circuit.pixels) for circuit in needs.circuits if circuit.supply is None)
    if unfed:
        pixels_words = "1 pixel" if unfed == 1 else f"{unfed:,} pixels"
        yield Part("supplies", "still to choose", f"for {pixels_words}", None, "pieces", "the layout names none")


def _leads(needs: Needs) -> Iterator[Part]:
    """Every lead from a supply, with its fuse; the first of a circuit is its feed, the others are injections."""
    for circuit, point, load, allowed in _lead_loads(needs):
        if point.wire is None:
            continue
        prop, pixel = pixel_name(needs.layout, int(circuit.pixels[point.position - circuit.first_position]))
        rating = fuse_for(load, allowed)
        supply = needs.layout.power.supplies[circuit.supply].name if circuit.supply is not None else ""
        note = "no fuse fits" if rating is None else f"its fuse: {rating:g} A"
        note += "" if point.measured else "; the layout gives no lead: the straight distance, with slack"
        yield Part(
            "leads" if point is circuit.points[0] else "injection leads", f"two conductors, {point.wire}",
            f"'{supply}' to '{prop}' pixel {pixel} ({circuit.string})", round(point.metres, 1), "m", note,
        )  # fmt: skip


def _extensions(needs: Needs) -> Iterator[Part]:
    for gap in gaps_of(needs.layout, needs.circuits, needs.assumed):
        cores = "positive, ground and data" if gap.joined else "ground and data, no positive"
        note = _mended(gap.metres / (gap.nulls + 1), gap.nulls + 1, needs)
        detail = f"{gap.string}: {way_text(gap.before, gap.last, gap.after, gap.first)}"
        yield Part("extensions", f"{cores}, {gap.wire}", detail, round(gap.metres, 1), "m", note)


def _data_leads(needs: Needs) -> Iterator[Part]:
    placed: set[str] = set()
    for hop in (hop for hop in needs.data.hops if hop.cable == "data"):
        placed.add(hop.string)
        detail = f"{hop.way} ({hop.string})"
        note = _mended(hop.metres, hop.pieces, needs)
        yield Part("data leads", DATA_CABLE, detail, round(hop.metres * hop.pieces, 1), "m", note)
    for string in needs.layout.power.strings:
        if string.name not in placed:
            first = pixel_name(needs.layout, int(string.pixels[0]))[0]
            note = "say where the controller hangs ('at'), or measure"
            yield Part("data leads", DATA_CABLE, f"'{string.controller}' to '{first}' ({string.name})", None, "m", note)


def _mended(metres: float, pieces: int, needs: Needs) -> str:
    """What a stretch of data cable needs that is too long."""
    assumed = needs.assumed
    if metres <= assumed.hop:
        return ""
    dark = math.ceil(metres * pieces / assumed.hop - 1e-9) - 1
    many = "1 dark pixel" if dark == 1 else f"{dark} dark pixels"
    hop = length_text(assumed.hop, units_in(needs.layout.text))
    return f"longer than {hop}: {many} on the way, or a pair of differential senders and receivers"


def _in_all(parts: Iterable[Part]) -> Iterator[Part]:
    """What to buy of each cable: the sums of the pieces that follow."""
    rows: defaultdict[str, list[float]] = defaultdict(list)
    for part in parts:
        if part.count is not None:
            rows[part.item].append(part.count)
    for item, metres in sorted(rows.items()):
        pieces = "1 piece" if len(metres) == 1 else f"{len(metres)} pieces"
        yield Part(IN_ALL, item, f"to be cut into the {pieces} below", round(sum(metres), 1), "m")


IN_ALL = "cable in all"
"""The group of what to buy of each kind of cable."""


def _cuts(needs: Needs) -> Iterator[Part]:
    for cut in cuts_of(needs.layout, needs.circuits):
        (before, last), (after, first) = cut.before, cut.after
        where = f"{cut.string}: between '{before}' pixel {last} and '{after}' pixel {first}"
        yield Part("joints", "cut the positive, keep ground and data", where, 1, "places", "two supplies meet")


def _lead_loads(needs: Needs) -> Iterator[tuple[Circuit, FeedPoint, float, float]]:
    """Circuit, point, amperes at full white and the most that may flow, of every place where a supply meets a
    string."""
    for circuit in needs.circuits:
        if circuit.supply is not None:
            loads = circuit.ladder.lead_amperes(needs.full[circuit.pixels]).tolist()
            for point, load in zip(circuit.points, loads, strict=True):
                yield circuit, point, max(load, 0.0), circuit.lead_allowed(point)


def _fuses(needs: Needs) -> Iterator[Part]:
    """One at the supply's end of every lead, rounded to what is sold; None where no fuse guards the wire."""
    rows: Counter[tuple[float, float | None]] = Counter()
    for circuit, _, load, allowed in _lead_loads(needs):
        rows[circuit.volts, fuse_for(load, allowed)] += 1
    for (volts, rating), count in sorted(rows.items(), key=lambda row: (row[0][0], row[0][1] or 0.0)):
        if rating is None:
            yield Part(
                "fuses",
                "none fits",
                f"{volts:g} V",
                count,
                "pieces",
                "these leads carry too much: the report (limits --page) says which, and what mends them",
            )
            continue
        where = "at the supply's end of each lead, whose line says which; your local code comes first"
        yield Part("fuses", f"{rating:g} A", f"{volts:g} V DC or more, blade", count, "pieces", where)
    total = sum(rows.values())
    if total:
        yield Part("fuse holders", "for blade fuses", "weatherproof, or a fuse block in the box", total, "pieces")


def _connectors(needs: Needs) -> Iterator[Part]:
    """Pairs, by the amperes they must be rated for: one at each end of an extension, one at each feeding point, which
    bears no less than its lead's fuse lets through."""
    rows: Counter[float] = Counter()
    for _, _, load, allowed in _lead_loads(needs):
        rows[max(_rated(load), fuse_for(load, allowed) or 0.0)] += 1
    for circuit in needs.circuits:
        flows = circuit.ladder.most_flows(needs.full[circuit.pixels])
        for flow in flows[circuit.run.gap].tolist():
            rows[_rated(flow)] += 2
    for rating, count in sorted(rows.items()):
        yield Part("connectors", f"rated for {rating:g} A or more", "pairs, weatherproof", count, "pairs")
    outputs = len(needs.layout.power.strings)
    if outputs:
        yield Part("connectors", "for data and ground", "pairs, weatherproof, at the first pixels", outputs, "pairs")


def _rated(load: float) -> float:
    return next((rating for rating in FUSES if load <= rating), math.ceil(load / 10) * 10.0)


def _spares(parts: Iterable[Part], share: float) -> Iterator[Part]:
    if not share:
        return
    for part in parts:
        if part.count and part.item != "none fits":
            count = math.ceil(part.count * share - 1e-9)
            yield Part("spares", part.item, f"{part.group}, {part.detail}", count, part.unit, f"{share:.0%} more")


def _mains(needs: Needs) -> Iterator[Part]:
    for (volts, rating), (_, most, count) in zip(CIRCUITS, needs.mains.circuits, strict=True):
        detail = f"for {needs.mains.house.amperes(volts):.2f} A at full white, {most:g} A each"
        note = f"where the mains have {volts:.0f} V; residual-current protection on each; ask a licensed person"
        yield Part("mains", f"circuits of {rating:.0f} A", detail, count, "circuits", note)


def _to_fill(needs: Needs) -> Iterator[Part]:
    for supply in needs.layout.power.supplies:
        yield Part("enclosures", f"for '{supply.name}'", "weatherproof, vented, with cable glands", None, "pieces")
    for box in needs.data.controllers:
        yield Part("enclosures", f"for '{box.name}'", "weatherproof, with cable glands", None, "pieces")
    yield Part("mounts", "clips, strips or frames", f"for {needs.layout.pixel_count:,} pixels", None, "pieces")
    yield Part("mounts", "stakes, weights and guys", "for what stands on the ground", None, "pieces")


def parts_csv(parts: Sequence[Part]) -> str:
    """The list as comma-separated text (RFC 4180) that opens with the cautions in lines of their own."""
    out = io.StringIO()
    writer = csv.writer(out)
    for caution in CAUTIONS:
        writer.writerow(["caution", caution, *[""] * (len(fields(Part)) - 2)])
    writer.writerow([field.name for field in fields(Part)])
    writer.writerows([astuple(part) for part in parts])
    return out.getvalue()
