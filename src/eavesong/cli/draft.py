"""``eavesong draft``: a show written from the song."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eavesong.cli.words import next_step
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.check.shifted import Restaged
    from eavesong.draft import Taste
    from eavesong.draft.kept import Kept
    from eavesong.layout import Layout
    from eavesong.music import BeatGrid
    from eavesong.show import Show

ROUNDED = 0.05
"""Seconds by which a cue must reach into a part to be lit in it: seconds that are written in shows are rounded."""
CALM = 0.3


@click.command(name="draft", short_help="Write a first version of a show from the song.")
@click.argument("song", type=click.Path(path_type=Path))
@click.option("--layout", "-l", type=click.Path(path_type=Path), help="The house; else it is drafted for any.")
@click.option("--out", "-o", type=click.Path(path_type=Path), help="The show to write; else beside the song.")
@click.option("--palette", "palettes", multiple=True, metavar="COLOURS",
              help="A palette's name, or colours like '#ffd9a0, white'; repeatable.")  # fmt: skip
@click.option("--calm", type=click.FloatRange(0, 1), default=CALM, show_default=True, help="0 lively to 1 calm.")
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Another seed, another show.")
@click.option("--keep", type=click.Path(path_type=Path), metavar="SHOW",
              help="Keep its cues that say keep = true; draft the rest around them.")  # fmt: skip
@click.option("--overwrite", is_flag=True, help="Replace a show that is there already.")
def command(
    song: Path, layout: Path | None, out: Path | None, palettes: tuple[str, ...], calm: float, seed: int,
    keep: Path | None, overwrite: bool,
) -> None:  # fmt: skip
    """Draft a show for SONG: a plain show file to change, with the reason for each choice above it.

    \b
    eavesong draft song.ogg --layout house.toml --out song.show.toml
    eavesong draft song.ogg --palette holly --palette "#ffd9a0, white" --calm 0.7 --seed 4
    eavesong draft song.ogg --layout house.toml --keep song.show.toml --out song.show.toml
    """
    from eavesong.draft import draft_song
    from eavesong.draft.text import worn_told
    from eavesong.files import write_whole
    from eavesong.layout import load_layout
    from eavesong.replaced import replacing
    from eavesong.show import load_show

    out = out or song.with_name(f"{song.stem}.show.toml")
    in_place = keep is not None and out.is_file() and keep.exists() and out.samefile(keep)
    advice = (
        f"Name another with --out. Or write 'keep = true' into the cues that shall stay and say --keep {typed(out)}: "
        "the others are drafted anew. Or replace all of it with --overwrite."
    )
    with replacing(out, overwrite=overwrite or in_place, read=(song, layout), advice=advice):
        house = load_layout(layout) if layout else None
        kept = _kept(keep) if keep else ()
        before = load_show(keep) if keep else None
        unsaid = _unsaid(out, palettes) if not keep else ""
        others = bool(palettes) or _is_given("seed")  # asked for
        wishes, again = _wishes(before, kept, palettes, calm, seed)
        text = draft_song(song, house, wishes, _beside(song, out))
        doubt = _doubt(song)
        if in_place:
            _put_aside(out, len(kept))
        write_whole(out, text)
    _told(out, text, len(kept), layout)
    for line in worn_told(text):
        click.echo(f"  {line}", err=True)
    if unsaid:
        click.echo(
            f"  The one before was asked for with {unsaid}, which this one is not. Say it again, if it is meant.",
            err=True,
        )
    if again:
        click.echo(f"  As it was asked for before: {again}", err=True)
    if before is not None and (moved := _moved(before, song)):
        click.echo(moved, err=True)
    if before is not None and not others and (other := _recoloured(before, out)):
        click.echo(f"  {other}", err=True)
    if before is not None and (named := _written_out(before, out)):
        click.echo(f"  {named}", err=True)
    if doubt:
        click.echo(doubt, err=True)
    for remark in _remarks(song, out, wishes.palettes, house):
        click.echo(f"  {remark}", err=True)


def _wishes(
    before: Show | None, kept: tuple[Kept, ...], palettes: tuple[str, ...], calm: float, seed: int
) -> tuple[Taste, str]:
    """What is wanted of the draft, of the show ``before`` what the command does not give; and what of that was asked
    for before, in options."""
    from eavesong.draft import Taste
    from eavesong.draft.kept import asked_before, asked_in, colours_of, head_of

    asked = asked_before(before) if before else {}
    given: dict[str, Any] = {name: value for name, value in (("calm", calm), ("seed", seed)) if _is_given(name)}
    given |= {"palettes": palettes} if palettes else {}
    worn = _worn(before) if "seed" not in given else frozenset()  # who gives one wants what it gives
    wished = asked | given
    calm, seed = wished.get("calm", calm), wished.get("seed", seed)
    called = tuple(_named(text, before) for text in wished.get("palettes", ()))
    title, head = head_of(before) if before else ("", ())
    again = asked_in(*(None if name in given else asked.get(name) for name in ("palettes", "calm", "seed")))
    colours = tuple(_colours(text, before, given=bool(palettes)) for text in called)
    own = {text: colours_of(before, text) for text in called if text in before.palettes} if before else {}
    return Taste(colours, calm, seed, kept, worn, title, head, wished, called, own), again


def _remarks(song: Path, out: Path, palettes: tuple[tuple[str, ...], ...], house: Layout | None) -> Iterator[str]:
    """What people have to know of a draft that was written: of its colours, and of the texts beside its song."""
    from eavesong.music import beats_for, inside_bars
    from eavesong.music.strays import strays_of
    from eavesong.palettes import ALL

    grid = beats_for(song)
    if reds := _reds(colour for each in palettes for colour in each):
        yield (
            f"{', '.join(reds)}: drawn paler, as brick, rose or salmon, since light that is nearly all red counts as "
            "flashing sooner when it comes and goes (WCAG 2.2). Where it stays lit, write it into the cue: "
            f'palette = "{reds[0]}".'
        )
    if dark := _too_dark(colour for each in palettes for colour in each):
        yield f"{', '.join(dark)}: drawn lighter, since lights that dark are hardly seen."
    if inside := inside_bars(grid):
        yield (
            f"Begin inside a bar, and are drafted from the nearest one on: {'; '.join(inside)}. Move them in the "
            "sections text, if that is not meant."
        )
    yield from map(str, strays_of(song, grid))
    if palettes and house is not None and (met := _replaced(house, out)):
        which = "every palette" if ALL in met else f"the palettes {', '.join(met)}"
        yield (
            f"{house.path} has colours of its own in place of {which} ([palettes]): there, what --palette asks for is "
            "not seen where they take its place."
        )


def _replaced(house: Layout, show: Path) -> list[str]:
    """The palettes of a show in whose place a house has colours of its own; ``all`` where it has for all."""
    from eavesong.check import palettes_in
    from eavesong.palettes import ALL
    from eavesong.show import load_show

    asked = {name.lower() for name in palettes_in(load_show(show))} | {ALL}
    return [name for name in house.palettes if name.lower() in asked]


def _is_given(option: str) -> bool:
    """Whether somebody wrote an option of this command."""
    source = click.get_current_context().get_parameter_source(option)
    return source is not None and source.name != "DEFAULT"


def _kept(keep: Path) -> tuple[Kept, ...]:
    """The cues to keep; a word where there are none, and what is kept all the same."""
    from eavesong.draft.kept import kept_cues

    kept = kept_cues(keep)
    if not kept:
        click.echo(f"No cue of {keep} says keep = true, so all of them are drafted anew.", err=True)
    return kept


def _unsaid(out: Path, palettes: tuple[str, ...]) -> str:
    """Of a draft that is to be replaced: options that it was asked for with and the command does not give."""
    from eavesong.draft.kept import asked_before, asked_in
    from eavesong.errors import EavesongError
    from eavesong.show import load_show

    try:
        asked = asked_before(load_show(out)) if out.is_file() else {}
    except EavesongError:  # no show, or one that cannot be read: replaced all the same
        return ""
    given = {name for name in ("calm", "seed") if _is_given(name)} | ({"palettes"} if palettes else set())
    return asked_in(*(None if name in given else asked.get(name) for name in ("palettes", "calm", "seed")))


def _worn(show: Show | None) -> frozenset[str]:
    """The colours of the palettes of an earlier show."""
    from eavesong.palettes import hexes

    return frozenset(colour for lights in show.palettes.values() for colour in hexes(lights)) if show else frozenset()


def _recoloured(before: Show, out: Path) -> str:
    """Which palettes of the show before are others now, in words; empty for none. Drafts keep what kept cues wear."""
    from eavesong.show import load_show

    now = load_show(out).palettes
    others = [name for name, lights in before.palettes.items() if name in now and now[name] != lights]
    told = "Where you had changed them, they are in the show as it was: write them into [palettes] again."
    return f"Other colours than before in {', '.join(others)}. {told}" if others else ""


def _written_out(before: Show, out: Path) -> str:
    """Which kept cues have colours in place of a palette's name, which means others now, in words; empty for none."""
    from eavesong.show import load_show

    now = load_show(out).palettes
    wore = {
        cue.name or cue.effect: cue.palette
        for cue in before.cues
        if cue.keep and isinstance(cue.palette, str) and cue.palette in before.palettes and cue.palette in now
        and now[cue.palette] != before.palettes[cue.palette]
    }  # fmt: skip
    if not wore:
        return ""
    cues, palettes = ", ".join(f"'{name}'" for name in wore), ", ".join(dict.fromkeys(wore.values()))
    return (
        f"Kept with its colours written out, as the palette {palettes} is another now: {cues}. What a house wishes in "
        "place of it goes by that name, and does not reach these."
    )


def _moved(before: Show, song: Path) -> str:
    """That cues kept by bars stay at theirs, and those by letters of sections that were heard go to what is called so
    now, where bars or sections are others than when their show was written."""
    from eavesong.check.counted import recounted_in
    from eavesong.check.shifted import kept_elsewhere, moved_in, other_parts_in, restaged_in
    from eavesong.music import beats_for
    from eavesong.music.sound import sound_hash

    if not any(cue.keep for cue in before.cues):
        return ""
    grid, sound = beats_for(song), sound_hash(song)
    moved = ", ".join(kept_elsewhere(grid, before, sound))
    told = []
    if moved:
        which = f"which are others now, or may be: {moved}"
        told.append(f"  Kept at the bars that were written, {which}. Move them, if they belong to a part.")
    if in_others := ", ".join(_in_parts(before, grid, restaged_in(grid, before, sound))):
        told.append(f"  Kept at their bars, where the song's parts are others now: {in_others}. Look at them.")
    counted = [f"'{cue.name or cue.effect}'" for cue in before.cues if cue.keep and cue.beats]
    if counted and moved_in(grid, before, sound) is not None:
        told.append(
            f"  Kept at 'beats', which count from the song's first and may be others now: {', '.join(counted)}."
        )
    labels = {part.label.lower() for part in grid.sections}
    gone = {
        at: f"'{cue.name or cue.effect}' ({', '.join(cue.sections)})"
        for at, cue in enumerate(before.cues)
        if cue.keep and cue.sections and not cue.kinds and labels.isdisjoint(label.lower() for label in cue.sections)
    }
    if gone:
        known = ", ".join(dict.fromkeys(part.label for part in grid.sections)) or "none"
        told.append(
            f"  Kept, and lights nothing, as the song has no such section: {', '.join(gone.values())}. It has: {known}."
        )
    for part in other_parts_in(grid, before, sound):
        cues = [before.cues[at] for at in part.cues if before.cues[at].keep and at not in gone]
        if kept := ", ".join(f"'{cue.name or cue.effect}'" for cue in cues):
            by = "section" if before.cues[part.cues[0]].sections else "kind"
            told.append(f"  Kept by its {by}, {kept}: {part}.{part.by_now} Look at it.")
    if recounted := recounted_in(grid, before, sound):
        counting = ((before.cues[at], where) for at, where in recounted.cues)
        if kept := ", ".join(f"'{cue.name or cue.effect}' ({where})" for cue, where in counting if cue.keep):
            told.append(f"  Kept with its beats as they were, where {recounted}: {kept}. Look at it.")
    lettered = () if any(each[2] for each in before.bars_began) else tuple(_by_letters(before, grid))
    if lettered and moved_in(grid, before, sound) is not None:
        told.append(f"  Kept by letters, which may name other parts now: {', '.join(lettered)}. Look at them.")
    return "\n".join(told)


def _in_parts(before: Show, grid: BeatGrid, parts: Iterable[Restaged]) -> Iterator[str]:
    """The kept cues by bars that are lit in some of these parts, each with the first of them and how many more."""
    for cue in before.cues:
        spans = [[grid.time_of_bar(bar - 1) for bar in span] for span in cue.bars or () if cue.keep]
        here = [
            part for part in parts if any(min(end, part.end) - max(start, part.start) > ROUNDED for start, end in spans)
        ]
        if here:
            more = f"; {len(here) - 1} more" if len(here) > 1 else ""
            yield f"'{cue.name or cue.effect}' ({here[0]}{more})"


def _by_letters(before: Show, grid: BeatGrid) -> Iterator[str]:
    """The kept cues that are tied to sections by the letters that eavesong gives, each with when these are now."""
    from eavesong.scene.timeline import sections_of
    from eavesong.words import clock_text

    for cue in before.cues:
        if cue.keep and any(len(label) == 1 and label.isupper() for label in cue.sections or ()):
            times = [f"{clock_text(part.start, 0)} to {clock_text(part.end, 0)}" for part in sections_of(cue, grid)]
            where = f"{times[0]}{f' and {len(times) - 1} more' if len(times) > 1 else ''}" if times else "nowhere"
            yield f"'{cue.name or cue.effect}' ({where})"


def _doubt(song: Path) -> str:
    """A word where the beats of the song, as it was heard, are doubtful; empty where not, or where a text has them."""
    from eavesong.music import doubt_of

    how, look = doubt_of(song), f"eavesong beats {typed(song)} --picture --click clicks.wav"
    return f"  How sure its beats are: {how}. Look and listen: {look}" if how else ""


def _put_aside(show: Path, kept: int) -> None:
    """Keep a show that is drafted anew in place as it was, for whoever changed more in it than what stays."""
    from eavesong.files import write_whole

    text = show.read_text(encoding="utf-8")
    names = (f"{show.name}.before{f'-{number}' if number > 1 else ''}" for number in count(1))
    aside = next(at for name in names if not (at := show.with_name(name)).exists() or at.read_bytes() == text.encode())
    write_whole(aside, text)
    few = f"Only {kept} cue{'s stay' if kept != 1 else ' stays'}; the" if kept else "The"
    click.echo(f"{few} whole show as it was is in {aside}.", err=True)


def _named(text: str, before: Show | None) -> str:
    """What ``--palette`` names, as the kept show writes it where it is a palette of its own: CSS colours are the same
    in capitals, and nobody means one where a palette is called so."""
    own = before.palettes if before else {}
    return text if text in own else next((name for name in own if name.lower() == text.lower()), text)


def _colours(text: str, before: Show | None, *, given: bool) -> tuple[str, ...]:
    """The colours that ``--palette`` names, a palette of the kept show before any other; click.BadParameter for what is
    neither a palette nor a colour. given: whether by this command: what one before it took for a colour is one."""
    from eavesong.colours import NAMES, hex_of, is_colour, parse_colour
    from eavesong.errors import nearest
    from eavesong.palettes import BUILT_IN, advice_for, hexes

    own = before.palettes if before else {}
    if text in own:
        return hexes(own[text])
    if text in BUILT_IN:
        return BUILT_IN[text]
    colours = tuple(part.strip() for part in _parted(text))
    for colour in colours:
        name = _named(colour, before)
        if name in BUILT_IN or (name in own and (given or not is_colour(colour))):
            told = f"'{name}' is a palette, and stands alone. Write --palette '{name}' beside another --palette."
            if is_colour(colour):
                told += f" The colour is {hex_of(parse_colour(colour))}."
            raise click.BadParameter(told, param_hint="--palette")
        if not is_colour(colour):
            advice = advice_for(colour, own if nearest(colour, own) else BUILT_IN, NAMES)
            told = f"'{colour}' is no palette and no colour. {advice}"
            if before and own:
                told += f" Palettes of {before.path}: {', '.join(own)}."
            raise click.BadParameter(told, param_hint="--palette")
    return colours


def _reds(colours: Iterable[str]) -> list[str]:
    """Those of the colours that drafts wear in a softer red."""
    from eavesong.colours import parse_colour
    from eavesong.draft.moods import REDDEST

    return [each for each in dict.fromkeys(colours) if (light := parse_colour(each))[0] > REDDEST * sum(light)]


def _too_dark(colours: Iterable[str]) -> list[str]:
    """Those of the colours that drafts wear so much lighter that it is seen, but for black, which is no light."""
    from eavesong.colours import linear_to_oklab, parse_colour
    from eavesong.draft.moods import DARKEST

    lights = {each: parse_colour(each) for each in dict.fromkeys(colours)}
    return [each for each, light in lights.items() if any(light) and linear_to_oklab(light)[0] < DARKEST - 0.08]


def _parted(text: str) -> list[str]:
    """Colours between commas; those in brackets, as in ``rgb(1, 2, 3)``, part nothing."""
    import re

    return re.split(r",(?![^(]*\))", text)


def _beside(song: Path, out: Path) -> str:
    """How the show names the song: from its own folder."""
    import os

    try:
        return Path(os.path.relpath(song, out.parent)).as_posix()
    except ValueError:  # another drive
        return song.resolve().as_posix()


def _told(out: Path, text: str, kept: int, layout: Path | None) -> None:
    many = text.count("\n[[cue]]")
    told = f", {kept} of them kept" if kept else ""
    click.echo(f"{out}: {many} cue{'s' * (many != 1)}{told}")
    house, stem = layout or "HOUSE.toml", out.name.removesuffix(".toml").removesuffix(".show")
    frames = out.with_name(f"{stem}.h5")
    next_step("compute its light", f"render {typed(out)} --layout {typed(house)} --out {typed(frames)}")
