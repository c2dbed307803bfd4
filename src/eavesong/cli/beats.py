"""``eavesong beats``: the beats, bars and sections of a song."""

from __future__ import annotations

import contextlib
import math
import shlex
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import may_overwrite, next_step
from eavesong.errors import MisfitError
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.music import BeatGrid, Choice, Chosen, Events

SLOWEST, FASTEST = 20.0, 400.0
"""Beats a minute between which a tempo is believed."""

MOST_ODD = 4
"""Bars of another length than the metre asked for that are named."""

PICTURES = (".png", ".webp")
SOUNDS = (".wav", ".flac")
PATH: Any = click.Path(path_type=Path)


# fmt: off
@click.command("beats", short_help="Show the beats, bars and sections of a song.")
@click.argument("song", type=PATH)
@click.option("--out", type=PATH, help="Write the beats as a text: time, position in the bar; or all as .jams.")
@click.option("--sections", type=PATH, help="Write the sections as a text: start, end, label.")
@click.option("--events", type=PATH, help="Write strokes, hits, stops, … as a text: time, label, strength.")
@click.option("--picture", type=PATH, is_flag=False, flag_value="", metavar="[FILE]",
              help="Draw sound, beats, bars and sections: a .png or .webp, beside SONG if none is named.")
@click.option("--click", "clicks", type=PATH, help="Write the song with clicks, higher on downbeats: a .wav or .flac.")
@click.option("--reading", type=click.IntRange(min=1), metavar="N", help="Take another of the readings listed.")
@click.option("--tempo", type=click.FloatRange(SLOWEST, FASTEST), metavar="BPM", help="Hear the beats near this tempo.")
@click.option("--metre", type=click.IntRange(2, 16), metavar="N", help="So many beats in a bar.")
@click.option("--first-downbeat", metavar="TIME", help="Where bar 1 begins: seconds or m:ss.")
@click.option("--beats-from", type=PATH, metavar="FILE", help="Take the beats from a beats text or a .jams file.")
@click.option("--salvage", type=PATH, metavar="FILE", help="Write what can be read of a damaged SONG as a .flac.")
@may_overwrite
def command(
    song: Path, out: Path | None, sections: Path | None, events: Path | None, picture: Path | None,
    clicks: Path | None, reading: int | None, tempo: float | None, metre: int | None, first_downbeat: str | None,
    beats_from: Path | None, salvage: Path | None, overwrite: bool,
) -> None:
    # fmt: on
    """Show tempo, bars, metre and sections of SONG, and how sure they are.

    Texts beside the song, called like it but ending in .beats, .sections and .events, win over what is heard in
    it. Write them with --out, --sections and --events and mend them by hand: shows follow in the bars, sections
    and events that their cues name.

    \b
    eavesong beats frost.wav --picture --click frost-clicks.wav     look and listen
    eavesong beats frost.wav --reading 2                            the second way to hear it
    eavesong beats frost.wav --tempo 96 --metre 3 --out frost.beats
    eavesong beats frost.wav --first-downbeat 0.84 --out frost.beats
    eavesong beats frost.wav --beats-from elsewhere.jams --out frost.beats
    """
    from eavesong.cli.words import seconds_of
    from eavesong.music import Choice, Wishes, events_for
    from eavesong.music.strays import strays_of
    from eavesong.replaced import is_ours, replacing

    if salvage:
        others = ("out", "sections", "events", "picture", "clicks", "reading", "tempo", "metre", "first_downbeat")
        tell_idle(dict.fromkeys((*others, "beats_from"), "--salvage only writes what can be read of the sound"))
        with replacing(salvage, overwrite=overwrite, read=[song]):
            _salvage(song, salvage)
        return
    picture = song.parent / f"{song.stem}.beats.png" if picture is not None and not picture.name else picture
    _refuse_contradictions(reading, tempo, beats_from)
    choice = Choice(reading, Wishes(tempo, metre, seconds_of(first_downbeat, "--first-downbeat")), beats_from)
    events_aside = choice.made and is_ours(song.with_suffix(".events"))
    if out and choice.made and _counts(out, song):  # what eavesong wrote for other bars goes along
        if not sections and is_ours(song.with_suffix(".sections")):
            sections = song.with_suffix(".sections")
        if not events and events_aside:
            events = song.with_suffix(".events")
    targets = {"--out": out, "--sections": sections, "--events": events, "--picture": picture, "--click": clicks}
    _refuse_targets(song, targets)
    with contextlib.ExitStack() as written:
        written.enter_context(replacing(*targets.values(), overwrite=overwrite, read=[song]))
        chosen = _chosen(song, choice)
        counting = _beside_text(song, chosen) if choice.made else chosen.grid
        own_sections = counting.sections != chosen.grid.sections
        if out and not sections and _counts(out, song):  # what is shown is what shows will follow
            beside = song.with_suffix(".sections")
            if choice.made and own_sections and not beside.exists():  # else others count
                targets["--sections"] = beside
                _refuse_targets(song, targets)
                written.enter_context(replacing(beside, overwrite=overwrite, read=[song]))
            else:
                chosen = replace(chosen, grid=counting)
        answers = events_for(song, chosen.grid, texts=not events_aside)
        astray = strays_of(song, chosen.grid, chosen.beats, chosen.sections)
        # Written before anything is shown: whoever reads only its first lines, with 'head', ends this command.
        made = _made(song, chosen, answers, targets, _made_for(song, choice, chosen))
    _show(song, choice, chosen, answers, events_aside)
    if left := _left_odd(choice.wishes.metre, chosen.grid):
        click.echo(f"\n{left}", err=True)
    for line in made:
        click.echo(line)
    for stray in astray:
        click.echo(f"\n{stray}", err=True)
    _say_next(song, choice, out, own_sections)


def _left_odd(metre: int | None, grid: BeatGrid) -> str:
    """That bars of another length are left where a metre was asked for, and what has them all of one; empty where none
    are. Bars begin anew there by what is heard, and those after it would begin elsewhere otherwise."""
    lengths = grid.beats_in_bars[:-1]
    odd = [bar for bar, length in enumerate(lengths, start=1) if metre and length != metre]
    if not odd:
        return ""
    named = ", ".join(map(str, odd[:MOST_ODD])) + (" …" if len(odd) > MOST_ODD else "")
    return (
        f"Not of {metre} beats: bar{'s' * (len(odd) > 1)} {named}, after which bars are heard to begin anew. To count "
        f"{metre} throughout, say where bar 1 begins, too: --first-downbeat {grid.time_of_bar(0):.2f}"
    )


def _say_next(song: Path, choice: Choice, out: Path | None, own_sections: bool) -> None:
    """How a choice is kept, or what commonly comes next."""
    from eavesong.replaced import is_ours

    if choice.made and not out:
        text = song.with_suffix(".beats")
        own = text.exists() and not is_ours(text)
        instead = f", in place of what was changed by hand in {text.name}" if own else ""
        click.echo(f"\nThis counted once. To keep it{instead}:\n  {_keeping(song, choice, own, own_sections)}")
    elif out and out.suffix.lower() == ".beats" and not _counts(out, song):
        click.echo(f"It counts where it lies beside its song, as {song.with_suffix('.beats')}.")
    elif (show := song.with_suffix(".show.toml")).exists():
        next_step("what its show does by them", f"check {typed(show)} --layout HOUSE.toml")
    else:
        next_step("a first show from it", f"draft {typed(song)} --layout HOUSE.toml")


def _salvage(song: Path, out: Path) -> None:
    from eavesong.music.salvage import salvage
    from eavesong.words import clock_text

    done = salvage(song, out)
    click.echo(f"Wrote {clock_text(done.seconds)} to {out}" + (f": {song.name} {done.found}" if done.found else ""))
    click.echo(f"Name it in shows and setlists in place of {song.name}.")


def _refuse_contradictions(reading: int | None, tempo: float | None, beats_from: Path | None) -> None:
    given = [name for name, value in (("--reading", reading), ("--tempo", tempo)) if value]
    if beats_from and given:
        raise click.UsageError(f"{' and '.join(given)} and --beats-from each choose the beats. Give one of them.")
    if tempo is not None and not math.isfinite(tempo):
        raise click.BadParameter(f"'{tempo}' is no tempo. Write beats a minute, such as 96.", param_hint="--tempo")


def _refuse_targets(song: Path, targets: dict[str, Path | None]) -> None:
    """Whatever would be written over the song, over each other, or under a name that says something else."""
    named = {option: target for option, target in targets.items() if target is not None}
    endings = {"--picture": PICTURES, "--click": SOUNDS}
    for option, target in named.items():
        kinds = endings.get(option)
        if kinds and target.suffix.lower() not in kinds:
            raise click.BadParameter(f"'{target}' ends with neither {' nor '.join(kinds)}.", param_hint=option)
        if target.exists() and song.exists() and target.samefile(song):
            raise click.BadParameter(f"{target} is the song itself. Choose another name.", param_hint=option)
    for option in ("--sections", "--events"):
        if (listed := named.get(option)) and listed.suffix.lower() == ".jams":
            raise click.BadParameter("a .jams file holds all of it. Write it with --out.", param_hint=option)
    if len({target.absolute() for target in named.values()}) < len(named):
        raise click.UsageError("Two things cannot be written to one file. Give each a name of its own.")


def _chosen(song: Path, choice: Any) -> Chosen:
    from eavesong.files import user_cache
    from eavesong.music import choose, texts_for

    if choice.hears or not all(texts_for(song, choice.beats)):
        first = "" if (user_cache() / "songs").is_dir() else " (the first song of all takes longer)"
        click.echo(f"Listening to {song.name}{first} …", err=True)
    try:
        return choose(song, choice)
    except MisfitError as fault:
        hint = "--reading" if "reading" in fault.found else "--first-downbeat"
        raise click.BadParameter(str(fault), param_hint=hint) from None


def _show(song: Path, choice: Choice, chosen: Chosen, events: Events, events_aside: bool) -> None:
    from eavesong.music import (
        describe,
        describe_events,
        describe_others,
        events_text_for,
        inside_bars,
        word_for,
    )  # fmt: skip
    from eavesong.words import clock_text

    heard = chosen.reading
    near = f" near {choice.wishes.tempo:g} beats a minute" if choice.wishes.tempo else ""
    sources = [chosen.beats.name if chosen.beats else f"listening to it{near}"]
    sources += [chosen.sections.name] if chosen.sections else []
    sources += [text.name] if (text := events_text_for(song)) and not events_aside else []
    click.echo(f"song      {song.name}")
    which = f", reading {chosen.shown + 1}{' of those near it' if near else ''}" if chosen.shown else ""
    click.echo(f"from      {' and '.join(sources)}{which}")
    aside = [chosen.aside.name] if chosen.aside else []
    beside = song.with_suffix(".sections")
    aside += [beside.name] if aside and not chosen.sections and beside.exists() else []
    aside += [song.with_suffix(".events").name] if events_aside else []
    if aside:
        none = "does not count" if len(aside) == 1 else "do not count"
        names = ", ".join([*aside[:-2], " and ".join(aside[-2:])])
        click.echo(f"aside     {names} {none} this time, as beats were chosen")
    if heard:
        click.echo(f"how sure  {word_for(heard.confidence)}")
    click.echo(f"{describe(chosen.grid, heard.sure if heard else None)}\n\n{describe_events(events)}")
    if chosen.otherwise:
        named = [
            f"{' '.join(filter(None, (part.label, part.kind)))} at {clock_text(part.start, 0)} is {now}"
            for part, now in chosen.otherwise[:MOST_ODD]
        ]
        more = ", …" if len(chosen.otherwise) > MOST_ODD else ""
        click.echo(f"\ncalled otherwise by this choice: {'; '.join(named)}{more}. Cues that name these go elsewhere")
    if inside := inside_bars(chosen.grid):
        click.echo(f"\nbegin inside a bar: {'; '.join(inside)}. Move them in {chosen.sections}, if that is not meant.")
    if heard and not heard.confidence:
        click.echo(f"\nno beat can be heard: a plain {chosen.grid.tempo:.4g} beats a minute stand in")
    elif len(chosen.readings) > 1:
        along = f"--tempo {choice.wishes.tempo:g} and --reading" if near else "--reading"
        click.echo(f"\nalso heard, to be taken with {along}:\n{describe_others(chosen.readings, chosen.shown)}")


def _made_for(song: Path, choice: Any, chosen: Chosen) -> dict[str, str]:
    """By each part (beats, sections, events) the hash of the sound that what is written of it is for: of the song, but
    where a text that counts says that it is for another one, and nobody chose it for this."""
    from eavesong.errors import BeatsError
    from eavesong.files import read_text
    from eavesong.music import events_text_for
    from eavesong.music.made_for import PARTS, made_for
    from eavesong.music.sound import sound_hash

    texts = (None if choice.beats else chosen.beats, chosen.sections, events_text_for(song))
    own = sound_hash(song)
    return {
        part: (made_for(read_text(text, BeatsError)) if text else "") or own
        for part, text in zip(PARTS, texts, strict=True)
    }


def _made(
    song: Path, chosen: Chosen, events: Events, targets: dict[str, Path | None], made_for: dict[str, str]
) -> list[str]:
    """Write what was asked for, with the hashes of the sounds that its parts are for; a line for each."""
    from eavesong.music import write_beats, write_clicks, write_events, write_jams, write_sections

    grid, heard = chosen.grid, chosen.reading
    out, sections, answers, picture, clicks = targets.values()
    lines = [""] if any(targets.values()) else []
    if out and out.suffix.lower() == ".jams":
        write_jams(out, grid, song.stem, heard.sure if heard else None, events)
        told = f"{grid.beat_count} beats, {len(grid.sections)} sections and {len(events.items)} events"
        lines.append(f"Wrote {told} to {out}.")
    elif out:
        write_beats(out, grid, made_for["beats"])
        lines.append(f"Wrote {grid.beat_count} beats to {out}.")
    if sections:
        write_sections(sections, grid, made_for["sections"])
        lines.append(f"Wrote {len(grid.sections)} sections to {sections}.")
    if answers:
        write_events(answers, events, made_for["events"])
        lines.append(f"Wrote {len(events.items)} events to {answers}.")
    if picture:
        from eavesong.preview import heard_picture, save_picture

        save_picture(heard_picture(song, grid, heard, events=events).picture, picture)
        lines.append(f"Drew {picture}.")
    if clicks:
        write_clicks(song, clicks, grid)
        lines.append(f"Wrote the song with clicks to {clicks}.")
    return lines


def _counts(out: Path, song: Path) -> bool:
    """Whether a beats text that was written is the one that wins over what is heard in the song."""
    return out.absolute() == song.with_suffix(".beats").absolute()


def _beside_text(song: Path, chosen: Chosen) -> BeatGrid:
    """The beats chosen with the sections that count where no more than a text of these beats lies beside the song."""
    from eavesong.music import listen
    from eavesong.music.kinds import with_kinds
    from eavesong.music.recount import with_sections

    if chosen.sections or not chosen.grid.beat_count:
        return chosen.grid
    heard = listen(song)
    return with_kinds(with_sections(chosen.grid, heard.grid.sections), heard.signals)


def _keeping(song: Path, choice: Any, overwrite: bool, sections: bool) -> str:
    """The command that writes what was chosen where every show finds it."""
    wishes = choice.wishes
    given = (("--reading", choice.reading), ("--tempo", wishes.tempo), ("--metre", wishes.metre),
             ("--first-downbeat", wishes.first_downbeat), ("--beats-from", choice.beats))  # fmt: skip
    words = ["eavesong", "beats", str(song)]
    for option, value in given:
        if value is not None:
            words += [option, f"{value:g}" if isinstance(value, float) else str(value)]
    words += ["--out", str(song.with_suffix(".beats"))]
    words += ["--sections", str(song.with_suffix(".sections"))] if sections else []
    return shlex.join([*words, "--overwrite"] if overwrite else words)
