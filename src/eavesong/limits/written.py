"""Supplies as the text of a layout file."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from eavesong.errors import OutputError, Problem
from eavesong.files import write_whole
from eavesong.layout import Layout
from eavesong.layout.feeds import Feed, Lead, Supply
from eavesong.layout.kinds import Conductor
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import circuits_of, pixel_name
from eavesong.limits.propose import Proposal
from eavesong.limits.remedy import as_written
from eavesong.limits.voltage import Voltage
from eavesong.statements import Path as TomlPath
from eavesong.statements import spans_by_path

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

    Where no supply is proposed, feeds that lack points get them. Raises OutputError where nothing is proposed, as
    `completed` does, and where ``out`` stands in another folder than files that the layout names beside it. voltages:
    of the circuits. slack: share that is added to leads.
    """
    more = completed(layout, voltages, slack) if not proposal.supplies else ""
    if not proposal.supplies and not more:
        found = "nothing is proposed: " + ("; ".join(proposal.missing) or "no pixel of an output lacks a supply")
        raise OutputError(Problem(str(out), "", found, "Leave out --propose."))
    names_files = '"points"' in layout.text or layout.photo
    if names_files and Path(layout.path).resolve().parent != out.resolve().parent:
        found = "the layout names files that stand beside it"
        raise OutputError(Problem(str(out), "", found, f"Write it beside {layout.path}."))
    write_whole(out, more or with_supplies(layout, proposal.supplies))


def completed(layout: Layout, voltages: Sequence[Voltage], slack: float) -> str:
    """The text of the layout's file with the feeding points that feeds lack, all else in it as it is; empty where none
    does. Raises OutputError where a feed is written in a way that is not changed here."""
    places, spans, meant = dict(_feeds_by_name(layout)), spans_by_path(layout.text), tomllib.loads(layout.text)
    edits: list[tuple[int, int, str]] = []
    for voltage in voltages:
        remedy = next((remedy for remedy in voltage.remedies if remedy.points), None)
        if not voltage.supply or remedy is None:
            continue
        supply, feed = places[voltage.supply, voltage.circuit]
        path, wire = ("supply", supply, "feed", feed), remedy.wire or layout.power.lead
        points = [_inject(layout, wire, slack, *point) for point in remedy.points[1:]]
        values = {"inject": "".join(["[\n", *(f"    {point},\n" for point in points), "]"])}
        if remedy.wire is not None and (lead := _lead_of(layout, wire, slack, remedy.points[0][2])):
            values["lead"] = lead
        for key, value in values.items():
            edits.append(_edit(layout.text, spans, path, key, value))
            meant["supply"][supply]["feed"][feed][key] = tomllib.loads(f"value = {value}")["value"]
    text = layout.text
    for begin, end, written in sorted(edits, key=lambda each: each[0], reverse=True):
        text = text[:begin] + written + text[end:]
    if edits and not _says(text, meant):
        found = "feeds lack points, and a 'lead' or 'inject' of theirs is written in parts, which are not changed here"
        advice = "Write each as one value, lead = { gauge = 14, length = 2 } and inject = [], and call this again."
        raise OutputError(Problem(layout.path, "supply, feed", found, advice))
    return text if edits else ""


def _edit(
    text: str, spans: Mapping[TomlPath, tuple[int, int]], path: TomlPath, key: str, value: str
) -> tuple[int, int, str]:
    """What to write into a text that a table of it has this value: from where, to where, and what."""
    if own := spans.get((*path, key)):
        return (*own, value)
    begin, end = spans[path]
    if text[begin] == "{":
        last = max(stop for other, (_, stop) in spans.items() if other[: len(path)] == path and other != path)
        return last, last, f", {key} = {value}"
    line = text.find("\n", end) if "\n" in text[end:] else len(text)
    return line, line, f"\n{key} = {value}"


def _says(text: str, meant: dict[str, Any]) -> bool:
    """Whether a TOML text can be read, and holds this."""
    with suppress(tomllib.TOMLDecodeError):
        return tomllib.loads(text) == meant
    return False


def _feeds_by_name(layout: Layout) -> Iterator[tuple[tuple[str, str], tuple[int, int]]]:
    """Of each circuit, by its supply and its name, which supply of the file it is and which feed of that."""
    strings = {string.name: number for number, string in enumerate(layout.power.strings)}
    for circuit in circuits_of(layout, Assumptions()):
        if circuit.supply is not None:
            supply = layout.power.supplies[circuit.supply]
            for number, feed in enumerate(supply.feeds):
                if (feed.string, feed.start) == (strings[circuit.string], circuit.first_position):
                    yield (supply.name, circuit.name), (circuit.supply, number)


def _lead_of(layout: Layout, wire: Conductor, slack: float, metres: float) -> str:
    """The lead to the first point of a feed as it is written; empty where its supply hangs there."""
    length, _ = as_written(metres, slack, layout.power.metres)
    return f"{{ gauge = {wire.gauge}, length = {length:g} }}" if wire.gauge is not None and length else ""


def _inject(layout: Layout, wire: Conductor, slack: float, prop: str, pixel: int, metres: float) -> str:
    """A feeding point as it is written; with its lead, in whole tenths, where the wire has a gauge."""
    length, _ = as_written(metres, slack, layout.power.metres)
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
    length = "" if lead.length is None else f", length = {_number(lead.length / layout.power.metres)}"
    bundled = f", bundled = {lead.bundled}" if lead.bundled > 1 else ""
    return f"{{ gauge = {lead.conductor.gauge}{length}{bundled} }}"


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e5 else f"{value:.3f}"
