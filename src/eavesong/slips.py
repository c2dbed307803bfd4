"""Slips of the pen that TOML has other words for: what was probably meant, beside what a reader says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, ClassVar, TypeVar

from pydantic import BaseModel, model_validator

from eavesong.entries import Entry
from eavesong.errors import EavesongError, MisfitError, Problem
from eavesong.files import parse_toml, read_model
from eavesong.statements import repeated
from eavesong.words import NUMBER, UNIT, number_meant

Model = TypeVar("Model", bound=BaseModel)

_LINE = re.compile(r"line (\d+)")
_COMMA = re.compile(r"=\s*([+-]?\d+),(\d+)\s*(?=$|[#}\]]|,\s*[A-Za-z\"'])")
_LENGTH = re.compile(rf"=\s*({NUMBER}\s*{UNIT})\s*(?=$|[#,}}\]])")
_UNCLOSED = re.compile(r"^\s*([\w-]+\s*=\s*\"[^\"#,]*)$")
_FEET = re.compile(rf"=\s*(\d+\s*(?:feet|foot|ft|'|′)\s*{NUMBER}\s*(?:inch(?:es)?|in|\"|″|'')?)\s*(?=$|[#,}}\]])")
_COUNT = re.compile(r"=\s*(\d+(?:\.\d+)?)\s+(beats?|bars?|seconds?|secs?|s)\s*(?=$|[#,}\]])")
_CLOCK = re.compile(r"[=\[,]\s*(\d{1,3}:\d\d(?::\d\d)?(?:\.\d+)?)\s*(?=$|[#,}\]])")
_SPACED = re.compile(rf"\[\s*({NUMBER}(?:\s+{NUMBER})+)\s*\]")
_ROUND = re.compile(rf"=\s*\(\s*({NUMBER}(?:\s*,\s*{NUMBER})*)\s*\)")
_CURLY = re.compile("[\u2018-\u201f\u00ab\u00bb]")
_LISTED = re.compile(r"\[\s*([+-]?\d+(?:\.\d+)?(?:\s*,\s*[+-]?\d+(?:\.\d+)?)+)\s*,?\s*\]")
_TEXT_OR_REMARK = re.compile(r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|#.*")
_TERM = re.compile(rf"[=\[,]\s*((?:[A-Za-z][\w-]*:)?{NUMBER}\s*(?:kW|W|mA|A))\s*(?=$|[#,}}\]])")
"""Watts and amperes, as limits have them."""
_COUNTED = re.compile(r"^\s*(?:turn|pixels)\s*=")
"""Keys whose lists hold whole numbers."""
_SINGLE = re.compile(r"^\s*\[\s*([\w.-]+)\s*\]")
_ONCE = ("frame", "photo", "palettes", "parameters")
"""Tables of which a file, or an entry of it, has one."""
_POINT = re.compile(r"=\s*([+-]?)(\.\d+)\s*(?=$|[#,}\]])")
_DATE = re.compile(r"=\s*(\d{1,2}[./]\d{1,2}[./]\d{2,4}|\d{4}[./]\d{1,2}[./]\d{1,2})\s*(?=$|#)")
_APART = re.compile(r"(?<=[\[,\s])(\"[^\"]*\"|'[^']*'|[+-]?\d[\d.]*)(\s+)(?=[\"'\d+-])")
"""A value of a list that only blanks part from the next."""
_BACKSLASHES = re.compile(r"\"[^\"]*\\[^\"]*\"")
_EITHER = re.compile(r'"([^"]*)"\s+or\s+"([^"]*)"')
_BARE = re.compile(r"[\[,]\s*(?!true\b|false\b|inf\b|nan\b)([A-Za-z][\w -]*?)\s*[,\]]")
_REMARK = re.compile(r"#[^\"']*$")
_SWITCHES = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
"""What people write for yes and no, and what TOML has for it."""
_OPEN = re.compile(r"^\s*[\w-]+\s*=\s*([A-Za-z][\w #.-]*?|[A-Za-z~/.][^\"'#=\[\]{}]*?)\s*(?:\s#.*)?$")


KIND_OF: dict[str, Callable[[Mapping[str, Any]], bool]] = {
    "survey": lambda tables: "point" in tables,
    "layout": lambda tables: "prop" in tables,
    "show": lambda tables: "cue" in tables,
    "setlist": lambda tables: isinstance(tables.get("song"), list),
    "effect": lambda tables: "code" in tables,
}
"""Kinds of files, and what stands in each of them and in none of those below it."""


class ExampleEntry(Entry):
    """A table that is shown an example of itself where another value stands in its place."""

    example: ClassVar[str] = ""

    @model_validator(mode="before")
    @classmethod
    def _table(cls, value: Any) -> Any:
        if not isinstance(value, Mapping | ExampleEntry):
            raise MisfitError("this is not a table", f"Write it in braces: {cls.example}.")
        return value


def read_tables(text: str, name: str, error: type[EavesongError], wanted: str = "") -> dict[str, Any]:
    """As `eavesong.files.parse_toml`, with advice where a line looks like something else that people write.

    wanted: the kind of file that it has to be, one of KIND_OF; one of another kind is refused as what it is.
    """
    try:
        tables = parse_toml(text, name, error)
        kind = next((kind for kind, is_one in KIND_OF.items() if is_one(tables)), wanted)
        if wanted and kind != wanted and not KIND_OF[wanted](tables):
            articles = [f"{'an' if each[0] in 'aeiou' else 'a'} {each}" for each in (kind, wanted)]
            advice = "Were two names exchanged?"
            raise error(Problem(name, "", f"is {articles[0]}, where {articles[1]} belongs", advice))
        return tables
    except EavesongError as fault:
        (problem,) = fault.problems
        if twice := _twice(text, problem):
            raise error(twice) from None
        found = _LINE.search(problem.place)
        number = int(found[1]) if found else 0
        line = text.split("\n")[number - 1] if found else ""
        first = replace(problem, instead=problem.instead or _meant(line, problem.found))
        raise error(in_order([first, *_more_slips(text, name, number)], name)) from None


def _twice(text: str, problem: Problem) -> Problem | None:
    """The problem, told as what it is where a key or table is given twice; None for any other."""
    if not re.search("overwrite|twice|mutate|add to", problem.found) or not (found := repeated(text)):
        return None
    words, first, again = found
    name = words.strip("[]")
    if not words.startswith("["):
        told, advice = f"'{words}' is given in line {first} already", "Keep one of them."
    elif name.rpartition(".")[2] in _ONCE:
        told, advice = f"{words} begins in line {first} already", f"Put the lines of both under one {words}."
    else:
        alone = again if text.split("\n")[first - 1].lstrip().startswith("[[") else first
        told = (
            f"{words} stands in single brackets, and there are several: one more begins in line {first + again - alone}"
        )
        advice = f"Write [{words}], in double brackets, above every one of them."
        again = alone
    return replace(problem, place=f"line {again}", found=told, instead=advice)


def _more_slips(text: str, name: str, known: int) -> Iterator[Problem]:
    """The lines, but for the ``known`` one, that a reader of TOML would stop at next, if they look like slips."""
    if '"""' in text or "'''" in text:
        return  # lines may be anything inside a long text
    for number, line in enumerate(text.split("\n"), start=1):
        plain = _TEXT_OR_REMARK.sub("", line)
        likely = any(slip.search(plain) for slip in (_CURLY, _SPACED, _ROUND, _LENGTH, _COUNT, _CLOCK, _COMMA))
        if number != known and likely and (advice := _meant(line, "")):
            yield Problem(name, f"line {number}", f"is not TOML: {line.strip()[:60]}", advice)


def read_entries(model: type[Model], text: str, name: str, error: type[EavesongError], wanted: str) -> Model:
    """As `eavesong.files.read_model`, with advice for slips, and every list with doubtful commas refused.

    wanted: as for `read_tables`.
    """
    tables = read_tables(text, name, error, wanted)
    try:
        found = read_model(model, text, name, error, tables)
    except EavesongError as fault:
        raise error(with_commas(fault.problems, text, name)) from None
    if commas := commas_in(text, name):
        raise error(commas)
    return found


def commas_in(text: str, name: str) -> list[Problem]:
    """The lists of numbers in which commas seem to stand for points: ``[3,6, 2]`` has blanks after some only.

    TOML reads three numbers there, so nothing else would tell.
    """
    found = []
    for number, line in enumerate(text.split("\n"), start=1):
        if "," not in line or _COUNTED.match(line):
            continue
        for listed in _LISTED.finditer(_TEXT_OR_REMARK.sub("", line)):
            if meant := _with_points(listed[1]):
                told = f"in {listed[0]} some commas have a blank behind them, and others none"
                apart = ", ".join(re.split(r"\s*,\s*", listed[1]))
                advice = f"Write [{meant}], with points, or [{apart}] where all of them part numbers."
                found.append(Problem(name, f"line {number}", told, advice))
    return found


def with_commas(problems: Iterable[Problem], text: str, name: str) -> list[Problem]:
    """The problems of the file ``name`` in order, those of its commas in place of what else is said of their lines."""
    commas = commas_in(text, name)
    lines = {problem.place for problem in commas}
    kept = (each for each in problems if each.file != name or each.place.partition(",")[0] not in lines)
    return in_order((*kept, *commas), name)


def _with_points(listed: str) -> str:
    """Numbers whose commas without a blank are points; empty where all commas are alike, or that makes no numbers."""
    parts = re.split(r",\s+|\s+,\s*", listed)
    tight = [part for part in parts if "," in part]
    if len(parts) < 2 or not tight or not all(re.fullmatch(r"[+-]?\d+,\d+", part) for part in tight):
        return ""
    return ", ".join(part.replace(",", ".") for part in parts)


def _meant(line: str, found: str) -> str:
    """What to write instead of a ``line`` that is no TOML; empty where it is anybody's guess."""
    if _CURLY.search(_TEXT_OR_REMARK.sub("", line)):
        return 'Write straight quotes, "like these"; those in the line are curly.'
    if _BACKSLASHES.search(line) and re.search("escape|hex", found):
        plain = line[line.index('"') :].replace("\\", "/").strip()
        return f"A backslash means something else in quotes. Write {plain}"
    if dated := _DATE.search(line):
        return f"Write year, month and day, without quotes: {_iso(dated[1])}."
    if point := _POINT.search(line):
        return f"Write {point[1]}0{point[2]}."
    if spaced := _SPACED.search(line):
        return f"Write commas between the numbers: [{', '.join(spaced[1].split())}]."
    if "[" in line and "," in (parted := _APART.sub(r"\1,\2", line)) and parted != line and "array" in found:
        return f"Write commas between: {parted[parted.index('[') :].strip()}"
    if rounded := _ROUND.search(line):
        return f"Write square brackets: [{rounded[1]}]."
    if count := _COUNT.search(line):
        unit = "second" if count[2][0] == "s" else count[2].rstrip("s")
        return f"Write {{ {unit}s = {count[1]} }}."
    if clock := _CLOCK.search(line):
        return f'Write times on the clock in quotes: "{clock[1]}".'
    if (term := _TERM.search(_REMARK.sub("", line))) and re.match(r"\s*limit\s*=", line):
        return f'Write a limit in quotes: "{term[1]}".'
    if unit := _FEET.search(line) or _LENGTH.search(line):
        return number_meant(unit[1])
    if comma := _COMMA.search(line):
        return f"Write {comma[1]}.{comma[2]}, with a point."
    if (single := _SINGLE.match(line)) and "twice" in found:
        return f"Write [[{single[1]}]], in double brackets, above every one of them."
    if unclosed := _UNCLOSED.match(_TEXT_OR_REMARK.sub("", line)):
        return f'A quotation mark is missing at the end: {unclosed[1].strip()}".'
    if line.count('"') % 2 and "[" in line:
        return 'A quotation mark is missing: every text in a list stands in a pair of them, ["arch", "path"].'
    if either := _EITHER.search(line):
        return f'Write it as one text: "{either[1]} or {either[2]}".'
    if (bare := _OPEN.match(line)) and bare[1].lower() in _SWITCHES:
        return f"Write {_SWITCHES[bare[1].lower()]}, in small letters and without quotes."
    if bare:
        return f'Write text in quotes: "{bare[1]}".'
    unclosed_above = "unclosed" in found and "=" not in line  # a header, or what comes after
    if not unclosed_above and (listed := _BARE.search(_REMARK.sub("", line))):
        return f'Write every text in the list in quotes: "{listed[1]}".'
    if "unclosed" in found:
        return "A closing bracket is missing, in this line or in those above it."
    return ""


def _iso(text: str) -> str:
    """A date as TOML writes it (ISO 8601); of two that may be the month, the second is taken for it."""
    parts = [int(part) for part in re.split("[./]", text)]
    year, month, day = parts if parts[0] > 31 else (parts[2] if parts[2] > 99 else 2000 + parts[2], parts[1], parts[0])
    return f"{year}-{day:02}-{month:02}" if month > 12 >= day else f"{year}-{month:02}-{day:02}"


def in_order(problems: Iterable[Problem], name: str) -> list[Problem]:
    """The problems in the order of the lines of the file ``name``, each once; then those that are only counted, then
    those of other files."""

    def line(problem: Problem) -> int:
        """A number to sort by: the line; behind all lines what is only counted, last what is in other files."""
        found = _LINE.match(problem.place)
        if problem.file != name:
            return 1 << 40
        return 1 << 39 if problem.count > 1 else int(found[1]) if found else 0

    return sorted(dict.fromkeys(problems), key=line)


def many(key: str) -> Any:
    """A validator of the key ``key`` that is an array of tables, for whom writes its header in single brackets."""

    def check(value: Any) -> Any:
        """The value; raises MisfitError for a single table, and for what is none."""
        if isinstance(value, dict):
            raise MisfitError(f"'{key}' is a single table", f"Write [[{key}]], in double brackets, above every one.")
        if not isinstance(value, list | tuple):
            raise MisfitError(
                f"'{key}' is no table", f"Write [[{key}]] on a line of its own, and below it what it has."
            )
        return value

    return check
