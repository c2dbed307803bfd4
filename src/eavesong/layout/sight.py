"""How a house is looked at: where somebody stands in the street, and what its photo shows.

Pictures need it; effects never see it, and it has nothing to do with the house frame.
"""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, Strict, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.layout.fields import Coordinate, FileBeside, Length, Place

EYE = 1.6
"""Metres above the ground: the eyes of a person who stands (common practice)."""


class StreetEntry(Entry):
    """Where pictures are seen from, if not from where all of the house is well seen."""

    height: Length | None = None
    """Of the eye above the ground; 1.6 m if not given."""
    distance: Length | None = None
    """From the lights on the walls to the eye."""
    aside: Coordinate = 0.0
    """How far to the right of the house's middle the eye is; negative to the left."""
    field: Annotated[float, Field(ge=5, le=120, allow_inf_nan=False)] | None = None
    """Degrees of the view from left to right; without it, as many as the house takes."""


Element = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]


class CornerEntry(Entry):
    """A point of the house that is seen in the photo."""

    at: Annotated[tuple[Element, Element], Strict(False)]
    """Picture elements to the right and down from the photo's upper left corner."""
    house: Place
    """Where it is."""


class CameraEntry(Entry):
    """The camera of a photo, as `eavesong survey` finds it."""

    at: Place
    """Where it stood."""
    turn: Annotated[tuple[Element, Element, Element], Strict(False)]
    """Degrees it was turned to the left, upwards, and rolled."""
    focal: Annotated[float, Field(ge=0.1, le=100, allow_inf_nan=False)]
    """Its focal length in widths of the photo."""
    centre: Annotated[tuple[Element, Element], Strict(False)] = (0.5, 0.5)
    """Where its axis meets the photo, as shares of width and height."""
    bend: Annotated[float, Field(ge=-2, le=2, allow_inf_nan=False)] = 0.0
    """The radial term of its lens."""


class PhotoEntry(Entry):
    """A picture of the house and where in it the house is."""

    file: FileBeside
    """The picture, beside the layout."""
    start: Place | None = Field(default=None, alias="from")
    """Where its lower left corner lies on the house, where it was taken or cropped straight from ahead."""
    end: Place | None = Field(default=None, alias="to")
    """Likewise its upper right corner."""
    corners: Annotated[tuple[CornerEntry, ...], Strict(False)] = Field(default=(), max_length=100)
    """Four points or more that can be pointed at in it, such as the corners of the front."""
    camera: CameraEntry | None = None
    """The camera that took it."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.start is None) != (self.end is None):
            raise MisfitError("'from' and 'to' belong together", "Write both, or neither.")
        ways = [bool(self.start), bool(self.corners), self.camera is not None]
        if sum(ways) > 1:
            raise MisfitError(
                "it says more than once where the house is", "Keep 'from' and 'to', 'corners', or 'camera'."
            )
        if self.start and self.end and not (self.start[0] < self.end[0] and self.start[1] < self.end[1]):
            raise MisfitError("'from' lies beyond 'to'", "Make 'from' the photo's lower left corner.")
        if 0 < len(self.corners) < 4:
            raise MisfitError(f"of {len(self.corners)} corners no camera can be told", "Give four or more.")
        return self


def named(value: Any) -> Any:
    """A file's name alone stands for { file = name }."""
    return {"file": value} if isinstance(value, str) else value
