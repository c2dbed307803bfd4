"""The manual names every key, kind and option."""

import re
from pathlib import Path

import pytest

from eavesong.cli.limits import command
from eavesong.layout.kinds import GENERIC
from eavesong.layout.power import (
    ConductorEntry,
    FeedEntry,
    InjectionEntry,
    LeadEntry,
    PixelKind,
    PowerEntry,
    SupplyEntry,
)
from eavesong.within import limiter

MANUAL = (Path(__file__).parents[2] / "docs" / "limits.md").read_text()


@pytest.mark.parametrize(
    "model", [PowerEntry, PixelKind, SupplyEntry, FeedEntry, InjectionEntry, LeadEntry, ConductorEntry]
)
def test_every_key_is_named(model):
    assert set(model.model_fields) - {"name", "feed"} <= set(re.findall(r"\w+", MANUAL))


def test_every_kind_and_option_is_named():
    assert all(f'`"{kind}"`' in MANUAL for kind in GENERIC)
    assert all(option.opts[0] in MANUAL for option in command.params if option.param_type_name == "option")


def test_the_example_is_a_layout(house):
    example = re.search(r"```toml\n(\[power\].*?)```", MANUAL, re.DOTALL)[1]
    rest = """
[[prop]]
name = "porch post"
shape = "line"
to = [0, 2]
pixels = 20
repeat = { count = 3, step = [1, 0] }
[[controller]]
name = "porch box"
[[controller.output]]
number = 2
chain = ["porch post"]
"""
    assert len(house(f'title = "Example"\n{example}{rest}').power.supplies[0].feeds[0].points) == 2


def test_attack_hold_and_release_are_documented():
    text = " ".join(MANUAL.split())
    assert f"over {limiter.ATTACK:g} s *before*" in text
    assert f"stays for {limiter.HOLD:g} s (hold) and rises over {limiter.RELEASE:g} s" in text
