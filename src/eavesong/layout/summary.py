"""What is in a layout, as a table for people and as data for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any

from eavesong.layout.doubts import doubts
from eavesong.layout.house import Layout, Prop, dimmed, grouped
from eavesong.layout.lengths import length_text
from eavesong.layout.patch import PatchRun
from eavesong.layout.size import units_in
from eavesong.layout.wiring import wiring_of
from eavesong.words import METRES

WIDTH = 80
"""Columns a table keeps to."""


def layout_data(layout: Layout, words: Collection[str] = ()) -> dict[str, Any]:
    """Everything the summary tells, as plain lists and dictionaries that JSON can hold; metres throughout, as
    it says itself under ``units``.

    words: as for `doubts`.
    """
    return {
        "title": layout.title,
        "units": "m",
        "pixels": layout.pixel_count,
        "channels": layout.patch.channel_count,
        "wire": round(sum(prop.length for prop in layout.props), 4),
        "frame": {"from": layout.frame.origin.tolist(), "size": layout.frame.size.tolist()},
        "tags": {tag: len(layout.tagged(tag)) for tag in layout.tags()},
        "palettes": sorted(layout.palettes),
        "colours": sorted(layout.colours),
        "doubts": list(doubts(layout, words)),
        "props": [_prop_data(prop) for prop in layout.props],
        "controllers": [
            {
                "name": controller.name, "address": controller.address, "protocol": controller.protocol,
                "frame_rate_limit": controller.frame_rate_limit, "spanning": controller.spanning,
                "outputs": [_output_data(layout, number, runs) for number, runs in _outputs(layout, controller.name)],
            }
            for controller in layout.patch.controllers
        ],
        "wiring": [asdict(stop) for stop in wiring_of(layout)],
    }  # fmt: skip


def _prop_data(prop: Prop) -> dict[str, Any]:
    return {
        "name": prop.name, "shape": prop.shape, "member_of": prop.member_of, "number": prop.number,
        "first_pixel": prop.start, "pixels": prop.stop - prop.start, "wire": round(prop.length, 4),
        "tags": sorted(prop.tags), "lit": prop.lit,
    }  # fmt: skip


def _output_data(layout: Layout, number: int, runs: Sequence[PatchRun]) -> dict[str, Any]:
    wire = next(each for each in layout.power.strings if (each.controller, each.output) == (runs[0].controller, number))
    slots = sum(run.channel_count for run in runs) + wire.null_slots(layout.patch.channel_width)
    widths = [run.channel_count / len(run.order) for run in runs]
    return {
        "number": number, "props": len({run.prop for run in runs}), "pixels": round(sum(widths)),
        "orders": sorted({run.order for run in runs}), "slots": slots, "null_pixels": wire.null_pixels,
        "universes": sorted({run.universe for run in runs}),
    }  # fmt: skip


def _outputs(layout: Layout, controller: str) -> list[tuple[int, list[PatchRun]]]:
    outputs: dict[int, list[PatchRun]] = {}
    for run in layout.patch.runs:
        if run.controller == controller:
            outputs.setdefault(run.output, []).append(run)
    return list(outputs.items())


def summary(layout: Layout, words: Collection[str] = ()) -> str:
    """The summary as text of at most 80 columns: totals, props, controllers with their outputs, tags.

    words: as for `doubts`.
    """
    return "\n".join(
        [
            *_totals(layout),
            *_doubts(layout, words),
            *_wishes(layout),
            "",
            *_props(layout),
            "",
            *_controllers(layout),
            "",
            *_tags(layout),
        ]
    )


def _totals(layout: Layout) -> Iterator[str]:
    wide, high, deep = layout.frame.size
    wire = sum(prop.length for prop in layout.props)
    yield from textwrap.wrap(layout.title, WIDTH)
    units = units_in(layout.text)
    yield f"{layout.pixel_count:,} pixels in {len(layout.props):,} props on {length_text(wire, units)} of wire"
    wide, high, deep = (length_text(float(size), units, 2) for size in (wide, high, deep))
    yield f"The house frame is {wide} wide, {high} high and {deep} deep."


def _told_in(layout: Layout) -> tuple[str, float]:
    """The unit in which lengths are told, and its metres: feet where the file is in feet or inches."""
    return ("ft", METRES["ft"]) if units_in(layout.text) in ("ft", "in") else ("m", 1.0)


def _doubts(layout: Layout, words: Collection[str]) -> Iterator[str]:
    for doubt in doubts(layout, words):
        yield from textwrap.wrap(doubt, WIDTH)


def _wishes(layout: Layout) -> Iterator[str]:
    """What the house wishes of any show."""
    if layout.palettes:
        yield from textwrap.wrap(f"Colours of its own in place of {', '.join(layout.palettes)}.", WIDTH)
    if layout.colours:
        yield from textwrap.wrap(f"Colours of its own in place of what is {', '.join(layout.colours)}.", WIDTH)
    for told in dimmed(layout):
        yield from textwrap.wrap(f"{told[0].upper()}{told[1:]}.", WIDTH)
    unlit = [index for index, prop in enumerate(layout.props) if not prop.lit]
    if unlit:
        count = sum(layout.props[index].stop - layout.props[index].start for index in unlit)
        named = ", ".join(grouped(layout, unlit))
        yield from textwrap.wrap(f"Unlit: {named}; {count:,} pixels are meant to stay dark.", WIDTH)


def _props(layout: Layout) -> Iterator[str]:
    rows: dict[str, list[Prop]] = {}
    for prop in layout.props:
        rows.setdefault(prop.member_of, []).append(prop)
    unit, metre = _told_in(layout)
    yield f"{'prop':<23} {'shape':<9} {'pixels':>8} {'feet' if unit == 'ft' else 'metres':>8}  tags"
    for name, members in rows.items():
        label = f"{name} ({len(members)})" if len(members) > 1 else name
        pixels = sum(prop.stop - prop.start for prop in members)
        metres = sum(prop.length for prop in members) / metre
        numbers = f"{members[0].shape:<9} {pixels:>8,} {metres:>8,.1f}"
        shared = sorted(frozenset().union(*(prop.tags for prop in members)))
        yield from _beside(_fitted(label, 23), numbers, shared)


def _fitted(label: str, width: int) -> str:
    """The label in ``width`` columns; a longer one is cut short with an ellipsis."""
    return f"{label:<{width}}" if len(label) <= width else label[: width - 1] + "…"


def _beside(label: str, numbers: str, words: Iterable[str]) -> Iterator[str]:
    """A row whose last column goes on below itself."""
    head = f"{label} {numbers}  "
    lines = textwrap.wrap(" ".join(words), WIDTH - len(head)) or [""]
    yield (head + lines[0]).rstrip()
    for line in lines[1:]:
        yield " " * len(head) + line


def _controllers(layout: Layout) -> Iterator[str]:
    if not layout.patch.controllers:
        yield f"No controllers yet: a draft, every pixel {layout.patch.orders[0]}."
        return
    for controller in layout.patch.controllers:
        rate = f", at most {controller.frame_rate_limit:g} frames/s" if controller.frame_rate_limit else ""
        spanning = ", pixels span universes" if controller.spanning else ""
        told = f"{controller.name}: {controller.protocol} to {controller.address}{rate}{spanning}"
        yield from textwrap.wrap(told, WIDTH)
        yield f"{'output':>8} {'props':>8} {'pixels':>8} {'slots':>8}  {'order':<10}  universes"
        for number, runs in _outputs(layout, controller.name):
            data = _output_data(layout, number, runs)
            counts = " ".join(f"{data[key]:>8,}" for key in ("props", "pixels", "slots"))
            yield from _beside(f"{number:>8}", f"{counts}  {_fitted(' '.join(data['orders']), 10)}",
                               _ranges(data["universes"]))  # fmt: skip
            if dark := data["null_pixels"]:
                yield f"{'':>8} {dark:>17,} dark on the wire, counted in the slots alone"


def _ranges(numbers: Sequence[int]) -> list[str]:
    """Ascending whole numbers with neighbours drawn together: 1-3, 7."""
    ranges: list[list[int]] = []
    for number in numbers:
        if ranges and number == ranges[-1][1] + 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    return [f"{first}-{last}" if last > first else f"{first}" for first, last in ranges]


def _tags(layout: Layout) -> Iterator[str]:
    tags = [f"{tag}\u00a0{len(layout.tagged(tag))}" for tag in layout.tags()]
    if tags:
        lines = textwrap.wrap("tags, each with its number of props: " + ", ".join(tags), WIDTH)
        yield from (line.replace("\u00a0", " ") for line in lines)
