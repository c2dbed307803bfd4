"""Ways in: a layout from a file, a layout from arrays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.errors import LayoutError, Problem
from eavesong.files import content_hash, read_text
from eavesong.layout import kept
from eavesong.layout.house import Frame, Layout, Prop
from eavesong.layout.patch import Patch

if TYPE_CHECKING:
    from eavesong.layout.coordinates import PlacedWire

Floats = NDArray[np.float64]


def load_layout(path: str | Path) -> Layout:
    """The layout in the TOML file ``path``, with the points files it names, which stand beside it or below.

    A house of usual size is kept, see `eavesong.layout.kept`. Raises LayoutError with every problem found, each with
    its line, key and what to write instead.
    """
    name = str(path)
    text = read_text(path, LayoutError)
    if (known := kept.recalled(name, text)) is not None:
        return known
    layout, files = _read(name, text)
    kept.keep(name, text, files, layout)
    return layout


def _read(name: str, text: str) -> tuple[Layout, Iterable[str]]:
    """The layout in the text of the file ``name``, and the points files it names."""
    from eavesong.files import read_model
    from eavesong.layout.build import build
    from eavesong.layout.faults import Faults
    from eavesong.layout.model import House
    from eavesong.layout.names import note_strange_names, note_strange_pitches
    from eavesong.layout.points import PointsReader
    from eavesong.slips import commas_in, read_tables, with_commas

    tables = read_tables(text, name, LayoutError, "layout")
    reader = PointsReader(Path(name).parent)
    try:
        layout = build(read_model(House, text, name, LayoutError, tables), reader, Faults(name, text))
    except LayoutError as fault:
        strange = Faults(name, text)
        note_strange_names(tables, strange)
        note_strange_pitches(tables, strange)
        told = {problem.place for problem in fault.problems}
        more = (problem for problem in strange.problems if problem.place not in told)
        raise LayoutError(with_commas((*fault.problems, *more), text, name)) from None
    if commas := commas_in(text, name):
        raise LayoutError(commas)
    return replace(layout, content_hash=kept.hash_of(text, reader.texts)), reader.texts


def layout_from_points(
    points: ArrayLike | Mapping[str, ArrayLike],
    *,
    title: str = "points",
    tags: Iterable[str] | Mapping[str, Iterable[str]] = (),
    frame: tuple[Sequence[float], Sequence[float]] | None = None,
) -> Layout:
    """A draft layout (RGB, no controllers) with pixels at ``points`` (n, 3) metres, in wire order.

    A mapping makes one prop of each entry, with its key as name; an array makes one prop named ``title``.
    ``tags`` are for all props, or a mapping from prop name to tags. ``frame`` is (from, to) in metres, by default
    the bounding box. Raises LayoutError for empty, misshapen or non-finite points.
    """
    from eavesong.layout.coordinates import frame_around, measure

    named = points if isinstance(points, Mapping) else {title: points}
    placed = [_placed(_places(name, array)) for name, array in named.items()]
    if not placed:
        raise LayoutError(Problem(title, "", "there is no prop in it"))
    counts = [len(prop.wire.points) for prop in placed]
    stops = np.cumsum(counts).tolist()
    props = tuple(
        Prop(name, "points", _tags_of(name, tags), stop - count, stop, 0, prop.wire.length, name)
        for name, prop, count, stop in zip(named, placed, counts, stops, strict=True)
    )
    box = frame_around(np.concatenate([prop.wire.points for prop in placed]))
    if frame is not None:
        box = Frame(np.array(frame[0], dtype=float), np.subtract(frame[1], frame[0]).astype(float))
    digest = content_hash(title, *(prop.wire.points.tobytes() for prop in placed))
    return Layout(title, "", "", digest, box, props, measure(placed, [0] * len(placed), box), _draft(stops[-1]))


def _places(name: str, array: ArrayLike) -> Floats:
    from eavesong.layout.wire import MOST_PIXELS

    places = np.asarray(array, dtype=np.float64)
    if places.ndim != 2 or places.shape[1:] != (3,) or not 0 < len(places) <= MOST_PIXELS:
        raise LayoutError(Problem(name, "", f"points of shape {places.shape}, not (n, 3)"))
    if not np.isfinite(places).all():
        raise LayoutError(Problem(name, "", "a point is not finite"))
    return places


def _placed(places: Floats) -> PlacedWire:
    from eavesong.layout.coordinates import PlacedWire
    from eavesong.layout.shapes import surveyed

    return PlacedWire(surveyed(places), np.zeros(3), np.eye(3), 0.0)


def _tags_of(name: str, tags: Iterable[str] | Mapping[str, Iterable[str]]) -> frozenset[str]:
    return frozenset(tags.get(name, ()) if isinstance(tags, Mapping) else tags)


def _draft(count: int) -> Patch:
    """The patch of pixels without controllers: three channels each, in the order RGB."""
    return Patch(
        channel_count=3 * count, channel_start=3 * np.arange(count, dtype=np.int64),
        channel_width=np.full(count, 3, dtype=np.int8), orders=("RGB",), order=np.zeros(count, dtype=np.int16),
        brightness=np.ones(count, dtype=np.float32), gamma=np.ones(count, dtype=np.float32), runs=(),
    )  # fmt: skip
