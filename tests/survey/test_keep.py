"""What was added by hand outlives a second survey."""

import json

import pytest

from eavesong.errors import SurveyError
from eavesong.files import parse_toml
from eavesong.survey.keep import carried

OLD = """\
# a note
title = "House"
unlit = ["star"]

[photo]
file = "old.jpg"

[frame]
from = [0, 0, 0]
to = [9, 9, 9]

# the eaves
[[prop]]
name = "eaves"
shape = "line"
from = [0, 3]
to = [9, 3]   # measured
pixels = 90
rotate = { y = 3 }
tags = ["mine"]

[[prop]]
name = "by hand"
shape = "points"

[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["eaves"]
"""


def made(old: str = OLD, **entries):
    def written(name, entry):
        return "\n".join(["[[prop]]", *(f"{key} = {json.dumps(value)}" for key, value in entry.items())])

    text = carried(old, "house.toml", "m", entries, written, ["[photo]", 'file = "new.jpg"'], "[frame]\nfrom = [1]")
    return text, parse_toml(text, "house.toml", SurveyError)


def test_measures_are_new_and_the_rest_stays():
    text, tables = made(eaves={"name": "eaves", "shape": "line", "from": [0, 3.1], "pixels": 90, "tags": ["roofline"]})
    eaves, by_hand = tables["prop"]
    assert eaves["from"] == [0, 3.1]
    assert eaves["to"] == [9, 3]
    assert eaves["tags"] == ["mine", "roofline"]
    assert "rotate" not in eaves  # a turn within its own error is not written
    assert by_hand["name"] == "by hand"
    assert tables["photo"] == {"file": "new.jpg"}
    assert (tables["frame"]["to"], tables["unlit"]) == ([9, 9, 9], ["star"])
    assert tables["controller"] == [{"name": "box", "output": [{"number": 1, "chain": ["eaves"]}]}]
    assert "# a note" in text
    assert "# the eaves" in text


def test_a_new_prop_follows_the_others_and_a_frame_is_added_where_there_was_none():
    text = OLD.replace("[frame]\nfrom = [0, 0, 0]\nto = [9, 9, 9]\n", "")
    _, tables = made(text, ridge={"name": "ridge", "shape": "line"})
    assert [prop["name"] for prop in tables["prop"]] == ["eaves", "by hand", "ridge"]
    assert tables["frame"] == {"from": [1]}
    assert tables["controller"][0]["output"][0]["chain"] == ["eaves"]


def test_pixels_and_pitch_are_never_both_there():
    _, tables = made(eaves={"name": "eaves", "shape": "line", "pitch": 0.1})
    assert "pixels" not in tables["prop"][0]


def test_other_units_are_refused():
    with pytest.raises(SurveyError, match="it is in 'ft', and the survey in 'm'"):
        made(OLD.replace("unlit", 'units = "ft"\nunlit', 1))
