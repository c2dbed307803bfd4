"""An invented house, songs of even beats, two small effects, and shows written for them."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.language import Effect, parse_effect
from eavesong.layout import Layout, load_layout
from eavesong.music import BeatGrid, Section
from eavesong.show import Show, load_show

HOUSE = """
title = "Test house"
units = "m"

[frame]
from = [0, 0, 0]
to = [10, 5, 5]

[[prop]]
name = "ridge"
shape = "line"
from = [0, 5, 0]
to = [10, 5, 0]
pixels = 100
tags = ["roofline", "upper"]

[[prop]]
name = "eaves"
shape = "line"
from = [0, 3, 1]
to = [10, 3, 1]
pixels = 100
tags = ["roofline"]

[[prop]]
name = "arch"
shape = "line"
from = [0, 0, 0]
to = [1, 0, 0]
at = [1, 0, 4]
pixels = 20
tags = ["path"]
repeat = { count = 3, step = [3, 0, 0] }

[[prop]]
name = "old oak"
shape = "line"
from = [9, 0, 3]
to = [9, 4, 3]
pixels = 40
tags = ["tree"]
"""

GLOW = """
title = "Glow"
about = "One colour, everywhere."
code = '''
level = strength
colour = tint
'''
[parameters]
strength = { default = 1, min = 0, max = 1, about = "how bright" }
tint = { default = "gold", about = "which colour" }
"""

WASH = """
title = "Wash"
about = "The palette laid across the house, moving."
code = '''
level = 1
colour = palette(fract(x + beat / beats))
'''
[parameters]
beats = { default = 4, min = 0.25, max = 64, unit = "beats" }
"""

EFFECTS = {"glow": GLOW, "wash": WASH}


def load_effect(name: str, beside: Path) -> Effect:
    """Like the language's own, for the two effects above."""
    return parse_effect(EFFECTS[name], name, f"{name}.toml")


def even_grid(bpm: float = 120.0, bars: int = 16, first: float = 0.0, pickup: int = 0) -> BeatGrid:
    """A song of four-beat bars at one tempo: half verse, half chorus, chorus last."""
    beat = 60.0 / bpm
    count = 4 * bars + pickup
    times = tuple(first + index * beat for index in range(count))
    positions = tuple((index - pickup) % 4 + 1 for index in range(count))
    end = first + count * beat
    middle = first + (pickup + 2 * bars) * beat
    return BeatGrid(times, positions, (Section(0.0, middle, "verse"), Section(middle, end, "Chorus")), end)


@pytest.fixture
def grid() -> BeatGrid:
    """Sixteen bars at 120 beats a minute from second 0: a bar lasts two seconds, the song 32."""
    return even_grid()


@pytest.fixture(scope="session")
def grid_at() -> Callable[..., BeatGrid]:
    """Makes even grids."""
    return even_grid


@pytest.fixture
def house_text() -> str:
    """The layout file of the test house."""
    return HOUSE


@pytest.fixture
def wash_text() -> str:
    """An effect file with a palette."""
    return WASH


@pytest.fixture
def house(tmp_path: Path) -> Layout:
    """Two rooflines of 100 pixels, three arches of 20, one tree of 40."""
    path = tmp_path / "house.toml"
    path.write_text(HOUSE)
    return load_layout(path)


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], Show]:
    """Writes a text as ``test.show.toml`` and reads it as a show."""

    def from_text(text: str) -> Show:
        path = tmp_path / "test.show.toml"
        path.write_text(text)
        return load_show(path, load=load_effect, names=EFFECTS)

    return from_text
