"""What a report takes for granted lies within what can be meant."""

import pytest

from eavesong.errors import LayoutError
from eavesong.layout.view import NEAREST_EYE
from eavesong.limits.assumptions import CAUTIONS, Assumptions


def test_the_usual_ones_fit_their_own_ranges() -> None:
    assert Assumptions() == Assumptions(distance=None)


@pytest.mark.parametrize(
    ("name", "value"),
    [("share", 1.5), ("hours", 25.0), ("nights", -1.0), ("frame_rate", 0.0), ("distance", NEAREST_EYE / 2),
     ("supply_share", 0.0), ("slack", float("nan"))],
)  # fmt: skip
def test_what_cannot_be_is_told_with_what_can(name: str, value: float) -> None:
    with pytest.raises(LayoutError) as caught:
        Assumptions(**{name: value})
    (problem,) = caught.value.problems
    assert problem.place == name
    assert problem.instead.startswith("Write ")


def test_a_share_in_per_cent_is_told_as_a_share() -> None:
    with pytest.raises(LayoutError, match=r"Write 0\.35 for 35 %\."):
        Assumptions(supply_share=35.0)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(LayoutError) as caught:
        Assumptions(share=2.0, hours=30.0, spares=9.0)
    assert [problem.place for problem in caught.value.problems] == ["share", "hours", "spares"]


def test_the_usual_cautions_are_given() -> None:
    told = " ".join(CAUTIONS)
    assert all(word in told for word in ("licensed", "Local codes", "ladder", "Fuse", "residual-current"))
