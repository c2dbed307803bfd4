"""What a show does on a house, before anything is rendered: what every cue lights, and what stays dark."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from eavesong.check.cues import SHORTEST_GAP, Stretch, absent_words, cue_findings, stretch_of
from eavesong.check.hidden import hidden
from eavesong.check.house import house_findings
from eavesong.check.hues import faint_findings, hue_findings, left_findings
from eavesong.check.light import (
    GLANCES,
    Footage,
    SectionLight,
    dark_for_long,
    light_by_section,
    look_at,
    never_lit,
    seen_in,
    seldom_at_a_glance,
    seldom_lit,
)
from eavesong.check.shifted import moved_since
from eavesong.check.since import parts_since, since_findings
from eavesong.check.wishes import wishes_of
from eavesong.errors import Problem
from eavesong.layout.house import grouped
from eavesong.palettes import ALL, BUILT_IN, USUAL, slips_of_wishes
from eavesong.scene.place import Finder, PlacedCue, finder_for
from eavesong.scene.timeline import Span
from eavesong.show.load import Show
from eavesong.show.model import Cue
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music.grid import BeatGrid
    from eavesong.scene import Scene

MOST_GAPS = 5
"""Stretches of darkness that get a finding each; the others share one."""


WEIGHTS = {
    "texts": "What was written for another sound, or for other bars",
    "dark": "What stays dark",
    "seldom": "What is dark for most of the song",
    "stand-in": "What stands in",
    "wish": "What the house wishes in vain",
    "unmet": "What the house wishes and no show asks for",
    "hue": "What the colours that the house wishes mix to",
    "faint": "What is too faint to show them",
    "house": "What is odd with the house",
    "odd": "What else is odd",
}
"""How grave findings are, the gravest first, and what stands above them in a report."""


@dataclass(frozen=True)
class CueReport:
    """What one cue does on this house in this song."""

    number: int
    """Which cue of the show, from 1."""
    name: str
    """Empty where the show gives it none."""
    effect: str
    selector: str
    choice: int
    """Which of its selectors was taken, from 1; 0 when none lights anything."""
    choices: int
    props: tuple[str, ...]
    pixels: int
    share: float
    """Of all pixels, 0..1."""
    spans: tuple[Stretch, ...]
    does: str = "lights"
    """What it does to light below it: also ``brightens``, ``darkens`` or ``changes`` where it gives none itself."""


@dataclass(frozen=True)
class Report:
    """What a show does on a house; equal for equal input. No ``findings``: nothing to look at."""

    show: str
    layout: str
    prop_count: int
    pixel_count: int
    duration: float
    """Seconds of the song."""
    bar_count: int
    cues: tuple[CueReport, ...]
    dark_props: tuple[str, ...]
    """Names of the props that no light leaves at any time, but for those that are meant to be dark."""
    dark_times: tuple[Stretch, ...]
    """When no cue is lit at all, or no light leaves the house for longer than a bar or so."""
    findings: tuple[Problem, ...]
    """The gravest first."""
    weights: tuple[str, ...] = ()
    """How grave each finding is: one of WEIGHTS."""
    wishes: tuple[str, ...] = ()
    """What the house wishes of any show, in words: palettes in place of others, props that stay dark."""
    light: tuple[SectionLight, ...] = ()
    """How much light there is in each section; empty where nothing was drawn."""
    absent: tuple[str, ...] = ()
    """Words of cues that no prop answers to while others of the same cue are lit: alternatives, and no findings."""
    drawn: bool = False
    """Whether moments of the song were drawn: without, what is always painted over or black counts as lit."""

    def as_dict(self) -> dict[str, Any]:
        """The report as plain dictionaries, lists and numbers, for JSON."""
        return asdict(self)


def check(
    scene: Scene, *, drawn: bool = False, glance: bool = False, frames: Footage | None = None, together: int = 64,
    part: Footage | None = None, palettes: Collection[str] | None = None, idle: str = "",
) -> Report:  # fmt: skip
    """What each cue of a scene lights on its house in its song, and all that deserves a second look.

    drawn: draw some moments of the song too, tell how much light there is in each section, and count as lit what
    light is seen to leave; else what a cue reaches that is not black.
    glance: draw a few moments, only to see which props stay dark, and which for most of the song.
    frames: all frames of the song on this house, uint8 (frame, channel), in which that is seen instead; so many lie
    ``together`` in a file.
    part: the frames of a scene that is of a part of its song: only hues are looked for in them.
    palettes: those that all shows for the house have of their own; None where there may be more shows.
    idle: the colour that the house shows between its songs; empty for none.
    """
    show, layout, grid, placed = scene.show, scene.layout, scene.grid, scene.cues
    assert show is not None, "a scene without a show has nothing to check"
    lit = [cue for cue in placed if cue.gives_light and cue.props and _within_song(cue.spans, grid)]
    looks = look_at(scene) if drawn else None
    few = look_at(scene, GLANCES) if looks is None and glance and frames is None else None
    drew = looks or few
    if frames is not None:  # the scene may be one in silence, reopened from them, and draw something else
        looks_in, dark_props = seen_in(layout, frames, together, scene.frame_rate)
    elif drew is not None:
        dark_props = never_lit(scene, drew)
    else:
        dark_props = _unlit(layout, lit)
    begin, until = scene.terms.start or 0.0, math.inf if scene.terms.stop is None else scene.terms.stop
    dark = sorted(_dark(lit, grid.duration, [] if looks is None else dark_for_long(looks), begin, until))
    dark_times = tuple(stretch_of(start, end, grid) for start, end in dark)
    finder = finder_for(show, layout)
    moved = moved_since(scene)
    others = moved is not None and moved.far and moved.what.startswith("bar")  # sections leave bars where they are
    parts = parts_since(scene)
    gone = {at for each in parts if each.dark for at in each.cues}
    found = [
        finding for cue in placed
        for finding in _findings(show, cue, finder, grid, _told_since(others, cue.index in gone))
    ]  # fmt: skip
    if drawn or glance or frames is not None:
        found += [("dark", finding) for finding in _hidden_findings(show, scene)]
    found += [("texts", finding) for finding in scene.strays]
    found += since_findings(scene, moved, parts)
    found += [("dark", finding) for finding in _unlit_findings(show, layout, dark_props, lit)]
    found += [("dark", finding) for finding in _dark_findings(show, dark_times)]
    found += _wish_findings(show, layout, palettes, idle)
    filmed = part if frames is None else frames
    found += [("hue", finding) for finding in hue_findings(scene, filmed, drawn)]
    found += [("hue", finding) for finding in left_findings(scene, filmed)]
    found += [("faint", finding) for finding in faint_findings(scene, filmed)]
    found += [("house", finding) for finding in house_findings(layout, show)]
    if not begin and until >= grid.duration:  # else what is asked for says nothing of most of the song
        seen = looks_in if frames is not None else None
        seldom = seldom_lit(lit, grid, seen) if drew is None else seldom_at_a_glance(scene, lit, drew)
        found += [("seldom", finding) for finding in _seldom_findings(show, layout, grid, seldom)]
    found.sort(key=lambda pair: list(WEIGHTS).index(pair[0]))
    return Report(
        show=show.title,
        layout=layout.title,
        prop_count=len(layout.props),
        pixel_count=layout.pixel_count,
        duration=grid.duration,
        bar_count=grid.bar_count,
        cues=tuple(_cue_report(show.cues[cue.index], cue, layout) for cue in placed),
        dark_props=tuple(layout.props[index].name for index in dark_props),
        dark_times=dark_times,
        findings=tuple(finding for _, finding in found),
        weights=tuple(weight for weight, _ in found),
        light=light_by_section(scene, looks) if looks is not None else (),
        wishes=tuple(wishes_of(show, placed, finder)),
        absent=absent_words(placed, finder),
        drawn=drawn or glance or frames is not None,
    )


def _cue_report(cue: Cue, placed: PlacedCue, layout: Layout) -> CueReport:
    pixels = int(placed.weight.sum())
    return CueReport(
        number=placed.index + 1,
        name=cue.name or "",
        effect=cue.effect,
        selector=placed.taken.text,
        choice=placed.taken.choice + 1,
        choices=len(cue.on),
        props=tuple(grouped(layout, placed.props)),
        pixels=pixels,
        share=pixels / layout.pixel_count if layout.pixel_count else 0.0,
        spans=tuple(stretch_of(_in_song(span), span.end, placed.grid) for span in placed.spans),
        does=placed.does,
    )


def _in_song(span: Span) -> float:
    """Where a span begins to be seen: one may begin before its song does, as bar 0 or what a copy begins later than."""
    return max(0.0, span.start) if span.end > 0 else span.start


def _within_song(spans: Sequence[Span], grid: BeatGrid) -> bool:
    return any(span.start < grid.duration and span.end > 0 for span in spans)


def _unlit(layout: Layout, lit: Sequence[PlacedCue]) -> tuple[int, ...]:
    reached = {index for cue in lit for index in cue.props}
    return tuple(index for index, prop in enumerate(layout.props) if prop.lit and index not in reached)


def _dark(
    lit: Sequence[PlacedCue], duration: float, seen: Iterable[tuple[float, float]], begin: float, until: float
) -> Iterator[tuple[float, float]]:
    """The stretches from ``begin`` to ``until`` in which no cue is lit, and those ``seen`` to be dark besides."""
    gaps = list(_gaps(lit, duration))
    gaps += [(start, end) for start, end in seen if not any(a < end and start < b for a, b in gaps)]
    inside = ((max(start, begin), min(end, until)) for start, end in gaps)
    return ((start, end) for start, end in inside if end - start > SHORTEST_GAP)


def _gaps(lit: Sequence[PlacedCue], duration: float) -> Iterator[tuple[float, float]]:
    """The stretches of the song in which no cue is lit."""
    reached = 0.0
    for start, end in sorted((span.start, span.end) for cue in lit for span in cue.spans):
        if min(start, duration) - reached > SHORTEST_GAP:
            yield reached, min(start, duration)
        reached = max(reached, end)
    if duration - reached > SHORTEST_GAP:
        yield reached, duration


def _unlit_findings(show: Show, layout: Layout, dark: Sequence[int], lit: Sequence[PlacedCue]) -> Iterator[Problem]:
    reached = {index for cue in lit for index in cue.props}
    if names := list(grouped(layout, [index for index in dark if index not in reached])):
        advice = f"Add a cue on {'it' if len(names) == 1 else 'them'}, or on 'all'."
        yield Problem(show.path, "", f"no cue lights {', '.join(names)}", advice)
    if names := list(grouped(layout, [index for index in dark if index in reached])):
        found = f"no light leaves {', '.join(names)} at any time, though cues are there"
        yield Problem(show.path, "", found, "See what darkens it above them, or what they wait for in vain.")


def _dark_findings(show: Show, stretches: Sequence[Stretch]) -> Iterator[Problem]:
    advice = "Add a cue there, or let one go on until then."
    for stretch in stretches[:MOST_GAPS]:
        yield Problem(show.path, "", f"nothing is lit in {stretch}", advice)
    if rest := stretches[MOST_GAPS:]:
        seconds = clock_text(sum(stretch.end - stretch.start for stretch in rest))
        yield Problem(show.path, "", f"nothing is lit in {len(rest)} more stretches, {seconds} in all", advice)


def palettes_in(show: Show) -> frozenset[str]:
    """The names of the palettes that a show has of its own, or asks for."""
    own = (*show.palettes, *(cue.palette for cue in show.cues if isinstance(cue.palette, str)))
    return frozenset(name for each in own for name in show.names_of(each))


def _wish_findings(
    show: Show, layout: Layout, palettes: Collection[str] | None, idle: str
) -> Iterator[tuple[str, Problem]]:
    """Colours that a house wishes in place of palettes that nobody has, or that no show for it asks for; each with its
    weight."""
    house = layout.path or layout.title
    own = {*palettes_in(show), *(palettes or ())}
    for name, advice in slips_of_wishes(layout.palettes, {*own, idle} - {""}, every=palettes is not None):
        found = f"no palette is called '{name}', so what the house wishes in its place changes nothing"
        yield "wish", Problem(house, f"the house's [palettes], {name}", found, advice)
    asked = {USUAL, *(name.lower() for name in own)}
    for name in layout.palettes if palettes is not None else ():
        if name.lower() in asked:
            continue
        if name == idle:
            found = (
                f"'{name}' is the colour between the songs alone: no show for this house asks for it, and what the "
                "house wishes in its place is seen only there"
            )
        elif name in BUILT_IN:
            found = f"no show for it asks for '{name}', so what the house wishes in its place changes nothing now"
        else:
            continue
        advice = f"Drafts call their palettes by letters: {ALL} = … is worn whatever comes, and [colours] go by hue."
        yield "unmet", Problem(house, f"the house's [palettes], {name}", found, advice)


def _hidden_findings(show: Show, scene: Scene) -> Iterator[Problem]:
    """Cues that others are painted over all the time."""
    for cue, over in hidden(scene):
        found = f"the cue is never seen: {show.called(over.index)} is painted over it"
        advice = (
            "What stands further down is on top. Move the cue below that one, or give that one a 'blend' or 'opacity'."
        )
        yield Problem(show.path, show.place(cue.index, "effect"), found, advice)


def _seldom_findings(show: Show, layout: Layout, grid: BeatGrid, seldom: dict[float, list[int]]) -> Iterator[Problem]:
    advice = "Add a cue on it for more of the song, if that is not meant."
    for seconds, props in seldom.items():
        names = ", ".join(grouped(layout, props))
        found = f"{names}: lit for {clock_text(seconds, 0)} of {clock_text(grid.duration, 0)}"
        yield Problem(show.path, "", found, advice)
        advice = ""


def _findings(
    show: Show, placed: PlacedCue, finder: Finder, grid: BeatGrid, told: Collection[str]
) -> Iterator[tuple[str, Problem]]:
    """What is to be said of a cue, each with its weight. told: keys of which it is told already what became of them
    since it was written."""
    cue, index = show.cues[placed.index], placed.index
    if isinstance(cue.palette, str) and cue.palette not in show.palettes:
        own = next((name for name in show.palettes if name.lower() == cue.palette.lower()), "")
        if own:
            found = f"'{cue.palette}' is the palette that comes with eavesong, and not the show's own '{own}'"
            yield "odd", Problem(show.path, show.place(index, "palette"), found, f"Write '{own}', if that is meant.")
    for key, found, instead in cue_findings(cue, placed, finder, grid):
        if key in told:
            continue
        yield _weight(key, cue, placed, grid), Problem(show.path, show.place(index, key), found, instead)


def _told_since(moved: bool, gone: bool) -> tuple[str, ...]:
    """The keys of a cue that `since` tells of: that bars are others, and that its sections or kinds are gone."""
    return ("bars", "beats") * moved + ("sections", "kinds", "turn") * gone


def _weight(key: str, cue: Cue, placed: PlacedCue, grid: BeatGrid) -> str:
    """How grave a finding at a key of a cue is: one of WEIGHTS."""
    if key == "on" and placed.does == "darkens" and not placed.taken.stand_in:
        return "odd"
    if key == "on":
        return "stand-in" if placed.taken.stand_in else "odd" if placed.taken.choice >= 0 else "dark"
    if key == "opacity":
        return "odd" if cue.opacity else "dark"
    return "odd" if key in ("palette", "order") or _within_song(placed.spans, grid) else "dark"
