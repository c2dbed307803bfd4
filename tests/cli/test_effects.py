"""``eavesong effects``: what there is, and what can be set."""

from __future__ import annotations

from eavesong.language import effect_names, load_effect


def test_effects_are_listed_and_described(eavesong) -> None:
    listed = eavesong("effects").out
    for name in effect_names():
        assert f"\n{name} " in f"\n{listed}"
    described = eavesong("effects", "crossing").out
    effect = load_effect("crossing")
    assert effect.title in described
    assert all(f"  {name}" in described for name in effect.parameters)
    assert effect.code.strip().splitlines()[0] in described


def test_the_language_is_listed(eavesong) -> None:
    ended = eavesong("effects", "--functions")
    assert "noise(x[, y[, z]])" in ended.out
    assert "beats since the first downbeat" in ended.out
