"""What a model finds wrong with a file's tables, as problems with their places and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from eavesong.errors import MisfitError, Problem, advise, nearest
from eavesong.meant import meant, of_tables, rest_meant, telling, without
from eavesong.statements import line_of, place
from eavesong.words import elsewhere

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError
    from pydantic_core import ErrorDetails

MOST_TOLD = 100
"""Problems of one file that are put into words one by one."""

MOST_MISFITS = 50_000
"""Values of one file that do not fit, beyond which they are only counted."""


def problems_of(
    fault: ValidationError, text: str, name: str, model: type[BaseModel], tables: dict[str, Any]
) -> list[Problem]:
    """All that does not fit ``model`` in the file ``name``, in its order; beyond MOST_TOLD problems, one counts them.

    fault: what pydantic says of the ``tables`` that were read from its ``text``.
    """
    if (count := fault.error_count()) > MOST_MISFITS:
        return [Problem(name, "", f"{count:,} values do not fit", "Name the right file.", count)]
    found = telling(_with_hidden(model, tables, fault.errors(include_url=False)), nearest)
    found.sort(key=lambda details: line_of(text, _path_in_file(details["loc"], tables)))
    problems = [_problem(details, text, name, model, tables) for details in found[:MOST_TOLD]]
    if more := len(found[MOST_TOLD:]):
        problems.append(Problem(name, "", f"{more:,} more problems follow", count=more))
    return list(dict.fromkeys(problems))


def _with_hidden(model: type[BaseModel], tables: dict[str, Any], found: list[ErrorDetails]) -> list[ErrorDetails]:
    """The misfits, and those of whole tables, which nobody looks for where a key of them does not fit."""
    from pydantic import ValidationError

    left, fresh = tables, found
    while fresh:
        fitting = (_path_in_file(each["loc"], tables) for each in fresh if not _is_entry(each))
        left, fresh = without(left, fitting), []
        try:
            model.model_validate(left)
        except ValidationError as fault:
            told = {(each["loc"], each["msg"]) for each in found}
            more = of_tables(fault.errors(include_url=False), found, nearest)
            fresh = [each for each in more if (each["loc"], each["msg"]) not in told]
            found = [*found, *fresh]
    return found


def _is_entry(details: ErrorDetails) -> bool:
    """Whether a whole table of an array of tables does not fit."""
    return bool(details["loc"]) and isinstance(details["loc"][-1], int) and isinstance(details["input"], dict)


def _problem(details: ErrorDetails, text: str, name: str, model: type[BaseModel], tables: dict[str, Any]) -> Problem:
    kind, location = details["type"], details["loc"]
    path = _path_in_file(location, tables)
    key = str(location[-1]) if location else ""
    if kind == "extra_forbidden":
        if len(location) > 1 and key in _keys_beside(model, ()):
            advice = "A key belongs to the [header] above it: move the line up, above the first [header] of the file."
            return Problem(name, place(text, path), f"'{key}' is no key of this table, but of the whole file", advice)
        instead = elsewhere(key) or advise(key, _keys_beside(model, location[:-1]), "key")
        return Problem(name, place(text, path), f"'{key}' is not a key here", instead)
    if kind == "union_tag_not_found":
        kind, key = "missing", details["ctx"]["discriminator"].strip("'")
        if isinstance(details["input"], dict) and (slip := nearest(key, details["input"])):
            return Problem(name, place(text, (*path, slip)), f"'{slip}' is not a key here", f"Did you mean '{key}'?")
    if details["type"] == "missing" and location and isinstance(location[-1], int):
        return Problem(name, place(text, path), *rest_meant(details["input"], location[-1]))
    if kind == "missing":
        parent = str(location[-2]) if len(location) > 1 else ""
        braces = re.search(rf"^\s*{re.escape(parent)}\s*=\s*\{{", text, re.MULTILINE) if parent else None
        advice = f"Write '{key} = …' inside the braces of '{parent}'." if braces else f"Add a line '{key} = …'."
        return Problem(name, place(text, path), f"'{key}' is missing", advice)
    if kind == "union_tag_invalid":
        key, wrong = details["ctx"]["discriminator"].strip("'"), details["ctx"]["tag"]
        tags = re.findall(r"'([^']*)'", details["ctx"]["expected_tags"])
        return Problem(name, place(text, (*path, key)), f"'{wrong:.60}' is no {key}", advise(wrong, tags, key))
    given = _as_written(details["input"])
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", details["ctx"]["expected"])
        advice = advise(details["input"], choices, "choice") if isinstance(details["input"], str) else ""
        advice = advice or f"Write one of {details['ctx']['expected']}."
        return Problem(name, place(text, path), f"{given} is not one of the choices", advice)
    fault = details.get("ctx", {}).get("error")
    if isinstance(fault, MisfitError):
        shown = f" (found {given})" if given and given not in fault.found else ""
        return Problem(name, place(text, path), fault.found + shown, fault.instead)
    units = str(tables.get("units", "m")) if "units" in model.model_fields else ""
    advice = meant(kind, details["input"], details.get("ctx", {}), units)
    return Problem(name, place(text, path), _told(details["msg"], kind, given), advice)


def _as_written(given: Any) -> str:
    """A value as it stands in a TOML file, shortened; empty for what is written as a table or an array."""
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, int) and given.bit_length() > 200:  # str() itself refuses the longest
        return "a number of more than 60 digits"
    if isinstance(given, str) and len(given) > 60:
        given = given[:59] + "…"
    return repr(given) if isinstance(given, str | int | float) else ""


_PLAINLY = (
    (" after validation", ""),
    ("Tuple should", "Array should"),
    ("List should", "Array should"),
    ("a valid list", "an array"),
    ("tuple", "array"),
    ("a valid integer", "a whole number"),
    ("a valid number", "a number"),
    ("a valid string", "text in quotes"),
    ("a valid boolean", "true or false"),
    ("a valid array", "an array"),
    ("greater than or equal to", "at least"),
    ("less than or equal to", "at most"),
)
"""Words of pydantic's messages, and those of TOML or of everyone."""


def _told(sentence: str, kind: str, given: str) -> str:
    """A pydantic message as a part of a sentence, with the value it is about."""
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        sentence = "Input should be a table"
    for theirs, plain in _PLAINLY:
        sentence = sentence.replace(theirs, plain)
    if sentence.startswith("Input should be "):
        return sentence.replace("Input should be ", "must be ") + (f", not {given}" if given else "")
    shown = f" (found {given})" if given else ""
    return f"{sentence[:1].lower()}{sentence[1:]}{shown}"


def _path_in_file(location: Sequence[str | int], tables: Any) -> tuple[str | int, ...]:
    """Drop from a pydantic location what does not stand in the file: union branches, keys that are missing."""
    path: list[str | int] = []
    here = tables
    for part in location:
        known = range(len(here)) if isinstance(here, list) else here if isinstance(here, dict) else ()
        if part in known:
            here = here[part]
            path.append(part)
    return tuple(path)


def _keys_beside(model: type[BaseModel], location: Sequence[str | int]) -> set[str]:
    """The keys that any model along ``location`` accepts at its end."""
    from pydantic import BaseModel as Base

    def models_in(annotation: Any) -> Iterator[type[Base]]:
        """The models that an annotation names, at any depth."""
        if isinstance(annotation, type) and issubclass(annotation, Base):
            yield annotation
        for inner in getattr(annotation, "__args__", ()):
            yield from models_in(inner)
        if hasattr(annotation, "__value__"):
            yield from models_in(annotation.__value__)

    def keys_of(some: type[Base]) -> dict[str, Any]:
        """The annotation of every key of a model, by the name that files use."""
        return {field.alias or key: field.annotation for key, field in some.model_fields.items()}

    level: list[type[Base]] = [model]
    for part in location:
        below = [inner for some in level for inner in models_in(keys_of(some).get(str(part)))]
        # A tagged union puts the tag ('arch') into the location: keep the models that carry it.
        tagged = [
            some
            for some in level
            if any(part in getattr(field.annotation, "__args__", ()) for field in some.model_fields.values())
        ]
        level = below or tagged or level
    return {key for some in level for key in keys_of(some)}
