"""The statements of a TOML text: where each key, table and value stands, and whether there are more than anyone writes.

One pass over the text in time proportional to its length, whatever stands in it: no alternative of the patterns here
gives back what it has taken. A library that keeps positions would parse the text anew at a twelfth of tomllib's speed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

Path = tuple[str | int, ...]

DEEPEST = 64
"""Arrays and inline tables inside each other."""

MOST_PARTS = 32
"""Parts of a dotted key or of a table's name, each of which makes a table."""

MOST_KEYS = 200_000
"""Keys and tables of a text: a show of thousands of cues, or a house of thousands of props, has some 40,000."""

_TOKEN = re.compile(
    r"\"\"\"(?:[^\"\\]|\\(?:[\s\S]|\Z)|\"(?!\"\"))*+(?:\"{3,5}|\Z)|'''(?:[^']|'(?!''))*+(?:'{3,5}|\Z)"
    r"|\"(?:[^\"\\\n]|\\[^\n]?)*+\"?|'[^'\n]*+'?|\#[^\n]*+|[\[\]{},=\n]"
)
"""Strings, closed or not, comments, and the marks that part a text."""

_NAME = re.compile(r"[\w-]++|\"(?:[^\"\\]|\\.)*+\"|'[^']*+'")


class _TooMuchError(Exception):
    """``args``: the line, and what is found there."""


@lru_cache(maxsize=4)
def too_much(text: str) -> tuple[str, str] | None:
    """Where a TOML text goes beyond DEEPEST, MOST_PARTS or MOST_KEYS, and what is found there; None where it does not.

    To be asked before tomllib is: a kilobyte of it can take gigabytes there.
    """
    try:
        for _ in _statements(text):
            pass
    except _TooMuchError as fault:
        return f"line {fault.args[0]}", str(fault.args[1])
    return None


@lru_cache(maxsize=4)
def lines_by_path(text: str) -> dict[Path, int]:
    """The line of every table and key that has a line of its own, by its path with list positions from 0."""
    lines: dict[Path, int] = {}
    last: dict[Path, int] = {}
    inside: Path = ()
    try:
        for number, written in _statements(text):
            if written.startswith("["):
                inside = _table(names_in(written), written.startswith("[["), number, lines, last)
            else:
                path = inside
                for name in names_in(written):
                    path = (*path, name)
                    lines.setdefault(path, number)
    except _TooMuchError:
        pass
    return lines


def spans_by_path(text: str) -> dict[Path, tuple[int, int]]:
    """Where every value of a TOML text that can be read stands, whatever it is inside of, by its path: its first
    character, and the one behind its last. A table with a header stands where its header does."""
    found: dict[Path, tuple[int, int]] = {}
    last: dict[Path, int] = {}
    table: Path = ()
    around: list[tuple[Path, int, bool, int]] = []  # open ones: path, first character, whether a list, commas so far
    path: Path | None = None  # of the value that comes next, where it is known
    begin, brackets, header = 0, 0, _opens_table(text, 0)
    for token in _TOKEN.finditer(text + "\n"):
        mark = token[0][0]
        if header:
            brackets += (mark == "[") - (mark == "]")
            if mark == "]" and not brackets:
                header, first = False, text.index("[", begin)
                table = _table(names_in(text[first : token.end()]), text.startswith("[[", first), 0, {}, last)
                found[table] = (first, token.end())
            continue
        if mark in "\"'":
            continue
        if mark in "\n#,]}" and path is not None and (plain := text[begin : token.start()].strip()):
            first = text.index(plain, begin)
            found[path] = (first, first + len(plain))
        if mark in "[{":
            around.append((path or (), token.start(), mark == "[", 0))
            path = (*around[-1][0], 0) if mark == "[" else None
        elif mark in "]}":
            own, first, _, _ = around.pop()
            found[own], path = (first, token.end()), None
        elif mark == ",":
            own, first, listed, commas = around.pop()
            around.append((own, first, listed, commas + 1))
            path = (*own, commas + 1) if listed else None
        elif mark == "=":
            path = (*(around[-1][0] if around else table), *names_in(text[begin : token.start()]))
        elif mark == "\n" and not around:
            path, header = None, _opens_table(text, token.end())
        begin = token.end()
    return found


def repeated(text: str) -> tuple[str, int, int] | None:
    """The first key or table that a TOML text gives twice: its words, ``[cue]`` or ``palette``, and both lines.

    A header in single brackets before one of that name in double brackets counts, too. None where nothing is.
    """
    found: dict[Path, int] = {}
    last: dict[Path, int] = {}
    inside: Path = ()
    try:
        for number, written in _statements(text):
            names = names_in(written)
            if table := written.startswith("["):
                inside = path = _table(names, written.startswith("[["), number, {}, last)
                if inside != tuple(names) and (first := found.get(tuple(names))):
                    return f"[{'.'.join(names)}]", first, number
            else:
                path = (*inside, *names)
            if (first := found.setdefault(path, number)) != number:
                return f"[{'.'.join(names)}]" if table else names[-1], first, number
    except _TooMuchError:
        pass
    return None


def _table(names: list[str], listed: bool, number: int, lines: dict[Path, int], last: dict[Path, int]) -> Path:
    """The path of the table that a header opens; its line is noted, and in ``last`` where its list has come to."""
    inside: Path = ()
    for position, name in enumerate(names):
        inside = (*inside, name)
        if listed and position == len(names) - 1:
            last[inside] = last.get(inside, -1) + 1
            lines.setdefault(inside, number)
        inside = (*inside, last[inside]) if inside in last else inside
    lines.setdefault(inside, number)
    return inside


def names_in(dotted: str) -> list[str]:
    """The parts of a dotted key, without their quotes."""
    return [part.strip("\"'") for part in _NAME.findall(dotted)]


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Line and words of every table's header, and of every key that begins a line, in order."""
    number = line = 1  # of what is looked at, and of the statement it belongs to
    begin = depth = keys = 0
    header = told = _opens_table(text, 0)
    for token in _TOKEN.finditer(text):
        mark = token[0][0]
        if mark == "\n":
            number += 1
            if header:
                _counted(text[begin : token.start()], line, keys)
            if header or not depth:
                depth, begin, line = 0, token.end(), number
                header = told = _opens_table(text, begin)
        elif mark in "[{":
            depth += 1
            if depth > DEEPEST:
                raise _TooMuchError(number, f"more than {DEEPEST} arrays or tables stand inside each other")
            begin = begin if header else token.end()
        elif mark in "]}":
            depth = max(0, depth - 1)
            if header and not depth:
                header, keys = False, keys + 1
                yield line, _counted(text[begin : token.end()], line, keys)
        elif mark == "," and not header:
            begin = token.end()
        elif mark == "=" and not header:
            keys += 1
            written = _counted(text[begin : token.start()], number, keys)
            if not told:
                told = True
                yield line, written
        else:
            number += token[0].count("\n")
    if header:
        _counted(text[begin:], line, keys)


_FIRST = re.compile(r"[ \t\r\f\v]*+\[")


def _opens_table(text: str, at: int) -> bool:
    """Whether the line that begins ``at`` opens a table."""
    return _FIRST.match(text, at) is not None


def _counted(written: str, number: int, keys: int) -> str:
    """The words of a key or header; raises where there are too many of them, or of its parts."""
    written = written.strip()
    if keys > MOST_KEYS:
        raise _TooMuchError(number, f"there are more than {MOST_KEYS:,} keys and tables")
    if written.count(".") >= MOST_PARTS and len(names_in(written)) > MOST_PARTS:
        raise _TooMuchError(number, f"a key has more than {MOST_PARTS} parts")
    return written


def place(text: str, path: Sequence[str | int]) -> str:
    """Where ``path`` stands in a TOML text, as a person would say it: ``line 12, cue 3, effect``.

    ``path`` is a sequence of keys and list positions from 0, as pydantic gives it. The line is that of the key
    or the list's entry itself or, where it is not written out, of what it belongs to.
    """
    words: list[str] = []
    for part in path:
        if isinstance(part, int) and words:
            words[-1] = f"{words[-1]} {part + 1}"
        else:
            words.append(str(part))
    line = line_of(text, path)
    return ", ".join(([f"line {line}"] if line else []) + words)


def line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of the longest beginning of ``path`` that is written out in the text; 0 where there is none."""
    lines, within = lines_by_path(text), _lines_within(text)
    begins = [tuple(path[:end]) for end in range(len(path), 0, -1)]
    return next((found for begin in begins if (found := lines.get(begin) or within.get(begin, 0))), 0)


@lru_cache(maxsize=4)
def _lines_within(text: str) -> dict[Path, int]:
    """The line of every value, also of those in lists over several lines; none where the text cannot be read."""
    try:
        spans = sorted(((first, path) for path, (first, _) in spans_by_path(text).items()), key=lambda each: each[0])
    except (IndexError, ValueError):
        return {}
    found: dict[Path, int] = {}
    line, upto = 1, 0
    for first, path in spans:
        line += text.count("\n", upto, first)
        found[path], upto = line, first
    return found
