"""The whole of a draft: form → cast → looks → accents → restraint → text."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.draft import accents, looks
from eavesong.draft.cast import cast_of
from eavesong.draft.cue import Draft
from eavesong.draft.form import Form, form_of
from eavesong.draft.looks import Look
from eavesong.draft.moods import Colours, colours_for, mixed
from eavesong.draft.restraint import veils
from eavesong.draft.text import cue_lines, heading, palette_lines, part_heading, quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from eavesong.layout import Layout

MOST_CUES = 60
"""Cues that a person still reads through."""


@dataclass(frozen=True)
class Wishes:
    """What somebody wants of a draft."""

    palettes: tuple[tuple[str, ...], ...] = ()
    """Colours to use, as CSS; moods of our own where there are none."""
    calm: float = 0.3
    """0 lively to 1 calm."""
    seed: int = 1


def draft_song(song: str | Path, layout: Layout | None = None, wishes: Wishes = Wishes(), called: str = "") -> str:
    """The text of a show for ``song``, heard as `eavesong.music` hears it; ``called`` is how the show names the file.

    Raises AudioError when the song cannot be read, BeatsError for bad texts beside it.
    """
    from eavesong.music import events_for
    from eavesong.music.listening import timed

    heard = timed(song)
    form = form_of(heard.grid, heard.sounding.signals, events_for(song, heard.grid))
    return draft(form, layout, wishes, Path(song).stem, called or Path(song).name)


def draft(form: Form, layout: Layout | None, wishes: Wishes, title: str, song: str) -> str:
    """The text of a show for a song of this form: the same input, the same text."""
    rng = random.Random(wishes.seed)
    cast = cast_of(layout)
    colours = colours_for(looks.tiers_of(form), wishes.palettes, rng)
    found = looks.looks_of(form, cast, colours, rng)
    under: dict[int, list[Draft]] = {number: [] for number in range(len(form.parts))}
    for look in found.values():
        for number, cue in looks.cues_of(look, form, wishes.calm):
            under[number].append(cue)
    below = [cue for cues in under.values() for cue in cues]
    lines = [
        "# Drafted from the song: a first version to change. Cues are painted in this order, the first at the bottom.",
        "", f"title = {quoted(title)}", f"song = {quoted(song)}", "", *palette_lines(_palettes(colours)),
    ]  # fmt: skip
    for number, part in enumerate(form.parts):
        lines += ["", part_heading(part)]
        lines += _told(under[number]) if under[number] else ["", f"# as {part.label} was before"]
    lines += _section("how bright the house is", [*accents.behind(form, cast, found), *veils(form, below)])
    lines += _section("what happens once in a while", accents.above(form, found, wishes.calm))
    return "\n".join(lines) + "\n"


def _palettes(colours: dict[str, Colours]) -> dict[str, Sequence[str]]:
    palettes: dict[str, Sequence[str]] = {}
    for letter, each in colours.items():
        palettes[letter] = (each.main, each.beside, each.light)
        palettes[f"{letter} deep"] = (each.deep, _between(each), each.deep)
    strongest = next(iter(colours.values()))
    palettes["contour"] = (strongest.main, strongest.light)
    palettes["accent"] = ("#ffb46b", "#fff1dd")
    return palettes


def _between(colours: Colours) -> str:
    """The deep colour, a third of the way to the one beside."""
    return mixed(colours.deep, colours.beside, 0.3)


def _section(words: str, cues: Iterator[Draft] | list[Draft]) -> list[str]:
    listed = list(cues)
    return ["", heading(words), *_told(listed)] if listed else []


def _told(cues: list[Draft]) -> list[str]:
    return [line for cue in cues for line in ("", *cue_lines(cue))]
