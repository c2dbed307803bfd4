"""What is odd in a layout that can be read: nothing is refused for it, and nothing of it is kept quiet."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.colours import hue_of, is_colour, parse_colour, recoloured
from eavesong.errors import nearest
from eavesong.layout.house import Layout
from eavesong.layout.hues import hues_apart, paler
from eavesong.layout.lengths import apart_text, length_text
from eavesong.layout.proportions import odd_sizes
from eavesong.layout.size import NAMES, doubt_of_layout, entries_in, units_in
from eavesong.palettes import ALL, BUILT_IN, hexes, slips_of_wishes

WIDEST, MOST_INCHES = 1.5, 12
"""Feet from pixel to pixel that strings hardly reach, and inches that they do (common practice)."""
DENSEST = 0.005
"""Metres between two pixels that strips for outdoors hardly fall below (common practice): 144 on a metre are 7 mm."""

SPARSE, UNLIKE = 0.5, (7.0, 14.0)
"""Metres between two pixels from which on they are sparse, and how many times as far as those of most props they are
where a decimal point is missing: about ten. Lamps of a festoon are less far apart (common practice)."""

MANIFOLD = ("strings", "arms", "drops", "rows", "columns", "rings", "nested", "turns")
"""Keys that say how many wires share a prop, whose 'pixels' are those of each."""

DARK = 0.3
"""Light of the brightest channel of a colour that dims a house which wishes it in place of all: 0.22 of #008000."""
ALIKE = 0.8
"""How much a tag has to be spelled like another to be taken for a slip."""


MEANT = frozenset(
    {"stair", "stairs", "three", "flower", "flowers", "lane", "porch", "front", "wall", "candle", "brush", "roofing"}
)
"""Words that are no slips of the pen, however much they look like others."""


def doubts(layout: Layout, words: Collection[str] = ()) -> tuple[str, ...]:
    """What is odd in ``layout``, each with what to do about it; empty when nothing is.

    words: tags that shows know, whatever the house.
    """
    astray = [*odd_places(layout)]
    sizes = (
        f"{found}. {advice}"
        for _, found, advice in (
            *odd_sizes(layout),
            *odd_spacings(layout),
            *short_strings(layout),
            *odd_grids(layout),
            *astray,
        )
    )
    found = [
        *([] if astray else _size(layout)),
        *_wishes(layout),
        *_twins(layout),
        *_boxes(layout),
        *sizes,
        *_tags(layout, words),
        *_photo(layout),
    ]
    return tuple(f"{text[:1].upper()}{text[1:]}" for text in found)


def _size(layout: Layout) -> Iterator[str]:
    if doubt := doubt_of_layout(layout):
        yield f"{doubt[0]}. {doubt[1]}"


def _wishes(layout: Layout) -> Iterator[str]:
    for name, advice in slips_of_wishes(layout.palettes, ()):
        yield f"No palette that comes with eavesong is called '{name}', only shows can have one. {advice}"
    for name in layout.palettes:
        if name not in BUILT_IN and name != ALL and is_colour(name) and hue_of(parse_colour(name)) is not None:
            found = f"[palettes] says what is shown in place of a palette called '{name}'"
            yield f"{found}. Where no show has one, whatever is {name} is meant below [colours]."
    for name in sorted(({*layout.names(), *layout.tags()} & layout.palettes.keys()) - BUILT_IN.keys()):
        found = f"[palettes] says what is shown in place of a palette, and '{name}' is a prop or a tag here"
        yield f"{found}. Where no show has a palette called so, a cue on '{name}' gives it colours of its own."
    hues = [*layout.colours.values()]
    for name, own in layout.palettes.items():
        if met := next((text for text in hexes(own) if recoloured(parse_colour(text), hues) != parse_colour(text)), ""):
            found = f"[palettes] shows {met} in place of {name}, and [colours] has another in place of such a colour"
            yield f"{found}: that changes what shows bring, not what the house wishes itself."
    yield from _mixed(layout)
    worn = hexes(layout.palettes.get(ALL, ()))
    if worn and (most := max(max(parse_colour(text)) for text in worn)) < DARK:
        brightest = max(worn, key=lambda text: max(parse_colour(text)))
        found = f"[palettes] wishes {brightest} in place of all, which gives {100 * most:.0f} % of full light at most"
        yield f"{found}. A lighter shade of it lights more."


def _mixed(layout: Layout) -> Iterator[str]:
    """What comes out of colours in place of all that nobody wished."""
    pale = paler(layout.palettes)
    if hues_apart(layout.palettes):
        also = (
            "" if pale is None else ", and pastels" if pale.pastel else ", and greys, as some of them are most unlike"
        )
        found = (
            f"[palettes] wishes several hues: shows mix them, and where cues add up, hues between them are seen{also}"
        )
        yield f"{found}. One colour, or shades of one, is not mixed."
    elif pale is not None:
        found = "[palettes] wishes a colour and a white: shows mix them, so that much of what is lit is a pastel of it"
        yield f"{found}. One colour, or shades of one, is not mixed."


def _twins(layout: Layout) -> Iterator[str]:
    """Props that hang exactly where others do: copied, and left where the first one is."""
    pixels = layout.pixels
    places = np.round(1000 * np.stack([pixels.X, pixels.Y, pixels.Z], axis=1).astype(np.float64)).astype(np.int64)
    first: dict[bytes, str] = {}
    told: set[str] = set()
    for prop in layout.props:
        own = places[prop.start : prop.stop]
        other = first.setdefault(own[np.lexsort(own.T)].tobytes(), prop.name)
        if other != prop.name and len(own) > 1 and prop.member_of not in told:
            told.add(prop.member_of)
            yield f"'{prop.name}' hangs exactly where '{other}' does. Was its place left as it was copied?"


def _boxes(layout: Layout) -> Iterator[str]:
    """Controllers of which others have the address."""
    first: dict[str, str] = {}
    for box in layout.patch.controllers:
        if box.address and (other := first.setdefault(box.address, box.name)) != box.name:
            yield f"'{other}' and '{box.name}' have one address, {box.address}. Each box has its own."


FAR = {"x": (8.0, 0.8), "y": (6.0, 1.0), "z": (15.0, 1.0)}
"""How far from all else a prop hardly hangs: metres, and the share of what all else measures, whichever is more. Yards
reach far towards the street, and ridges lie a storey or two above eaves (common practice)."""
LONG = {"x": (25.0, 2.0), "y": (14.0, 1.0), "z": (40.0, 2.0)}
"""How far beyond all else one end of a prop hardly reaches whose other end is among them; the same two figures. Fences
and drives are long, and firs and poles high."""
BELOW = 1.0
"""Metres below all else at which hardly anything hangs that has a negative height: a minus too many."""
FEWEST = 3
"""Other props from which on there is anything to be far from, or unlike."""


def odd_places(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Props that hang far away from all others, or reach far beyond them, as where a decimal point is missing: which
    one, what is odd, advice."""
    pixels, units = layout.pixels, units_in(layout.text)
    places = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1).astype(np.float64)
    spans = [slice(prop.start, prop.stop) for prop in layout.props]
    low, high = (np.array([edge(places[span], axis=0) for span in spans]) for edge in (np.min, np.max))
    entries = {entry["name"]: entry for entry in entries_in(layout.text) if isinstance(entry, dict) and "name" in entry}
    told: set[str] = set()
    for at, prop in enumerate(layout.props):
        others = np.array([other.member_of != prop.member_of for other in layout.props])
        if prop.member_of in told or others.sum() < FEWEST:
            continue
        begin, end = low[others].min(axis=0), high[others].max(axis=0)
        size = end - begin
        if begin[1] - high[at][1] > BELOW and (place := _height(entries.get(prop.member_of, {}))) < 0:
            told.add(prop.member_of)
            below = length_text(float(begin[1] - high[at][1]), units)
            found = f"'{prop.name}' hangs {below} below all else"
            yield prop.member_of, found, f"Heights are upwards: is it {-place:g} in place of {place:g}?"
            continue
        apart = np.maximum(np.maximum(low[at] - end, begin - high[at]), 0.0)
        reach = np.maximum(np.maximum(high[at] - end, begin - low[at]), 0.0)
        for far, most, odd in ((apart, FAR, "hangs {} away from"), (reach, LONG, "reaches {} beyond")):
            bounds = [max(metres, share * across) for (metres, share), across in zip(most.values(), size, strict=True)]
            worst = int(np.argmax(far - bounds))
            if far[worst] > bounds[worst]:
                told.add(prop.member_of)
                beside = odd.format(length_text(far[worst], units))
                across = f"{length_text(float(size[worst]), units)} {ACROSS[worst]}"
                given = _given(entries.get(prop.member_of, {}), () if most is FAR else SIZES)
                advice = f"Is a decimal point missing{f' in {given}' if given else ''}?"
                yield prop.member_of, f"'{prop.name}' {beside} all else, which is {across}", advice
                break


def _height(entry: dict[str, Any]) -> float:
    """The height at which a prop is said to hang; 0 where none is said."""
    place: list[Any] = next((entry[key] for key in ("at", "from") if isinstance(entry.get(key), list)), [])
    given = place[1] if len(place) > 1 else 0.0
    return float(given) if isinstance(given, int | float) else 0.0


SIZES = ("width", "height", "base", "diameter", "outer", "length", "drop", "points")
"""Keys by which a prop is large."""


def _given(entry: dict[str, Any], sizes: Sequence[str] = ()) -> str:
    """Where a prop hangs and, of ``sizes``, how large it is, as it is written."""
    given = [f"{key} = {entry[key]}" for key in ("at", "from", "to", *sizes) if key in entry and key != "points"]
    given += ["points"] if "points" in sizes and "points" in entry else []
    row = entry.get("repeat")
    inside = ", ".join(f"{key} = {value}" for key, value in row.items()) if isinstance(row, dict) else ""
    return ", ".join([*given, *([f"repeat = {{ {inside} }}"] if inside else [])])


ACROSS = ("wide", "high", "deep")


def odd_spacings(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Props whose pixels are closer together along the wire than strips have them, or by far further apart than all
    others': which one, what is odd, advice."""
    entries = {entry["name"]: entry for entry in entries_in(layout.text) if isinstance(entry, dict) and "name" in entry}
    spacings = _spacings(layout)
    told: set[str] = set()
    for prop in layout.props:
        apart = spacings.get(prop.name, 0.0)
        if prop.member_of in told or prop.name not in spacings:
            continue
        if apart < DENSEST:
            told.add(prop.member_of)
            entry = entries.get(prop.member_of, {})
            told_apart = f"{1000 * apart:.2g} mm apart along the wire, closer than strips have them"
            counted, advice = _meant(entry, apart, prop.stop - prop.start, units_in(layout.text))
            yield prop.member_of, f"the pixels of '{prop.member_of}' are {told_apart}{counted}", advice
        elif units_in(layout.text) == "ft" and (inches := _inches(entries.get(prop.member_of, {}).get("pitch"))):
            told.add(prop.member_of)
            found = f"the pixels of '{prop.member_of}' are {length_text(apart, 'ft')} apart, more than strings have"
            yield prop.member_of, found, f"'pitch' is in feet, too: {inches:g} in are {round(inches / 12, 3):g}."
        elif apart >= SPARSE and (given := entries.get(prop.member_of, {}).get("pitch")):
            others = [
                spacings[each.name]
                for each in layout.props
                if each.name in spacings and each.member_of != prop.member_of
            ]
            if len(others) >= FEWEST and UNLIKE[0] <= apart / (usual := _median(others)) <= UNLIKE[1]:
                told.add(prop.member_of)
                units = units_in(layout.text)
                found = f"the pixels of '{prop.member_of}' are {apart_text(apart, units)} apart"
                most = f"those of most props {apart_text(usual, units)}"
                advice = f"Is a decimal point missing in pitch = {given}? Else say how many there are: pixels = …"
                yield prop.member_of, f"{found}, {most}", advice


TIGHT = 0.95
"""Share of the way from pixel to pixel below which a string is too short for it: pitches are rounded."""


def short_strings(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Props whose places are farther apart than the pixels of their strings: which one, what is odd, advice."""
    power, units = layout.power, units_in(layout.text)
    spacings = _spacings(layout)
    told: set[str] = set()
    for prop in layout.props:
        kind, apart = power.types[power.type[prop.start]], spacings.get(prop.name, 0.0)
        if prop.member_of not in told and 0 < kind.spacing < TIGHT * apart:
            told.add(prop.member_of)
            given = f"strings of '{kind.name}' have {apart_text(kind.spacing, units)} of wire ('spacing')"
            found = f"the pixels of '{prop.member_of}' are {apart_text(apart, units)} apart, and {given}"
            advice = f"Write a 'spacing' in {NAMES[units]}, of these strings, or bring the pixels closer together."
            yield prop.member_of, found, advice


SWAPPED, EVEN = 8.0, 3.0
"""How many times as far apart columns of a grid are as its rows, or the other way round, where they were exchanged; and
how many times at most they would be then."""


def odd_grids(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Grids whose columns and rows were exchanged: which one, what is odd, advice."""
    units = units_in(layout.text)
    for entry in entries_in(layout.text):
        keys = ("columns", "rows", "width", "height")
        if not isinstance(entry, dict) or entry.get("shape") != "grid":
            continue
        given = [entry.get(key) for key in keys]
        numbers = [float(each) for each in given if isinstance(each, int | float) and not isinstance(each, bool)]
        if len(numbers) < len(keys) or min(numbers[:2]) < 2 or min(numbers[2:]) <= 0:
            continue
        columns, rows, width, height = numbers
        across, down = width / (columns - 1), height / (rows - 1)
        other = (width / (rows - 1)) / (height / (columns - 1))
        if not 1 / SWAPPED <= across / down <= SWAPPED and 1 / EVEN <= other <= EVEN:
            name, unit = str(entry.get("name", "")), layout.power.metres
            apart = f"{apart_text(across * unit, units)} apart, its rows {apart_text(down * unit, units)}"
            advice = f"Are there {rows:g} columns and {columns:g} rows?"
            yield name, f"the columns of '{name}' are {apart}", advice


def _spacings(layout: Layout) -> dict[str, float]:
    """Metres from pixel to pixel along the wire of each prop that has several."""
    along = layout.pixels.along.astype(np.float64)
    props = (prop for prop in layout.props if prop.stop - prop.start > 1)
    return {prop.name: _median(np.abs(np.diff(along[prop.start : prop.stop]))) for prop in props}


def _median(values: Sequence[float] | np.ndarray) -> float:
    """The lower of the middle ones; np.median would import masked arrays."""
    return float(np.sort(values)[(len(values) - 1) // 2])


def _inches(pitch: Any) -> float:
    """A pitch in a house in feet that was probably read off in inches, as no string has two feet from pixel to pixel;
    0 for any other."""
    is_number = isinstance(pitch, int | float) and not isinstance(pitch, bool)
    return float(pitch) if is_number and WIDEST <= pitch <= MOST_INCHES else 0.0


def _meant(entry: dict[str, Any], apart: float, count: int, units: str) -> tuple[str, str]:
    """How many there are; and how many were probably meant, where 'pixels' are those of each of several wires."""
    pixels = entry.get("pixels")
    wires = next((entry[key] for key in MANIFOLD if isinstance(entry.get(key), int) and entry[key] > 1), 1)
    if not isinstance(pixels, int):
        return "", "Check 'pitch' and the sizes."
    if wires == 1 or count <= pixels or apart * wires < DENSEST:
        return f": {pixels:,} on {length_text(count * apart, units)}", "Check 'pixels' and the sizes."
    each = max(1, round(pixels / wires))
    advice = f"'pixels' counts each of them: did you mean {each:,} each?"
    return f": {wires} of {pixels:,} are {count:,}", advice


def _tags(layout: Layout, words: Collection[str]) -> Iterator[str]:
    """Tags of a single entry that nothing knows and that are spelled nearly like one that is known."""
    entries = {(prop.member_of, tag) for prop in layout.props for tag in prop.tags}
    carried = Counter(tag for _, tag in entries)
    names = set(layout.names())
    for owner, tag in sorted(entries):
        others = {*words, *(other for other in carried if carried[other] > 1)}
        if carried[tag] > 1 or tag in others or tag in names or tag in MEANT:
            continue
        near = nearest(tag, {other for other in others if _letters(other) != _letters(tag)}, ALIKE)
        if near:
            yield f"no show and no other prop knows the tag '{tag}' of '{owner}'. Did you mean '{near}'?"


def _letters(tag: str) -> str:
    return re.sub(r"\d", "", tag)


def _photo(layout: Layout) -> Iterator[str]:
    if layout.photo and layout.path and not (there := Path(layout.path).parent / layout.photo).is_file():
        yield f"the photo '{layout.photo}' is not there: pages and pictures are made without it. Put it at {there}."
    elif layout.photo and not _tells_place(layout.text):
        yield (
            f"where in the photo '{layout.photo}' the house is is not told: it is laid on the whole front, and lights "
            "may lie beside what they hang on. Name four corners under [photo], or survey the house"
        )


def _tells_place(text: str) -> bool:
    """Whether a layout's text says where in its photo the house is."""
    photo = tomllib.loads(text).get("photo")
    return isinstance(photo, dict) and bool({"from", "corners", "camera"} & photo.keys())
