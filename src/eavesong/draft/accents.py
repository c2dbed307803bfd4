"""Accents: what happens once in a while, and what the light does about it."""

from __future__ import annotations

from collections.abc import Iterator

from eavesong.draft.cast import Cast
from eavesong.draft.cue import Draft
from eavesong.draft.form import Form
from eavesong.draft.looks import FULL, Staging
from eavesong.draft.moods import luminance
from eavesong.draft.safe import QUICK

ENDING = 2
"""Bars in which the house goes out at the end."""


def behind(form: Form, cast: Cast, looks: dict[str, Staging]) -> Iterator[Draft]:
    """Accents that are dimmed with the house: the melody, drum fills."""
    yield Draft(
        "Windows are lit", "somebody is at home: a warm light that stays", "wick", ("window or door", "walls"), (),
        {"depth": 0.4}, "", "plus-lighter", 0.16,
    )  # fmt: skip
    if len(form.events.labelled("lead")) >= 8:
        bright = max(luminance(look.colours.light) for look in looks.values())
        yield Draft(
            "The melody draws its line", "how high the melody is; faint, so that quick notes cannot flash", "contour",
            cast.tall, (), {}, "contour", "plus-lighter", round(QUICK / max(bright, QUICK), 2),
        )  # fmt: skip
    if form.events.spans("fill"):
        yield Draft(
            "Fills roll across", "a drum fill leads over to the next phrase", "roll", ("all",), (), {}, "accent",
            "plus-lighter", 0.35,
        )  # fmt: skip


def above(form: Form, looks: dict[str, Staging], calm: float) -> Iterator[Draft]:
    """Accents over everything: where parts begin, builds, stops, hits and arrivals, and the end."""
    starts = tuple((float(part.start), float(part.start + 1)) for part in form.parts[1:])
    strong = tuple(
        (float(part.start), float(part.start + 1)) for part in form.parts[1:] if looks[part.letter].tier == FULL
    )
    if strong or starts:
        yield Draft(
            "Parts begin", "the first beat of a strong part is seen at once", "strike", ("all",), strong or starts, {},
            "accent", "plus-lighter", round(0.7 * (1 - 0.6 * calm), 2),
        )  # fmt: skip
    if form.events.spans("build"):
        yield Draft("Builds climb", "light climbs the house until it lets go", "gather", ("all",), (), {}, "accent",
                    "plus-lighter", 0.2)  # fmt: skip
    if form.events.spans("stop"):
        yield Draft("Stops are dark", "silence in the music is darkness on the house", "hush")
    if form.events.labelled("hit") or form.events.labelled("arrival"):
        yield Draft(
            "Hits and arrivals", "one strong stroke, one burst over the whole house", "burst", ("all",), (), {},
            "accent", opacity=round(1 - 0.4 * calm, 2),
        )  # fmt: skip
    if form.last - form.first > 4 * ENDING:
        yield Draft(
            "The house goes out", "from the top down, with the last bars", "unveil", ("all",),
            ((float(form.last - ENDING), float(form.last)),), {"beats": float(ENDING * form.metre), "angle": -90.0},
            "black", fade_in=float(form.metre),
        )  # fmt: skip
