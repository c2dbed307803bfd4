"""The survey file as pydantic models. What only shows when entries meet is checked in `read`."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, Strict, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.files import plain_text
from eavesong.layout.fields import FileBeside, Name
from eavesong.survey.anchors import AnyProp
from eavesong.survey.tape import SignedTape, Tape

Pixels = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Place = Annotated[tuple[Pixels, Pixels], Strict(False)]
Names = Annotated[tuple[Name, ...], Strict(False)]


def _several(value: Any) -> Any:
    """One name alone stands for a list of it."""
    return [value] if isinstance(value, str) else value


class Photo(Entry):
    """A photo of the house."""

    file: FileBeside
    """The picture, beside the survey."""
    name: Name | None = None
    """What points call it; the file's name without its ending if not given."""
    focal: Annotated[float, Field(ge=4, le=1000, allow_inf_nan=False)] | None = None
    """Focal length in millimetres, 35 mm equivalent, where the photo does not say, or says it wrongly."""
    cropped: bool = False
    """Whether a part was cut off, so that the middle of the picture is not that of the lens."""
    size: Annotated[tuple[int, int], Strict(False)] | None = None
    """Width and height, for a survey whose photo is not at hand."""


class Plane(Entry):
    """A wall, a roof or the ground. ``front`` and ``ground`` are there unasked."""

    name: Name
    """What points call it."""
    parallel: Name | None = None
    """The wall it is parallel to."""
    set_back: SignedTape | None = None
    """How far behind that wall it stands, where it was measured; negative for one that stands forward."""
    turned: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)] | Literal["unknown"] | None = None
    """Degrees its front is turned to the right as seen from the street, or "unknown"."""
    roof_over: Name | None = None
    """The wall over which it rises, away from it."""
    pitch: Annotated[float, Field(gt=0, lt=90, allow_inf_nan=False)] | None = None
    """Degrees a roof rises, where that is known."""
    level: bool = True
    """Of the ground: whether it is level; if not, its slope is found."""
    give: Tape | None = None
    """How flat it is, or how sure its set-back; 1 mm and 1 cm if not given."""

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [key for key in ("parallel", "turned", "roof_over") if getattr(self, key) is not None]
        if len(kinds) > 1:
            raise MisfitError(f"both '{kinds[0]}' and '{kinds[1]}' are given", "Keep one of them.")
        if self.name in ("front", "ground"):
            if kinds:
                raise MisfitError(f"the {self.name} is where everything is measured from", f"Leave out '{kinds[0]}'.")
        elif not kinds:
            raise MisfitError("it does not say how the plane lies", "Add 'parallel', 'turned' or 'roof_over'.")
        for key, needs in (("set_back", "parallel"), ("pitch", "roof_over")):
            if getattr(self, key) is not None and needs not in kinds:
                raise MisfitError(f"'{key}' is of use only with '{needs}'", f"Leave it out, or add '{needs}'.")
        if not self.level and self.name != "ground":
            raise MisfitError("only the ground is level", "Leave out 'level'.")
        return self


class Point(Entry):
    """A named point of the house."""

    name: Name
    at: Place | dict[str, Place] = Field(default_factory=dict)
    """Where it is seen: picture elements to the right and down, in the first photo; or a table of photos."""
    on: Annotated[Names, BeforeValidator(_several)] = ()
    """The plane or planes it lies on."""
    above: Name | None = None
    """The point it stands straight above, or below."""
    give: Annotated[float, Field(ge=0.05, le=1000, allow_inf_nan=False)] | None = None
    """How far off the click may be, in picture elements; 2 in 4,000 if not given."""


class StraightLine(Entry):
    """Points on one straight line."""

    points: Names = Field(min_length=2, max_length=100)
    """Two or more."""
    runs: Literal["level", "upright"] | None = None
    """How it runs, where that is known."""
    parallel: Annotated[tuple[Name, Name], Strict(False)] | None = None
    """Two points on a line that it is parallel to."""

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.runs is None and self.parallel is None and len(self.points) < 3:
            raise MisfitError("two points are always on a line", "Add 'runs', 'parallel' or a third point.")
        if len(set(self.points)) < len(self.points):
            raise MisfitError("a point stands here twice", "Name each point once.")
        return self


class Measure(Entry):
    """A length somebody measured."""

    start: Name = Field(alias="from")
    """A point."""
    end: Name = Field(alias="to")
    """Another point."""
    length: Tape
    """What the tape reads."""
    give: Tape | None = None
    """How far off it may be; 1 cm if not given."""


class Survey(Entry):
    """A survey file."""

    title: Annotated[str, Field(min_length=1, max_length=200), AfterValidator(plain_text)]
    """What the house is called."""
    units: Literal["m", "cm", "mm", "ft", "in"] = "m"
    """Unit of all lengths that name none, and of the layout."""
    origin: Name | None = None
    """The point whose x is 0; the first point on front and ground if not given."""
    photo: Annotated[tuple[Photo, ...], Strict(False)] = Field(min_length=1, max_length=20)
    plane: Annotated[tuple[Plane, ...], Strict(False)] = Field(default=(), max_length=100)
    point: Annotated[tuple[Point, ...], Strict(False)] = Field(min_length=1, max_length=500)
    line: Annotated[tuple[StraightLine, ...], Strict(False)] = Field(default=(), max_length=1000)
    measure: Annotated[tuple[Measure, ...], Strict(False)] = Field(default=(), max_length=1000)
    prop: Annotated[tuple[AnyProp, ...], Strict(False)] = Field(default=(), max_length=2000)


def survey_schema() -> dict[str, Any]:
    """The JSON Schema of a survey file."""
    return Survey.model_json_schema(by_alias=True)
