"""What a line of code costs, on effects whose loops can be counted by hand."""

import pytest

from eavesong.language import effect_names, load_effect
from eavesong.watch.costs import costs
from support import effect


def test_only_what_changes_with_place_and_time_has_a_share():
    """``a`` depends on time alone, ``b`` on place alone; both together stand in the loop."""
    told = costs(effect("a = sin(t)\nb = cos(x)\nlevel = a * b\ncolour = linear_rgb(1, 1, 1)"))
    lines = {line["text"].split(" = ")[0]: line for line in told["lines"] if line["text"]}
    assert [lines[name]["when"] for name in ("a", "b", "level")] == [
        "once a frame", "once a pixel", "for every pixel of every frame",
    ]  # fmt: skip
    assert (lines["a"]["share"], lines["b"]["share"], lines["level"]["share"]) == (0, 0, 1)


@pytest.mark.parametrize("name", effect_names())
def test_shares_add_up_to_the_loop_at_most(name):
    told = costs(load_effect(name))
    assert sum(line["share"] for line in told["lines"]) <= 1.01
    assert "\n".join(line["text"] for line in told["lines"]) == load_effect(name).code.strip("\n")
