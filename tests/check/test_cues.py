"""What is said of one cue's words: the slip that was made, also where something else stands in."""

from eavesong.check import check
from eavesong.scene import set_scene


def test_a_slip_is_named_also_where_something_stands_in(read, house, grid):
    """The house has 'arch', and its roofline stands in for the eaves."""
    show = read("[[cue]]\neffect = 'wash'\non = 'archs or verge'\n[[cue]]\neffect = 'wash'\n")
    (found,) = check(set_scene(show, house, grid)).findings
    assert found.found.startswith('no prop here matches "archs or verge"; lit is ')
    assert found.instead == "Did you mean 'arch' for 'archs'?"
