"""Accents: what happens once in a while, and what the light does about it."""

from __future__ import annotations

from collections.abc import Iterator

from eavesong.draft.cast import Cast
from eavesong.draft.cue import Draft
from eavesong.draft.form import Form
from eavesong.draft.looks import FULL, Staging
from eavesong.draft.moods import luminance
from eavesong.draft.safe import QUICK

ACCENT = ("#ffb46b", "#ffd6a1")
"""Colours of what happens once in a while: warm, and a little lighter where it is strongest."""
ENDING = 2
"""Bars in which the house goes dark at the end."""


def behind(form: Form, cast: Cast, looks: dict[str, Staging]) -> Iterator[Draft]:
    """Accents that are dimmed with the house: windows, the melody, builds, drum fills."""
    yield Draft(
        "Windows are lit", "somebody is at home: a warm light that stays", "wick", ("window or door", "walls"), (),
        {"depth": 0.4}, "", "plus-lighter", 0.3,
    )  # fmt: skip
    yield Draft(
        "Strokes are felt", "what begins hard is seen all over; faint, so that quick strokes cannot flash",
        "stir", ("all",), (), {"off": 0.2, "least": 0}, "accent", "plus-lighter", _faint(*ACCENT),
    )  # fmt: skip
    if len(form.events.labelled("lead")) >= 8:
        yield Draft(
            "The melody draws its line", "how high the melody is; faint, so that quick notes cannot flash", "contour",
            cast.tall, (), {}, "contour", "plus-lighter", _faint(*(look.colours.light for look in looks.values())),
        )  # fmt: skip
    if form.events.spans("build"):
        yield Draft("Builds climb", "light climbs the house until it lets go", "gather", ("all",), (), {}, "accent",
                    "plus-lighter", 0.2)  # fmt: skip
    if form.events.spans("fill"):
        yield Draft(
            "Fills roll across", "a drum fill leads over to the next phrase", "roll", ("all",), (), {}, "accent",
            "plus-lighter", _faint(*ACCENT),
        )  # fmt: skip


def above(form: Form, looks: dict[str, Staging], calm: float) -> Iterator[Draft]:
    """Accents over everything: where parts begin, stops, hits and arrivals, and the end."""
    starts = tuple((float(part.start), part.start + 0.5) for part in form.parts[1:])
    strong = tuple((float(part.start), part.start + 0.5) for part in form.parts[1:] if looks[part.letter].tier == FULL)
    if strong or starts:
        yield Draft(
            "Parts begin", "the first beat of a strong part is seen at once", "strike", ("all",), strong or starts,
            {"beats": 2}, "accent", "plus-lighter", round(0.35 * (1 - 0.6 * calm), 2),
        )  # fmt: skip
    if form.events.spans("stop"):
        yield Draft("Dark where it stops", "silence in the music is darkness on the house", "hush")
    if form.events.labelled("hit") or form.events.labelled("arrival"):
        yield Draft(
            "Hits and arrivals", "one strong stroke, one burst over the whole house", "burst", ("all",), (), {},
            "accent", opacity=round(1 - 0.4 * calm, 2),
        )  # fmt: skip
    if form.last - form.first > 4 * ENDING:
        yield Draft(
            "Dark at the end", "from the top down, with the last bars", "unveil", ("all",),
            ((float(form.last - ENDING), float(form.last)),), {"beats": float(ENDING * form.metre), "angle": -90.0},
            "black", fade_in=float(form.metre),
        )  # fmt: skip


def _faint(*colours: str) -> float:
    """The opacity at which none of the colours can flash, however quickly it comes and goes."""
    return round(QUICK / max(QUICK, *(luminance(colour) for colour in colours)), 2)
