"""What a show does on a house, before anything is rendered: what every cue lights, and what stays dark."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from eavesong.check.house import house_findings
from eavesong.check.light import Looks, SectionLight, dark_for_long, light_by_section, look_at, never_lit, seldom_lit
from eavesong.check.wishes import wishes_of
from eavesong.errors import Problem, advise, nearest
from eavesong.layout.wishes import slips_of_wishes
from eavesong.scene.place import Finder, PlacedCue, finder_for, grouped
from eavesong.scene.roles import zone_of
from eavesong.scene.sequence import DIRECTIONS
from eavesong.scene.timeline import MOST_SPANS, Span, bar_text, sections_of
from eavesong.show.load import Show
from eavesong.show.model import Cue
from eavesong.show.selection import parse_selector
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music.grid import BeatGrid
    from eavesong.scene import Scene

SHORTEST_GAP = 0.02
"""Seconds of darkness that are worth a word: about one frame."""
MOST_GAPS = 5
"""Stretches of darkness that get a finding each; the others share one."""


WEIGHTS = {
    "dark": "What stays dark",
    "seldom": "What is dark for most of the song",
    "stand-in": "What stands in",
    "wish": "What the house wishes in vain",
    "house": "What is odd with the house",
    "odd": "What else is odd",
}
"""How grave findings are, the gravest first, and what stands above them in a report."""


@dataclass(frozen=True)
class Stretch:
    """A stretch of time, in seconds and as bars counted from 1."""

    start: float
    end: float
    start_bar: str
    end_bar: str
    to_the_end: bool = False
    """Whether the song ends with it."""

    def __str__(self) -> str:
        """``bars 1 to 9 (0:00.50 to 0:16.50)``; before the first bar is the pick-up, ``the pick-up to bar 9``."""
        seconds = f"{clock_text(self.start)} to {clock_text(self.end)}"
        if self.start >= 0 and float(self.start_bar) < 1:
            return f"the pick-up{f' to {self._end}' if float(self.end_bar) > 1 else ''} ({seconds})"
        return f"bars {self.start_bar} to {self._end.removeprefix('bar ')} ({seconds})"

    @property
    def _end(self) -> str:
        """``bar 9``; ``the end`` where the song ends inside a bar."""
        return "the end" if self.to_the_end and "." in self.end_bar else f"bar {self.end_bar}"


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
    gives_light: bool = True
    """False where it only darkens what is below it."""


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


def check(scene: Scene, *, drawn: bool = False) -> Report:
    """What each cue of a scene lights on its house in its song, and all that deserves a second look.

    drawn: draw some moments of the song too, tell how much light there is in each section, and count as lit what
    light is seen to leave; else what a cue reaches that is not black.
    """
    show, layout, grid, placed = scene.show, scene.layout, scene.grid, scene.cues
    assert show is not None, "a scene without a show has nothing to check"
    lit = [cue for cue in placed if cue.gives_light and cue.props and _within_song(cue.spans, grid)]
    looks = look_at(scene) if drawn else None
    dark_props = _unlit(layout, lit) if looks is None else never_lit(scene, looks)
    gaps = list(_gaps(lit, grid.duration))
    seen = [] if looks is None else dark_for_long(looks)
    gaps += [(start, end) for start, end in seen if not any(a < end and start < b for a, b in gaps)]
    dark_times = tuple(_stretch(start, end, grid) for start, end in sorted(gaps))
    finder = finder_for(show, layout)
    found = [finding for cue in placed for finding in _findings(show, cue, finder, grid)]
    found += [("dark", finding) for finding in _unlit_findings(show, layout, dark_props, lit)]
    found += [("dark", finding) for finding in _dark_findings(show, dark_times)]
    found += [("wish", finding) for finding in _wish_findings(show, layout)]
    found += [("house", finding) for finding in house_findings(layout, show)]
    found += [("seldom", finding) for finding in _seldom_findings(show, layout, lit, grid, looks)]
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
        absent=_absent(placed, finder),
        drawn=drawn,
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
        spans=tuple(_stretch(span.start, span.end, placed.grid) for span in placed.spans),
        gives_light=placed.gives_light,
    )


def _stretch(start: float, end: float, grid: BeatGrid) -> Stretch:
    at_end = abs(end - grid.duration) < SHORTEST_GAP
    return Stretch(start, end, bar_text(start, grid), bar_text(end, grid), at_end)


def _within_song(spans: Sequence[Span], grid: BeatGrid) -> bool:
    return any(span.start < grid.duration and span.end > 0 for span in spans)


def _unlit(layout: Layout, lit: Sequence[PlacedCue]) -> tuple[int, ...]:
    reached = {index for cue in lit for index in cue.props}
    return tuple(index for index, prop in enumerate(layout.props) if prop.lit and index not in reached)


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


def _wish_findings(show: Show, layout: Layout) -> Iterator[Problem]:
    """Colours that a house wishes in place of palettes that nobody has."""
    own = {*show.palettes, *(cue.palette for cue in show.cues if isinstance(cue.palette, str))}
    for name, advice in slips_of_wishes(layout.palettes, own):
        found = f"no palette is called '{name}', so what the house wishes in its place changes nothing"
        yield Problem(layout.path or layout.title, f"the house's [palettes], {name}", found, advice)


def _seldom_findings(
    show: Show, layout: Layout, lit: Sequence[PlacedCue], grid: BeatGrid, looks: Looks | None
) -> Iterator[Problem]:
    advice = "Add a cue on it for more of the song, if that is not meant."
    for seconds, props in seldom_lit(lit, grid, looks).items():
        names = ", ".join(grouped(layout, props))
        found = f"{names}: lit for {clock_text(seconds, 0)} of {clock_text(grid.duration, 0)}"
        yield Problem(show.path, "", found, advice)
        advice = ""


def _findings(show: Show, placed: PlacedCue, finder: Finder, grid: BeatGrid) -> Iterator[tuple[str, Problem]]:
    """What is to be said of a cue, each with its weight."""
    cue, index = show.cues[placed.index], placed.index
    for key, found, instead in _cue_findings(cue, placed, finder, grid):
        yield _weight(key, cue, placed, grid), Problem(show.path, show.place(index, key), found, instead)


def _weight(key: str, cue: Cue, placed: PlacedCue, grid: BeatGrid) -> str:
    """How grave a finding at a key of a cue is: one of WEIGHTS."""
    if key == "on":
        return "stand-in" if placed.taken.stand_in else "odd" if placed.taken.choice >= 0 else "dark"
    if key == "opacity":
        return "odd" if cue.opacity else "dark"
    return "odd" if key in ("palette", "order") or _within_song(placed.spans, grid) else "dark"


Finding = tuple[str, str, str]
"""A key of the cue, what was found there, what to write instead."""


def _cue_findings(cue: Cue, placed: PlacedCue, finder: Finder, grid: BeatGrid) -> Iterator[Finding]:
    """All that deserves a second look in one cue: a line for each kind of finding."""
    yield from _selector_findings(cue, placed, finder)
    yield from _section_findings(cue, grid)
    yield from _span_findings(cue, placed, grid)
    yield from _order_findings(cue, placed, finder)
    yield from _unseen_findings(cue, placed)


def _selector_findings(cue: Cue, placed: PlacedCue, finder: Finder) -> Iterator[Finding]:
    known = finder.known()
    if placed.taken.stand_in:
        yield "on", *_stand_in_finding(cue, placed, known)
        return
    if placed.taken.choice < 0:
        if finder.unlit(cue.on):
            return  # told among the wishes
        quoted = " or ".join(f'"{text}"' for text in cue.on)
        if cue.within and finder.select(cue.on, None)[0].choice >= 0:
            found = f"the cue lights nothing: no pixel of {quoted} lies within its box"
            yield "on", found, "Widen 'within', or delete it."
            return
        unknown = [word for text in cue.on for word in parse_selector(text).words if word not in known]
        advice = _advice_for(unknown[0], known) if unknown else "Write 'or' where either will do."
        yield "on", f"the cue lights nothing: no prop here matches {quoted}", advice
        return
    for word in parse_selector(placed.taken.text).words:
        if word not in known and _meant(word, known):
            yield "on", f"no prop here has the tag or name '{word}'", _advice_for(word, known)


def _advice_for(name: str, known: Sequence[str]) -> str:
    """What to write instead of a name that no prop has; words in a row may have been meant one by one."""
    words = name.split()
    if len(words) > 1 and all(word in known for word in words):
        return f"Write '{' or '.join(words)}' for all of them, or '{' and '.join(words)}' for what is both."
    if close := _meant(name, known):
        return f"Did you mean '{close}'?"
    if zone_of(name):
        return f"Give the props that are meant the tag '{name}'."
    return f"Known names: {', '.join(known[:24])}{', …' if len(known) > 24 else ''}."


def _meant(name: str, known: Sequence[str]) -> str:
    """The known name, or known names, that a word was probably meant to be; empty where it is a good word by itself.

    Words of the trade are no slips of the pen for others, and hardly any slip is in the first letter.
    """
    if zone_of(name):
        return ""
    words = name.split()
    if len(words) > 1 and all(word in known for word in words):
        return " or ".join(words)
    return nearest(name, [other for other in known if other[:1] == name[:1]])


def _absent(placed: Sequence[PlacedCue], finder: Finder) -> tuple[str, ...]:
    """The words that cues which are lit name in vain, and that are no slips of the pen."""
    known = finder.known()
    taken = [cue.taken for cue in placed if cue.taken.choice >= 0 and not cue.taken.stand_in]
    words = dict.fromkeys(word for each in taken for word in parse_selector(each.text).words)
    return tuple(word for word in words if word not in known and not _meant(word, known))


def _stand_in_finding(cue: Cue, placed: PlacedCue, known: Sequence[str]) -> tuple[str, str]:
    quoted = " or ".join(f'"{text}"' for text in cue.on)
    words = [word for text in cue.on for word in parse_selector(text).words]
    wanted = words[0] if words else cue.on[0]
    slips = [(word, meant) for word in words if word not in known and (meant := _meant(word, known))]
    advice = " ".join(f"Did you mean '{meant}' for '{word}'?" for word, meant in dict(slips).items())
    if advice:
        return f"no prop here matches {quoted}; lit is {placed.taken.text}", advice
    advice = f"Give the props that are meant the tag '{wanted}', or add to 'on' what else will do."
    return f"no prop here matches {quoted}; lit is {placed.taken.text}", advice


def _section_findings(cue: Cue, grid: BeatGrid) -> Iterator[Finding]:
    """What is wrong with the sections of a cue in this song."""
    if cue.turn and not sections_of(cue, grid) and (all_of := sections_of(cue.model_copy(update={"turn": ()}), grid)):
        count = f"{len(all_of)} times" if len(all_of) > 1 else "once"
        yield "turn", f"what the cue is tied to comes {count} in this song, and never that turn", "Write 'last'."
        return
    labels = {section.label.lower(): section.label for section in grid.sections}
    missing = [label for label in cue.sections or () if label.lower() not in labels]
    if cue.kinds and len(missing) == len(cue.sections or ()):
        if not sections_of(cue, grid):
            yield "kinds", *_kind_finding(cue.kinds, grid)
        return
    for label in missing:
        advice = advise(label, labels.values(), "section")
        if not advice.startswith("Did you mean"):
            advice += " Write one of them, tie the cue to 'kinds', or call them so in the song's .sections text."
        yield "sections", f"no section of the song is called '{label}'", advice


def _kind_finding(kinds: Sequence[str], grid: BeatGrid) -> tuple[str, str]:
    here = dict.fromkeys(section.kind for section in grid.sections if section.kind)
    advice = (
        f"The song has these: {', '.join(here)}." if here else "Write kinds behind the labels in its sections text."
    )
    return f"no section of the song is of the kind {' or '.join(kinds)}", advice


def _span_findings(cue: Cue, placed: PlacedCue, grid: BeatGrid) -> Iterator[Finding]:
    key = next((key for key in ("bars", "beats", "times") if getattr(cue, key)), "effect")
    end = max(grid.duration, grid.time_of_bar(grid.bar_count)) + SHORTEST_GAP
    # Bar 0 is the pickup where there is one: a cue may begin with it though the song begins inside it.
    begin = min(0.0, grid.time_of_bar(-1)) if grid.time_of_bar(0) > SHORTEST_GAP else 0.0
    last = f"the song lasts until bar {bar_text(grid.duration, grid)} ({clock_text(grid.duration)})"
    for span in placed.spans:
        stretch = _stretch(span.start, span.end, grid)
        if span.start >= grid.duration:
            yield key, f"{stretch} begin after the song", f"Write earlier ones: {last}."
        elif span.start < begin - SHORTEST_GAP:
            yield key, f"{stretch} begin before the song", "Count bars and beats from 1, seconds from 0."
        elif span.end > end and cue.every is None:
            yield key, f"{stretch} end after the song", f"Write an earlier end: {last}."
    if len(placed.spans) >= MOST_SPANS - len(cue.bars or cue.beats or cue.times or ()):
        yield key, f"the cue has more than {MOST_SPANS} spans; the later ones stay dark", "Write a larger 'every'."


def _order_findings(cue: Cue, placed: PlacedCue, finder: Finder) -> Iterator[Finding]:
    """What is wrong with the order of its own in which a cue's props come."""
    if not cue.order or not placed.props:
        return
    if ("input", "number") not in placed.program.pixel_inputs():
        found = f"the effect '{cue.effect}' does not go from prop to prop, so this changes nothing"
        yield "order", found, "Delete the line, or choose an effect such as leap, relay, seesaw or toss."
    elif cue.order[0] not in DIRECTIONS:
        for text in cue.order:
            if not any(parse_selector(text).matches(finder.names[index]) for index in placed.props):
                called = {name for index in placed.props for name in finder.names[index]} | set(DIRECTIONS)
                yield "order", f"'{text}' is none of the props that the cue lights", advise(text, called, "prop")


def _unseen_findings(cue: Cue, placed: PlacedCue) -> Iterator[Finding]:
    """What is written and changes nothing that can be seen."""
    if cue.opacity == 0:
        yield "opacity", "the cue is never seen at opacity 0", "Write a larger one, or delete the cue."
    if cue.palette is not None and not re.search(r"\bpalette\s*\(", placed.effect.code):
        found = f"the effect '{cue.effect}' takes no colours from a palette, so this changes nothing"
        yield "palette", found, "Delete the line, or choose another effect."
