"""What pages may say."""

import contextlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.watch.edits import Turned
from eavesong.watch.messages import Look, Misread, read_message

PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
JSON = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
)
KEYS = st.sampled_from(["do", "at", "blocks", "before", "knob", "value", "cue"])


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ('{"do": "look", "at": 3, "blocks": [3, 4], "before": false}', Look(3, (3, 4), False)),
        ('{"do": "look", "at": 3, "blocks": [], "before": true, "frame": 61}', Look(3, (), True, 61)),
        ('{"do": "turn", "cue": 0, "knob": "parameters.width", "value": 1}', Turned(0, "parameters.width", 1.0)),
        ('{"do": "turn", "cue": 2, "knob": "palette.0", "value": "#00ff00"}', Turned(2, "palette.0", "#00ff00")),
        ('{"do": "turn", "cue": 2, "knob": "palette", "value": "évening sky"}', Turned(2, "palette", "évening sky")),
        ('{"do": "keep"}', "keep"),
    ],
)
def test_what_pages_say(text, meant):
    assert read_message(text) == meant


@pytest.mark.parametrize(
    "text",
    [
        "", "[" * 15_000, "7", '{"do": "open", "path": "/etc/passwd"}',
        '{"do": "look", "at": 3, "blocks": [3], "before": 0}',
        '{"do": "look", "at": 3, "blocks": [3], "before": false, "frame": -2}',
        '{"do": "turn", "cue": 0, "knob": "song", "value": "#000000"}',
        '{"do": "turn", "cue": 0, "knob": "opacity", "value": NaN}',
        '{"do": "turn", "cue": 0, "knob": "palette", "value": ""}',
        '{"do": "turn", "cue": 0, "knob": "palette", "value": 3}',
        '{"do": "turn", "cue": 0, "knob": "palette", "value": "a\\nb"}',
        json.dumps({"do": "turn", "cue": 0, "knob": "palette", "value": "x" * 81}),
        '{"do": "turn", "cue": true, "knob": "opacity", "value": 1}',
        '{"do": "turn", "cue": 0, "knob": "opacity", "value": 1e400}',
        json.dumps({"do": "look", "at": 0, "blocks": list(range(65)), "before": False}),
    ],
)  # fmt: skip
def test_what_no_page_says(text):
    with pytest.raises(Misread):
        read_message(text)


@given(
    st.text(max_size=60)
    | JSON.map(json.dumps)
    | st.dictionaries(KEYS, JSON | st.sampled_from(["look", "turn"]), max_size=5).map(json.dumps)
)
def test_anything_is_either_understood_or_misread(text):
    with contextlib.suppress(Misread):
        assert isinstance(read_message(text), Look | Turned | str)
