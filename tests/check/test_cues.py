"""What is said of one cue's words: the slip that was made, also where something else stands in."""

import pytest

from eavesong.check import check
from eavesong.scene import set_scene


def test_a_slip_is_named_also_where_something_stands_in(read, house, grid):
    """The house has 'arch', and its roofline stands in for the eaves."""
    show = read("[[cue]]\neffect = 'wash'\non = 'archs or verge'\n[[cue]]\neffect = 'wash'\n")
    (found,) = check(set_scene(show, house, grid)).findings
    assert found.found.startswith('no prop here matches "archs or verge"; lit is ')
    assert found.instead == "Did you mean 'arch' for 'archs'?"


@pytest.mark.parametrize(
    ("on", "meant"),
    [
        ("['archs', 'roofline']", "Did you mean 'arch'?"),
        ("['ridges', 'hedge', 'roofline']", "Did you mean 'ridge'?"),
        ("['archs', 'arch']", ""),  # both are written, and the second is taken
        ("['pond', 'roofline']", ""),  # a word of another house
        ("['eaves', 'roofline']", ""),
    ],
)
def test_a_slip_in_a_choice_that_was_passed_over_is_told(read, house, grid, on, meant):
    show = read(f"[[cue]]\neffect = 'wash'\non = {on}\n[[cue]]\neffect = 'wash'\n")
    found = check(set_scene(show, house, grid)).findings
    assert [each.instead for each in found] == ([meant] if meant else [])
    assert not meant or "was taken" in found[0].found


def test_and_where_or_is_meant_is_told(read, house, grid):
    """Nothing is a star and a cane at once, so that the whole house stands in."""
    show = read("[[cue]]\neffect = 'wash'\non = 'star and cane'\n")
    (found,) = check(set_scene(show, house, grid)).findings
    assert found.instead == "'and' is for props that are both at once; write 'star or cane' for either."


@pytest.mark.parametrize(
    ("on", "told"),
    [
        ("['window', 'opening', 'walls']", 0),  # as drafts write: the walls are what is asked for
        ("'walls'", 0),
        ("['window']", 1),
        ("['window', 'archs', 'walls']", 1),  # a slip is told all the same
    ],
)
def test_what_stands_in_is_not_told_where_the_cue_lists_it_itself(read, house, grid, on, told):
    """No window is on the house, nor anything tagged 'walls'; what hangs on its walls is lit."""
    show = read(f"[[cue]]\neffect = 'wash'\non = {on}\n[[cue]]\neffect = 'wash'\n")
    report = check(set_scene(show, house, grid))
    assert report.cues[0].selector == ("the walls" if "walls" in on else "the walls instead of window")
    assert len(report.findings) == told


@pytest.mark.parametrize(
    ("on", "meant"),
    [
        ("arch or garage arch", ""),  # what another house has
        ("arch or ridgge", "ridge"),
        ("arch or arch ridge", "arch or ridge"),
    ],
)
def test_of_words_beside_one_that_is_lit_slips_alone_are_told(read, house, grid, on, meant):
    show = read(f"[[cue]]\neffect = 'wash'\non = '{on}'\n[[cue]]\neffect = 'wash'\n")
    report = check(set_scene(show, house, grid))
    assert len(report.findings) == len(report.absent) + 2 * bool(meant) - 1 == bool(meant)


def test_of_a_name_in_two_words_the_one_that_is_known_is_offered(read, house, grid):
    show = read("[[cue]]\neffect = 'wash'\non = 'mega tree'\n[[cue]]\neffect = 'wash'\n")
    (found,) = check(set_scene(show, house, grid)).findings
    assert found.instead == "Did you mean 'tree'?"
