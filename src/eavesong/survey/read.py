"""From the survey file to what is known: names become numbers, and everything that contradicts is told at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from eavesong.errors import Problem, SurveyError, advise
from eavesong.files import read_text
from eavesong.misfits import MOST_TOLD
from eavesong.slips import read_entries
from eavesong.statements import place
from eavesong.survey import model
from eavesong.survey.known import (
    CLICK,
    FLAT,
    LEAST_CLICK,
    TAPE,
    TOLD_FOCAL_SPREAD,
    UNKNOWN_FOCAL,
    UNKNOWN_FOCAL_SPREAD,
    Known,
    PhotoView,
    Wall,
    focal_in_pixels,
)  # fmt: skip
from eavesong.survey.photo import Facts, facts

FRONT, GROUND = 0, 1
CROPPED_CENTRE = 0.15
"""Standard deviation of a cropped photo's optical centre, as a share of its longer side."""
LEAST_POINTS = 4
THINNEST = 0.01
"""Points of a photo whose picture is thinner than this share of its length are on one line."""


@dataclass(frozen=True, eq=False)
class Read:
    """A survey file and what is known from it."""

    path: Path
    text: str
    survey: model.Survey
    known: Known
    notes: tuple[str, ...] = ()
    """What was noticed on the way."""

    def photo_path(self, view: int) -> Path:
        """Where a photo lies."""
        return self.path.parent / self.survey.photo[view].file


@dataclass
class _SurveyFaults:
    """Problems found so far."""

    file: str
    text: str
    problems: list[Problem] = field(default_factory=list)

    def add(self, path: Sequence[str | int], found: str, instead: str = "") -> None:
        """Note a problem at the place of ``path`` in the file."""
        problem = Problem(self.file, place(self.text, path), found, instead)
        if problem not in self.problems and len(self.problems) < MOST_TOLD:
            self.problems.append(problem)

    def stop_if_any(self) -> None:
        """Raise SurveyError with every problem noted so far."""
        if self.problems:
            raise SurveyError(self.problems)


def read_survey(path: str | Path) -> Read:
    """The survey in the file ``path`` and the photos beside it.

    Raises SurveyError with every problem found, each with its line and what to write instead.
    """
    text = read_text(path, SurveyError)
    survey = read_entries(model.Survey, text, str(path), SurveyError, "survey")
    faults = _SurveyFaults(str(path), text)
    return _SurveyReader(Path(path), text, survey, faults).read()


class _SurveyReader:
    """Reads one survey."""

    def __init__(self, path: Path, text: str, survey: model.Survey, faults: _SurveyFaults) -> None:
        self.path, self.text, self.survey, self.faults = path, text, survey, faults
        self.notes: list[str] = []
        self.points = self._numbered("point", [point.name for point in survey.point])
        photos = [photo.name or Path(photo.file).stem for photo in survey.photo]
        self.photos = self._numbered("photo", photos)
        planes = ["front", "ground"] + [p.name for p in survey.plane if p.name not in ("front", "ground")]
        self.planes = {name: number for number, name in enumerate(dict.fromkeys(planes))}
        self._numbered("plane", [plane.name for plane in survey.plane])
        self._numbered("prop", [prop.name for prop in survey.prop])

    def _numbered(self, kind: str, names: Sequence[str]) -> dict[str, int]:
        """The place of every name; a name used twice is a problem."""
        numbers: dict[str, int] = {}
        for index, name in enumerate(names):
            if numbers.setdefault(name, index) != index:
                found = f"the name '{name}' is already taken by {kind} {numbers[name] + 1}"
                self.faults.add((kind, index, "name"), found, f"Give each {kind} its own name.")
        return numbers

    def _point(self, name: str, *path: str | int) -> int:
        """The number of a point; a problem where there is none of that name."""
        if name not in self.points:
            self.faults.add(path, f"no point is called '{name}'", advise(name, self.points, "point"))
        return self.points.get(name, 0)

    def _plane(self, name: str, *path: str | int) -> int:
        if name not in self.planes:
            self.faults.add(path, f"no plane is called '{name}'", advise(name, self.planes, "plane"))
        return self.planes.get(name, 0)

    def read(self) -> Read:
        """Everything, or SurveyError."""
        views = tuple(self._view(number) for number in range(len(self.survey.photo)))
        walls = self._walls()
        on = self._on(walls)
        walls, on = self._crowned(walls, on)
        clicks = self._clicks(views)
        same, along = self._lines()
        ends, lengths, give = self._measures()
        self._props()
        self._enough(clicks, on, len(lengths))
        self.faults.stop_if_any()
        hold = (0,) if any(wall == GROUND for _, wall in on) else (0, 1)
        known = Known(
            views=views, points=tuple(self.points), walls=walls,
            click_view=np.array([click[0] for click in clicks], dtype=np.int64),
            click_point=np.array([click[1] for click in clicks], dtype=np.int64),
            clicks=np.array([click[2] for click in clicks], dtype=np.float64).reshape(-1, 2),
            click_give=np.array([click[3] for click in clicks], dtype=np.float64),
            on=_table(on, 2), same=_table(same, 3), along=_table(along, 4), measure_ends=_table(ends, 2),
            lengths=np.array(lengths), measure_give=np.array(give), origin=self._origin(on), hold=hold,
        )  # fmt: skip
        return Read(self.path, self.text, self.survey, known, tuple(self.notes))

    def _view(self, number: int) -> PhotoView:
        photo = self.survey.photo[number]
        name = photo.name or Path(photo.file).stem
        about = self._facts(number)
        millimetres, spread = photo.focal, TOLD_FOCAL_SPREAD
        cropped = photo.cropped or about.trimmed
        if about.trimmed and not photo.cropped:
            self.notes.append(f"'{photo.file}' has other proportions than when it was taken, so it was cropped.")
        focal = focal_in_pixels(millimetres, about.width, about.height) if millimetres else about.focal
        if focal is None or (cropped and not millimetres):
            focal = focal_in_pixels(UNKNOWN_FOCAL, about.width, about.height)
            spread = UNKNOWN_FOCAL_SPREAD
        centre = CROPPED_CENTRE * max(about.width, about.height) if cropped else 0.0
        return PhotoView(name, about.width, about.height, focal, spread, centre)

    def _facts(self, number: int) -> Facts:
        """What the photo says, or what the survey says in its place."""
        photo = self.survey.photo[number]
        path = self.path.parent / photo.file
        if photo.size is not None and not path.exists():
            return Facts(*photo.size, focal=None, trimmed=False)
        try:
            found = facts(path, photo.file)
        except SurveyError as fault:
            for problem in fault.problems:
                self.faults.add(("photo", number, "file"), f"'{photo.file}': {problem.found}", problem.instead)
            return Facts(1_000_000, 1_000_000, None, False)
        if photo.size not in (None, (found.width, found.height)):
            told = f"[{found.width}, {found.height}]"
            self.faults.add(
                ("photo", number, "size"), "this is not the photo's size", f"Write {told}, or leave it out."
            )
        return found

    def _walls(self) -> tuple[Wall, ...]:
        walls = {"front": Wall("front", offset=0.0), "ground": Wall("ground", pitch=0.0, offset=0.0)}
        for number, plane in enumerate(self.survey.plane):
            walls[plane.name] = self._wall(number, plane)
        for number, plane in enumerate(self.survey.plane):
            seen, here = {plane.name}, plane
            while (over := here.parallel or here.roof_over) and over in walls:
                if over in seen:
                    found = f"'{plane.name}' is parallel to itself, by way of '{here.name}'"
                    self.faults.add(("plane", number), found, "Let one of them be parallel to the front.")
                    self.faults.stop_if_any()
                seen.add(over)
                following = [other for other in self.survey.plane if other.name == over]
                if not following:
                    break
                here = following[0]
        return tuple(walls[name] for name in self.planes)

    def _wall(self, number: int, plane: model.Plane) -> Wall:
        units = self.survey.units
        give = plane.give.metres(units) if plane.give else None
        flat = give if give and plane.set_back is None else FLAT
        if plane.name == "front":
            return Wall("front", offset=0.0, flat=flat)
        if plane.name == "ground":
            return Wall("ground", heading=0.0, pitch=0.0, offset=0.0, flat=flat, tilted=not plane.level)
        if plane.turned is not None:
            heading = None if plane.turned == "unknown" else float(np.radians(plane.turned))
            return Wall(plane.name, heading=heading, flat=flat)
        key = "parallel" if plane.parallel else "roof_over"
        like = self._plane(plane.parallel or plane.roof_over or "", "plane", number, key)
        if like == GROUND:
            found = f"the ground is no wall to be {'parallel to' if plane.parallel else 'over'}"
            self.faults.add(("plane", number, key), found, "Name an upright plane.")
        if plane.roof_over:
            pitch = None if plane.pitch is None else float(np.radians(plane.pitch))
            return Wall(plane.name, pitch=pitch, like=like, flat=flat)
        set_back = (plane.set_back.metres(units), give or TAPE) if plane.set_back else None
        return Wall(plane.name, like=like, set_back=set_back, flat=flat)

    def _on(self, walls: Sequence[Wall]) -> list[tuple[int, int]]:
        found: list[tuple[int, int]] = []
        for number, point in enumerate(self.survey.point):
            mine = list(dict.fromkeys(self._plane(name, "point", number, "on") for name in point.on))
            for index, wall in enumerate(mine):
                for other in mine[:index]:
                    if _never_meet(walls, wall, other):
                        told = f"'{walls[wall].name}' and '{walls[other].name}' are parallel, so no point is on both"
                        self.faults.add(("point", number, "on"), told, "Keep the one it lies on.")
            found += [(number, wall) for wall in mine]
        return found

    def _crowned(
        self, walls: tuple[Wall, ...], on: list[tuple[int, int]]
    ) -> tuple[tuple[Wall, ...], list[tuple[int, int]]]:
        """With an upright plane through the feet and the crown of every arch whose crown nothing else holds: in one
        photo a point in the air could be anywhere along the line of sight."""
        more, held = list(walls), list(on)
        for prop in self.survey.prop:
            names = [*getattr(prop, "feet", ()), getattr(prop, "crown", None)]
            points = [self.points[name] for name in names if name in self.points]
            if len(points) < 3 or any(point == points[2] for point, _ in on) or self.survey.point[points[2]].above:
                continue
            held += [(point, len(more)) for point in points]
            more.append(Wall(f"the upright plane of '{prop.name}'", heading=None))
        return tuple(more), held

    def _clicks(self, views: Sequence[PhotoView]) -> list[tuple[int, int, tuple[float, float], float]]:
        clicks = []
        for number, point in enumerate(self.survey.point):
            first = next(iter(self.photos))
            at = point.at if isinstance(point.at, dict) else {first: point.at}
            for photo, where in at.items():
                name = photo if photo in self.photos else Path(photo).stem
                if name not in self.photos:
                    self.faults.add(("point", number, "at", photo), f"no photo is called '{photo}'",
                                    advise(photo, self.photos, "photo"))  # fmt: skip
                    continue
                view = views[self.photos[name]]
                if not (0 <= where[0] <= view.width and 0 <= where[1] <= view.height):
                    found = f"'{point.name}' is outside the photo, which is {view.width} x {view.height}"
                    self.faults.add(("point", number, "at"), found, "Count from the upper left corner, right and down.")
                give = point.give or max(LEAST_CLICK, CLICK * max(view.width, view.height))
                clicks.append((self.photos[name], number, where, give))
        return clicks

    def _lines(self) -> tuple[list[tuple[int, int, int]], list[tuple[int, int, int, int]]]:
        same: list[tuple[int, int, int]] = []
        along: list[tuple[int, int, int, int]] = []
        for number, point in enumerate(self.survey.point):
            if point.above is not None:
                other = self._point(point.above, "point", number, "above")
                if other == number:
                    self.faults.add(("point", number, "above"), "it cannot stand above itself", "Name another point.")
                same += [(other, number, axis) for axis in (0, 2)]
        for number, line in enumerate(self.survey.line):
            here = [self._point(name, "line", number, "points") for name in line.points]
            axes = {"level": (1,), "upright": (0, 2), None: ()}[line.runs]
            same += [(here[0], point, axis) for point in here[1:] for axis in axes]
            if line.runs != "upright":
                along += [(here[0], here[-1], here[0], point) for point in here[1:-1]]
            if line.parallel:
                a, b = (self._point(name, "line", number, "parallel") for name in line.parallel)
                if a == b:
                    self.faults.add(("line", number, "parallel"), "two equal points make no line", "Name two points.")
                along.append((a, b, here[0], here[-1]))
        return list(dict.fromkeys(same)), list(dict.fromkeys(along))

    def _measures(self) -> tuple[list[tuple[int, int]], list[float], list[float]]:
        ends, lengths, gives = [], [], []
        for number, measure in enumerate(self.survey.measure):
            a = self._point(measure.start, "measure", number, "from")
            b = self._point(measure.end, "measure", number, "to")
            if measure.start == measure.end:
                self.faults.add(("measure", number), "it goes from a point to itself", "Name two points.")
            ends.append((a, b))
            lengths.append(measure.length.metres(self.survey.units))
            gives.append(measure.give.metres(self.survey.units) if measure.give else TAPE)
        return ends, lengths, gives

    def _props(self) -> None:
        for number, prop in enumerate(self.survey.prop):
            last = [prop.repeat.last] if prop.repeat and prop.repeat.last else []
            for name in (*prop.anchors(), *last):
                self._point(name, "prop", number)

    def _origin(self, on: Iterable[tuple[int, int]]) -> int:
        if self.survey.origin is not None:
            return self._point(self.survey.origin, "origin")
        walls: dict[int, set[int]] = {}
        for point, wall in on:
            walls.setdefault(point, set()).add(wall)
        for wanted in ({FRONT, GROUND}, {FRONT}):
            for point in range(len(self.points)):
                if wanted <= walls.get(point, set()):
                    return point
        return 0

    def _enough(self, clicks: list[tuple[int, int, tuple[float, float], float]], on: list[tuple[int, int]],
                measures: int) -> None:  # fmt: skip
        """What every survey needs."""
        if self.survey.origin is not None:
            self._point(self.survey.origin, "origin")
        for name, number in self.photos.items():
            mine = np.array([where for photo, _, where, _ in clicks if photo == number]).reshape(-1, 2)
            if len(mine) < LEAST_POINTS:
                found = f"{len(mine)} points are seen in '{name}', too few to find where it was taken from"
                self.faults.add(("photo", number), found, "Click at least 4, better 10 or more, all over the house.")
            elif (spread := np.linalg.svd(mine - mine.mean(axis=0), compute_uv=False))[1] < THINNEST * spread[0]:
                found = f"all points seen in '{name}' are on one line"
                self.faults.add(("photo", number), found, "Click points high and low, left and right.")
        if sum(wall == FRONT for _, wall in on) < 2:
            self.faults.add(("point",), "fewer than two points lie on the front", 'Say on = "front" of those that do.')
        if not measures:
            self.faults.add((), "nothing is measured, so the house may have any size", "Measure a length: [[measure]].")


def _never_meet(walls: Sequence[Wall], one: int, other: int) -> bool:
    """Whether two planes are parallel: both upright and of the same heading."""

    def root(wall: int) -> int:
        """The first wall of those that face the same way."""
        like = walls[wall].like
        return root(like) if like is not None else wall

    upright = all(walls[wall].pitch is not None and walls[wall].pitch != 0.0 for wall in (one, other))
    same_pitch = walls[one].pitch == walls[other].pitch
    headings = [walls[root(wall)].heading for wall in (one, other)]
    return bool(
        upright and same_pitch and (root(one) == root(other) or (None not in headings and headings[0] == headings[1]))
    )


def _table(rows: Sequence[Sequence[int]], width: int) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    return np.array(rows, dtype=np.int64).reshape(-1, width)
