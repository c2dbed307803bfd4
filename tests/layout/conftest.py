"""A layout from the text of its file, as the tests write it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.layout import Layout, load_layout


@pytest.fixture
def layout_of(tmp_path: Path) -> Callable[[str], Layout]:
    """Write the text to ``house.toml`` (with a title where it has none) and load it."""

    def load(text: str) -> Layout:
        path = tmp_path / "house.toml"
        path.write_text(text if "title" in text else f'title = "A house"\n{text}')
        return load_layout(path)

    return load
