"""``eavesong schema``: what editors read."""

from __future__ import annotations

import json

import pytest


@pytest.mark.parametrize("kind", ["layout", "effect", "show"])
def test_schemas_are_json_schemas_of_objects(eavesong, kind: str) -> None:
    schema = json.loads(eavesong("schema", kind).out)
    assert schema["type"] == "object"
    assert schema["properties"]
    assert schema["additionalProperties"] is False
