"""From the layout file's models to a Layout: repeat, mirror, place, measure, patch."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from eavesong.errors import LayoutError, MisfitError
from eavesong.layout import model, props
from eavesong.layout.coordinates import PlacedWire, frame_around, in_metres, measure, rotation
from eavesong.layout.faults import Faults
from eavesong.layout.feeds import plan_power
from eavesong.layout.house import Frame, Layout, Prop
from eavesong.layout.lengths import length_text
from eavesong.layout.patch import Member, build_patch
from eavesong.layout.points import PointsReader
from eavesong.layout.size import entries_in, misfit_of_pitch, misfit_of_size, reaches_of
from eavesong.layout.view import DISTANCE, FARTHEST_EYE, NEAREST_EYE
from eavesong.layout.wire import MOST_PIXELS, MOST_PROPS, Floats, Wire
from eavesong.words import METRES

OUTSIDE = 1e-3
"""Metres a pixel may stand outside the frame before it is told: rounding of measured sizes."""

FARTHEST = 100_000.0
"""Metres: a house farther across is one whose units are wrong."""


@dataclass(frozen=True)
class _Item:
    """One prop of the house: its entry, its place in the row, and where it stands."""

    entry: int
    source: props.PropEntry
    name: str
    number: int
    tags: frozenset[str]
    placed: PlacedWire


def build(house: model.House, read_points: PointsReader, faults: Faults, content_hash: str = "") -> Layout:
    """The layout that ``house`` describes; raises LayoutError with every problem in ``faults`` and found here."""
    metres = METRES[house.units]
    items = _items(house, metres, read_points, faults)
    faults.stop_if_any()
    _check_names(items, faults)
    _check_wishes(house, items, faults)
    frame = _frame(house, items, metres, faults)
    watched_from = _watched_from(house, metres, faults)
    members = _members(items)
    patch = build_patch(house, members, faults)
    faults.stop_if_any()
    power = plan_power(house, members, patch, faults)
    faults.stop_if_any()
    props = (_prop(item, member) for item, member in zip(items, members, strict=True))
    return Layout(
        title=house.title, path=faults.file, text=faults.text, content_hash=content_hash, frame=frame,
        props=tuple(replace(prop, lit=not prop.goes_by(house.unlit)) for prop in props),
        pixels=measure([item.placed for item in items], [item.number for item in items], frame),
        patch=patch, photo=house.photo.file if house.photo else "", palettes=house.replacements(),
        colours=house.recolouring(), power_plan=power, watched_from=watched_from,
    )  # fmt: skip


def _items(house: model.House, metres: float, read_points: PointsReader, faults: Faults) -> list[_Item]:
    if _too_many_points(house, read_points, faults):
        return []
    items: list[_Item] = []
    wires: dict[str, Wire] = {}
    total = 0
    for entry, source in enumerate(props.measured(each, metres) for each in house.prop):
        pitch = getattr(source, "pitch", None)
        if pitch is not None and (misfit := misfit_of_pitch(pitch, house.units)):
            faults.add(("prop", entry, "pitch"), *misfit)
            continue
        try:
            wire = _wire(source, read_points, wires)
        except MisfitError as fault:
            faults.add_error(("prop", entry), fault)
            continue
        except LayoutError as fault:  # of a points file
            told = [replace(each, found=f"{each.found} (for the prop '{source.name}')") for each in fault.problems]
            faults.problems += [problem for problem in told if problem not in faults.problems]
            continue
        copies = _count_copies(source)
        total += copies * len(wire.points)
        if len(items) + copies > MOST_PROPS:
            faults.add(
                ("prop", entry),
                f"with this prop the layout has {len(items) + copies:,} props, more than {MOST_PROPS:,}",
                "Make one prop of those that belong together.",
            )
            break
        if _too_many(total, entry, faults):
            break
        items += _copies(entry, source, in_metres(wire, metres), metres)
    return items


def _wire(source: props.PropEntry, read_points: PointsReader, wires: dict[str, Wire]) -> Wire:
    """The wire of a prop; those of one make, wherever they stand, share one, which is kept in ``wires``."""
    if isinstance(source, props.Points):
        return source.wire_through(read_points(source))
    make = repr(source.model_copy(update=dict.fromkeys(props.PropEntry.model_fields.keys() - {"shape"})))
    if make not in wires:
        wires[make] = source.wire()
    return wires[make]


def _too_many_points(house: model.House, read_points: PointsReader, faults: Faults) -> bool:
    """Whether points files hold more than a layout may have: seen by their lines, before any of them is read."""
    total = 0
    for entry, source in enumerate(house.prop):
        if isinstance(source, props.Points):
            with contextlib.suppress(LayoutError):  # told when it is read
                total += _count_copies(source) * read_points.count(source)
            if _too_many(total, entry, faults):
                return True
    return False


def _too_many(total: int, entry: int, faults: Faults) -> bool:
    if total > MOST_PIXELS:
        faults.add(
            ("prop", entry), f"with this prop the layout has {total:,} pixels, more than {MOST_PIXELS:,}",
            "Check the counts, the pitch and the units.",
        )  # fmt: skip
    return total > MOST_PIXELS


def _count_copies(source: props.PropEntry) -> int:
    return (source.repeat.count if source.repeat else 1) * (2 if source.mirror else 1)


def _copies(entry: int, source: props.PropEntry, wire: Wire, metres: float) -> Iterator[_Item]:
    """The prop itself, or its row: first as repeated, then mirrored in reverse, so that the row runs on."""
    count = source.repeat.count if source.repeat else 1
    step = np.array(source.repeat.step if source.repeat else (0, 0, 0), dtype=np.float64)
    places = [(np.array(source.at) + number * step) * metres for number in range(count)]
    turned = rotation(source.rotate.x, source.rotate.y, source.rotate.z)
    heading = source.rotate.y / 360
    row = [PlacedWire(wire, at, turned, heading) for at in places]
    if source.mirror:
        plane = source.mirror.x * metres
        row += [PlacedWire(wire, at, turned, heading, mirror=plane) for at in places[::-1]]
    for number, placed in enumerate(row):
        name = source.name if len(row) == 1 else f"{source.name} {number + 1}"
        tags = frozenset(_mirrored(source.tags) if placed.mirror is not None else source.tags)
        yield _Item(entry, source, name, number, tags, placed)


def _mirrored(tags: Sequence[str]) -> list[str]:
    """Tags of a mirror image: left and right change places."""
    return [{"left": "right", "right": "left"}.get(tag, tag) for tag in tags]


def _check_names(items: Sequence[_Item], faults: Faults) -> None:
    """Every name a prop can be chosen by belongs to one entry."""
    owners: dict[str, int] = {}
    for item in items:
        for name in dict.fromkeys((item.source.name, item.name)):
            owner = owners.setdefault(name, item.entry)
            if owner != item.entry:
                faults.add(
                    ("prop", item.entry, "name"),
                    f"the name '{name}' is already taken by prop {owner + 1}", "Give each prop its own name.",
                )  # fmt: skip


def _check_wishes(house: model.House, items: Sequence[_Item], faults: Faults) -> None:
    """What a house wishes names palettes and props that there are."""
    known = {name for item in items for name in (item.source.name, item.name, *item.tags)}
    for path, found, instead in house.misfits(known):
        faults.add(path, found, instead)


def _frame(house: model.House, items: Sequence[_Item], metres: float, faults: Faults) -> Frame:
    places = [item.placed.put(item.placed.wire.points) for item in items]
    names = [item.source.name for item in items]
    frame = frame_around(np.concatenate(places))
    if house.frame is None:
        if misfit := misfit_of_size(
            frame.size.tolist(), house.units, reaches_of(names, places, entries_in(faults.text))
        ):
            faults.add((), *misfit)
        return frame
    if max(frame.size) > FARTHEST:
        faults.add((), f"the house measures {max(frame.size):,.0f} m", "Check 'units' and the places of the props.")
    low, high = np.array(house.frame.start) * metres, np.array(house.frame.end) * metres
    beyond: dict[int, list[tuple[str, str]]] = {}
    for item, points in zip(items, places, strict=True):
        if side := _outside(points, low, high, house.units):
            beyond.setdefault(item.entry, []).append((item.name, side))
    for entry, members in beyond.items():
        name, side = members[0]
        others = f" (and {len(members) - 1} more of its row)" if len(members) > 1 else ""
        found = f"'{name}' stands outside the frame: {side}{others}"
        faults.add(("prop", entry), found, "Widen [frame], or move the prop.")
    return Frame(low, high - low)


def watched_from(tables: Mapping[str, object]) -> float:
    """Metres from the nearest eye to the display, by the tables of a layout's text, as far as they can be read."""
    away = tables.get("watched_from")
    metres = METRES.get(str(tables.get("units", "m")), 1.0)
    if not isinstance(away, int | float) or not NEAREST_EYE <= away * metres <= FARTHEST_EYE:
        return DISTANCE
    return away * metres


def _watched_from(house: model.House, metres: float, faults: Faults) -> float:
    """Metres from the nearest eye to the display."""
    if house.watched_from is None:
        return DISTANCE
    away = house.watched_from * metres
    if not NEAREST_EYE <= away <= FARTHEST_EYE:
        near, far = (f"{end / metres:,.4g} {house.units}" for end in (NEAREST_EYE, FARTHEST_EYE))
        found = f"the nearest eye is {house.watched_from:g} {house.units} away"
        faults.add(("watched_from",), found, f"Write a distance from {near} to {far}.")
    return away


def _outside(points: Floats, low: Floats, high: Floats, units: str) -> str:
    """How far ``points`` reach over the frame, in words; empty when they do not."""
    sides = (("left", "right"), ("bottom", "top"), ("back", "front"))
    words = []
    for axis, (below, above) in enumerate(sides):
        for side, over in (
            (below, low[axis] - points[:, axis].min()),
            (above, points[:, axis].max() - high[axis]),
        ):
            if over > OUTSIDE:
                words.append(f"{length_text(over, units, 2)} over the {side}")
    return ", ".join(words)


def _members(items: Sequence[_Item]) -> list[Member]:
    stops = np.cumsum([len(item.placed.wire.points) for item in items]).tolist()
    return [
        Member(item.name, item.source.name, start, stop)
        for item, start, stop in zip(items, [0, *stops[:-1]], stops, strict=True)
    ]


def _prop(item: _Item, member: Member) -> Prop:
    return Prop(
        name=item.name, shape=item.source.shape, tags=item.tags, start=member.start, stop=member.stop,
        number=item.number, length=item.placed.wire.length, member_of=member.member_of,
    )  # fmt: skip
