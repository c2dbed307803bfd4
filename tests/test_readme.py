"""What the README shows is what the tool takes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from eavesong.language import parse_effect
from eavesong.layout import load_layout
from eavesong.show import load_show

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.DOTALL)


def block(kind: str, having: str) -> str:
    (found,) = [text for language, text in BLOCKS if language == kind and having in text]
    return found


def test_the_effect_is_one() -> None:
    effect = parse_effect(block("toml", "code ="), "sweep", "README.md")
    assert set(effect.parameters) == {"beats", "angle", "width"}


def test_the_prop_is_six_arches(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text('title = "House"\n' + block("toml", "[[prop]]"))
    layout = load_layout(tmp_path / "house.toml")
    assert [prop.name for prop in layout.props] == [f"arch {number}" for number in range(1, 7)]
    assert layout.pixel_count == 300


def test_the_show_is_one(tmp_path: Path) -> None:
    (tmp_path / "street.show.toml").write_text(block("toml", "[[cue]]"))
    show = load_show(tmp_path / "street.show.toml")
    assert show.cues[0].on == ("path or arch", "ground")


def test_the_python_is_what_the_library_offers() -> None:
    source = block("python", "render(")
    assert "from eavesong.render import Order, render" in source
    compile(source, "README.md", "exec")


def test_the_test_command_is_the_one_that_ci_runs() -> None:
    commands = block("sh", "pytest").strip()
    assert commands in (ROOT / ".ci" / "run").read_text()


@pytest.mark.parametrize("link", re.findall(r"\]\(([^)#:]+)\)", README))
def test_links_lead_somewhere(link: str) -> None:
    assert (ROOT / link).exists()
