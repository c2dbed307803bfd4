"""What deserves a second look in one cue: a function for each kind of finding."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from eavesong.errors import advise, nearest
from eavesong.music.grid import BREATH, HAIR, BeatGrid, Section
from eavesong.scene.place import Finder, PlacedCue, Taken
from eavesong.scene.roles import WHOLE_HOUSE, zone_of
from eavesong.scene.sequence import DIRECTIONS
from eavesong.scene.timeline import MOST_SPANS, bar_text, sections_of
from eavesong.show.model import Cue
from eavesong.show.running import runs_through
from eavesong.show.selection import parse_selector
from eavesong.words import clock_text

SHORTEST_GAP = 0.02
"""Seconds of darkness that are worth a word: about one frame."""


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


def stretch_of(start: float, end: float, grid: BeatGrid) -> Stretch:
    """The stretch from ``start`` to ``end`` seconds of a song. What begins a breath before bar 1 begins with it."""
    at_end, first = abs(end - grid.duration) < SHORTEST_GAP, grid.time_of_bar(0)
    start_bar = "1" if 0 <= start < first <= start + BREATH + HAIR else bar_text(start, grid)
    return Stretch(start, end, start_bar, bar_text(end, grid), at_end)


PASSED = 0.8
"""How like a known word one has to be to be called a slip in a choice that was passed over, see `errors.nearest`."""

Finding = tuple[str, str, str]
"""A key of the cue, what was found there, what to write instead."""


def cue_findings(cue: Cue, placed: PlacedCue, finder: Finder, grid: BeatGrid) -> Iterator[Finding]:
    """All that deserves a second look in one cue: a line for each kind of finding."""
    yield from _selector_findings(cue, placed, finder)
    yield from _section_findings(cue, grid)
    yield from _span_findings(cue, placed, grid)
    yield from _order_findings(cue, placed, finder)
    yield from _unseen_findings(cue, placed)


def _selector_findings(cue: Cue, placed: PlacedCue, finder: Finder) -> Iterator[Finding]:
    known = finder.known()
    if placed.taken.stand_in:
        if not asked_for(cue, placed.taken) or _slips(cue, known):
            yield "on", *_stand_in_finding(cue, placed, known)
        return
    if placed.taken.choice < 0:
        if finder.unlit(cue.on, cue.within):
            return  # told among the wishes
        quoted = " or ".join(f'"{text}"' for text in cue.on)
        if cue.within and finder.select(cue.on, None)[0].choice >= 0:
            found = f"the cue lights nothing: no pixel of {quoted} lies within its box"
            yield "on", found, "Widen 'within', or delete it."
            return
        unknown = [word for text in cue.on for word in parse_selector(text).words if word not in known]
        if placed.does == "darkens" and unknown:
            meant = _meant(unknown[0], known)
            advice = f"Did you mean '{meant}'?" if meant else "Nothing is to be done where the house has none."
            yield "on", f"the cue darkens nothing: no prop here matches {quoted}", advice
            return
        advice = _advice_for(unknown[0], known) if unknown else "Write 'or' where either will do."
        yield "on", f"the cue lights nothing: no prop here matches {quoted}", advice
        return
    for word in parse_selector(placed.taken.text).words:
        if word not in known and _slip(word, known):
            yield "on", f"no prop here has the tag or name '{word}'", _advice_for(word, known)
    yield from _passed_over(cue, placed, known)


def _passed_over(cue: Cue, placed: PlacedCue, known: Sequence[str]) -> Iterator[Finding]:
    """Choices that came to nothing for a letter or two, so that a later one was taken: ``["trees", "mega tree"]``."""
    asked = {word for text in cue.on for word in parse_selector(text).words}
    for text in cue.on[: placed.taken.choice]:
        for word in parse_selector(text).words:
            close = "" if word in known or zone_of(word) else nearest(word, known, PASSED)
            if close and close not in asked and close[:1] == word[:1]:
                found = f"no prop here has the tag or name '{word}', so '{placed.taken.text}' was taken"
                yield "on", found, f"Did you mean '{close}'?"


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

    Words of the trade are no slips of the pen for others.
    """
    words = name.split()
    inner = [word for word in words if word in known]
    if 0 < len(inner) < len(words) and not zone_of(name):
        return inner[-1]  # of "mega tree" the tree
    return _slip(name, known)


def _slip(name: str, known: Sequence[str]) -> str:
    """As ``_meant`` where something else of the same choice is lit: a garage door is no door then, but what a house has
    not got. Hardly any slip is in the first letter."""
    words = name.split()
    inner = [word for word in words if word in known]
    if zone_of(name):
        return ""
    if inner and len(inner) == len(words):
        return " or ".join(words)
    return nearest(name, [each for each in known if each[:1] == name[:1] and len(each.split()) == len(words)])


def absent_words(placed: Sequence[PlacedCue], finder: Finder) -> tuple[str, ...]:
    """The words that cues which are lit name in vain, and that are no slips of the pen."""
    known = finder.known()
    taken = [cue.taken for cue in placed if cue.taken.choice >= 0 and not cue.taken.stand_in]
    words = dict.fromkeys(word for each in taken for word in parse_selector(each.text).words)
    return tuple(word for word in words if word not in known and not _slip(word, known))


def asked_for(cue: Cue, taken: Taken) -> bool:
    """Whether what stands in on a house is what the cue itself lists: ``upper`` where no prop bears the tag, and that
    part of the house is lit; ``figure`` where a star is one."""
    asked = {word for text in cue.on for word in parse_selector(text).words}
    words = words_of_stand_in(taken)
    return bool(words) and asked.issuperset(words)


def words_of_stand_in(taken: Taken) -> list[str]:
    """What stands in, in the words that a selector has for it: ``upper`` and ``walls`` for ``the upper part and the
    walls instead of star and grid``; none for the whole house."""
    shown = re.split(" instead of |, and what no other", taken.text)[0]
    parts = shown.split(" and ") if not shown.startswith(WHOLE_HOUSE) else []
    return [part.removeprefix("what is a kind of ").removeprefix("the ").removesuffix(" part") for part in parts]


def _slips(cue: Cue, known: Sequence[str]) -> dict[str, str]:
    """The words of a cue that nothing here answers to, and that were probably meant to be others."""
    words = [word for text in cue.on for word in parse_selector(text).words]
    return {word: meant for word in words if word not in known and (meant := _meant(word, known))}


def _stand_in_finding(cue: Cue, placed: PlacedCue, known: Sequence[str]) -> tuple[str, str]:
    quoted = " or ".join(f'"{text}"' for text in cue.on)
    words = [word for text in cue.on for word in parse_selector(text).words]
    wanted = words[0] if words else cue.on[0]
    advice = " ".join(f"Did you mean '{meant}' for '{word}'?" for word, meant in _slips(cue, known).items())
    both = [text for text in cue.on if " and " in text and not {"or", "not"} & {*re.findall(r"[a-z]+", text)}]
    if both and placed.taken.text == WHOLE_HOUSE and not advice:
        advice = f"'and' is for props that are both at once; write '{both[0].replace(' and ', ' or ')}' for either."
    if advice:
        return f"no prop here matches {quoted}; lit is {placed.taken.text}", advice
    advice = f"Give the props that are meant the tag '{wanted}', or add to 'on' what else will do."
    return f"no prop here matches {quoted}; lit is {placed.taken.text}", advice


def _section_findings(cue: Cue, grid: BeatGrid) -> Iterator[Finding]:
    """What is wrong with the sections of a cue in this song."""
    all_of = sections_of(cue.model_copy(update={"turn": ()}), grid) if cue.turn else ()
    count = f"{len(all_of)} times" if len(all_of) > 1 else "once"
    if all_of and not sections_of(cue, grid):
        others = sorted({section.label for section in grid.sections} - {each.label for each in all_of})
        advice = "Write 'last'" + (
            f", or, where another section is meant, its label: {', '.join(others)}" if others else ""
        )
        yield "turn", f"what the cue is tied to comes {count} in this song, and never that turn", f"{advice}."
        return
    if never := [turn for turn in cue.turn if all_of and isinstance(turn, int) and turn > _most(cue, all_of)]:
        turns = f"turn{'s' * (len(never) > 1)} {' and '.join(map(str, never))}"
        each = {part.label.lower() if cue.sections else part.kind for part in all_of}
        found = f"what the cue is tied to comes {count} in this song, and {turns} of it never"
        if len(each) > 1:
            most = _most(cue, all_of)
            often = "once" if most == 1 else f"{most} times"
            found = f"none of what the cue is tied to comes more than {often}, and so {turns} never"
        yield "turn", found, "Take it out, or write 'last'."
    labels = {section.label.lower(): section.label for section in grid.sections}
    missing = [label for label in cue.sections or () if label.lower() not in labels]
    if cue.kinds and len(missing) == len(cue.sections or ()):
        if not sections_of(cue, grid):
            yield "kinds", *_kind_finding(cue.kinds, grid)
        missing = [label for label in missing if nearest(label.lower(), labels)]  # another song's are no slips
    for label in missing:
        advice = advise(label, labels.values(), "section")
        if not advice.startswith("Did you mean"):
            advice += " Write one of them, tie the cue to 'kinds', or call them so in the song's .sections text."
        yield "sections", f"no section of the song is called '{label}'", advice


def _most(cue: Cue, parts: Sequence[Section]) -> int:
    """How often the label, or the kind, that comes most often of those a cue is tied to comes."""
    labels = {label.lower() for label in cue.sections or ()}
    named = [part.label.lower() for part in parts if part.label.lower() in labels]
    return max(Counter(named or [part.kind for part in parts]).values())


def _kind_finding(kinds: Sequence[str], grid: BeatGrid) -> tuple[str, str]:
    here = dict.fromkeys(section.kind for section in grid.sections if section.kind)
    advice = (
        f"The song has these: {', '.join(here)}." if here else "Write kinds behind the labels in its sections text."
    )
    return f"no section of the song is of the kind {' or '.join(kinds)}", advice


def _span_findings(cue: Cue, placed: PlacedCue, grid: BeatGrid) -> Iterator[Finding]:
    """What is wrong with when a cue is lit. What runs through its span may have begun before the song does."""
    key = next((key for key in ("bars", "beats", "times") if getattr(cue, key)), "effect")
    end = max(grid.duration, grid.time_of_bar(max(grid.bar_count, grid.last_line))) + SHORTEST_GAP
    # A cue may begin with the bar that the song begins inside: bar 0 with a pickup, one before it after a long silence.
    begin = min(0.0, grid.time_of_bar(math.floor(float(grid.musical_time([0.0]).bar[0]) + HAIR)))
    last = f"the song lasts until bar {bar_text(grid.duration, grid)} ({clock_text(grid.duration)})"
    fades_in = any(span.fade_in for span in placed.spans)
    through = runs_through(fades_in, placed.parameters.values(), placed.program)
    for span in placed.spans:
        stretch = stretch_of(span.start, span.end, grid)
        if span.start >= grid.duration:
            yield key, f"{stretch} begin after the song", f"Write earlier ones: {last}."
        elif span.start < begin - SHORTEST_GAP and not (span.end > begin and through):
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
