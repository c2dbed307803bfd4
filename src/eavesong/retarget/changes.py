"""What changed between two houses, prop by prop: in metres and in house coordinates."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.layout.lengths import FEET, length_text
from eavesong.layout.size import units_in
from eavesong.words import METRES

if TYPE_CHECKING:
    from eavesong.layout import Layout, Prop

Floats = NDArray[np.float64]
Triple = tuple[float, float, float]

CLOSE = 1e-3
"""Metres that count as no change: what is written in a file to the millimetre."""

FEW = 0.2
"""Share of the pixels that may stand where some stood on another house: who moves hangs his arches up alike."""

ORDER = "its pixels are wired in another order"

KINDS = ("added", "gone", "renamed", "moved", "turned", "resized", "re-pixelled", "rewired", "retagged")


@dataclass(frozen=True)
class PropChange:
    """What became of one prop."""

    name: str
    """On the new house; on the old one where it is gone."""
    was: str
    """Its name on the old house; empty where it was added."""
    kinds: tuple[str, ...]
    """Some of KINDS, in their order; empty where it is as it was."""
    words: tuple[str, ...]
    """A sentence part for each kind."""
    moved: Triple = (0.0, 0.0, 0.0)
    """Metres that its middle went to the right, up and towards the street."""
    shifted: Triple = (0.0, 0.0, 0.0)
    """The same in house coordinates, where a moved house frame counts too."""
    place: Triple = (0.0, 0.0, 0.0)
    """House coordinates of its middle, on the old house where it is gone."""
    only_sent_elsewhere: bool = False
    """Whether all that changed is the output, universe or slot that it is sent to."""
    pixels: int = 0
    """How many it has, on the old house where it is gone."""


@dataclass(frozen=True)
class HouseChange:
    """What became of a house; equal for equal houses."""

    old: str
    new: str
    frame_moved: bool
    frame: tuple[tuple[Triple, Triple], tuple[Triple, Triple]]
    """Corner and size, in metres, of the old and of the new house frame."""
    pin: str
    """Lines for the layout file that keep everything in place; empty where the frame stayed."""
    props: tuple[PropChange, ...]
    """Every prop of the new house in order, then those that are gone."""
    another: bool = False
    """Whether it is another house altogether: it is called otherwise, and next to nothing stands where something stood.
    """
    units: str = "m"
    """Those of the new house's file."""

    @property
    def changed(self) -> tuple[PropChange, ...]:
        """The props that are not as they were."""
        return tuple(prop for prop in self.props if prop.kinds)


def compare_houses(old: Layout, new: Layout) -> HouseChange:
    """What changed from ``old`` to ``new``. Props are the same when they bear the same name, or stand unchanged."""
    pairs = pair_props(old, new)
    kept = set(pairs.values())
    changes = [_change(old, pairs.get(index), new, index) for index in range(len(new.props))]
    changes += [_gone(old, index) for index in range(len(old.props)) if index not in kept]
    corners = tuple((_triple(house.frame.origin), _triple(house.frame.size)) for house in (old, new))
    moved = any(abs(a - b) > CLOSE for was, now in zip(*corners, strict=True) for a, b in zip(was, now, strict=True))
    pin = _pin(old, new) if moved else ""
    standing = sum(change.pixels for change in changes if _stands(change))
    another = old.title != new.title and standing < FEW * new.pixel_count
    return HouseChange(
        *_called(old, new), moved, (corners[0], corners[1]), pin, tuple(changes), another, units_in(new.text)
    )


def _stands(change: PropChange) -> bool:
    """Whether a prop stands on the new house where it stood on the old one."""
    return {"added", "gone", "moved", "turned", "resized"}.isdisjoint(change.kinds)


def _called(old: Layout, new: Layout) -> tuple[str, str]:
    """What the two houses are called: by their titles; where those are alike by their files, or these in folders."""
    paths = Path(old.path), Path(new.path)
    for parts in (1, 2):
        files = ["/".join(path.parts[-parts:]) for path in paths]
        if old.title == new.title and all(files) and files[0] != files[1]:
            return f"{old.title} ({files[0]})", f"{new.title} ({files[1]})"
    return old.title, new.title


def pair_props(old: Layout, new: Layout) -> dict[int, int]:
    """For each prop of ``new`` that ``old`` has too, its index there: by name, else by equal places."""
    by_name = {prop.name: index for index, prop in enumerate(old.props)}
    pairs = {index: by_name[prop.name] for index, prop in enumerate(new.props) if prop.name in by_name}
    free = [index for index in range(len(old.props)) if index not in set(pairs.values())]
    for index, prop in enumerate(new.props):
        if index not in pairs:
            places = metres(new, prop)
            same = next((other for other in free if _alike(places, metres(old, old.props[other]))), None)
            if same is not None:
                pairs[index] = same
                free.remove(same)
    return pairs


def metres(layout: Layout, prop: Prop) -> Floats:
    """(k, 3): where the pixels of a prop are, in the metres of the layout file."""
    part = slice(prop.start, prop.stop)
    pixels = layout.pixels
    axes = np.array([pixels.X[part], pixels.Y[part], pixels.Z[part]], np.float64)
    return axes.T + layout.frame.origin  # axis by axis in memory, which is how they are looked through


def _alike(a: Floats, b: Floats) -> bool:
    return a.shape == b.shape and float(np.abs(a - b).max()) < CLOSE


def _triple(values: Floats) -> Triple:
    return tuple(round(float(value), 4) + 0.0 for value in values)  # type: ignore[return-value]


def _middle(places: Floats) -> Floats:
    return np.asarray((places.min(axis=0) + places.max(axis=0)) / 2)


def in_house(layout: Layout, places: Floats) -> Floats:
    """House coordinates (…, 3) of metres."""
    size = layout.frame.size
    return np.where(size < CLOSE, 0.5, (places - layout.frame.origin) / np.where(size < CLOSE, 1.0, size))


def _gone(old: Layout, index: int) -> PropChange:
    prop = old.props[index]
    place = _triple(in_house(old, _middle(metres(old, prop))))
    words = (gone_words(_count(prop)),)
    return PropChange(prop.name, prop.name, ("gone",), words, place=place, pixels=_count(prop))


def gone_words(pixels: int) -> str:
    """What is said of props that are gone, with all their ``pixels``."""
    return f"gone, with {_told(pixels)}"


def _change(old: Layout, was: int | None, new: Layout, index: int) -> PropChange:
    prop = new.props[index]
    places = metres(new, prop)
    place = in_house(new, _middle(places))
    if was is None:
        where = _at(_middle(places), units_in(new.text))
        words = (f"added, with {_pixels(prop)} at {where}, {_in_frame(place)}",)
        return PropChange(prop.name, "", ("added",), words, place=_triple(place), pixels=_count(prop))
    before = old.props[was]
    if _as_it_was(old, before, new, prop):
        return PropChange(prop.name, before.name, (), (), place=_triple(place), pixels=_count(prop))
    old_places = metres(old, before)
    moved = _middle(places) - _middle(old_places)
    shifted = place - in_house(old, _middle(old_places))
    found = dict(_differences(old, before, new, prop, moved, shifted))
    kinds = tuple(kind for kind in KINDS if kind in found)
    told = tuple(found[kind] for kind in kinds)
    resent = kinds == ("rewired",) and _wiring(old, before)[1:] == _wiring(new, prop)[1:] and ORDER not in told[0]
    triples = _triple(moved), _triple(shifted), _triple(place)
    return PropChange(prop.name, before.name, kinds, told, *triples, resent, _count(prop))


def _as_it_was(old: Layout, before: Prop, new: Layout, prop: Prop) -> bool:
    """Whether a prop is to the last bit what it was, in a house of the same size: as most are. Others are looked at
    closely."""
    if (before.name, before.tags, before.length) != (prop.name, prop.tags, prop.length):
        return False
    if (before.start, before.stop, old.patch.orders) != (prop.start, prop.stop, new.patch.orders):
        return False
    part, houses = slice(prop.start, prop.stop), (old, new)
    sent = [[run for run in house.patch.runs if run.prop == prop.name] for house in houses]
    arrays = [
        [house.frame.origin, house.frame.size]
        + [getattr(house.pixels, axis)[part] for axis in "XYZ"]
        + [getattr(house.patch, drive)[part] for drive in ("order", "brightness", "gamma")]
        for house in houses
    ]
    return sent[0] == sent[1] and all(map(np.array_equal, *arrays))


def _differences(
    old: Layout, before: Prop, new: Layout, prop: Prop, moved: Floats, shifted: Floats
) -> Iterator[tuple[str, str]]:
    a, b = metres(old, before), metres(new, prop)
    units = units_in(new.text)
    if before.name != prop.name:
        yield "renamed", f"called '{before.name}' before"
    if np.abs(moved).max() > CLOSE:
        yield "moved", f"moved by {_by(moved, units)}, {_shifted(shifted)} of the house"
    reach = [_reach(places) for places in (a, b)] if not np.array_equal(a, b) else [np.zeros(3)] * 2
    sizes = [np.ptp(places, axis=0) for places in (a, b)]
    lengths = before.length, prop.length
    # Two samplings of one shape differ by less than a pixel's share of it.
    slack = CLOSE + (0 if len(a) == len(b) else 2 * max(lengths) / min(len(a), len(b)))
    if abs(lengths[0] - lengths[1]) > CLOSE or np.abs(reach[0] - reach[1]).max() > slack:
        yield "resized", f"resized from {_size(sizes[0], units, lengths[0])} to {_size(sizes[1], units, lengths[1])}"
    elif np.abs(sizes[0] - sizes[1]).max() > slack:
        yield "turned", f"turned: {_size(sizes[0], units)} before, {_size(sizes[1], units)} now"
    elif len(a) == len(b) and _stands_otherwise(a - _middle(a), b - _middle(b), max(lengths)):
        yield "turned", "turned in its place, or mirrored"
    if len(a) != len(b):
        yield "re-pixelled", f"{_pixels(before)} before, {len(b):,} now"
    if words := _rewired(old, before, new, prop, a, b):
        yield "rewired", words
    gained, lost = sorted(prop.tags - before.tags), sorted(before.tags - prop.tags)
    if gained or lost:
        signs = [f"+{tag}" for tag in gained] + [f"-{tag}" for tag in lost]
        yield "retagged", f"tags {' '.join(signs)}"


def _reach(places: Floats) -> Floats:
    """(3,) metres of spread about the mean along a prop's own main axes: the same however it is turned."""
    spread: Floats = np.linalg.svd(places - places.mean(axis=0), compute_uv=False) / np.sqrt(len(places))
    return spread


SOME = 200
"""Pixels of a prop that are looked at, at even distances, to tell whether two wires lie alike."""


def _astray(a: Floats, b: Floats, length: float) -> float:
    """How far pixels about the middle of a prop, (n, 3) metres, lie from the nearest ones of another at most, in
    pitches of a wire of that length."""
    some = a[:: max(1, len(a) // SOME)]
    # one at a time: every distance at once is half a gigabyte for a prop of 100,000 pixels
    farthest = float(np.sqrt(max(((b - place) ** 2).sum(axis=1).min() for place in some)))
    return farthest / max(length / max(len(a) - 1, 1), CLOSE)


def _stands_otherwise(a: Floats, b: Floats, length: float) -> bool:
    """Whether a prop of one size and middle lies on another wire than before: upside down, say."""
    return len(a) > 2 and not _alike(a, b) and _astray(a, b, length) > 1.5


def _beside(a: Floats, b: Floats, length: float) -> bool:
    """Whether two wires lie alike, and their pixels elsewhere along them: one begins at another corner."""
    away = np.sqrt(((a - b) ** 2).sum(axis=1)).max() / max(length / max(len(a) - 1, 1), CLOSE)
    return len(a) > 2 and bool(away > 1.5) and _astray(a, b, length) <= 1.5


def _rewired(old: Layout, before: Prop, new: Layout, prop: Prop, a: Floats, b: Floats) -> str:
    words = [f"{was} → {now}" for was, now in zip(_wiring(old, before), _wiring(new, prop), strict=True) if was != now]
    if len(a) == len(b) and not _alike(a - _middle(a), b - _middle(b)):
        ordered = [places[np.lexsort(np.round(places - _middle(places), 3).T)] for places in (a, b)]
        same = abs(before.length - prop.length) <= CLOSE
        beside = same and _beside(a - _middle(a), b - _middle(b), prop.length)
        if _alike(ordered[0] - _middle(a), ordered[1] - _middle(b)) or beside:
            words.append(ORDER)
    return f"rewired: {', '.join(words)}" if words else ""


def _wiring(layout: Layout, prop: Prop) -> tuple[str, str, str, str]:
    """Where a prop is sent, its colour orders, how it is driven, and at which end data comes in, in words."""
    patch, part = layout.patch, slice(prop.start, prop.stop)
    runs = [run for run in patch.runs if run.prop == prop.name]
    sent = ", ".join(
        dict.fromkeys(
            f"{run.controller} output {run.output}, universe {run.universe} slot {run.slot}" for run in runs[:1]
        )
    )
    if len({run.universe for run in runs}) > 1:
        sent += f" to universe {runs[-1].universe}"
    steps = np.flatnonzero(np.any([np.diff(of[part]) for of in (patch.order, patch.brightness, patch.gamma)], axis=0))
    each = prop.start + np.concatenate([[0], steps + 1])  # where something differs from the pixel before
    orders = "/".join(patch.orders[order] for order in np.unique(patch.order[each]))
    drives = sorted(set(zip(patch.brightness[each].tolist(), patch.gamma[each].tolist(), strict=True)))
    drive = ", ".join(f"brightness {brightness:g} gamma {gamma:g}" for brightness, gamma in drives)
    end = "its last" if runs and runs[0].first_pixel != prop.start else "its first"
    return sent or "no controller", orders, drive, f"data comes in at {end} pixel"


def _pin(old: Layout, new: Layout) -> str:
    """A [frame] table, in the units of the new layout's file, that holds both houses; to the last digit, as half a
    millimetre less would move every pixel in it, and nothing could be copied from the old frames."""
    unit = METRES[units_in(new.text)]
    everywhere = np.concatenate([metres(new, prop) for prop in new.props])
    low = np.minimum(old.frame.origin, everywhere.min(axis=0))
    high = np.maximum(old.frame.origin + old.frame.size, everywhere.max(axis=0))
    rows = [
        ", ".join(f"{float(value) / unit + 0.0!r}".removesuffix(".0") for value in corner) for corner in (low, high)
    ]
    return f"[frame]\nfrom = [{rows[0]}]\nto = [{rows[1]}]"


def pin_keeps_old(change: HouseChange, old: Layout, new: Layout) -> bool:
    """Whether the old frame holds the new house, so that only the new file needs the lines of ``change.pin``."""
    places = np.concatenate([metres(new, prop) for prop in new.props])
    top = old.frame.origin + old.frame.size
    return bool(change.frame_moved and (places >= old.frame.origin - CLOSE).all() and (places <= top + CLOSE).all())


def _count(prop: Prop) -> int:
    return prop.stop - prop.start


def _pixels(prop: Prop) -> str:
    return _told(_count(prop))


def _told(pixels: int) -> str:
    return f"{pixels:,} pixel" + ("" if pixels == 1 else "s")


def _at(values: Floats, units: str) -> str:
    numbers, unit = in_own_unit(values, units)
    return f"({', '.join(f'{value:.2f}' for value in numbers)}) {unit}"


def _in_frame(values: Floats) -> str:
    return f"({', '.join(f'{value + 0.0:.3f}' for value in np.round(values, 3))}) of the house"


def _by(values: Floats, units: str) -> str:
    numbers, unit = in_own_unit(values, units)
    return f"({', '.join(f'{value:+.2f}' for value in numbers)}) {unit}"


def _shifted(values: Floats) -> str:
    return f"({', '.join(f'{value + 0.0:+.3f}' for value in np.round(values, 3))})"


def _size(size: Floats, units: str, length: float | None = None) -> str:
    numbers, unit = in_own_unit(size, units)
    wire = "" if length is None else f" ({length_text(length, units, 2)} of wire)"
    return f"{' × '.join(f'{value:.2f}' for value in numbers)} {unit}{wire}"


def in_own_unit(lengths: ArrayLike, units: str) -> tuple[list[float], str]:
    """Lengths in metres as numbers to two places in feet, where the house is in feet or inches, else in metres; and
    the unit."""
    unit = "ft" if units in FEET else "m"
    return [float(value) + 0.0 for value in np.round(np.asarray(lengths, np.float64) / METRES[unit], 2)], unit
