"""What a picture needs to know of a house, from a frames file or straight from a layout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.frames.description import PropRow
from eavesong.scene.sight import Sight, sight_in

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene.reopen import Reopened


@dataclass(frozen=True, eq=False)
class Subject:
    """A house to be looked at."""

    metres: NDArray[np.float32]
    """(n, 3): where each light is, from the house frame's left, bottom, back corner."""
    props: tuple[PropRow, ...]
    box: NDArray[np.float64]
    """(3,) metres: the house frame."""
    sight: Sight


def subject_of(source: Reopened) -> Subject:
    """The house of a frames file."""
    return Subject(source.metres, tuple(source.frames.props), source.box, source.sight)


def subject_of_layout(layout: Layout) -> Subject:
    """The house of a layout file."""
    from eavesong.errors import LayoutError
    from eavesong.files import parse_toml

    pixels = layout.pixels
    rows = tuple(
        PropRow(prop.name, prop.start, prop.stop - prop.start, tuple(sorted(prop.tags)), prop.shape)
        for prop in layout.props
    )
    tables = parse_toml(layout.text, layout.path, LayoutError) if layout.text else {}
    metres = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1)
    return Subject(metres, rows, layout.frame.size, sight_in(tables, layout.frame.origin.tolist()))
