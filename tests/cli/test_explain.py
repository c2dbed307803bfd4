"""``eavesong explain``: what an effect becomes, down to machine code."""

from __future__ import annotations


def test_explain_shows_what_is_computed_when(eavesong) -> None:
    ended = eavesong("explain", "crossing")
    assert "Once per frame (float64)" in ended.out
    assert "def kernel(" in ended.out


def test_the_machine_code_of_an_effect_can_be_read(eavesong) -> None:
    assert "ret" in eavesong("explain", "plain", "--assembly").out
