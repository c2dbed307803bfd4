"""How a house is looked at, in metres of its frame: what its layout says of the street and of its photo."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from eavesong.entries import Entry
from eavesong.layout.model import FrameBox
from eavesong.layout.sight import EYE, CameraEntry, PhotoEntry, StreetEntry, named
from eavesong.words import METRES

Floats = NDArray[np.float64]
Kind = TypeVar("Kind", bound=Entry)


@dataclass(frozen=True)
class Standpoint:
    """Where somebody stands who looks at the house from the street."""

    height: float = EYE
    """Metres of the eye above the ground."""
    distance: float | None = None
    """Metres from the lights on the walls; None: as far away as the house is well seen from."""
    aside: float = 0.0
    """Metres to the right of the house's middle."""
    field: float | None = None
    """Degrees of the view from left to right; None: as many as the house takes."""


@dataclass(frozen=True, eq=False)
class PhotoPlace:
    """Where in its photo the house is, told in one of three ways, or in none."""

    box: tuple[Floats, Floats] | None = None
    """(3,) metres each: where the photo's lower left and upper right corner lie."""
    clicks: tuple[Floats, Floats] | None = None
    """Picture elements (n, 2), and the places (n, 3) that are seen there."""
    camera: CameraEntry | None = None
    """The camera; ``eye`` is where it stood."""
    eye: Floats | None = None

    @property
    def told(self) -> bool:
        """Whether it is told at all."""
        return self.box is not None or self.clicks is not None or self.camera is not None


@dataclass(frozen=True, eq=False)
class Sight:
    """How a house is looked at."""

    ground: float = 0.0
    """Height of the ground."""
    standpoint: Standpoint = Standpoint()
    photo: PhotoPlace = PhotoPlace()


def sight_in(tables: Mapping[str, object], origin: Sequence[float] | None) -> Sight:
    """What the ``tables`` of a layout file say; what cannot be read in them counts as not said.

    origin: where the house frame begins, in the layout's places; None where nobody has told: at its ``[frame]``.
    """
    metres = METRES.get(str(tables.get("units", "m")), 1.0)
    street, photo = _entry(StreetEntry, tables.get("street")), _entry(PhotoEntry, named(tables.get("photo")))
    begin = np.asarray(origin if origin is not None else _framed(tables, metres), np.float64)

    def on_house(place: Sequence[float]) -> Floats:
        """A place (3,) of the layout's units in metres from the corner of its frame."""
        return np.asarray(place, np.float64) * metres - begin

    standpoint = Standpoint() if street is None else Standpoint(
        street.height * metres if street.height else EYE,
        street.distance * metres if street.distance else None, street.aside * metres, street.field,
    )  # fmt: skip
    return Sight(-float(begin[1]), standpoint, PhotoPlace() if photo is None else _placed(photo, on_house))


def _placed(photo: PhotoEntry, on_house: Callable[[Sequence[float]], Floats]) -> PhotoPlace:
    if photo.start is not None and photo.end is not None:
        return PhotoPlace(box=(on_house(photo.start), on_house(photo.end)))
    if photo.corners:
        clicks = np.array([corner.at for corner in photo.corners], np.float64)
        return PhotoPlace(clicks=(clicks, np.stack([on_house(corner.house) for corner in photo.corners])))
    if photo.camera is not None:
        return PhotoPlace(camera=photo.camera, eye=on_house(photo.camera.at))
    return PhotoPlace()


def _entry(kind: type[Kind], value: object) -> Kind | None:
    from pydantic import ValidationError

    try:
        return kind.model_validate(value) if value is not None else None
    except ValidationError:
        return None


def _framed(tables: Mapping[str, object], metres: float) -> Floats:
    """Where the frame begins that a layout tells, in metres; 0 where it tells none."""
    frame = _entry(FrameBox, tables.get("frame"))
    return np.asarray(frame.start, np.float64) * metres if frame else np.zeros(3)
