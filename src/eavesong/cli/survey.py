"""``eavesong survey``: a house in metres from photos and a tape measure."""

from __future__ import annotations

import json
from pathlib import Path

import click

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import may_overwrite


@click.command(name="survey", short_help="Find a house's measures from a photo and a tape measure.")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--out", "-o", type=click.Path(path_type=Path), help="Write the layout; with --sheet, the page.")
@click.option("--keep", type=click.Path(path_type=Path), metavar="LAYOUT",
              help="Carry over what was added to this one.")  # fmt: skip
@click.option("--picture", type=click.Path(path_type=Path), metavar="OUT", help="Draw what was found into the photo.")
@click.option("--photo", metavar="NAME", help="Which photo --picture draws into; the first if not given.")
@click.option("--sheet", is_flag=True, help="Make a page to click and name points in the photo FILE.")
@click.option("--json", "as_json", is_flag=True, help="Print what was found as JSON.")
@may_overwrite
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    file: Path, out: Path | None, keep: Path | None, picture: Path | None, photo: str | None, sheet: bool,
    as_json: bool, overwrite: bool, quiet: bool,
) -> None:  # fmt: skip
    """Solve the survey FILE: where the camera stood, and every point in metres with its error.

    \b
    eavesong survey --sheet house.jpg --out house.sheet.html      a page to click and name points
    eavesong survey house.survey.toml --out house.toml            solve, report, write the layout
    eavesong survey house.survey.toml --keep house.toml --out house.toml    again: new measures, the rest stays
    eavesong survey house.survey.toml --picture check.png         the photo with the props where they will hang

    Ends with 0 when all agrees, 1 when there is something to look at.
    """
    if sheet:
        others = ("keep", "picture", "photo", "as_json")
        tell_idle(dict.fromkeys(others, "--sheet only makes the page on which points are clicked"))
        _sheet(file, out, quiet, overwrite)
        return
    from eavesong.files import write_whole
    from eavesong.replaced import replacing
    from eavesong.survey import findings, layout_text, report_data, report_text, survey

    if picture is None:
        tell_idle({"photo": "it says which photo --picture draws into"})
    if keep is not None and out is None:
        raise click.UsageError("--keep is of use only with --out, the layout to write.")
    read, solution = survey(file)
    text = layout_text(read, solution, keep) if out is not None else ""
    anew = out is not None and keep is not None and out.resolve() == keep.resolve()
    with (
        replacing(None if anew else out, picture, overwrite=overwrite, read=[file, keep]),
        replacing(out if anew else None, overwrite=True, read=[file]),
    ):
        if picture is not None:
            from eavesong.survey import check_picture

            check_picture(read, solution, picture, photo)
        if out is not None:
            write_whole(out, text)
    if as_json:
        click.echo(json.dumps(report_data(read, solution), indent=2, ensure_ascii=False))
    elif not quiet:
        click.echo(report_text(read, solution))
        for written in filter(None, (out, picture)):
            click.echo(f"\nWrote {written}.")
    if findings(read, solution):
        raise click.exceptions.Exit(1)


def _sheet(photo: Path, out: Path | None, quiet: bool, overwrite: bool) -> None:
    from eavesong.replaced import replacing
    from eavesong.survey import write_sheet

    if out is None:
        raise click.UsageError("--sheet makes a page: say where with --out house.sheet.html.")
    with replacing(out, overwrite=overwrite, read=[photo]):
        write_sheet(photo, out)
    if not quiet:
        click.echo(f"{out}: open it in a browser, on a phone or a computer; it needs no network.")
