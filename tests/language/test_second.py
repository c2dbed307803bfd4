"""Three implementations of one manual: the vectors, the evaluator written from the manual, and the compiler."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import second
import vectors
from eavesong.colours import parse_colour
from eavesong.files import shipped
from eavesong.language import Effect, effect_names, load_effect
from eavesong.language.builtins import FRAME_INPUTS, FUNCTIONS, PIXEL_INPUTS
from eavesong.language.evaluate import Surroundings, evaluate
from eavesong.layout import load_layout
from support import effect, light_compiled, surroundings, surroundings_on

CASES = {
    f"{group} {number}": case
    for group in vectors.GROUPS
    for number, case in enumerate(json.loads((vectors.FOLDER / f"{group}.json").read_text()))
}
CHANNELS = ("level", "red", "green", "blue")


def compiled(case: dict[str, Any]) -> tuple[Effect, Surroundings]:
    """The case's program as the compiler takes it, and what it reads."""
    given = case.get("parameters", {})
    lines = (
        f"{name} = {{ default = {'1' if isinstance(v, float) else chr(34) + 'red' + chr(34)} }}"
        for name, v in given.items()
    )
    tables = {"palette": np.array(second.palette(case.get("palette", vectors.DUSK)))}
    tables["spectrum"] = np.array([case.get("spectrum", [0.0] * 32)])
    flat = flattened(given)
    steps = {"step": case.get("along", {}), "across": case.get("across", {})}
    around = surroundings({name: [v] for name, v in case["frame"].items()}, case["pixel"], flat, **steps, **tables)
    return effect(case["code"], "\n".join(lines)), around


def flattened(parameters: dict[str, Any]) -> dict[str, float]:
    """Numbers by name; a colour's three by ``name.0`` to ``name.2``."""
    flat = {name: value for name, value in parameters.items() if not isinstance(value, list)}
    colours = ((name, value) for name, value in parameters.items() if isinstance(value, list))
    return flat | {f"{name}.{channel}": part for name, value in colours for channel, part in enumerate(value)}


def wanted(case: dict[str, Any]) -> np.ndarray:
    return np.array([case["outputs"][channel] for channel in CHANNELS])


@pytest.mark.parametrize("name", CASES)
def test_the_compilers_float64_gives_what_the_vectors_say(name: str) -> None:
    case = CASES[name]
    what, around = compiled(case)
    program = what.program
    values = evaluate(program.graph, program.outputs, around)
    count = wanted(case).shape[1]
    got = np.array([np.broadcast_to(values[node], (1, count))[0] for node in program.outputs])
    np.testing.assert_allclose(got, wanted(case), rtol=1e-11, atol=1e-11)


@pytest.mark.parametrize("group", ["numbers", "chance", "shapes", "events", "colours"])
def test_the_kernels_give_what_the_vectors_say(group: str) -> None:
    """The light that results: single precision, and polynomials right to about a millionth.

    Every other program, as each is compiled; `test_emit` compiles every function.
    """
    for name, case in list(CASES.items())[:: 1 if group == "numbers" else 2]:
        what, around = compiled(case)
        if name.startswith(group) and what.program.loop:
            level, *colour = np.clip(wanted(case), 0, 1)
            got = light_compiled(what, around)[:, 0]
            np.testing.assert_allclose(got, level * np.array(colour), rtol=0, atol=2e-5, err_msg=case["code"])


@pytest.mark.parametrize("group", vectors.GROUPS)
def test_the_vectors_are_what_the_evaluator_gives(group: str) -> None:
    made = json.loads(json.dumps([vectors.worked_out(each) for each in vectors.GROUPS[group]()]))
    kept = json.loads((vectors.FOLDER / f"{group}.json").read_text())
    assert [case["code"] for case in made] == [case["code"] for case in kept]
    for one, other in zip(made, kept, strict=True):
        np.testing.assert_allclose(wanted(one), wanted(other), rtol=1e-12, atol=1e-12)


def test_every_function_stands_in_a_vector() -> None:
    text = " ".join(case["code"] for case in CASES.values())
    assert [name for name in FUNCTIONS if f"{name}(" not in text] == []


@pytest.mark.parametrize("name", effect_names())
def test_shipped_effects_mean_the_same_to_the_evaluator(name: str) -> None:
    """At twelve pixels of a house, in a moment of a song, in float64."""
    house, what = load_layout(shipped("layouts") / "bungalow.toml"), load_effect(name)
    chance = np.random.default_rng(len(name))
    frame = {entry.name: chance.random() * (1 if entry.unit == "0..1" else 20) for entry in FRAME_INPUTS}
    parameters = {
        key: list(parse_colour(entry.default)) if isinstance(entry.default, str) else entry.default
        for key, entry in what.parameters.items()
    }
    palette, spectrum = second.palette(vectors.DUSK), chance.random(32)
    flat = flattened(parameters)
    moment = {key: [value] for key, value in frame.items()}
    tables = {"palette": np.array(palette), "spectrum": spectrum[None]}
    program = what.program
    values = evaluate(program.graph, program.outputs, surroundings_on(house, moment, parameters=flat, **tables))
    for at in chance.integers(0, house.pixel_count, 12):
        places = {entry.name: float(getattr(house.pixels, entry.name)[at]) for entry in PIXEL_INPUTS}
        steps = {"along": house.pixels.step, "across": house.pixels.across}
        given = {way: {key: float(row[at]) for key, row in rows.items()} for way, rows in steps.items()}
        given |= {"input": frame | places, "tables": {"palette": palette, "spectrum": spectrum.tolist()}}
        got = [np.broadcast_to(values[node], (1, house.pixel_count))[0, at] for node in program.outputs]
        np.testing.assert_allclose(got, second.run(what.code, parameters, given), rtol=1e-9, atol=1e-9)
