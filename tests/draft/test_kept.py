"""Cues that stay: their own text, their colours, their place."""

import pytest

from eavesong.draft.kept import kept_cues
from eavesong.errors import ShowError

SHOW = """
[palettes]
dawn = ["#102040", { colour = "gold", at = 0.7 }]

# --- a heading ---

# mine, and it stays
[[cue]]
name = "Slow roof"   # with a remark
effect = "swell"
on = "roofline"
bars = [9, 17]
palette = "dawn"
keep = true

# theirs
[[cue]]
effect = "plain"

[[cue]]
effect = "knock"
keep = true
"""


def test_the_text_of_a_cue_stays_as_it_is_written(tmp_path):
    path = tmp_path / "old.show.toml"
    path.write_text(SHOW)
    first, second = kept_cues(path)
    assert first.lines[0] == "# mine, and it stays"
    assert first.lines[2] == 'name = "Slow roof"   # with a remark'
    assert 'palette = ["#102040", { colour = "gold", at = 0.7 }]' in first.lines
    assert (first.name, first.bar) == ("Slow roof", 9)
    assert second.lines == ("[[cue]]", 'effect = "knock"', "keep = true")
    assert (second.name, second.bar) == ("", None)


def test_a_show_that_cannot_be_read_says_why(tmp_path):
    path = tmp_path / "old.show.toml"
    path.write_text('[[cue]]\neffect = "swel"\nkeep = true\n')
    with pytest.raises(ShowError, match="Did you mean 'swell'"):
        kept_cues(path)
