"""The layout file as a person would write it, with how sure every place is in a comment."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.errors import LayoutError, MisfitError, Problem, SurveyError
from eavesong.files import read_model, read_text
from eavesong.statements import place
from eavesong.survey.camera import turns_of
from eavesong.survey.hang import LEVEL, Placed, hang, metres_of
from eavesong.survey.keep import carried
from eavesong.survey.known import Floats
from eavesong.survey.read import Read
from eavesong.survey.solution import Solution
from eavesong.words import METRES

DECIMALS = {"m": 2, "cm": 0, "mm": 0, "ft": 2, "in": 1}
"""Digits after the point that a tape is read to."""


FRAME_STEP = {"m": 0.5, "cm": 50.0, "mm": 500.0, "ft": 1.0, "in": 12.0}
"""Of the file's units: what the corners of the frame are rounded to, outwards."""


def layout_text(read: Read, solution: Solution, keep: Path | None = None) -> str:
    """The layout file of a solved survey; SurveyError where it has no props, or their sizes clash.

    keep: a layout whose other tables, and other keys of the surveyed props, are carried over.
    """
    if not read.survey.prop:
        problem = Problem(str(read.path), "", "it has no prop, so there is nothing to lay out", "Add a [[prop]].")
        raise SurveyError(problem)
    placed = hang(read, solution)
    tables = _tables(read, placed)
    units = read.survey.units
    origin = solution.known.points[solution.known.origin]
    photos = ", ".join(photo.file for photo in read.survey.photo)
    head = [
        f"# Surveyed by eavesong from {_plain(photos)}. What follows ± holds in 19 of 20 cases.",
        f"# x: 0 is at '{_plain(origin)}'. y: 0 is the ground. z: 0 is the front.",
        "",
        f"title = {_text(read.survey.title)}",
    ]
    if units != "m":
        head.append(f'units = "{units}"')
    about = "# What the photo shows of the house, for pictures with the lights in it."
    props = ["\n" + _written(each, entry, units) for each, entry in zip(placed, tables, strict=True)]
    frame = _frame("\n".join([*head, *props]), units)
    if keep is not None:
        by_name = {each.prop.name: each for each in placed}
        return carried(
            read_text(keep, SurveyError), str(keep), units, {entry["name"]: entry for entry in tables},
            lambda name, entry: _written(by_name[name], entry, units), _photo(read, solution), frame,
        )  # fmt: skip
    return "\n".join([*head, "", about, *_photo(read, solution), "", frame, *props]) + "\n"


def _frame(text: str, units: str) -> str:
    """The box that patterns run across, round all lights and down to the ground, in whole steps of about a foot."""
    from eavesong.layout.build import build
    from eavesong.layout.faults import Faults
    from eavesong.layout.model import House
    from eavesong.layout.points import PointsReader

    layout = build(read_model(House, text, "the surveyed layout", LayoutError), PointsReader(Path()),
                   Faults("the surveyed layout", text))  # fmt: skip
    step, unit = FRAME_STEP[units], METRES[units]
    low = np.floor(layout.frame.origin / unit / step + 1e-6) * step
    high = np.ceil((layout.frame.origin + layout.frame.size) / unit / step - 1e-6) * step
    low[1] = min(low[1], 0.0)
    corners = (", ".join(f"{round(float(value), 2) + 0.0:g}" for value in corner) for corner in (low, high))
    ends = (f"{key} = [{corner}]" for key, corner in zip(("from", "to"), corners, strict=True))
    about = "# The box that patterns run across: with it, what stays keeps its look when lights are added."
    return "\n".join([about, "[frame]", *ends])


def _photo(read: Read, solution: Solution) -> list[str]:
    """The layout's table of the first photo: the file, and its camera as it was found."""
    lens, view, units = solution.lens(0), solution.known.views[0], read.survey.units
    camera = {
        "at": _numbers(lens.place, units), "turn": [round(float(np.degrees(each)), 2) for each in turns_of(lens.turn)],
        "focal": round(lens.focal / view.width, 4),
        "centre": [round(float(at / side), 4) for at, side in zip(lens.centre, (view.width, view.height), strict=True)],
        "bend": round(lens.k, 4),
    }  # fmt: skip
    return ["[photo]", f"file = {_text(read.survey.photo[0].file)}", f"camera = {_toml(camera)}"]


def entries(read: Read, solution: Solution) -> list[dict[str, Any]]:
    """The layout's tables of all props; SurveyError where their sizes clash."""
    return _tables(read, hang(read, solution))


def _tables(read: Read, placed: list[Placed]) -> list[dict[str, Any]]:
    tables = [_entry(each, read.survey.units) for each in placed]
    _check(read, tables)
    return tables


def _plain(text: str) -> str:
    return text.replace("\n", " ")


def _text(text: str) -> str:
    """A TOML basic string: JSON escapes the same characters."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _entry(placed: Placed, units: str) -> dict[str, Any]:
    """The prop as the layout's tables have it, numbers rounded."""
    prop = placed.prop
    entry: dict[str, Any] = {"name": prop.name, "shape": prop.shape}
    for key, value in placed.values.items():
        if key == "rotate":
            if turned := _turned(value, placed.gives["rotate"]):
                entry["rotate"] = turned
        elif key != "step":
            entry[key] = _numbers(value, units)
    for key, value in placed.kept.items():
        entry[key] = _tidy(metres_of(value, units), units)
    if prop.repeat:
        entry["repeat"] = {"count": prop.repeat.count, "step": _numbers(placed.values["step"], units)}
    if prop.tags:
        entry["tags"] = list(prop.tags)
    return entry


def _numbers(metres: Floats, units: str) -> Any:
    """Metres as numbers in the file's units: one alone, a place, or a list of places."""
    rounded = np.round(metres / METRES[units], DECIMALS[units]) + 0.0
    values = rounded.tolist()
    return values[0] if rounded.shape == (1,) else values


def _tidy(value: Any, units: str) -> Any:
    """Without the dust of changing units."""
    if isinstance(value, float):
        return float(np.round(value, DECIMALS[units] + 2))
    return [_tidy(each, units) for each in value] if isinstance(value, list) else value


def _turned(degrees: Floats, give: float) -> dict[str, float]:
    """Turns that are more than their own error or than 2 degrees."""
    return {
        axis: round(float(turn), 1)
        for axis, turn in zip("xyz", degrees, strict=True)
        if abs(turn) > min(give, LEVEL) and abs(turn) >= 0.05
    }


def _written(placed: Placed, entry: dict[str, Any], units: str) -> str:
    lines = ["[[prop]]"]
    for key, value in entry.items():
        give = placed.gives.get("step" if key == "repeat" else key)
        note = ""
        if give is not None and key not in ("rotate",) and give >= 0.0005:
            note = f"  # ± {told(give, units)}"
        lines.append(f"{key} = {_toml(value)}{note}")
    return "\n".join(lines)


def told(metres: float, units: str) -> str:
    """An error as people say it: ``3 cm``, ``1.2 m``; in feet and inches where the survey is."""
    if units in ("ft", "in"):
        inches = metres / METRES["in"]
        return (
            f"{metres / METRES['ft']:.1f} ft"
            if inches >= 36
            else f"{inches:.0f} in"
            if inches >= 2
            else f"{inches:.1f} in"
        )
    if metres >= 1:
        return f"{metres:.1f} m"
    return f"{metres * 100:.0f} cm" if metres >= 0.0095 else f"{metres * 100:.1f} cm"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(each) for each in value) + "]"
    return repr(value)


def _check(read: Read, tables: list[dict[str, Any]]) -> None:
    """Let the layout's own models look at every prop; SurveyError where they find a fault."""
    from pydantic import TypeAdapter, ValidationError

    from eavesong.layout.props import AnyProp, measured
    from eavesong.words import METRES

    adapter: TypeAdapter[Any] = TypeAdapter(AnyProp)
    problems = []
    for number, entry in enumerate(tables):
        try:
            measured(adapter.validate_python(entry), METRES[read.survey.units]).wire()
            continue
        except ValidationError as fault:
            told_of = [(str(each["loc"][-1]), *_told(each)) for each in fault.errors()]
        except MisfitError as fault:
            told_of = [("", fault.found, fault.instead)]
        for key, found, instead in told_of:
            where = place(read.text, ("prop", number, *([key] if key else [])))
            problems.append(Problem(str(read.path), where, f"as surveyed, {found[:1].lower()}{found[1:]}", instead))
    if problems:
        raise SurveyError(problems)


def _told(details: Any) -> tuple[str, str]:
    """What was found and what to write instead, of one of pydantic's errors."""
    fault = details.get("ctx", {}).get("error")
    return (fault.found, fault.instead) if isinstance(fault, MisfitError) else (details["msg"], "")
