"""Effect files: what a pattern is, with its parameters, independent of any house and any song."""

from __future__ import annotations

import keyword
import re
import sys
from collections.abc import Callable, Mapping
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from eavesong.colours import parse_colour
from eavesong.errors import EffectError, MisfitError, Problem, advise, nearest
from eavesong.files import parse_toml, plain_text, read_model, read_text, shipped
from eavesong.kernels.exact import LARGEST
from eavesong.language.builtins import FUNCTIONS, INPUTS, NAMED_NUMBERS, Kind
from eavesong.language.check import check
from eavesong.language.graph import TooLargeError
from eavesong.language.lower import lower
from eavesong.language.parse import CodeError, parse
from eavesong.language.program import Program, hoist
from eavesong.language.ranges import Range
from eavesong.statements import place
from eavesong.words import number_meant

MOST_PLANES = 64
"""Values that are kept for every pixel of a house, at most."""

LARGEST_LOOP = 600
"""Weight of the largest inner loop that is compiled, in units of about four machine operations a pixel."""

MOST_PARAMETERS = 32


def _a_number(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise MisfitError("this is not a number", "Write a number without quotes.")
    if not abs(value) <= sys.float_info.max:  # a whole number may be too large to become a float
        raise MisfitError("this is not a finite number", "Write an ordinary number.")
    return float(value)


def _number_or_colour(value: Any) -> Any:
    if isinstance(value, str):
        parse_colour(value)
        return value
    return _a_number(value)


FiniteNumber = Annotated[float, BeforeValidator(_a_number)]


class Parameter(BaseModel):
    """A number (or a colour) that a cue can set."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    default: Annotated[float | str, BeforeValidator(_number_or_colour)]
    min: FiniteNumber | None = None
    max: FiniteNumber | None = None
    unit: Annotated[str, Field(max_length=40), AfterValidator(plain_text)] = ""
    about: Annotated[str, Field(max_length=400), AfterValidator(plain_text)] = ""

    @property
    def kind(self) -> Kind:
        """``colour`` where the default is a CSS colour, else ``number``."""
        return "colour" if isinstance(self.default, str) else "number"

    @model_validator(mode="after")
    def _in_range(self) -> Parameter:
        if self.kind == "colour":
            if self.min is not None or self.max is not None:
                raise MisfitError("a colour has no min or max", "Delete them.")
            return self
        if self.min is not None and self.max is not None and self.min > self.max:
            raise MisfitError("min is above max", "Exchange them.")
        if problem := self.misfit(self.default):
            raise MisfitError(f"the default {problem}", "Choose a default inside the range.")
        return self

    def misfit(self, value: float | str) -> str:
        """What is wrong with a number as a value of this parameter: ``is below the least, 0.1``; else empty."""
        if isinstance(value, str):
            return ""
        if self.min is not None and value < self.min:
            return f"is below the least, {self.min:g}"
        if self.max is not None and value > self.max:
            return f"is above the most, {self.max:g}"
        return ""


class _EffectFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    title: Annotated[str, Field(min_length=1, max_length=80), AfterValidator(plain_text)]
    about: Annotated[str, Field(min_length=1, max_length=600), AfterValidator(plain_text)]
    parameters: dict[str, Parameter] = Field(default={}, max_length=MOST_PARAMETERS)
    code: str


class Effect(BaseModel):
    """A checked effect. Equal effects have equal names, parameters and code."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    title: str
    about: str
    parameters: dict[str, Parameter]
    code: str
    text: str
    """The file's own text."""

    @cached_property
    def program(self) -> Program:
        """The effect as a program, cut by rate."""
        return self.program_moving(frozenset())

    def program_moving(self, moving: frozenset[str]) -> Program:
        """The program for a cue in which the parameters ``moving`` change from frame to frame."""
        kinds = {name: parameter.kind for name, parameter in self.parameters.items()}
        assignments = parse(self.code)
        check(assignments, kinds)
        named = frozenset(
            part
            for name in moving
            for part in ([name] if kinds[name] == "number" else [f"{name}.{channel}" for channel in range(3)])
        )
        graph, outputs = lower(assignments, kinds, self._bounds(), named)
        return hoist(graph, outputs)

    def _bounds(self) -> dict[str, Range]:
        """Between which numbers a cue can set each parameter."""
        bounds: dict[str, Range] = {}
        for name, parameter in self.parameters.items():
            if parameter.kind == "colour":
                bounds |= {f"{name}.{channel}": (0.0, 1.0) for channel in range(3)}
            else:
                ends = (
                    (-LARGEST if parameter.min is None else parameter.min),
                    (LARGEST if parameter.max is None else parameter.max),
                )
                bounds[name] = ends
        return bounds

    def misfit_of_moving(self, moving: frozenset[str]) -> MisfitError | None:
        """What stands against changing the parameters ``moving`` from frame to frame: a loop that is too large."""
        found = _too_much(lambda: self.program_moving(moving))
        return MisfitError(f"a ramp here: {found[0]}", "Write one value, or split the effect.") if found else None

    def misfits(self, values: Mapping[str, Any]) -> list[tuple[str, str, str]]:
        """All that is wrong with ``values`` as parameters: (name, found, instead)."""
        wrong = []
        for name, value in values.items():
            parameter = self.parameters.get(name)
            if parameter is None:
                found = f"the effect '{self.name}' has no parameter '{name}'"
                wrong.append((name, found, advise(name, self.parameters, "parameter")))
                continue
            if isinstance(value, str) and parameter.kind == "number":
                advice = number_meant(value) or _range_advice(parameter)
                wrong.append((name, f"'{name}' is a number, not the text '{value:.40}'", advice))
                continue
            try:
                checked = _number_or_colour(value)
            except MisfitError as fault:
                wrong.append((name, fault.found, fault.instead))
                continue
            if isinstance(checked, str) != (parameter.kind == "colour"):
                wrong.append((name, f"'{name}' is a {parameter.kind}", f"Write a {parameter.kind}."))
            elif problem := parameter.misfit(checked):
                wrong.append((name, f"{checked:g} {problem}", _range_advice(parameter)))
        return wrong


def _range_advice(parameter: Parameter) -> str:
    low = "" if parameter.min is None else f"from {parameter.min:g} "
    high = "" if parameter.max is None else f"up to {parameter.max:g} "
    return f"Write a number {low}{high}{parameter.unit}".strip() + "."


@lru_cache(maxsize=256)  # a season's songs have most of their effects in common
def parse_effect(text: str, name: str, path: str) -> Effect:
    """The effect written in ``text``; EffectError with all problems of the file, those of its code included."""
    tables = parse_toml(text, path, EffectError)
    _lift_code(tables)
    file = read_model(_EffectFile, text, path, EffectError, tables)
    problems = [
        Problem(path, place(text, ("parameters", key)), found, instead)
        for key in file.parameters
        for found, instead in _misnamed(key)
    ]
    effect = Effect(
        name=name, title=file.title, about=file.about, parameters=file.parameters, code=file.code, text=text
    )
    try:
        if not problems:
            problems += _limits(effect, path)
    except CodeError as fault:
        problems += [_code_problem(text, path, *problem) for problem in fault.problems]
    if problems:
        raise EffectError(problems)
    return effect


def _misnamed(key: str) -> list[tuple[str, str]]:
    """What is wrong with a parameter's name, as (found, instead)."""
    plain = key.isidentifier() and key.isascii() and not key.startswith("_") and "__" not in key
    if not plain or keyword.iskeyword(key):
        return [(f"'{key}' cannot be a parameter's name", "Use plain letters.")]
    taken = "an input" if key in INPUTS else "a function" if key in FUNCTIONS else "a named number"
    if key in INPUTS or key in FUNCTIONS or key in NAMED_NUMBERS:
        return [(f"'{key}' is already {taken}", "Choose another name.")]
    return []


def effect_schema() -> dict[str, Any]:
    """The JSON Schema of effect files, for editors."""
    return _EffectFile.model_json_schema()


def _lift_code(tables: dict[str, Any]) -> None:
    """Code that stands last in a file, below ``[parameters]``, belongs to that table in TOML; it means the effect's."""
    parameters = tables.get("parameters")
    if isinstance(parameters, dict) and isinstance(parameters.get("code"), str):
        tables.setdefault("code", parameters.pop("code"))


def _limits(effect: Effect, path: str) -> list[Problem]:
    found = _too_much(lambda: effect.program)
    return [Problem(path, "code", *found)] if found else []


def _too_much(program_of: Callable[[], Program]) -> tuple[str, str] | None:
    """What is too much in a program, and what to write instead; None where it can be compiled."""
    advice = "Use fewer noise() and pow() of values that change with both place and time, or split the effect."
    try:
        program = program_of()
    except TooLargeError:
        return "the code becomes too large to be compiled", (
            "Put fewer band() and fwidth() inside each other, or split the effect."
        )
    if (share := program.weight / LARGEST_LOOP) > 1:
        return f"the code is {share:.1f} times as large as may be compiled", advice
    if (kept := len(program.planes)) > MOST_PLANES:
        found = f"the code needs {kept} values at every pixel that only place decides, more than {MOST_PLANES}"
        return found, "Bring fewer of them together with time, or split the effect."
    return None


def _code_problem(text: str, path: str, line: int, column: int, found: str, instead: str) -> Problem:
    """A problem in the code, placed in the file: the code's first line stands below its key where it is a block."""
    places = (place(text, key) for key in (("code",), ("parameters", "code")))
    start = next((int(line_of[1]) for where in places if (line_of := re.match(r"line (\d+)", where))), 1)
    opened = text.split("\n")[start - 1].partition("=")[2].strip()
    if opened[:3] not in ('"""', "'''"):
        # The code stands on one line, whatever line breaks it spells out.
        return Problem(path, f"line {start}, code, line {line}, column {column}", found, instead)
    first = start + (opened in ('"""', "'''"))
    return Problem(path, f"line {first + line - 1}, column {column}", found, instead)


@cache
def effect_names() -> tuple[str, ...]:
    """Names of the effects that come with eavesong, in order."""
    return tuple(sorted(path.stem for path in shipped("effects").glob("*.toml")))


def effect_advice(name: str) -> str:
    """What to write instead of ``name``, which is no effect: the nearest name if it is near, else those whose
    descriptions have the word, else where all are told."""
    names = effect_names()
    if close := nearest(name, names, 0.75):
        return f"Did you mean '{close}'?"
    word = re.compile(rf"\b{re.escape(name.lower())}", re.IGNORECASE)
    told = [each for each in names if word.search(load_effect(each).about)] if len(name) > 2 else []
    some = f"Perhaps {', '.join(told[:6])}. " if told else ""
    return f"{some}'eavesong effects' lists all {len(names)} and says what each does."


def load_effect(name: str, beside: Path | None = None) -> Effect:
    """The effect that comes with eavesong under ``name`` or, where the name ends in ``.toml``, the file.

    A file is looked for in the folder ``beside`` and below, never outside it. EffectError when there is none or
    it has problems.
    """
    if name.endswith(".toml"):
        folder = (beside or Path()).resolve()
        path = (folder / name).resolve()
        if not path.is_relative_to(folder) and beside is not None:
            raise EffectError(
                Problem(name, "", "this effect lies outside the show's folder", "Copy it beside the show.")
            )
        return parse_effect(read_text(path, EffectError), path.stem, str(path))
    path = shipped("effects") / f"{name}.toml"
    if name not in effect_names():
        raise EffectError(Problem(name, "", "there is no such effect", effect_advice(name)))
    return parse_effect(read_text(path, EffectError), name, str(path))
