"""Accents: what happens once in a while, and what the light does about it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from eavesong.draft.cast import GARDEN, Cast, union
from eavesong.draft.cue import Draft, joined, spoken
from eavesong.draft.form import FULL, Form
from eavesong.draft.looks import Staging
from eavesong.draft.safe import STROKES, busiest, faint, within

ACCENT = ("#ff9a30", "#ffd890")
"""Colours of what happens once in a while: amber, as windows are; white over a whole house blots out what is there."""
SPARK = ("#e6efff",)
"""Colour of sparks."""
BRIGHTER = ("#cbcbcb",)
"""What lights up in its own colours is divided by one less this much light, 0.6 (color-dodge): two and a half times."""
WINDOWS = Draft("Windows are lit", "somebody is at home: a light that stays", "wick", ("window or door", "walls"),
                (), {"depth": 0.4}, opacity=0.45)  # fmt: skip
"""What is lit all through, under everything else."""
SWEEP = 0.4
"""House widths that a sweep is wide: as soft as that, it adds no flash to what is quick."""
BREATHED = 0.8
"""Light that is taken away before what is full."""
SLOWEST = 3.2
"""Seconds that a sweep takes at least: where bars are quick it would come upon what is quick too often."""
TOLD = {2: "two", 4: "four"}
CALMEST = 0.6
"""Calm up to which full parts are swept."""
NOTES = 4
"""Notes of a melody that are worth a line, each time a part comes."""
NEAR = 0.05
"""Seconds between the first beat of a part and a stress that are one."""
BREATH = 1.9
"""Seconds of a stop from which something rings on in most songs, and a house that is quite dark seems to be broken."""
ENDING = 2
"""Bars in which the house goes dark at the end."""


def behind(form: Form, cast: Cast, looks: dict[str, Staging], calm: float) -> Iterator[Draft]:
    """Accents that are dimmed with the house: the melody, sweeps, builds, drum fills."""
    yield from _melody(form, cast, looks)
    yield from _sweeps(form, calm)
    if form.events.spans("build"):
        yield Draft("Builds climb", "light climbs the house until it lets go", "gather", ("all",), (), {}, "brighter",
                    "color-dodge")  # fmt: skip
    if form.events.spans("fill"):
        yield Draft(
            "Fills roll across", "a drum fill leads over to the next phrase; faint beside its strokes",
            "roll", ("all",), (), {}, "accent", "plus-lighter", round(0.4 * faint(*ACCENT), 2),
        )  # fmt: skip


def _sweeps(form: Form, calm: float) -> Iterator[Draft]:
    """A third colour that goes over what is full, but in calm shows."""
    spans = [(float(part.start), float(part.end)) for part in form.parts if part.tier == FULL]
    bars = 2 if 2 * form.metre * 60 / form.tempo >= SLOWEST else 4
    if spans and calm <= CALMEST:
        yield Draft(
            "Full parts are swept", f"a third colour goes over all of it in {TOLD[bars]} bars: nothing stands still",
            "crossing", ("all",), joined(spans), {"beats": float(bars * form.metre), "width": SWEEP}, "sweep",
            opacity=0.6,
            spare=True,
        )  # fmt: skip


def _melody(form: Form, cast: Cast, looks: dict[str, Staging]) -> Iterator[Draft]:
    """How high the melody is, where it is slow enough that light cannot flash with it and its screen is dark."""
    screens = [
        family for family in cast.families if family.name == "centre" and {"grid", "net"} & {*family.on[0].split()}
    ]
    place = "centre" if screens else "trees"
    for letter, look in looks.items():
        parts = form.parts_of(letter)
        spans = [(form.grid.time_of_bar(part.start - 1), form.grid.time_of_bar(part.end - 1)) for part in parts]
        notes = within((each.time for each in form.events.labelled("lead")), spans)
        if place not in look.lit and len(notes) >= NOTES * len(parts) and busiest(notes) <= STROKES:
            yield Draft(
                f"{spoken(letter)}: the melody draws its line", "how high the melody is, on a screen that is dark else",
                "contour", cast.tall, joined([(part.start, part.end) for part in parts]), {"rest": 0},
                f"{letter} beside", opacity=0.8, spare=True,
            )  # fmt: skip


def on_house(cast: Cast) -> tuple[str, ...]:
    """What hangs on the house, and the windows; all of it on a house with nothing in its garden."""
    garden = [family for family in cast.families if family.name in GARDEN]
    return (f"all and not ({union(garden)[0]})", "upper or walls", "all") if garden else ("all",)


def _until_the_end(form: Form) -> float:
    """Beats in which the last bars go dark: quarters of one, half a beat before the song ends where it ends inside its
    last bar."""
    begin = form.grid.time_of_bar(form.last - ENDING - 1)
    first, end = form.grid.musical_time([begin, form.grid.duration]).beat
    return float(min(ENDING * form.metre, max(1.0, math.floor(4 * (end - first - 0.5)) / 4)))


def _breaths(form: Form) -> Iterator[Draft]:
    """The house goes down in the last bar before what is full, where nothing builds up: so that there is a step up."""
    builds = form.events.spans("build")
    held = []
    for before, part in pairwise(form.parts):
        start, end = form.grid.time_of_bar(part.start - 2), form.grid.time_of_bar(part.start - 1)
        building = any(begin < end and stop > start for begin, stop, *_ in builds)
        if part.tier == FULL > before.tier and not building:
            held.append((part.start - 1.0, float(part.start)))
    if held:
        yield Draft(
            "A breath", "before what is full the house goes down for a bar; windows stay", "plain",
            ("all and not (window or door)", "all"), joined(held), {}, "black", opacity=BREATHED,
            fade_in=float(form.metre), spare=True,
        )  # fmt: skip


def above(form: Form, cast: Cast, calm: float) -> Iterator[Draft]:
    """Accents over everything: where parts begin, stops, hits and arrivals, and the end."""
    stresses = [each.time for each in form.events.labelled("stress")]
    struck = [
        part for before, part in pairwise(form.parts)
        if part.tier == FULL > before.tier or not stresses
        or any(abs(form.grid.time_of_bar(part.start - 1) - at) <= NEAR for at in stresses)
    ]  # fmt: skip
    strong = [part for part in struck if part.tier == FULL] or struck
    if strong:
        yield Draft(
            "Parts begin", "a strong part opens, or begins hard: a stroke of light over all of it", "strike", ("all",),
            tuple((float(part.start), part.start + 1.0) for part in strong),
            {"beats": float(form.metre)}, "accent", "plus-lighter", round(0.5 - 0.2 * calm, 2),
        )  # fmt: skip
    yield from _breaths(form)
    if form.events.spans("stop"):
        longest = max(end - start for start, end, *_ in form.events.spans("stop"))
        told = "silence in the music is darkness on the house" if longest < BREATH else "the house all but goes dark"
        yield Draft(
            "Dark where it stops", f"{told}; windows stay", "hush", ("all and not (window or door)", "all"), (),
            {} if longest < BREATH else {"depth": 0.85},
        )  # fmt: skip
    if form.events.labelled("hit") or form.events.labelled("arrival"):
        yield Draft(
            "Hits and arrivals", "one strong stroke, one burst over what hangs on the house", "burst",
            on_house(cast), (),
            {"beats": 4}, "accent", "plus-lighter", round(0.7 - 0.3 * calm, 2),
        )  # fmt: skip
    if form.last - form.first > 4 * ENDING:
        yield Draft(
            "Dark at the end", "from the top down, with the last bars; windows stay", "unveil",
            ("all and not (window or door)", "all"), ((float(form.last - ENDING), float(form.last)),),
            {"beats": _until_the_end(form), "angle": -90.0},
            "black", fade_in=float(form.metre),
        )  # fmt: skip
