"""The whole of a draft: form → cast → looks → accents → restraint → text."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.colours import hex_of, parse_colour
from eavesong.draft import accents, beneath, looks
from eavesong.draft.cast import cast_of
from eavesong.draft.cue import Draft
from eavesong.draft.form import Form, form_of
from eavesong.draft.kept import asked_in
from eavesong.draft.likeness import Costume, costumes_of
from eavesong.draft.measure import light_of_bars
from eavesong.draft.moods import Colours, choices, lighter, nearest_scheme, third
from eavesong.draft.pictures import cues_of
from eavesong.draft.restraint import room, to_spare, veils
from eavesong.draft.safe import faint
from eavesong.draft.text import (
    ASKED,
    NO_PART,
    bars_began_lines,
    colours_text,
    cue_lines,
    heading,
    made_from_lines,
    palette_lines,
    part_heading,
    quoted,
    worn_lines,
)
from eavesong.palettes import ALL, BUILT_IN, hexes
from eavesong.words import called_after

if TYPE_CHECKING:
    from eavesong.draft.kept import Kept
    from eavesong.layout import Layout

AROUND = 13
"""Cues of what lies beneath all looks and of what happens once in a while, about."""
ABOUT = "# Drafted from the song: a first version to change. Cues are painted in this order, the first at the bottom."
"""The first line of every draft."""


@dataclass(frozen=True)
class Taste:
    """What somebody wants of a draft."""

    palettes: tuple[tuple[str, ...], ...] = ()
    """Colours to use, as CSS; moods of our own where there are none."""
    calm: float = 0.3
    """0 lively to 1 calm."""
    seed: int = 1
    keep: tuple[Kept, ...] = ()
    """Cues of an earlier show that stay."""
    worn: frozenset[str] = frozenset()
    """Colours of an earlier show, as ``#rrggbb``: of our own moods those that have most of them are worn again."""
    title: str = ""
    """What the show is called; as its song where empty."""
    head: tuple[str, ...] = ()
    """Lines of an earlier show's head that stay."""
    asked: Mapping[str, Any] = field(default_factory=dict)
    """What of all this was asked for, as `eavesong.draft.kept.asked_before` has it, for whoever drafts it anew."""
    called: tuple[str, ...] = ()
    """What each of the palettes is called, for people; its colours where empty."""
    own: Mapping[str, str] = field(default_factory=dict)
    """Those of them that an earlier show has of its own, as TOML by their names."""


def draft_song(
    song: str | Path, layout: Layout | None = None, wishes: Taste | None = None, called: str | None = None
) -> str:
    """The text of a show for ``song``, heard as `eavesong.music` hears it; ``called`` is how the show names the file.

    Raises AudioError when the song cannot be read, BeatsError for bad texts beside it.
    """
    from eavesong.music import events_for
    from eavesong.music.listening import timed

    heard = timed(song)
    form = form_of(heard.grid, heard.sounding.signals, events_for(song, heard.grid))
    wishes, name = wishes or Taste(), called or Path(song).name
    title = wishes.title or called_after(Path(song).stem)
    return draft(form, layout, wishes, title, name, heard.sounding.audio_hash)


def draft(form: Form, layout: Layout | None, wishes: Taste, title: str, song: str, sound: str = "") -> str:
    """The text of a show for a song of this form: the same input, the same text. sound: the SHA-256 of the song."""
    rng = random.Random(wishes.seed)
    cast = cast_of(layout)
    scheme = len(form.strengths) + round(form.tempo) + wishes.seed  # another one for the next song, or another seed
    scheme = nearest_scheme(wishes.worn, scheme)
    own = _of_house(layout)
    wearable = choices(wishes.palettes or own, scheme)
    costumes = costumes_of(form, cast, wearable, rng)
    found = looks.looks_of(form, cast, costumes, rng)
    found, under = _under(form, found, wishes.calm)
    lit = [accents.WINDOWS, *beneath.at_rest(form, cast, found)]
    felt = list(beneath.strokes(form, cast, found))
    dimmed = [*felt, *accents.behind(form, cast, found, wishes.calm)]
    striking = _striking(wearable[0]) if wishes.palettes or own else {}
    if striking:  # as faint as colours of this light have to be
        share = min(1.0, faint(*striking["accent"]) / faint(*accents.ACCENT))
        dimmed = [
            replace(cue, opacity=round(cue.opacity * share, 2)) if cue.palette == "accent" else cue for cue in dimmed
        ]
    above = list(accents.above(form, cast, wishes.calm))
    everything = [*lit, *(cue for _, cue in under), *dimmed, *above]
    spared = to_spare(everything, form.grid.duration)
    for colours in own:  # settings of an effect are not replaced as palettes are
        flame = {"deep": colours[0], "bright": colours[-1]}
        lit = [replace(cue, parameters=cue.parameters | flame) if cue.effect == "wick" else cue for cue in lit]
    if wishes.palettes:
        flame = {"deep": wearable[0].main, "bright": lighter(wearable[0].main)}
        lit = [replace(cue, parameters=flame | cue.parameters) if cue.effect == "wick" else cue for cue in lit]
    sweep = third(wishes.palettes or own, scheme)
    palettes = _palettes(costumes, found) | {"sweep": (sweep, lighter(sweep), sweep)} | striking
    written = {name: colours_text(colours) for name, colours in palettes.items()}
    kept = [each.beside(written) for each in wishes.keep]
    said = _said(wishes, written)
    mine = {name: colours for name, colours in wishes.own.items() if name not in written}
    written |= {each.palette: each.colours for each in kept if each.palette} | mine
    text = _Text(kept, form)
    text.lines += [ABOUT, *([ASKED + said] if said else [])]
    wearing = {letter: costume.colours.asked for letter, costume in costumes.items()}
    text.lines += [*worn_lines(wishes.called or [", ".join(each) for each in wishes.palettes], wearing), ""]
    text.lines += [f"title = {quoted(title[:200])}", f"song = {quoted(song)}", *wishes.head]
    text.lines += [*bars_began_lines(_began(form), sound, form.grid.usual_beats), ""]
    worn = {cue.palette for cue in everything if cue not in spared} | {each.palette for each in kept} | {*mine}
    if wishes.palettes and any(cue.effect == "wick" for cue in lit):
        worn.add("accent")  # the colours of flames, which are settings: so that a house may have others in their place
    added = {cue.palette for cue in felt}
    made_from = _made_from(wishes, {*BUILT_IN, *mine}, costumes, found)
    for each in (each for each in kept if each.palette not in palettes):
        for name in each.made_from:
            made_from.setdefault(name, set()).add(each.palette)
    text.lines += palette_lines({name: colours for name, colours in written.items() if name in worn}, added, made_from)
    text.lines += made_from_lines(made_from, [name for name in written if name in worn and name not in mine])
    text.add(heading("all the way through"), lit)
    for number, part in enumerate(form.parts):
        cues = [cue for at, cue in under if at == number and cue not in spared]
        text.add(part_heading(part), cues, part.start, part.end, f"# as {part.label} was before")
    given = light_of_bars("\n".join(text.lines), form, layout)
    text.add(heading("over all of it, and how bright the house is"),
             [*(cue for cue in dimmed if cue not in spared), *veils(form, given)])  # fmt: skip
    text.add(heading("what happens once in a while"), [cue for cue in above if cue not in spared])
    text.rest()
    return "\n".join(text.lines) + "\n"


def _said(wishes: Taste, drafted: Collection[str]) -> str:
    """How a draft was asked for, in one line; empty where nothing was. A palette that is called like one of those that
    are ``drafted`` is asked for by its colours: by its name the next draft would take that one."""
    names = [
        ", ".join(hex_of(parse_colour(each)) for each in colours) if name in drafted else name
        for name, colours in zip(wishes.called, wishes.palettes, strict=False)
    ]
    return asked_in(names, wishes.asked.get("calm"), wishes.asked.get("seed"))


def _began(form: Form) -> list[tuple[float, float, str, str]]:
    """The bars at which sections begin, and that after the last, each with its second, the section's label and kind."""
    grid, begins = form.grid, {float(form.last): ("", "")}
    begins |= {bar: (section.label, section.kind) for bar, section in grid.beginnings.items()}
    return [(bar, grid.time_of_bar(bar - 1), *words) for bar, words in sorted(begins.items())]


def _under(
    form: Form, found: dict[str, looks.Staging], calm: float
) -> tuple[dict[str, looks.Staging], list[tuple[int, Draft]]]:
    """The looks and the cues of all of them. Colours change places in what is long, and what moves changes from phrase
    to phrase; where there are too many, not the former in what is shorter, then not the latter."""
    worn = dict(found)
    longest = {letter: max(part.end - part.start for part in form.parts_of(letter)) for letter in found}
    short = sorted(found, key=lambda each: longest[each])
    exchanged = sorted((each for each in found if found[each].exchanged), key=lambda each: len(found[each].exchanged))
    plain: set[str] = set()
    for letter in [*exchanged[:-1], *short, ""]:
        under = [(number, cue) for look in worn.values()
                 for number, cue in cues_of(look, form, calm, look.letter not in plain)]  # fmt: skip
        if len(under) <= room(form.grid.duration) - AROUND:
            break
        if letter in exchanged[:-1] and worn[letter].exchanged:
            worn[letter] = worn[letter].plain()
        else:
            plain.add(letter)
    return worn, under


class _Text:
    """The lines of a draft. What was kept takes the place of a drafted cue of its name in the same section; else it
    stands in its section, over what it was over: one in a part goes with its bars."""

    def __init__(self, keep: Sequence[Kept], form: Form) -> None:
        self.form = form
        self.lines: list[str] = []
        self.kept = list(keep)
        self.names = {each.name.casefold() for each in keep if each.name}
        self.in_part = False

    def add(self, head: str, cues: Iterable[Draft], start: float = 0.0, end: float = 0.0, empty: str = "") -> None:
        """A heading and its cues; of those kept, they that stand there or begin from bar ``start`` up to ``end``."""
        if self.in_part and start == end:
            self._section(heading(NO_PART), [], [each for each in self.kept if each.in_part])
        self.in_part = start < end
        words = head.removeprefix("# --- ").rstrip("- ")
        here = [each for each in self.kept if not each.on_top and self._stands(each, words, start, end)]
        blocks = [(cue.written, cue_lines(self._from_the_start(cue))) for cue in cues]
        self._section(head, blocks, here, empty)

    def _from_the_start(self, cue: Draft) -> Draft:
        """A cue that begins with bar 1 begins with the song, where its beat comes a breath later: no frame is dark."""
        if self.form.first != 1 or self.form.grid.time_of_bar(0) <= 0:
            return cue
        return replace(cue, bars=tuple((start - (start == 1), end) for start, end in cue.bars))

    def _stands(self, kept: Kept, words: str, start: float, end: float) -> bool:
        if not self.in_part or kept.bar is None:
            lowest = kept.at_the_bottom and kept.bar is None
            return lowest or (bool(kept.under) and words.endswith(kept.under))
        return (kept.in_part or not kept.under) and start <= max(kept.bar, self.form.first) < end

    def _section(self, head: str, blocks: list[tuple[str, list[str]]], here: Sequence[Kept], empty: str = "") -> None:
        left_over = [kept for kept in here if not kept.put_in_place(blocks)]
        for kept in here:
            self.kept.remove(kept)
        for kept in left_over:
            kept.placed(blocks)
        elsewhere = self.names - {each.name.casefold() for each in here}
        left = [lines for name, lines in blocks if name.casefold() not in elsewhere]
        if left or empty:
            self.lines += ["", head]
            self.lines += [line for block in left for line in ("", *block)] or ["", empty]

    def rest(self) -> None:
        """What was kept and has found no place yet, over everything."""
        self._section(heading("kept"), [], list(self.kept))


def _of_house(layout: Layout | None) -> tuple[tuple[str, ...], ...]:
    """The colours that a house has in place of all others, where it has any: a show in these keeps its contrast."""
    lights = layout.palettes.get(ALL, ()) if layout is not None else ()
    return (hexes(lights),) if lights else ()


def _striking(colours: Colours) -> dict[str, Sequence[str]]:
    """What happens once in a while, in colours that were asked for: nothing stands out in one that nobody wants."""
    return {"accent": (colours.main, lighter(colours.main)), "spark": (lighter(colours.main),)}


def _made_from(
    wishes: Taste, named: Collection[str], costumes: dict[str, Costume], found: dict[str, looks.Staging]
) -> dict[str, set[str]]:
    """Of the palettes that were asked for and have a name, those of the draft that are of their colours."""
    made_from: dict[str, set[str]] = {}
    last = len(wishes.called) - 1
    for number, name in enumerate(wishes.called):
        made = made_from.setdefault(name, set()) if name in named else set()
        made.update({"accent", "spark"} if number == 0 else (), {"sweep"} if number == last else ())
        for letter, costume in costumes.items():
            if costume.colours.asked == number:
                deep = beneath.name_of(costume.colours.deep, found)
                made |= {letter, f"{letter} beside", deep, f"{deep} ground"}
    return made_from


def _palettes(costumes: dict[str, Costume], found: dict[str, looks.Staging]) -> dict[str, Sequence[str]]:
    palettes: dict[str, Sequence[str]] = {}
    for letter, costume in costumes.items():
        worn = costume.colours
        palettes[letter] = (worn.main, lighter(worn.main))
        palettes[f"{letter} beside"] = (worn.beside, lighter(worn.beside))
        deep = beneath.name_of(worn.deep, found)
        palettes[deep] = (worn.deep,)
        palettes[f"{deep} ground"] = (worn.deep, lighter(worn.beside))
    return palettes | {
        "accent": accents.ACCENT,
        "spark": accents.SPARK,
        "brighter": accents.BRIGHTER,
    }
