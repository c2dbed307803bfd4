"""The examples in docs/show.md are shows, and its lists are complete."""

import re
from pathlib import Path

import pytest

from eavesong.palettes import BUILT_IN
from eavesong.show import BLENDS, Cue, load_show

TEXT = (Path(__file__).parents[2] / "docs" / "show.md").read_text()
EXAMPLES = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_can_be_read(example: str, tmp_path: Path) -> None:
    path = tmp_path / "example.show.toml"
    path.write_text(example)
    assert load_show(path).cues


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 5


@pytest.mark.parametrize("word", [*Cue.model_fields, *BLENDS, *BUILT_IN])
def test_every_key_blend_and_palette_is_described(word: str) -> None:
    assert f"`{word}`" in TEXT
