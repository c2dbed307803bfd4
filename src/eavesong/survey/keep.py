"""A layout that was surveyed before and worked on since: new measures go in, what was added by hand stays."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from eavesong.errors import Problem, SurveyError
from eavesong.files import parse_toml

_HEADER = re.compile(r"^\s*\[{1,2}\s*([A-Za-z_][\w-]*)[\w.\s-]*\]{1,2}\s*(#.*)?$")
_MEASURED = {"rotate"}
"""Keys that a survey writes only where they count: without them in the new one they are gone."""
_EITHER = {"pixels", "pitch"}
"""Keys of which a prop has one."""

Entry = dict[str, Any]


@dataclass
class _Block:
    """A top-level table of the file with its comments, tables below it included; the head has no name."""

    name: str
    lines: list[str]
    number: int = 0
    """Among those of its name."""


def carried(
    text: str, file: str, units: str, entries: Mapping[str, Entry], written: Callable[[str, Entry], str],
    photo: Sequence[str], frame: str,
) -> str:  # fmt: skip
    """The layout ``text`` of ``file`` with the measures of surveyed props, by name, and the ``photo`` in place.

    Controllers, supplies, tags, wishes, a [frame] and props that were not surveyed stay as they are written; keys that
    a surveyed prop has besides its measures stay too. written: the lines of a prop with these keys. Raises SurveyError
    where the file is in other units, or cannot be read.
    """
    tables = parse_toml(text, file, SurveyError)
    if (own := tables.get("units", "m")) != units:
        found = f"it is in '{own}', and the survey in '{units}'"
        raise SurveyError(Problem(file, "", found, f'Write units = "{own}" into the survey.'))
    olds = [entry for entry in tables.get("prop", []) if isinstance(entry, dict)]
    names = [str(entry.get("name")) for entry in olds]
    out: list[str] = []
    blocks = _blocks(text)
    last = max((at for at, block in enumerate(blocks) if block.name == "prop"), default=len(blocks) - 1)
    if "photo" not in tables:
        blocks[0].lines += ["", *photo]
    if "frame" not in tables:
        blocks[0].lines += ["", frame]
    for at, block in enumerate(blocks):
        if block.name == "photo" and block.number == 0:
            out += [*_comments(block.lines), *photo, ""]
        elif block.name == "prop" and block.number < len(names) and names[block.number] in entries:
            name = names[block.number]
            out += [*_comments(block.lines), written(name, _merged(entries[name], olds[block.number])), ""]
        else:
            out += block.lines
        if at == last:
            for name in entries:
                if name not in names:
                    out += ["", written(name, entries[name]), ""]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(out)).rstrip("\n") + "\n"


def _merged(new: Entry, old: Entry) -> Entry:
    """The new measures with what else the old entry has; tags of both."""
    merged = dict(new)
    for key, value in old.items():
        if key == "tags":
            both = [*([value] if isinstance(value, str) else value), *new.get("tags", ())]
            merged["tags"] = list(dict.fromkeys(both))
        elif key not in new and key not in _MEASURED and not (key in _EITHER and _EITHER & new.keys()):
            merged[key] = value
    return merged


def _blocks(text: str) -> list[_Block]:
    """The file in blocks, the head first; comments straight above a header belong to what follows."""
    blocks, counts = [_Block("", [])], dict[str, int]()
    for line in text.splitlines():
        found = _HEADER.match(line)
        below = found is not None and "." in line.split("#")[0]
        if found and not (below and blocks[-1].name == found[1]):
            above = _taken_off(blocks[-1].lines)
            blocks.append(_Block(found[1], above, counts.setdefault(found[1], 0)))
            counts[found[1]] += 1
        blocks[-1].lines.append(line)
    return blocks


def _taken_off(lines: list[str]) -> list[str]:
    """The comments at the end of ``lines``, which are taken away there."""
    start = len(lines)
    while start and lines[start - 1].lstrip().startswith("#"):
        start -= 1
    above = lines[start:]
    del lines[start:]
    return above


def _comments(lines: Sequence[str]) -> list[str]:
    """The comments above a block's header."""
    until = next((at for at, line in enumerate(lines) if not line.lstrip().startswith("#")), len(lines))
    return list(lines[:until])
