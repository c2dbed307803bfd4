"""What a report takes for granted: everything a person may know better than we do, in one place."""

from __future__ import annotations

from dataclasses import dataclass, fields

from eavesong.errors import LayoutError, Problem
from eavesong.layout.view import FARTHEST_EYE, NEAREST_EYE

CAUTIONS = (
    "These figures are estimates from what the layout says; measure before you rely on them.",
    "Out of doors use parts rated for it, and residual-current protection (RCD, GFCI) on every mains circuit.",
    "Fuse every lead at the end of the supply, by the lower of what the supply gives and what the wire may carry.",
    "Mains work is for licensed people. Local codes come first.",
    "On a ladder: level ground, a second person, no wet rungs, nothing near overhead lines.",
)
"""The usual cautions; every report opens with them."""


@dataclass(frozen=True)
class Assumptions:
    """Stated values that the layout and the frames do not hold."""

    frame_rate: float = 40.0
    """Frames a second, where there are no frames to tell."""
    share: float = 0.3
    """Of full white, 0..1: a guess at what a show draws on average, where there are no frames."""
    distance: float | None = None
    """Metres from the nearest watching eye to the display; None: those that the layout says."""
    area: bool = False
    """Whether flashing areas below a quarter of any 10 degree field are let pass (WCAG 2.2 allows it). By default
    no place may flash, however small."""
    tariff: float = 0.30
    """Price of a kWh, in any currency."""
    hours: float = 4.0
    """A night."""
    nights: float = 30.0
    """A season."""
    slack: float = 0.15
    """Share added to the distance between two props, and to leads: bought, and counted where the voltage falls."""
    spare: float = 0.3
    """Metres added to straight distances."""
    hop: float = 5.0
    """Metres of cable over which pixels' data can be trusted without a pixel in between (common practice)."""
    supply_share: float = 1.0
    """Of full white that supplies are sized for; below 1 every show has to be rendered with a limit on them."""
    spares: float = 0.05
    """Share of pixels, fuses and connectors that is bought more than needed."""

    def __post_init__(self) -> None:
        ranges = {"frame_rate": (1, 1000), "share": (0, 1), "distance": (NEAREST_EYE, FARTHEST_EYE), "tariff": (0, 1e6),
                  "hours": (0, 24), "nights": (0, 366), "slack": (0, 10), "spare": (0, 100),
                  "hop": (0.1, 1000), "supply_share": (0.05, 1), "spares": (0, 1)}  # fmt: skip
        problems = []
        for field in fields(self):
            low, high = ranges.get(field.name, (0, 1))
            value = getattr(self, field.name)
            if value is not None and not low <= value <= high:
                found = f"{value:g} is no {field.name.replace('_', ' ')}"
                percent = f"Write {value / 100:g} for {value:g} %." if low <= value / 100 <= high == 1 else ""
                problems.append(Problem("assumptions", field.name, found, percent or f"Write {low:g} to {high:g}."))
        if problems:
            raise LayoutError(problems)
