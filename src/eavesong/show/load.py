"""Ways in: a show from its file, with its effects, and every mistake in it at once."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.colours import (
    NAMES,
    Colour,
    Hue,
    as_bright,
    is_colour,
    nearest_colour,
    parse_colour,
    recoloured,
    recoloured_together,
    spread,
)
from eavesong.easing import parse_easing
from eavesong.errors import Problem, ShowError, advise
from eavesong.files import read_model, read_text
from eavesong.palettes import ALL, BUILT_IN, USUAL, Lights, advice_for, light_of, named_palette, well_lit
from eavesong.show.model import Cue, FromTo, ShowFile, is_finite, misfit_of_ways
from eavesong.show.named import EffectReader
from eavesong.show.ramps import Ramp
from eavesong.slips import read_tables, with_commas
from eavesong.statements import place

if TYPE_CHECKING:
    from eavesong.language import Effect
    from eavesong.music.grid import BeatGrid
    from eavesong.music.listening import Timed
    from eavesong.show.named import LoadEffect

Hues = Sequence[tuple[Hue, Colour]]
"""Hues, and the linear light that a house has in place of each."""
TEXTS = (
    ".toml",
    ".beats",
    ".sections",
    ".events",
    ".jams",
    ".h5",
    ".html",
    ".png",
    ".jpg",
    ".json",
    ".zip",
    ".pack",
    ".csv",
)
"""Endings of files that are no song."""

UNSEEN = ("color-dodge",)
"""Blends whose own colour is not seen: they light up what lies below in its own (CSS Compositing, 10.1.7)."""

Value = float | tuple[float, float, float] | Ramp
"""A parameter's value: a number, a colour in linear light, or a ramp between two of them."""


def in_place_of(name: str, instead: Mapping[str, Lights]) -> Lights | None:
    """What a house has in place of the palette of that name, whether or not it is written with capitals."""
    return instead.get(name) or next((own for other, own in instead.items() if other.lower() == name.lower()), None)


@dataclass(frozen=True, eq=False)
class Show:
    """A show that has been read: its cues, the effects they name and the palettes they may use."""

    title: str
    path: str
    text: str
    """The file's own text."""
    song: Path | None
    """Where the song lies; ``None`` when the show names none. Likewise ``beats`` and ``sections``."""
    beats: Path | None
    sections: Path | None
    bars_began: tuple[tuple[float, float, str, str], ...]
    """The bars at which sections began as the show was written, and that after the last, each with its second and the
    section's label and kind, empty where these are not told; without any where the show does not say."""
    palettes: Mapping[str, Lights]
    """The show's own palettes in linear light."""
    cues: tuple[Cue, ...]
    effects: Mapping[str, Effect]
    """Every effect that a cue names, by that name."""
    bar_beats: int = 0
    """Beats of most bars as the show was written; 0 where it does not say."""

    def palette_of(
        self, cue: Cue, instead: Mapping[str, Lights] | None = None, hues: Hues = ()
    ) -> tuple[tuple[float, tuple[float, float, float]], ...]:
        """The palette of ``cue``: (position 0..1, linear light) pairs in growing order.

        instead: what a house has in place of palettes, by their names; under ``all`` of every one that has no other, is
        not black, which is no light and darkens, and is not blended so that what lies below keeps its own colours. That
        is as bright as what it stands for at most, as is what stands for palettes that were made from a named one.
        hues: what it has in place of hues, see `eavesong.colours.recoloured`, in palettes that stay.
        """
        instead = instead or {}
        name = cue.palette or USUAL
        called, made_from = self._named(name) if isinstance(name, str) else ((), ())
        for asked in called:
            if wished := in_place_of(asked, instead):
                return spread(wished)
        own = spread(named_palette(name, self.palettes) if isinstance(name, str) else light_of(name))
        wished = next((found for each in made_from if (found := in_place_of(each, instead))), instead.get(ALL))
        if wished and any(any(light) for _, light in own) and cue.blend not in UNSEEN:
            seen = well_lit(wished)
            lights = as_bright([light for _, light in seen], [light for _, light in own])
            return tuple((at, light) for (at, _), light in zip(seen, lights, strict=True))
        return own if cue.blend in UNSEEN else tuple((at, recoloured(light, hues)) for at, light in own)

    def names_of(self, palette: str) -> tuple[str, ...]:
        """What the palette of a name is called: so, as the one that the show gives that name, where it does, and as
        those that it was made from."""
        called, made_from = self._named(palette)
        return (*called, *made_from)

    def _named(self, palette: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What the palette of a name is called, and the names of those that it was made from."""
        other = self._renamed.get(palette)
        made_from = tuple(name for name, made in self.palettes_from.items() if palette in made)
        return (palette, other) if other else (palette,), made_from

    @cached_property
    def _tables(self) -> Mapping[str, Any]:
        """The show's text as TOML."""
        return tomllib.loads(self.text) if self.palettes else {}

    @cached_property
    def _renamed(self) -> Mapping[str, str]:
        """The names under which the show's [palettes] has another palette, or a colour, as that is called."""
        tables = self._tables.get("palettes", {})
        return {name: other for name, other in tables.items() if isinstance(other, str)}

    @cached_property
    def palettes_from(self) -> Mapping[str, tuple[str, ...]]:
        """Which of the show's own palettes were made from one of another name."""
        return {name: tuple(made) for name, made in self._tables.get("palettes_from", {}).items()}

    def _wished_for(self, instead: Mapping[str, Lights]) -> dict[Colour, list[Colour]]:
        """What a house has in place of each colour of palettes that were made from one that it wishes others for."""
        wished = {name: own for name in self.palettes_from if (own := in_place_of(name, instead))}
        return {
            light: [colour for _, colour in spread(own)]
            for name, own in wished.items()
            for made in self.palettes_from[name]
            if made in self.palettes  # else the text of a stranger's frames names it
            for _, light in spread(self.palettes[made])
        }

    def parameters_of(self, cue: Cue, instead: Mapping[str, Lights] | None = None, hues: Hues = ()) -> dict[str, Value]:
        """Every parameter of the effect of ``cue``: what the cue sets, else its default; colours in linear light.

        instead, hues: as for its palette; where a house has some in place of all, each colour that is not black becomes
        the one of those that is most like it, and so does one of a palette that was made from another.
        """
        wished = [colour for _, colour in spread(instead[ALL])] if instead and ALL in instead else []
        theirs = self._wished_for(instead or {})
        known = self.effects[cue.effect].parameters
        values = {name: cue.parameters.get(name, known[name].default) for name in known}
        ends = [end for value in values.values() for end in
                ((value.start, value.end) if isinstance(value, FromTo) else (value,))]  # fmt: skip
        own = {text: parse_colour(text) for text in ends if isinstance(text, str)}
        seen = dict(zip(own, recoloured_together([*own.values()], hues), strict=True))

        def light(value: float | str) -> Any:
            """A parameter's value: a number, or a colour's linear light."""
            if not isinstance(value, str):
                return value
            if cue.blend in UNSEEN:
                return own[value]
            among = theirs.get(own[value], wished)
            if not among or not any(own[value]):
                return seen[value]
            return as_bright([nearest_colour(own[value], among)], [own[value]])[0]

        return {
            name: Ramp(light(value.start), light(value.end), parse_easing(value.easing))
            if isinstance(value, FromTo)
            else light(value)
            for name, value in values.items()
        }

    def called(self, index: int) -> str:
        """What people call the cue at ``index``: ``cue 3 'Chorus'``, or ``cue 3 (sweep)`` when it has no name."""
        cue = self.cues[index]
        return f"cue {index + 1} '{cue.name}'" if cue.name else f"cue {index + 1} ({cue.effect})"

    def place(self, index: int, *path: str | int) -> str:
        """Where a key of the cue at ``index`` stands in the file: ``line 12, cue 3, on``."""
        return place(self.text, ("cue", index, *path))


def load_show(
    path: str | Path, *, load: LoadEffect | None = None, names: Iterable[str] | None = None, text: str | None = None
) -> Show:
    """The show in the TOML file ``path``, its effects loaded and its parameters checked.

    ``text`` stands in for what the file holds, ``load`` and ``names`` for `eavesong.language.load_effect` and the names
    of the effects that come with eavesong. Raises ShowError with every problem found, each with its line, key and what
    to write instead; the problems of an effect file beside the show are among them.
    """
    name = str(path)
    text = read_text(path, ShowError) if text is None else text
    tables = read_tables(text, name, ShowError, "show")
    reader = EffectReader(Path(path).parent, load, names)
    problems: list[Problem] = []
    try:
        file = read_model(ShowFile, text, name, ShowError, tables)
    except ShowError as fault:
        problems.extend(fault.problems)
    problems.extend(_misfits(tables, _ShowFaults(name, text), reader))
    if problems := with_commas(problems, text, name):
        raise ShowError(problems)
    folder = Path(path).parent
    return Show(
        title=file.title or Path(path).name.removesuffix(".toml").removesuffix(".show"),
        path=name,
        text=text,
        song=folder / file.song if file.song else None,
        beats=folder / file.beats if file.beats else None,
        sections=folder / file.sections if file.sections else None,
        bars_began=file.bars_began,
        palettes={key: light_of(stops) for key, stops in file.palettes.items()},
        cues=file.cues,
        effects=reader.effects,
        bar_beats=file.bar_beats or 0,
    )


@dataclass(frozen=True)
class _ShowFaults:
    """Makes problems with their place in the show file."""

    name: str
    text: str

    def at(self, path: Sequence[str | int], found: str, instead: str) -> Problem:
        """A problem at the line of the entry that ``path`` leads to."""
        return Problem(self.name, place(self.text, path), found, instead)


def _misfits(tables: dict[str, Any], faults: _ShowFaults, reader: EffectReader) -> Iterator[Problem]:
    """What is wrong with the cues beyond what the models see, also in cues that the models refuse."""
    palettes = tables.get("palettes")
    palettes = palettes if isinstance(palettes, dict) else {}
    known = {*BUILT_IN, *palettes}
    made_from = tables.get("palettes_from")
    for name, made in made_from.items() if isinstance(made_from, dict) else ():
        for at, each in enumerate(made if isinstance(made, list) else ()):
            if isinstance(each, str) and each not in palettes:
                found = f"[palettes] of this show has no '{each}' that could be made from '{name}'"
                yield faults.at(("palettes_from", name, at), found, advise(each, palettes, "palette"))
    cues = tables.get("cue")
    for index, cue in enumerate(cues if isinstance(cues, list) else ()):
        if isinstance(cue, dict):
            yield from _misfits_of_cue(cue, ("cue", index), known, faults, reader)


def _misfits_of_cue(
    cue: dict[str, Any], path: tuple[str | int, ...], palettes: set[str], faults: _ShowFaults, reader: EffectReader
) -> Iterator[Problem]:
    if misfit := misfit_of_ways(cue):
        yield faults.at(path, misfit.found, misfit.instead)
    palette = cue.get("palette")
    if isinstance(palette, str) and 0 < len(palette) <= 80 and palette not in palettes and not is_colour(palette):
        several = [part.strip() for part in palette.split(",")]
        listed = ", ".join(f'"{part}"' for part in several)
        advice = f"Write a list: [{listed}]." if len(several) > 1 else advice_for(palette, palettes, NAMES)
        yield faults.at((*path, "palette"), f"no palette is called '{palette}'", advice)
    effect = cue.get("effect")
    if not isinstance(effect, str) or not 0 < len(effect) <= 80:
        return
    misfit, inside = reader.read(effect)
    if misfit:
        yield faults.at((*path, "effect"), misfit.found, misfit.instead)
    yield from inside
    parameters = cue.get("parameters")
    if effect in reader.effects and isinstance(parameters, dict):
        for key, found, instead in _misfits_of_parameters(parameters, reader.effects[effect]):
            yield faults.at((*path, "parameters", key), found, instead)


def _misfits_of_parameters(parameters: dict[str, Any], effect: Effect) -> Iterator[tuple[str, str, str]]:
    """What is wrong with the parameters of a cue, both ends of ramps among them: name, found, instead."""
    ramps = {key: value for key, value in parameters.items() if isinstance(value, dict)}
    for values in (parameters, *({key: ramp.get(end) for key, ramp in ramps.items()} for end in ("from", "to"))):
        # What is neither a number nor text the models have refused already.
        yield from effect.misfits({key: value for key, value in values.items() if _is_readable(value)})
    moving = frozenset(ramps) & effect.parameters.keys()
    if moving and (misfit := effect.misfit_of_moving(moving)):
        yield min(moving), misfit.found, misfit.instead


def _is_readable(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return False
    return isinstance(value, str) or is_finite(value)


def hear_song(show: Show, song: str | Path | None = None) -> tuple[Path, Timed]:
    """The show's song, heard once: its file, its sound and its beat grid.

    The grid is from the texts that the show names or the song has, else from listening. With another ``song``, the
    texts that the show names do not count: they belong to its own. Raises ShowError when there is no song, or a file
    that the show names is missing; BeatsError and AudioError as the music room.
    """
    from eavesong.music.listening import timed

    if song is not None:
        return Path(song), timed(song)
    if show.song is None:
        advice = 'Add a line like song = "song.flac" at the top, or give one with --song.'
        raise ShowError(Problem(show.path, "", "the show names no song", advice))
    named = {"song": show.song, "beats": show.beats, "sections": show.sections}
    missing = [_missing(show, key, path) for key, path in named.items() if path and not path.is_file()]
    if missing:
        raise ShowError(missing)
    return show.song, timed(show.song, show.beats, show.sections)


def grid_of(show: Show, song: str | Path | None = None) -> BeatGrid:
    """The beat grid of the show's song; see `hear_song`."""
    return hear_song(show, song)[1].grid


def _missing(show: Show, key: str, path: Path) -> Problem:
    others = [entry.name for entry in path.parent.iterdir()] if path.parent.is_dir() else []
    found = f"there is no file '{path}'"
    folder = Path(show.path).parent
    if path.parent != folder and (folder / path.name).is_file():
        return Problem(show.path, place(show.text, (key,)), found, f"One lies beside the show: write '{path.name}'.")
    if key == "song":
        others = [
            name for name in others if Path(name).suffix.lower() not in TEXTS and not (path.parent / name).is_dir()
        ]
    if not others:
        advice = "Put it there, or write its path from the show's folder."
        return Problem(show.path, place(show.text, (key,)), found, advice)
    return Problem(
        show.path, place(show.text, (key,)), found, advise(path.name, others, "song" if key == "song" else "file")
    )
