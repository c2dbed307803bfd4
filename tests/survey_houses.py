"""Synthetic houses whose truth is known, and what somebody with a camera and a tape would say of them. All invented."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from eavesong.survey.camera import Lens, turned
from eavesong.survey.known import (
    TOLD_FOCAL_SPREAD,
    UNKNOWN_FOCAL,
    UNKNOWN_FOCAL_SPREAD,
    Known,
    PhotoView,
    Wall,
    focal_in_pixels,
)  # fmt: skip

WIDTH, HEIGHT = 4000, 3000


@dataclass
class House:
    """Points in metres and what is said of them."""

    places: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    walls: list[Wall] = field(default_factory=list)
    on: list[tuple[str, int]] = field(default_factory=list)
    level: list[tuple[str, str]] = field(default_factory=list)
    upright: list[tuple[str, str]] = field(default_factory=list)
    props: list[str] = field(default_factory=list)
    """Anchors of props."""

    def put(self, name, place, *walls):
        self.places[name] = tuple(float(v) for v in place)
        self.on += [(name, wall) for wall in walls]

    def rectangle(self, name, left, right, bottom, top, wall, at):
        """Four corners on a wall; ``at`` gives the place of (along, up)."""
        grounded = [wall, 1] if bottom == 0 else [wall]
        self.put(f"{name} bl", at(left, bottom), *grounded)
        self.put(f"{name} br", at(right, bottom), *grounded)
        self.put(f"{name} tl", at(left, top), wall)
        self.put(f"{name} tr", at(right, top), wall)
        if bottom:
            self.level.append((f"{name} bl", f"{name} br"))
        self.level.append((f"{name} tl", f"{name} tr"))
        self.upright += [(f"{name} bl", f"{name} tl"), (f"{name} br", f"{name} tr")]


FRONT, GROUND, GARAGE, SIDE, ROOF = range(5)


def plain_house() -> House:
    """A front with a door and a window, a garage set forward, arches, a path and a tree; 13 m wide."""
    house = House(walls=[
        Wall("front", offset=0.0), Wall("ground", pitch=0.0, offset=0.0), Wall("garage", like=0),
    ])  # fmt: skip
    front = lambda x, y: (x, y, 0)  # noqa: E731
    house.rectangle("door", 0.0, 0.91, 0, 2.03, FRONT, front)
    house.rectangle("window", -3.55, -2.05, 1.0, 2.2, FRONT, front)
    house.put("eave l", (-4.75, 2.6, 0), FRONT)
    house.put("eave r", (4.45, 2.6, 0), FRONT)
    house.level.append(("eave l", "eave r"))
    house.put("base l", (-4.75, 0, 0), FRONT, GROUND)
    house.put("base r", (4.45, 0, 0), FRONT, GROUND)
    house.put("gable", (2.05, 5.1, 0), FRONT)
    house.rectangle("garage", 4.85, 7.65, 0, 2.3, GARAGE, lambda x, y: (x, y, 1.8))
    for n, x in enumerate((-3.2, -1.7, -0.2)):
        house.put(f"arch {n}", (x, 0, 4.0), GROUND)
    house.put("tree foot", (-5.0, 0, 2.5), GROUND)
    house.put("tree top", (-5.0, 3.2, 2.5))
    house.upright.append(("tree foot", "tree top"))
    house.put("path a", (0.5, 0, 5.0), GROUND)
    house.put("path b", (1.7, 0, 5.0), GROUND)
    house.props = ["eave l", "eave r", "gable", "garage tl", "garage tr", "arch 0", "arch 1", "arch 2", "tree foot",
                   "tree top", "path a", "path b"]  # fmt: skip
    return house


def some_house(rng: np.random.Generator) -> House:
    """A house of any kind: sizes, windows, garage, side wall, roof and garden by chance."""
    house = House(walls=[Wall("front", offset=0.0), Wall("ground", pitch=0.0, offset=0.0)])
    wide = rng.uniform(6, 13)
    left = -rng.uniform(0.3, 0.7) * wide
    eaves = rng.choice([rng.uniform(2.4, 3.2), rng.uniform(4.8, 6.0)])
    front = lambda x, y: (x, y, 0)  # noqa: E731
    house.rectangle("door", 0.0, rng.uniform(0.8, 1.1), 0, rng.uniform(1.95, 2.2), FRONT, front)
    for n in range(rng.integers(1, 5)):
        x, y = rng.uniform(left + 0.3, left + wide - 2), rng.choice([0.9, eaves - 1.7])
        house.rectangle(f"window {n}", x, x + rng.uniform(0.8, 1.8), y, y + rng.uniform(0.9, 1.4), FRONT, front)
    house.put("eave l", (left, eaves, 0), FRONT)
    house.put("eave r", (left + wide, eaves, 0), FRONT)
    house.level.append(("eave l", "eave r"))
    house.put("base l", (left, 0, 0), FRONT, GROUND)
    house.put("base r", (left + wide, 0, 0), FRONT, GROUND)
    house.props += ["eave l", "eave r"]
    if rng.random() < 0.6:
        house.put("gable", (left + wide * rng.uniform(0.3, 0.7), eaves + rng.uniform(1, 3), 0), FRONT)
        house.props.append("gable")
    if rng.random() < 0.7:
        forward = rng.uniform(-2.5, 3.0)
        given = (-forward + rng.normal(0, 0.01), 0.01) if rng.random() < 0.3 else None
        house.walls.append(Wall("garage", like=0, set_back=given))
        number, g = len(house.walls) - 1, left + wide + rng.uniform(0.2, 0.6)
        house.rectangle("garage", g, g + rng.uniform(2.6, 5.2), 0, rng.uniform(2.1, 2.5), number,
                        lambda x, y: (x, y, forward))  # fmt: skip
        house.props += ["garage tl", "garage tr"]
    if rng.random() < 0.4:
        _side_wall(house, rng, left)
    if rng.random() < 0.4:
        _roof(house, rng, left, wide, eaves)
    _garden(house, rng, left, wide)
    return house


def _side_wall(house: House, rng: np.random.Generator, left: float) -> None:
    """A wall turned towards the camera's left, known or unknown, beside the house."""
    heading = np.radians(rng.choice([90.0, 45.0, rng.uniform(25, 70)]))
    known = rng.random() < 0.5
    house.walls.append(Wall("side", heading=heading if known else None))
    number = len(house.walls) - 1
    foot = np.array([left - 1.5, 0.0, rng.uniform(0.5, 2.0)])
    along = np.array([np.cos(heading), 0, -np.sin(heading)])
    house.rectangle("bay", -1.6, 0.0, 0, 2.2, number, lambda a, y: foot + a * along + [0, y, 0])
    house.props += ["bay tl", "bay tr"]


def _roof(house: House, rng: np.random.Generator, left: float, wide: float, eaves: float) -> None:
    """A roof over the front: eaves and ridge are level; the eaves hang over the wall a little."""
    pitch = np.radians(rng.uniform(20, 50))
    known = rng.random() < 0.4
    house.walls.append(Wall("roof", like=0, pitch=pitch if known else None))
    number, run, over = len(house.walls) - 1, rng.uniform(2.5, 4), rng.uniform(0.0, 0.5)
    for name, x, back in (("gutter l", left, -over), ("gutter r", left + wide, -over), ("ridge l", left + 0.5, run),
                          ("ridge r", left + wide - 0.5, run)):  # fmt: skip
        house.put(name, (x, eaves + back * np.tan(pitch), -back), number)
        house.props.append(name)
    house.on += [("eave l", number), ("eave r", number)]
    house.level += [("gutter l", "gutter r"), ("ridge l", "ridge r")]


def _garden(house: House, rng: np.random.Generator, left: float, wide: float) -> None:
    for n in range(rng.integers(2, 5)):
        name = f"arch {n}"
        house.put(name, (left + wide * rng.uniform(-0.1, 1), 0, rng.uniform(2, 4.5)), GROUND)
        house.props.append(name)
    for n in range(rng.integers(0, 3)):
        x, z = left + wide * rng.uniform(-0.2, 1.2), rng.uniform(1, 3.5)
        house.put(f"tree {n} foot", (x, 0, z), GROUND)
        house.put(f"tree {n} top", (x, rng.uniform(1.5, 4), z))
        house.upright.append((f"tree {n} foot", f"tree {n} top"))
        house.props += [f"tree {n} foot", f"tree {n} top"]
    for n, x in enumerate((-0.3, 1.2)):
        house.put(f"path {n}", (x, 0, rng.uniform(3, 5)), GROUND)
        house.props.append(f"path {n}")


def camera(house: House, fov: float, yaw: float, rng: np.random.Generator, side: float | None = None) -> Lens:
    """A camera ``fov`` degrees wide, turned by ``yaw``, so far away that all is in view with a margin."""
    focal = WIDTH / 2 / np.tan(np.radians(fov / 2))
    k = rng.normal(0, 0.03)
    points = np.array(list(house.places.values()))
    turn = turned(np.radians(yaw), np.radians(rng.normal(3, 2)), np.radians(rng.normal(0, 1)))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    height = rng.uniform(1.3, 1.8)
    for distance in np.geomspace(5, 80, 120):
        back = turn[2] * distance  # where the camera looks
        place = np.array([middle[0] - back[0], height, max(0.0, points[:, 2].max()) * 0.3 - back[2]])
        lens = Lens(focal, k, turn, place, np.array([WIDTH / 2, HEIGHT / 2]))
        seen = lens.see(points)
        inside = (seen > 60).all() and (seen < [WIDTH - 60, HEIGHT - 60]).all()
        if inside and lens.depth(points).min() > 1.5 and _roof_in_sight(house, place):
            return lens
    raise ValueError("this house does not go into the picture")


def _roof_in_sight(house: House, place: np.ndarray) -> bool:
    """Whether the roof is seen from above it, by 4 degrees or more: else nobody could click its points."""
    if "gutter l" not in house.places:
        return True
    eave, ridge = (np.array(house.places[name]) for name in ("gutter l", "ridge l"))
    pitch = np.arctan2(ridge[1] - eave[1], eave[2] - ridge[2])
    return bool(np.arctan2(eave[1] - place[1], place[2] - eave[2]) < pitch - np.radians(4))


def known_of(house: House, lenses: list[Lens], measures: list[tuple[str, str]], rng: np.random.Generator, *,
             exif: bool = False, click: float = 2.0, tape: float = 0.01) -> Known:  # fmt: skip
    """What somebody finds out: clicks with noise, measures with noise, and what is said of points."""
    seen = {name: [lens.see(np.array([place]))[0] for lens in lenses] for name, place in house.places.items()}
    names = tuple(name for name, places in seen.items() if any(_in_picture(place) for place in places))
    number = {name: index for index, name in enumerate(names)}
    truth = np.array([house.places[name] for name in names])
    views = []
    for index, lens in enumerate(lenses):
        told = lens.focal * np.exp(rng.normal(0, TOLD_FOCAL_SPREAD))
        focal = told if exif else focal_in_pixels(UNKNOWN_FOCAL, WIDTH, HEIGHT)
        views.append(
            PhotoView(f"photo {index}", WIDTH, HEIGHT, focal, TOLD_FOCAL_SPREAD if exif else UNKNOWN_FOCAL_SPREAD)
        )
    clicked = [(view, number[name]) for view in range(len(lenses)) for name in names if _in_picture(seen[name][view])]
    which = np.array(clicked, dtype=np.int64)
    clicks = np.array([seen[names[point]][view] for view, point in clicked]) + rng.normal(0, click, (len(which), 2))
    ends = np.array([[number[a], number[b]] for a, b in measures if a in number and b in number], dtype=np.int64)
    ends = ends.reshape(-1, 2)
    lengths = np.linalg.norm(truth[ends[:, 0]] - truth[ends[:, 1]], axis=1) + rng.normal(0, tape, len(ends))
    upright = [(a, b) for a, b in house.upright if a in number and b in number]
    same = [(number[a], number[b], axis) for a, b in upright for axis in (0, 2)]
    same += [(number[a], number[b], 1) for a, b in house.level if a in number and b in number]
    on = [(number[name], wall) for name, wall in house.on if name in number]
    return Known(
        views=tuple(views), points=names, walls=tuple(house.walls),
        click_view=which[:, 0], click_point=which[:, 1], clicks=clicks, click_give=np.full(len(clicks), click),
        on=np.array(on, dtype=np.int64), same=np.array(same, dtype=np.int64), along=np.zeros((0, 4), dtype=np.int64),
        measure_ends=ends, lengths=lengths, measure_give=np.full(len(ends), tape), origin=number["door bl"],
    )  # fmt: skip


def _in_picture(place: np.ndarray) -> bool:
    return bool((place > 10).all() and (place < [WIDTH - 10, HEIGHT - 10]).all())


def truth_of(house: House, names: tuple[str, ...] = ()) -> np.ndarray:
    """(n, 3) metres of the points called ``names``, or all, with the origin at x = 0."""
    return np.array([house.places[name] for name in names or house.places]) - [house.places["door bl"][0], 0, 0]


FOUR = [("door bl", "door br"), ("door bl", "door tl"), ("base l", "base r"), ("door bl", "path a")]
SIX = [*FOUR, ("garage bl", "garage br"), ("arch 0", "arch 1")]
"""What is measured of the plain house, all at hand height, one measure towards the street."""
CHECKED = [*FOUR, ("door bl", "path b"), ("window bl", "base r")]
"""As the manual has it: two along the front and two towards the street, which check each other."""


def measures_of(house: House, count: int) -> list[tuple[str, str]]:
    """What somebody would measure first of any house."""
    usual = [("door bl", "door br"), ("door bl", "door tl"), ("base l", "base r")]
    usual += [("garage bl", "garage br")] if "garage bl" in house.places else []
    usual += [("arch 0", "arch 1"), ("door bl", "path 0"), ("path 0", "path 1"), ("door br", "arch 0")]
    return usual[:count]


PROPS = """
[[prop]]
name = "eaves"
shape = "line"
from = "eave l"
to = "eave r"
spacing = "5 cm"
tags = ["roofline", "eaves"]

[[prop]]
name = "gable"
shape = "polyline"
points = ["eave l", "gable", "eave r"]
spacing = 0.05
tags = ["roofline", "gable"]

[[prop]]
name = "garage door"
shape = "rectangle"
corners = ["garage bl", "garage br", "garage tr", "garage tl"]
spacing = 0.1
tags = ["garage"]

[[prop]]
name = "window"
shape = "grid"
corners = ["window bl", "window br", "window tr", "window tl"]
columns = 12
rows = 8
tags = ["grid", "window"]

[[prop]]
name = "arch"
shape = "arch"
feet = ["arch 0", "arch 1"]
height = "80 cm"
pixels = 40
repeat = { count = 2, last = "arch 1" }
tags = ["arch", "ground"]

[[prop]]
name = "tree"
shape = "cone"
foot = "tree foot"
tip = "tree top"
base = 1.6
strings = 8
pixels = 25
tags = ["tree", "big"]

[[prop]]
name = "path light"
shape = "spot"
at = "path a"
tags = ["spot", "path"]
"""
"""What hangs on the plain house."""


def survey_text(house: House, known: Known, measures: list[tuple[str, str]], files: list[str], props: str = PROPS,
                focal: float | None = None, size: bool = False) -> str:  # fmt: skip
    """The survey file of what is known of a house; ``size``: say the photos' sizes, as they are not at hand."""
    lines = ['title = "Plain house"', 'origin = "door bl"']
    for file, view in zip(files, known.views, strict=True):
        lines += ["[[photo]]", f'file = "{file}"']
        lines += [f"size = [{view.width}, {view.height}]"] if size else []
        lines += [f"focal = {focal}"] if focal else []
    for wall in house.walls[2:]:
        lines += ["[[plane]]", f'name = "{wall.name}"', 'parallel = "front"']
        lines += [f"set_back = {wall.set_back[0]}"] if wall.set_back else []
    on = {name: [house.walls[wall].name for other, wall in house.on if other == name] for name in house.places}
    for number, name in enumerate(known.points):
        seen = {files[v].rsplit(".", 1)[0]: known.clicks[c] for c, (v, p) in
                enumerate(zip(known.click_view.tolist(), known.click_point.tolist(), strict=True))
                if p == number}  # fmt: skip
        places = ", ".join(f"{photo} = [{x:.1f}, {y:.1f}]" for photo, (x, y) in seen.items())
        lines += ["[[point]]", f'name = "{name}"', f"at = {{ {places} }}", f"on = {on[name]!r}".replace("'", '"')]
    for kind, pairs in (("level", house.level), ("upright", house.upright)):
        for a, b in pairs:
            lines += ["[[line]]", f'points = ["{a}", "{b}"]', f'runs = "{kind}"']
    for (a, b), length in zip(measures, known.lengths, strict=True):
        lines += ["[[measure]]", f'from = "{a}"', f'to = "{b}"', f"length = {length:.3f}"]
    return "\n".join(lines) + "\n" + props
