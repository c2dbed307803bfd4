"""What a prop may be called: by what it is, and where it hangs. What is told of it is tried in ``test_report``."""

import pytest

from eavesong.retarget.advice import _may_be
from eavesong.scene.roles import wider


@pytest.mark.parametrize(
    ("role", "tag", "may"),
    [
        ("cane", "arch", True),  # both stand on a path
        ("cane", "path", True),
        ("cane", "door", False),
        ("cane", "tree", False),  # what another shape is called by
        ("star", "roofline", False),
        ("ball", "wreath", False),  # a kind of ring
        ("ring", "wreath", True),
        ("", "roofline", True),
        ("", "door", False),
        ("", "star", False),
        ("", "upper", True),
        ("cane", "left", True),
    ],
)
def test_a_tag_that_a_prop_may_bear(role: str, tag: str, may: bool) -> None:
    assert _may_be(tag, {*wider(role)}) == may
