"""Supplies as the text of a layout file."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from eavesong.errors import OutputError, Problem
from eavesong.files import write_whole
from eavesong.layout import Layout
from eavesong.layout.feeds import Feed, Lead, Supply
from eavesong.layout.kinds import Conductor
from eavesong.limits.circuits import pixel_name
from eavesong.limits.propose import Proposal
from eavesong.limits.voltage import Voltage

OPENING = """
# ---------------------------------------------------------------- proposed supplies
# Worked out from the places of the pixels; read it with the eye of the person who will wire it. Estimates: measure,
# fuse every lead at the supply's end, and keep to the local code.
"""


def with_supplies(layout: Layout, supplies: Sequence[Supply]) -> str:
    """The text of the layout's file with ``supplies`` behind it."""
    return layout.text.rstrip("\n") + "\n" + OPENING + "".join(_supply(layout, supply) for supply in supplies)


def write_proposal(
    layout: Layout, proposal: Proposal, out: Path, voltages: Sequence[Voltage] = (), slack: float = 0.15
) -> None:
    """Write the layout with what is proposed to ``out``.

    Raises OutputError where nothing is proposed, and where ``out`` stands in another folder than files that the
    layout names beside it. voltages: of the circuits, so that feeds that lack points are told with the lines to write.
    slack: share that is added to leads.
    """
    if not proposal.supplies:
        found = "nothing is proposed: " + ("; ".join(proposal.missing) or "no pixel of an output lacks a supply")
        raise OutputError(Problem(str(out), "", found, completions(layout, voltages, slack) or "Leave out --propose."))
    names_files = '"points"' in layout.text or layout.photo
    if names_files and Path(layout.path).resolve().parent != out.resolve().parent:
        found = "the layout names files that stand beside it"
        raise OutputError(Problem(str(out), "", found, f"Write it beside {layout.path}."))
    write_whole(out, with_supplies(layout, proposal.supplies))


def completions(layout: Layout, voltages: Sequence[Voltage], slack: float) -> str:
    """The lines to write for feeds that are described and lack feeding points; empty where none does."""
    told = []
    for voltage in voltages:
        remedy = next((remedy for remedy in voltage.remedies if remedy.points), None)
        if voltage.supply and remedy is not None:
            points = ", ".join(_inject(layout, remedy.wire or layout.power.lead, slack, *point)
                               for point in remedy.points[1:])  # fmt: skip
            told.append(f"[[supply.feed]] of '{voltage.supply}' to {voltage.circuit}: inject = [{points}]")
    return f"These feeds lack points; write into the {'; into the '.join(told)}." if told else ""


def _inject(layout: Layout, wire: Conductor, slack: float, prop: str, pixel: int, metres: float) -> str:
    """A feeding point as it is written; with its lead, in whole tenths, where the wire has a gauge."""
    length = math.ceil(10 * metres / (1 + slack) / layout.power.metres - 1e-6) / 10
    lead = f", lead = {{ gauge = {wire.gauge}, length = {length:g} }}" if wire.gauge is not None and length else ""
    return f"{{ prop = {json.dumps(prop, ensure_ascii=False)}, pixel = {pixel}{lead} }}"


def _supply(layout: Layout, supply: Supply) -> str:
    rows = ["", "[[supply]]", f"name = {json.dumps(supply.name, ensure_ascii=False)}"]
    rows += [f"volts = {supply.volts:g}", f"watts = {supply.watts:g}", f"usable = {supply.usable:g}"]
    if supply.at is not None:
        rows.append(f"at = [{', '.join(_number(value / layout.power.metres) for value in supply.at)}]")
    for feed in supply.feeds:
        rows += _feed(layout, feed)
    return "\n".join(rows) + "\n"


def _feed(layout: Layout, feed: Feed) -> Iterator[str]:
    string = layout.power.strings[feed.string]
    yield from ("", "[[supply.feed]]", f"controller = {json.dumps(string.controller, ensure_ascii=False)}")
    yield f"output = {string.output}"
    if (feed.start, feed.stop) != (0, len(string.pixels)):
        yield f"pixels = [{feed.start + 1}, {feed.stop}]"
    first, *others = feed.points
    if first.lead is not None:
        yield f"lead = {_lead(layout, first.lead)}"
    if others:
        yield "inject = ["
        for point in others:
            prop, number = pixel_name(layout, int(string.pixels[point.position]))
            lead = f", lead = {_lead(layout, point.lead)}" if point.lead is not None else ""
            yield f"    {{ prop = {json.dumps(prop, ensure_ascii=False)}, pixel = {number}{lead} }},"
        yield "]"


def _lead(layout: Layout, lead: Lead) -> str:
    return f"{{ gauge = {lead.conductor.gauge}, length = {_number(lead.length / layout.power.metres)} }}"


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e5 else f"{value:.3f}"
