"""What is known of a house before anything is solved: views, clicks, walls, lines and measures, as arrays.

House axes: x to the right along the front, y upwards, z towards the street; metres. The front is the plane z = 0,
the ground lies at y = 0, and the first point (or the one named as origin) has x = 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

FLAT = 1e-3
"""Metres a wall is taken to be flat to, and a line straight, level or upright to, unless the survey says otherwise."""

TAPE = 0.01
"""Metres a measure is off by, typically (one standard deviation), unless the survey says otherwise."""

CLICK = 1 / 2000
"""What a click is off by, as a share of the photo's longer side: 2 in 4,000 picture elements."""

LEAST_CLICK = 0.5
"""Picture elements a click is off by at least."""

UNKNOWN_FOCAL = 27.0
"""Millimetres of a focal length nobody has told, 35 mm equivalent: in the middle of phones' 24 to 35 mm and what
else is used on houses."""

UNKNOWN_FOCAL_SPREAD = 0.4
"""Its standard deviation as a share: wide enough for 40 to 100 degrees of view."""

TOLD_FOCAL_SPREAD = 0.03
"""Standard deviation, as a share, of a focal length that the photo or the survey tells."""

LENS = 0.1
"""Standard deviation of the radial term k1 round 0; phones straighten their pictures (common practice)."""

FILM_DIAGONAL = 43.2666
"""Millimetres: the diagonal of 36 x 24 mm, to which 35 mm equivalents refer (CIPA DCG-001-2005)."""


@dataclass(frozen=True)
class PhotoView:
    """A photo as a camera: its size and what is known of its lens."""

    name: str
    width: int
    height: int
    focal: float
    """Picture elements; the middle of what is expected."""
    focal_spread: float
    """Standard deviation of its logarithm."""
    centre_spread: float = 0.0
    """Standard deviation of the optical centre round the picture's, in picture elements; 0 where they are one."""

    @property
    def focal_told(self) -> bool:
        """Whether the focal length came with the photo."""
        return self.focal_spread <= 0.1


def focal_in_pixels(millimetres: float, width: float, height: float) -> float:
    """Picture elements of a 35 mm equivalent focal length, by the diagonal (CIPA DCG-001-2005)."""
    return float(millimetres / FILM_DIAGONAL * np.hypot(width, height))


UPRIGHT = np.pi / 2


@dataclass(frozen=True)
class Wall:
    """A plane. Its normal has a heading, counter-clockwise from the street side seen from above, and a pitch."""

    name: str
    heading: float | None = 0.0
    """Radians; None is unknown."""
    pitch: float | None = UPRIGHT
    """Radians from level: 0 the ground, a right angle a wall; None is an unknown slope of a roof."""
    offset: float | None = None
    """Metres from the origin along the normal, where that is known for certain."""
    like: int | None = None
    """The wall whose heading it shares."""
    set_back: tuple[float, float] | None = None
    """Metres behind the wall that it is like, and their standard deviation."""
    flat: float = FLAT
    """Metres it is flat to."""
    tilted: bool = False
    """A ground whose slope is to be found; heading and pitch are then its rise to the right and to the street."""


@dataclass(frozen=True, eq=False)
class Known:
    """Everything that is known, with standard deviations. Points, views and walls are numbered from 0."""

    views: tuple[PhotoView, ...]
    points: tuple[str, ...]
    walls: tuple[Wall, ...]
    click_view: Indices
    """(c,)"""
    click_point: Indices
    """(c,)"""
    clicks: Floats
    """(c, 2) picture elements to the right and down from the photo's upper left corner."""
    click_give: Floats
    """(c,) picture elements."""
    on: Indices
    """(k, 2): point and wall it lies on."""
    same: Indices
    """(s, 3): two points and the axis along which they have the same place."""
    along: Indices
    """(l, 4): two pairs of points whose lines are parallel."""
    measure_ends: Indices
    """(m, 2): the points a measure goes between."""
    lengths: Floats
    """(m,) metres."""
    measure_give: Floats
    """(m,) metres."""
    origin: int = 0
    """The point whose x is 0."""
    hold: tuple[int, ...] = (0,)
    """Axes along which the origin is 0: always x; y where no point lies on the ground."""

    def without(self, kind: str, which: list[int]) -> Known:
        """The same without some ``measures``, ``clicks``, statements ``on`` walls, or ``same`` or ``along`` lines."""
        from dataclasses import replace

        fields = FIELDS_OF[kind]
        return replace(self, **{name: np.delete(getattr(self, name), which, axis=0) for name in fields})

    def with_measures(self, ends: Indices, lengths: Floats, give: Floats) -> Known:
        """The same with more measures."""
        from dataclasses import replace

        return replace(
            self,
            measure_ends=np.concatenate([self.measure_ends, ends]),
            lengths=np.concatenate([self.lengths, lengths]),
            measure_give=np.concatenate([self.measure_give, give]),
        )


FIELDS_OF = {
    "measures": ("measure_ends", "lengths", "measure_give"),
    "clicks": ("click_view", "click_point", "clicks", "click_give"),
    "on": ("on",),
    "same": ("same",),
    "along": ("along",),
}
"""The arrays of each kind of thing that is known."""
