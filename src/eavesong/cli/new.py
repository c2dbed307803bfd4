"""``eavesong new``: a starter house, show and setlist."""

from __future__ import annotations

import os
import re
from pathlib import Path

import click

from eavesong.errors import MisfitError
from eavesong.words import typed

WIDE, HIGH = (2.0, 150.0), (1.5, 60.0)
"""Metres from the least to the most that houses are wide, and that their eaves are high."""
FEW = click.IntRange(0, 50)


class Length(click.ParamType[str]):
    """A length as people write it, ``11``, ``11,5 m``, ``36ft``, ``40'6"``; kept as text until the units are known."""

    name = "length"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The text, if it can be read."""
        if in_units(value, "m") is None:
            self.fail(f"'{value}' is no length. Write a number, such as 11.5, or with its unit: 11m, 36ft, 40 ft 6 in.")
        return value


def in_units(text: str, units: str) -> float | None:
    """A length in ``units``, which it is in where it names none; None where it cannot be read."""
    from eavesong.survey.tape import read_size
    from eavesong.words import METRES

    plain = re.sub(r"(?<=\d),(?=\d)", ".", text.strip().lower())
    for word, unit in (("feet|foot", "ft"), ("inch(?:es)?", "in"), ("met(?:re|er)s?", "m")):
        plain = re.sub(rf"(?<![a-z])(?:{word})(?![a-z])", unit, plain)
    try:
        size = read_size(float(plain) if re.fullmatch(r"\d+(?:\.\d+)?", plain) else plain)
    except MisfitError:
        return None
    return float(size.metres(units) / METRES[units])


@click.command(name="new")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="Our house", show_default=True, help="What the house is called.")
@click.option("--units", type=click.Choice(["m", "ft"]), default="m", show_default=True, help="Unit of all lengths.")
@click.option("--width", type=Length(), help="Of the house, such as 11 or 36ft.  [default: 10 m or 33 ft]")
@click.option("--height", type=Length(), help="Up to the top of the roof.  [default: 6 m or 20 ft]")
@click.option("--windows", type=FEW, default=2, show_default=True, help="How many are framed.")
@click.option("--trees", type=FEW, default=1, show_default=True, help="How many stand in the garden.")
@click.option("--arches", type=FEW, default=3, show_default=True, help="How many stand along the front.")
@click.option("--song", default="song.flac", show_default=True, help="How the song's file will be called.")
def command(
    folder: Path, title: str, units: str, width: str | None, height: str | None, windows: int, trees: int,
    arches: int, song: str,
) -> None:  # fmt: skip
    """Write a house, a show and a setlist into FOLDER, to be changed line by line. Nothing there is overwritten."""
    from eavesong.demo.starter import HOUSE, SETLIST, SHOW, Answers, make_starter

    usual = {"m": (10.0, 6.0), "ft": (33.0, 20.0)}[units]
    wide = _measure("--width", width, usual[0], units, WIDE)
    high = _measure("--height", height, usual[1], units, HIGH)
    answers = Answers(title, units, wide, high, windows, trees, arches, Path(song).name)
    make_starter(folder, answers)
    click.echo(f"In {folder}/:")
    unit = {"m": "metres", "ft": "feet"}[units]
    other = ", or begin with --units ft" if units == "m" and _in_feet(width, height) else ""
    click.echo(f"  {HOUSE:<17}the house, in {unit}{other}: change the numbers to what you measure")
    click.echo(f"  {SHOW:<17}the show: what is lit, when and how, in five steps to begin with")
    click.echo(f"  {SETLIST:<17}the songs of an evening, and when it begins")
    called, found = typed(folder / Path(song).name), _found(folder, Path(song))
    lies = f"Put a song there as {Path(song).name}"
    where = f"Copy {typed(found)} to {called}" if found and len(Path(song).parts) > 1 else lies
    click.echo(f"\n{where} (no song yet? 'eavesong demo' makes three). Then, one after the other:")
    names = (HOUSE, SHOW, "house.png", "first.h5", "first.html")
    house, show, drawing, frames, page = (typed(folder / name) for name in names)
    for does, line in (
        ("draw the house", f"layout {house} --draw {drawing}"),
        ("say what each step of the show lights", f"check {show} --layout {house}"),
        ("compute the light", f"render {show} --layout {house} --out {frames}"),
        ("make a page that plays it: open it in a browser", f"preview {frames} --out {page}"),
        ("rehearse: nothing leaves this computer; to look on, in another window:", f"play {frames} --to 127.0.0.1"),
        ("a small live picture of what arrives", f"listen --layout {house}"),
    ):
        click.echo(f"  eavesong {line}\n      {does}")


def _in_feet(*lengths: str | None) -> bool:
    """Whether somebody writes lengths in feet or inches."""
    return any(re.search(r"ft|feet|foot|in|'|\"", length) for length in lengths if length)


def _found(folder: Path, song: Path) -> Path | None:
    """A song where it is seen from here, though it may have been named from the new folder; None where it is not."""
    return next((path for path in (song, Path(os.path.normpath(folder / song))) if path.is_file()), None)


def _measure(option: str, text: str | None, usual: float, units: str, bounds: tuple[float, float]) -> float:
    """The length that was given for an option, in ``units``, or the usual one."""
    from eavesong.words import METRES

    length = usual if text is None else in_units(text, units)
    least, most = (round(bound / METRES[units]) for bound in bounds)
    if length is None or not least <= length <= most:
        raise click.BadParameter(f"'{text}': write {least:g} to {most:g} {units}.", param_hint=option)
    return round(length, 3)
