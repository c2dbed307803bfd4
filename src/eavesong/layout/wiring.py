"""The wiring list: for every controller and output its props in order, to take along in the van."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from eavesong.layout.house import Layout
from eavesong.layout.patch import PatchRun

WIDTH = 80
"""Columns the list keeps to."""


@dataclass(frozen=True)
class WiredProp:
    """A prop, or a stretch of its pixels, on the wire of an output."""

    controller: str
    output: int
    place: int
    """In the order of the output's wire, from 1."""
    prop: str
    first: int
    """The prop's pixel that comes first on the wire, from 1; larger than ``last`` where the wire runs backwards."""
    last: int
    begins: int
    """The output's pixel that this is, from 1; dark ones that only pass the signal on are counted."""
    ends: int
    universe: int
    """Where its first channel is."""
    slot: int
    """1..512."""
    last_universe: int
    last_slot: int
    nulls: int = 0
    """Dark pixels before it that only pass the signal on."""


def wiring_of(layout: Layout) -> tuple[WiredProp, ...]:
    """Every stop of every output, in the order of the wires; none in a draft without controllers."""
    nulls = {(string.controller, string.output): dict(string.nulls) for string in layout.power.strings}
    starts = {prop.name: prop.start for prop in layout.props}
    found: list[WiredProp] = []
    for (controller, output), runs in groupby(layout.patch.runs, key=lambda run: (run.controller, run.output)):
        dark, lit, passed = nulls.get((controller, output), {}), 0, 0
        for place, row in enumerate(_stretches(list(runs)), 1):
            first, last = row[0], row[-1]
            ends_at = last.first_pixel + (last.pixel_count - 1) - starts[last.prop] + 1
            begin = first.first_pixel - starts[first.prop] + 1
            count = abs(ends_at - begin) + 1
            passed += dark.get(lit, 0)
            begins = lit + passed + 1
            found.append(
                WiredProp(controller, output, place, first.prop, begin, ends_at, begins, begins + count - 1,
                     first.universe, first.slot, last.universe, last.slot + last.channel_count - 1,
                     dark.get(lit, 0))
            )  # fmt: skip
            lit += count
    return tuple(found)


def _stretches(runs: Sequence[PatchRun]) -> Iterator[list[PatchRun]]:
    """Runs of one prop whose pixels follow each other, forwards or backwards."""
    row: list[PatchRun] = []
    way = 0
    for run in runs:
        if row:
            step = run.first_pixel - (row[-1].first_pixel + row[-1].pixel_count - 1)
            if run.prop == row[0].prop and step in (0, 1, -1) and step * way >= 0:
                way = way or step
                row.append(run)
                continue
            yield row
        row, way = [run], 0
    if row:
        yield row


def wiring_text(layout: Layout) -> str:
    """The list as text of at most 80 columns."""
    stops = wiring_of(layout)
    if not stops:
        return "No controllers yet: a draft, so nothing is wired."
    addresses = {box.name: box.address for box in layout.patch.controllers}
    lines: list[str] = []
    for controller, of_box in groupby(stops, key=lambda stop: stop.controller):
        lines += [*([""] if lines else []), *textwrap.wrap(f"{controller} ({addresses[controller]})", WIDTH)]
        for output, row in groupby(of_box, key=lambda stop: stop.output):
            lines.append(f"  output {output:<3} {'prop':<26} {'its pixels':<12} {'on the wire':<12} begins at")
            lines += [_line(stop) for stop in row]
    return "\n".join(lines)


def _line(stop: WiredProp) -> str:
    name = stop.prop if len(stop.prop) <= 26 else stop.prop[:25] + "…"
    dark = f", {stop.nulls} dark before" if stop.nulls else ""
    return (
        f"{stop.place:>11}  {name:<26} {_range(stop.first, stop.last):<12} {_range(stop.begins, stop.ends):<12} "
        f"{stop.universe}:{stop.slot}{dark}"
    )


def _range(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first} to {last}"


def rows_of(stops: Sequence[WiredProp]) -> list[tuple[str, ...]]:
    """The list as cells: output, place, prop, its pixels, pixels on the wire, begins, ends, dark pixels before."""
    return [
        (f"{stop.controller}, output {stop.output}", str(stop.place), stop.prop, _range(stop.first, stop.last),
         _range(stop.begins, stop.ends), f"{stop.universe}:{stop.slot}", f"{stop.last_universe}:{stop.last_slot}",
         str(stop.nulls or ""))
        for stop in stops
    ]  # fmt: skip
