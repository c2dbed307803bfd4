"""A look at a house: the eye, the ground, the dark house and the photo, for pictures of any size."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import MisfitError
from eavesong.preview.backdrop import Light, night_sky, with_photo, with_walls
from eavesong.preview.view import STREET, Projection, View, ground_below, project
from eavesong.preview.walls import Face, faces_of, front_of, painted
from eavesong.scene.sight import PhotoPlace, Sight

if TYPE_CHECKING:
    from PIL import Image

    from eavesong.preview.subject import Subject

Floats = NDArray[np.float64]

ROOM = 0.04
"""Share of the picture that is left free round the lights of a photo."""
REACH = 0.75
"""Widths and heights of a photo beyond its edges within which lights are drawn beside it, in the night."""


@dataclass(frozen=True, eq=False)
class PhotoCamera:
    """The camera of a photo, in shares of the photo's width, whatever size it is shown at."""

    eye: Floats
    axes: Floats
    """(3, 3): to the right, upwards, towards the camera."""
    focal: float
    centre: tuple[float, float]
    """To the right and down from the upper left corner."""
    bend: float = 0.0


class Outlook:
    """A house, looked at from somewhere."""

    def __init__(
        self, subject: Subject, view: View = STREET, photo: Path | None = None, sight: Sight | None = None
    ) -> None:
        """photo: a picture of the house; left out where its corners fit no camera. sight: as the layout says where
        not given."""
        from eavesong.preview.photo import opened_if_any

        self.subject, self.view, self.sight = subject, view, sight or subject.sight
        self.metres = subject.metres
        self.ground = ground_below(self.metres.astype(np.float64), self.sight)
        self.photo: Image.Image | None = opened_if_any(photo) if view.street else None
        self.camera: PhotoCamera | None = None
        try:
            self.camera = camera_of(self.sight.photo, self.photo.size) if self.photo else None
        except MisfitError:
            self.photo = None

    @cached_property
    def faces(self) -> list[Face]:
        """The dark house."""
        return faces_of(self.subject, self.ground)

    def projection(self, size: tuple[int, int]) -> Projection:
        """How metres come to a picture of ``size`` (width, height)."""
        if self.photo and self.camera:
            return through(self.camera, *self._fit(size))
        return project(self.metres, size, self.view, self.sight, front_of(self.subject))

    def backdrop(self, size: tuple[int, int]) -> tuple[Light, Light]:
        """What lies behind the lights, linear (height, width, 3), and how much of it is house (height, width)."""
        projection = self.projection(size)
        share, tone = painted(self.faces, projection, size)
        scene = night_sky(size, projection)
        if not self.photo:
            return with_walls(scene, share, tone), share
        rectangle = self._shown(size) if self.camera else self._on_wall(projection)
        return with_photo(scene, self.photo, rectangle), share

    def _fit(self, size: tuple[int, int]) -> tuple[float, float, float]:
        """Where a photo that its camera explains lies: left, top and width.

        It fills the picture as far as the lights in it allow, and is smaller where lights hang beside it.
        """
        assert self.photo is not None
        whole, picture = np.array([1.0, self.photo.height / self.photo.width]), np.array(size, np.float64)
        lights = self._in_photo()[~self._beyond(REACH)]
        low, high = (lights.min(axis=0), lights.max(axis=0)) if len(lights) else (0 * whole, whole)
        fit = float(min((1 - 2 * ROOM) * picture / np.maximum(high - low, 1e-6)))
        beside = (low < 0).any() or (high > whole).any()
        scale = float(np.clip(fit, 0.0 if beside else min(picture / whole), max(picture / whole)))
        over, begin = picture - whole * scale, picture / 2 - (low + high) / 2 * scale
        if not beside:
            begin = np.where(over >= 0, over / 2, np.clip(begin, over, 0.0))
        return float(begin[0]), float(begin[1]), scale

    def _in_photo(self) -> Floats:
        """(n, 2): where each light is seen, in widths of the photo from its upper left corner."""
        assert self.camera is not None
        return np.stack(through(self.camera, 0.0, 0.0, 1.0).place(self.metres), axis=1).astype(np.float64)

    def _beyond(self, reach: float) -> NDArray[np.bool_]:
        """(n,): which lights are seen farther from the photo than ``reach`` of its width and height."""
        assert self.photo is not None
        whole, lights = np.array([1.0, self.photo.height / self.photo.width]), self._in_photo()
        return np.asarray(((lights < -reach * whole) | (lights > (1 + reach) * whole)).any(axis=1))

    def beside(self) -> NDArray[np.bool_]:
        """(pixels,): which lights hang too far from the photo to be seen; none where its camera is not known."""
        if not (self.photo and self.camera):
            return np.zeros(len(self.metres), np.bool_)
        return self._beyond(REACH)

    def _shown(self, size: tuple[int, int]) -> tuple[float, float, float, float]:
        assert self.photo is not None
        left, top, width = self._fit(size)
        return left, top, left + width, top + width * self.photo.height / self.photo.width

    def _on_wall(self, projection: Projection) -> tuple[float, float, float, float]:
        """Where a photo lies that was taken from straight ahead: on the walls, and where not told on the frame."""
        columns, rows = projection.place(np.stack(self.photo_box()))
        return float(columns[0]), float(rows[1]), float(columns[1]), float(rows[0])

    def photo_box(self) -> tuple[Floats, Floats]:
        """(3,) metres each: where the photo's lower left and upper right corner lie."""
        if self.sight.photo.box is not None:
            return self.sight.photo.box
        front = front_of(self.subject)
        z = float(np.median(self.metres[:, 2])) if front is None else front
        return np.array([0.0, 0.0, z]), np.array([self.subject.box[0], self.subject.box[1], z])

    def told(self) -> dict[str, Any]:
        """What a page needs to know to look at the house itself."""
        street = project(self.metres, (1280, 720), STREET, self.sight, front_of(self.subject))
        told: dict[str, Any] = {
            "ground": self.ground, "eye": street.eye.tolist(), "field": self.sight.standpoint.field or 0,
            "faces": [[face.tone, *np.round(face.corners, 3).ravel().tolist()] for face in self.faces],
        }  # fmt: skip
        if self.photo and self.camera:
            camera = self.camera
            told["camera"] = {"eye": camera.eye.tolist(), "axes": camera.axes.tolist(), "focal": camera.focal,
                              "centre": list(camera.centre), "bend": camera.bend,
                              "tall": self.photo.height / self.photo.width}  # fmt: skip
        elif self.photo:
            told["photo_box"] = [each.tolist() for each in self.photo_box()]
        return told


def through(camera: PhotoCamera, left: float, top: float, width: float) -> Projection:
    """What a photo's camera sees, where its photo lies at ``left`` and ``top`` and is ``width`` elements wide."""
    centre = (left + camera.centre[0] * width, top + camera.centre[1] * width)
    return Projection(camera.eye, camera.axes, camera.focal * width, centre, camera.bend)


def camera_of(place: PhotoPlace, size: tuple[int, int]) -> PhotoCamera | None:
    """The camera of a photo of ``size`` (width, height); None where the layout tells none.

    Raises MisfitError where its corners fit no camera.
    """
    from eavesong.survey.camera import turned
    from eavesong.survey.corners import lens_of_corners

    width, height = size
    if place.clicks is not None:
        lens = lens_of_corners(*place.clicks, size)
        centre = (float(lens.centre[0]) / width, float(lens.centre[1]) / width)
        return PhotoCamera(lens.place, seen_along(lens.turn), lens.focal / width, centre)
    if place.camera is not None and place.eye is not None:
        told = place.camera
        turn = turned(*np.radians(told.turn).tolist())
        centre = (told.centre[0], told.centre[1] * height / width)
        return PhotoCamera(place.eye, seen_along(turn), told.focal, centre, told.bend)
    return None


def seen_along(turn: Floats) -> Floats:
    """The axes of a view (right, up, towards) from those of a camera (right, down, away)."""
    return np.asarray(turn * np.array([[1.0], [-1.0], [-1.0]]))
