"""Slips of the pen that TOML has other words for: what was probably meant, beside what a reader says."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, ClassVar

from pydantic import model_validator

from eavesong.entries import Entry
from eavesong.errors import EavesongError, MisfitError, Problem
from eavesong.files import parse_toml

_LINE = re.compile(r"line (\d+)")
_COMMA = re.compile(r"=\s*([+-]?\d+),(\d+)\s*(?:#.*)?$")
_SINGLE = re.compile(r"^\s*\[\s*([\w.-]+)\s*\]")
_OPEN = re.compile(r"^\s*[\w-]+\s*=\s*([A-Za-z][\w #.-]*?)\s*$")


class ExampleEntry(Entry):
    """A table that is shown an example of itself where another value stands in its place."""

    example: ClassVar[str] = ""

    @model_validator(mode="before")
    @classmethod
    def _table(cls, value: Any) -> Any:
        if not isinstance(value, Mapping | ExampleEntry):
            raise MisfitError("this is not a table", f"Write it in braces: {cls.example}.")
        return value


def read_tables(text: str, name: str, error: type[EavesongError]) -> dict[str, Any]:
    """As `eavesong.files.parse_toml`, with advice where a line looks like something else that people write."""
    try:
        return parse_toml(text, name, error)
    except EavesongError as fault:
        (problem,) = fault.problems
        found = _LINE.search(problem.place)
        line = text.split("\n")[int(found[1]) - 1] if found else ""
        raise error(replace(problem, instead=problem.instead or _meant(line, problem.found))) from None


def _meant(line: str, found: str) -> str:
    """What to write instead of a ``line`` that is no TOML; empty where it is anybody's guess."""
    if comma := _COMMA.search(line):
        return f"Write {comma[1]}.{comma[2]}, with a point."
    if (single := _SINGLE.match(line)) and "twice" in found:
        return f"Write [[{single[1]}]], in double brackets, above every one of them."
    if (bare := _OPEN.match(line)) and bare[1] not in ("true", "false"):
        return f'Write text in quotes: "{bare[1]}".'
    return ""


def in_order(problems: Iterable[Problem], name: str) -> list[Problem]:
    """The problems in the order of the lines of the file ``name``, each once; then those that are only counted, then
    those of other files."""

    def line(problem: Problem) -> int:
        found = _LINE.match(problem.place)
        if problem.file != name:
            return 1 << 40
        return 1 << 39 if problem.count > 1 else int(found[1]) if found else 0

    return sorted(dict.fromkeys(problems), key=line)


def many(key: str) -> Any:
    """A validator of the key ``key`` that is an array of tables, for whom writes its header in single brackets."""

    def check(value: Any) -> Any:
        if isinstance(value, dict):
            raise MisfitError(f"'{key}' is a single table", f"Write [[{key}]], in double brackets, above every one.")
        return value

    return check
