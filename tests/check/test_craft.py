"""The show that docs/craft.md builds up: after every step it is a show, and nothing of it goes dark unasked."""

import re
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.files import shipped
from eavesong.layout import load_layout
from eavesong.music import BeatGrid, Section
from eavesong.scene import set_scene
from eavesong.show import load_show

PAGE = Path(__file__).parents[2] / "docs" / "craft.md"
TEXT = PAGE.read_text(encoding="utf-8")
STEPS = re.findall(r"^```toml\n(.*?)^```", TEXT, flags=re.DOTALL | re.MULTILINE)
PARTS = (
    ("intro", 1, 5),
    ("verse", 5, 13),
    ("chorus", 13, 21),
    ("bridge", 21, 25),
    ("chorus", 25, 29),
    ("outro", 29, 33),
)
"""As the page's table has them: bars, the end not included."""


def song() -> BeatGrid:
    """Two seconds a bar of four."""
    times = tuple(0.5 * beat for beat in range(128))
    sections = tuple(Section(2.0 * (first - 1), 2.0 * (end - 1), label) for label, first, end in PARTS)
    return BeatGrid(times, tuple(beat % 4 + 1 for beat in range(128)), sections, 64.0)


@pytest.mark.parametrize("count", range(1, len(STEPS) + 1))
def test_every_step_is_a_show(tmp_path: Path, count: int) -> None:
    (tmp_path / "proud.show.toml").write_text("\n".join(STEPS[:count]))
    load_show(tmp_path / "proud.show.toml")


def test_the_whole_show_lights_what_it_says_on_its_house(tmp_path: Path) -> None:
    (tmp_path / "proud.show.toml").write_text("\n".join(STEPS))
    show = load_show(tmp_path / "proud.show.toml")
    layout = load_layout(shipped("layouts") / "two-storey-2026.toml")
    report = check(set_scene(show, layout, song()))
    assert len(report.cues) == 20  # as the page says
    assert all(cue.pixels for cue in report.cues)
    assert not {"dark", "stand-in"} & set(report.weights)
    assert report.dark_times == ()


def test_every_picture_is_there() -> None:
    named = re.findall(r"\]\((pictures/[^)]*)\)", TEXT)
    assert len(named) == len(STEPS) + 1
    for name in named:
        assert (PAGE.parent / name).is_file(), name
