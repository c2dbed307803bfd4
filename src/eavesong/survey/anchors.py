"""The ``[[prop]]`` entries of a survey: shapes of the layout room, hung on named points instead of coordinates.

Each model is that of the layout's shape with the sizes that points give left out and the points put in their place;
lengths that were measured may carry a unit, and ``pitch`` is called ``spacing`` here, since roofs have a pitch.
"""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import Annotated, Any, ClassVar, Self

from pydantic import Field, Strict, create_model, model_validator
from pydantic.fields import FieldInfo

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.layout import props
from eavesong.layout.fields import Name, Tags
from eavesong.survey.tape import SignedTape, Tape

Names = Annotated[tuple[Name, ...], Strict(False)]
Two = Annotated[tuple[Name, Name], Strict(False)]
Four = Annotated[tuple[Name, Name, Name, Name], Strict(False)]


class HungRow(Entry):
    """A row of equal props."""

    count: Annotated[int, Field(ge=2, le=10_000)]
    """How many there are."""
    last: Name | None = None
    """Where the first anchor of the last one is."""
    step: Annotated[tuple[SignedTape, SignedTape, SignedTape], Strict(False)] | None = None
    """Or from each to the next, right, up and towards the street."""

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.last is None) == (self.step is None):
            raise MisfitError("a row needs either 'last' or 'step'", "Name the point where the last one is.")
        return self


class Hung(Entry):
    """What every prop of a survey has."""

    drawn_as: ClassVar[type[props.PropEntry] | None] = None
    """The layout's shape that it becomes, whose keys it takes over."""

    name: Name = Field(description="Its own name; the members of a row are numbered after it.")
    shape: str = Field(description="What its wire looks like.")
    tags: Tags = Field(default=(), description="Words shows choose by.")
    repeat: HungRow | None = Field(default=None, description="A row of equal props.")

    @classmethod
    def descriptions(cls) -> dict[str, str]:
        """Of the keys that are taken over, what the layout says of them."""
        told = cls.drawn_as.descriptions() if cls.drawn_as else {}
        return {"spacing" if key == "pitch" else key: text for key, text in told.items() if key not in _KEPT_OUT}

    def anchors(self) -> tuple[str, ...]:
        """The points it hangs on, in order."""
        found: list[str] = []
        for key in self.anchors_keys():
            if (value := getattr(self, key)) is not None:
                found += [value] if isinstance(value, str) else value
        return tuple(found)

    @classmethod
    def anchors_keys(cls) -> tuple[str, ...]:
        """The fields that name points."""
        return tuple(key for key in cls.model_fields if key in ANCHORS)

    @model_validator(mode="after")
    def _height_or_tip(self) -> Self:
        given = [key for key in ("height", "tip", "crown") if getattr(self, key, None) is not None]
        if len(given) > 1:
            raise MisfitError(f"both '{given[0]}' and '{given[1]}' are given", "Keep one of them.")
        needs = next((key for key in ("tip", "crown") if key in type(self).model_fields), None)
        if needs and not given:
            raise MisfitError(f"neither 'height' nor '{needs}' is given", "Add 'height' as measured.")
        fields = type(self).model_fields
        if "spacing" in fields and "pixels" in fields:
            both = [key for key in ("pixels", "spacing") if getattr(self, key) is not None]
            if len(both) != 1:
                found = "both 'pixels' and 'spacing' are" if both else "neither 'pixels' nor 'spacing' is"
                raise MisfitError(f"{found} given", "Write one of them.")
        return self


_LENGTHS = {"gap", "hook", "outer", "inner", "base", "top", "height", "width", "diameter", "spacing"}
_KEPT_OUT = {"name", "shape", "at", "rotate", "tags", "repeat", "mirror"}
ANCHORS = {
    "start_point": (Name, Field(alias="from", description="The point where it begins.")),
    "end_point": (Name, Field(alias="to", description="The point where it ends.")),
    "points": (Names, Field(min_length=2, max_length=500, description="Points in order.")),
    "feet": (Two, Field(description="The points of its left and right foot.")),
    "crown": (Name | None, Field(default=None, description="The point of its crown, where 'height' is not measured.")),
    "corners": (Four, Field(description="Bottom left, bottom right, top right, top left.")),
    "centre": (Name, Field(description="The point of its middle.")),
    "foot": (Name, Field(description="The point it stands on.")),
    "tip": (Name | None, Field(default=None, description="The point of its top, where 'height' is not measured.")),
    "where": (Name, Field(alias="at", description="The point where it is.")),
}
"""Keys that name points."""

_HUNG_ON: dict[type[props.PropEntry], tuple[str, ...]] = {
    props.Spot: ("where",),
    props.Line: ("start_point", "end_point"),
    props.Polyline: ("points",),
    props.Arch: ("feet", "crown"),
    props.Ring: ("centre",),
    props.Rectangle: ("corners",),
    props.Cane: ("foot", "tip"),
    props.Star: ("centre",),
    props.Spokes: ("centre",),
    props.Grid: ("corners",),
    props.Cone: ("foot", "tip"),
    props.Helix: ("foot", "tip"),
    props.Sphere: ("centre",),
    props.Icicles: ("start_point", "end_point"),
}

_GIVEN: dict[type[props.PropEntry], set[str]] = {
    props.Line: {"start", "end"},
    props.Polyline: {"points"},
    props.Arch: {"width"},
    props.Rectangle: {"width", "height"},
    props.Grid: {"width", "height"},
    props.Icicles: {"width"},
}
"""Keys of the layout's shapes that points give."""


def _model(shape: type[props.PropEntry]) -> type[Hung]:
    fields: dict[str, Any] = {"shape": (shape.model_fields["shape"].annotation, ...)}
    for key in _HUNG_ON[shape]:
        fields[key] = ANCHORS[key]
    for key, info in shape.model_fields.items():
        if key in _KEPT_OUT or key in _GIVEN.get(shape, ()):
            continue
        fields["spacing" if key == "pitch" else key] = _taken_over("spacing" if key == "pitch" else key, info)
    for key in ("height",):
        if key in fields and {"tip", "crown"} & set(fields):
            fields[key] = (Tape | None, Field(default=None, description="As measured."))
    made = create_model(f"Hung{shape.__name__}", __base__=Hung, **fields)
    made.drawn_as = shape
    return made


def _taken_over(key: str, info: FieldInfo) -> tuple[Any, Any]:
    """A key of the layout's shape; one that is a length may carry a unit."""
    if key == "lengths":
        return Annotated[tuple[Tape, ...], Strict(False)], Field(min_length=1, max_length=1000)
    if key not in _LENGTHS:
        return info.annotation, info
    optional = not info.is_required()
    return (Tape | None if optional else Tape), Field(default=None if optional else ...)


MODELS: dict[str, type[Hung]] = {
    str(shape.model_fields["shape"].annotation.__args__[0]): _model(shape)  # type: ignore[union-attr]
    for shape in _HUNG_ON
}
"""The model of each shape by its name."""

AnyProp: Any = Annotated[reduce(or_, MODELS.values()), Field(discriminator="shape")]
