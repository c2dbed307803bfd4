"""Names in chains and feeds, looked up before the file is known to be right: they are told with all other problems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from eavesong.errors import advise
from eavesong.layout.faults import Faults
from eavesong.layout.size import misfit_of_pitch
from eavesong.words import METRES

Path = tuple[str | int, ...]


def note_strange_names(tables: dict[str, Any], faults: Faults) -> None:
    """Add to ``faults`` every name in a chain or a feed of a layout's ``tables`` that no prop or row has."""
    known = set(_names(tables))
    props = _tables(tables.get("prop"))
    rows = {prop["name"]: _row(prop) for prop in props if isinstance(prop.get("name"), str)}
    strange = [(path, name) for path, name in (*_in_chains(tables), *_in_feeds(tables))
               if isinstance(name, str) and name not in known]  # fmt: skip
    told = Counter((path[:5], name) for path, name in strange)
    for path, name in strange:
        if count := told.pop((path[:5], name), 0):  # of one chain or feed, once
            advice = advise_member(name, rows) or advise_prop(name, known)
            times = f", {count} times here" if count > 1 else ""
            faults.add(path, f"no prop is called '{name}'{times}", advice)


def advise_member(name: str, rows: Mapping[str, int]) -> str:
    """Advice for a ``name`` such as 'tree 3' of a row that has fewer members; empty for any other name.

    rows: how many members each row has, 0 for a single prop. The first of a row that is one prop now is probably that.
    """
    row, _, number = name.rpartition(" ")
    if row not in rows or not number.isdecimal():
        return ""
    if not rows[row] and int(number) == 1:
        return f"'{row}' is one prop now: write '{row}' here, or raise the row's count."
    many = f"{rows[row]} members" if rows[row] else "one prop"
    return f"'{row}' is {many} now: take what stands here of '{name}' out, too, or raise the row's count."


def advise_prop(name: str, known: Iterable[str]) -> str:
    """Advice for a ``name`` in a chain or a feed that no prop has: the nearest one, else that it may have been taken
    out, too."""
    advice = advise(name, known, "prop")
    taken_out = " If it was taken down, take it out here, too; and an output that is then empty."
    return advice if advice.startswith("Did you") else advice + taken_out


def _in_chains(tables: dict[str, Any]) -> Iterator[tuple[Path, Any]]:
    """Every name in a chain, and where it stands."""
    for c, box in enumerate(_tables(tables.get("controller"))):
        for o, output in enumerate(_tables(box.get("output"))):
            chain = output.get("chain")
            chain = [chain] if isinstance(chain, str) else chain
            for k, link in enumerate(chain if isinstance(chain, list) else ()):
                yield ("controller", c, "output", o, "chain", k), link.get("prop") if isinstance(link, dict) else link


def _in_feeds(tables: dict[str, Any]) -> Iterator[tuple[Path, Any]]:
    """Every name of a prop that a supply feeds, and where it stands."""
    for s, supply in enumerate(_tables(tables.get("supply"))):
        for f, feed in enumerate(_tables(supply.get("feed"))):
            props = feed.get("props")
            yield from (
                (("supply", s, "feed", f, "props"), name) for name in (props if isinstance(props, list) else ())
            )
            for i, point in enumerate(_tables(feed.get("inject"))):
                yield ("supply", s, "feed", f, "inject", i, "prop"), point.get("prop")


def note_strange_pitches(tables: dict[str, Any], faults: Faults) -> None:
    """Add to ``faults`` every distance between pixels in a layout's ``tables`` that no wire has."""
    units = tables.get("units", "m")
    for p, prop in enumerate(_tables(tables.get("prop"))):
        pitch = prop.get("pitch")
        if not isinstance(pitch, int | float) or isinstance(pitch, bool) or not 0 < pitch < 1e7:
            continue  # refused as a number
        if units in METRES and (misfit := misfit_of_pitch(pitch, units)):
            faults.add(("prop", p, "pitch"), *misfit)


def _names(tables: dict[str, Any]) -> Iterator[str]:
    """What props and rows, and the members of rows, are called."""
    for prop in _tables(tables.get("prop")):
        if isinstance(name := prop.get("name"), str):
            yield name
            yield from (f"{name} {number + 1}" for number in range(_row(prop)))


def _row(prop: dict[str, Any]) -> int:
    """How many members the row of a prop has; 0 for one that is no row, or whose size cannot be read."""
    repeat = prop.get("repeat")
    count = repeat.get("count") if isinstance(repeat, dict) else 1
    if not isinstance(count, int) or not 0 < count <= 10_000:
        return 0
    copies = count * (2 if prop.get("mirror") else 1)
    return copies if copies > 1 else 0


def _tables(value: Any) -> list[dict[str, Any]]:
    return [entry if isinstance(entry, dict) else {} for entry in value] if isinstance(value, list) else []
