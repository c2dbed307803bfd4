"""Supplies as the text of a layout file."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from eavesong.errors import OutputError, Problem
from eavesong.files import write_whole
from eavesong.layout import Layout
from eavesong.layout.feeds import Feed, Injection, Lead, Supply
from eavesong.layout.kinds import Conductor
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import circuits_of, pixel_name
from eavesong.limits.propose import Proposal
from eavesong.limits.remedy import Remedy, as_written, named
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
) -> str:
    """Write the layout with what is proposed to ``out``; returns which feeding points of its own it no longer has as
    they were, empty where all of them stay.

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
    return "; ".join(named(remedy.anew) for _, remedy in _lacking(voltages) if remedy.anew) if more else ""


def completed(layout: Layout, voltages: Sequence[Voltage], slack: float) -> str:
    """The text of the layout's file with the feeding points that feeds lack, all else in it as it is; empty where none
    does. Raises OutputError where a feed is written in a way that is not changed here."""
    places, edits = dict(_feeds_by_name(layout)), _Edits(layout.text)
    for voltage, remedy in _lacking(voltages):
        supply, feed = places[voltage.supply, voltage.circuit]
        _complete(edits, layout, (supply, feed), remedy, slack)
    text = edits.text()
    if not _says(text, edits.meant):
        found = "feeds lack points, and a 'lead' or 'inject' of theirs is written in parts, which are not changed here"
        values = "lead = { gauge = 14, length = 2 } and inject = [] with its points inside"
        advice = f"Write each as one value, {values}, and call this again."
        raise OutputError(Problem(layout.path, "supply, feed", found, advice))
    return text if edits.edits else ""


def _lacking(voltages: Sequence[Voltage]) -> Iterator[tuple[Voltage, Remedy]]:
    """Circuits that lack feeding points, and how they get them."""
    for voltage in voltages:
        remedy = next((remedy for remedy in voltage.remedies if remedy.points), None)
        if voltage.supply and remedy is not None:
            yield voltage, remedy


def _complete(edits: _Edits, layout: Layout, place: tuple[int, int], remedy: Remedy, slack: float) -> None:
    """Give a feed its points: those that are written stay, and of their leads only what is too thin changes. place:
    which supply of the file it is of, and which feed of that."""
    path: TomlPath = ("supply", place[0], "feed", place[1])
    feed = layout.power.supplies[place[0]].feeds[place[1]]
    pixels = layout.power.strings[feed.string].pixels
    own = {pixel_name(layout, int(pixels[point.position])): point for point in feed.points}
    added = []
    for (prop, pixel, metres), wire in zip(remedy.points, remedy.wires, strict=True):
        point = own.get((prop, pixel))
        if point is None or (remedy.anew and point.entry is not None):
            length = as_written(metres, slack, layout.power.metres)[0] * layout.power.metres
            added.append(_inject(layout, prop, pixel, Lead(wire, length) if wire and length else None))
        elif wire not in (None, point.lead.conductor if point.lead else layout.power.lead):
            _replace_wire(edits, layout, path if point.entry is None else (*path, "inject", point.entry), point, wire)
    (edits.write if remedy.anew else edits.add)(path, "inject", added)


def _replace_wire(edits: _Edits, layout: Layout, path: TomlPath, point: Injection, wire: Conductor) -> None:
    """Have a thicker lead go to a point: only its gauge is written anew, where it says one."""
    if point.lead is None:
        edits.set(path, "lead", f"{{ {_size(wire)} }}")
    elif replace(point.lead.conductor, gauge=wire.gauge) == wire:
        edits.set((*path, "lead"), "gauge", str(wire.gauge))
    else:
        edits.set(path, "lead", _lead(layout, replace(point.lead, conductor=wire)))


class _Edits:
    """Changes of a TOML text that leave all else in it as it is."""

    def __init__(self, text: str) -> None:
        self.before, self.spans, self.edits = text, spans_by_path(text), list[tuple[int, int, str]]()
        self.meant = tomllib.loads(text)
        """What the text says once they are made."""

    def text(self) -> str:
        """The text with all of them made."""
        text = self.before
        for begin, end, written in sorted(self.edits, key=lambda each: each[0], reverse=True):
            text = text[:begin] + written + text[end:]
        return text

    def set(self, path: TomlPath, key: str, value: str) -> None:
        """Have a table say ``key = value``."""
        self.edits.append(_edit(self.before, self.spans, path, key, value))
        self._table(path)[key] = _value(value)

    def write(self, path: TomlPath, key: str, rows: Sequence[str]) -> None:
        """Have a table say that ``key`` is a list of these."""
        self.set(path, key, "".join(["[\n", *(f"    {row},\n" for row in rows), "]"]))

    def add(self, path: TomlPath, key: str, rows: Sequence[str]) -> None:
        """Add rows to a list, behind those that it has and what is remarked on them."""
        now, span = self._table(path).get(key, []), self.spans.get((*path, key))
        if span is None:
            return self.write(path, key, rows)
        first, begin = self.spans[*path, key, len(now) - 1] if now else (span[0], span[0] + 1)
        line = self.before[self.before.rfind("\n", 0, first) + 1 : first]
        indent = line if now and not line.strip() else "    "
        behind = self.before[begin : span[1] - 1].rstrip(" \t")
        comma = "," if now and "," not in re.sub("#.*", "", behind) else ""
        behind += "" if behind.endswith("\n") else "\n"
        written = "".join([comma, behind, *(f"{indent}{row},\n" for row in rows)])
        self.edits.append((begin, span[1] - 1, written))
        self._table(path)[key] = [*now, *map(_value, rows)]

    def _table(self, path: TomlPath) -> Any:
        table: Any = self.meant
        for part in path:
            table = table[part]
        return table


def _value(written: str) -> Any:
    return tomllib.loads(f"value = {written}")["value"]


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


def _inject(layout: Layout, prop: str, pixel: int, lead: Lead | None) -> str:
    """A feeding point as it is written."""
    through = f", lead = {_lead(layout, lead)}" if lead is not None else ""
    return f"{{ prop = {json.dumps(prop, ensure_ascii=False)}, pixel = {pixel}{through} }}"


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
            yield f"    {_inject(layout, prop, number, point.lead)},"
        yield "]"


def _lead(layout: Layout, lead: Lead) -> str:
    length = "" if lead.length is None else f", length = {_number(lead.length / layout.power.metres)}"
    bundled = f", bundled = {lead.bundled}" if lead.bundled > 1 else ""
    return f"{{ {_size(lead.conductor)}{length}{bundled} }}"


def _size(wire: Conductor) -> str:
    """What a lead of ``wire`` is, as it is written."""
    given = ((key, getattr(wire, key)) for key in ("ohms_per_metre", "gauge", "area"))
    size = next(f"{key} = {value}" for key, value in given if value is not None)
    return size if wire.copper == Conductor.copper else f'{size}, copper = "{wire.copper}"'


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e5 else f"{value:.3f}"
