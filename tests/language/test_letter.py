"""What lies round the language, to the letter: light to bytes, fades and places, as the vectors have them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import vectors
from eavesong.layout import load_layout
from eavesong.light import LEVELS
from eavesong.music import BeatGrid
from eavesong.scene.timeline import envelope, spans_of
from eavesong.show.model import Cue
from support import effect, frames_of


def kept(name: str) -> list[dict[str, Any]]:
    cases: list[dict[str, Any]] = json.loads((vectors.FOLDER / f"{name}.json").read_text())
    return cases


@pytest.mark.parametrize("name", ["fades", "places"])
def test_the_vectors_are_what_the_evaluator_gives(name: str) -> None:
    for made, there in zip(json.loads(json.dumps(vectors.PLAIN[name]())), kept(name), strict=True):
        assert made.keys() == there.keys()
        for key in ("strength", "progress"):
            np.testing.assert_allclose(made.get(key, 0), there.get(key, 0), atol=1e-12)
        for key, row in there.get("pixels", {}).items():
            np.testing.assert_allclose(made["pixels"][key], row, atol=1e-12)


LAMP = """
title = "House"
[[prop]]
name = "lamp"
shape = "spot"
[[controller]]
name = "box"
[[controller.output]]
"""


def test_bytes(tmp_path: Path) -> None:
    assert LEVELS == 4096
    for given in kept("bytes"):
        path = tmp_path / "house.toml"
        drive = "\n".join(f"{key} = {json.dumps(given[key])}" for key in ("order", "brightness", "gamma"))
        path.write_text(f'{LAMP}number = 1\nchain = ["lamp"]\n{drive}\n')
        shown = bytes_of_a_pixel("level = 1\ncolour = linear_rgb(red, green, blue)", path, given["light"])
        assert shown == given["bytes"], given


def bytes_of_a_pixel(code: str, layout: Path, light: list[float]) -> list[int]:
    named = zip(("red", "green", "blue"), light, strict=True)
    parameters = "".join(f"{name} = {{ default = {value}, min = 0, max = 1 }}\n" for name, value in named)
    return frames_of(effect(code, parameters), load_layout(layout)).block(0, 1)[0].tolist()


def test_fades() -> None:
    for given in kept("fades"):
        beats = given["beats"]
        grid = BeatGrid(tuple(beats), tuple(n % 4 + 1 for n in range(len(beats))), (), beats[-1])
        cue = Cue(effect="wash", **given["cue"])
        found = envelope(spans_of(cue, grid), grid, given["seconds"])
        np.testing.assert_allclose(found.strength, given["strength"], atol=1e-9)
        np.testing.assert_allclose(found.progress, given["progress"], atol=1e-9)


@pytest.mark.parametrize("number", range(4))
def test_places(number: int, tmp_path: Path) -> None:
    given = kept("places")[number]
    (tmp_path / "house.toml").write_text(given["layout"])
    pixels = load_layout(tmp_path / "house.toml").pixels
    for key, row in given["pixels"].items():
        name, _, way = key.partition(" ")
        source = {"": pixels, "along": pixels.step, "across": pixels.across}[way]
        got = source[name] if way else getattr(source, name)
        np.testing.assert_allclose(got, row, atol=2e-7, err_msg=key)
