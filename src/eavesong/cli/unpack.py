"""``eavesong unpack``: somebody's show, for one's own copy of the song and one's own house."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eavesong.cli.words import next_step
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.exchange import Found, Unpacked

PATH: Any = click.Path(path_type=Path)
SURE = {
    "sure": "sure",
    "likely": "likely, not sure: watch a few bars of each section",
    "unsure": "unsure: check it bar by bar",
}


@click.command(short_help="Unpack a show for your own copy of its song, and check it on your house.")
@click.argument("pack", type=PATH)
@click.option("--song", required=True, type=PATH, help="Your copy of the song.")
@click.option("--layout", "-l", type=PATH, help="Your house: say what the show does on it.")
@click.option("--to", type=PATH, help="The folder to unpack to; the pack's name if not given.")
@click.option("--anyway", is_flag=True, help="Place the bars even where this seems to be another song.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
def command(pack: Path, song: Path, layout: Path | None, to: Path | None, anyway: bool, overwrite: bool) -> None:
    """Unpack PACK: find its beats in your copy of the song, and write show, beats, sections and events for that.

    Ends with 0 when all is well, 1 when there is something to look at, 3 when it is another song or a bad pack.

    \b
    eavesong unpack song.pack.zip --song mine.mp3 --layout house.toml --to song/
    """
    from eavesong.exchange import read_pack, unpack

    read = read_pack(pack)
    folder = to or pack.with_name(pack.name.removesuffix(".zip").removesuffix(".pack"))
    done = unpack(read, song, folder, anyway=anyway, overwrite=overwrite)
    _tell(done, read.manifest.title)
    missing = _missing_sections(done)
    for line in missing:
        click.echo(line)
    look = done.found.sure != "sure" or bool(done.cues.gone or done.cues.often or done.cues.others) or bool(missing)
    if layout is not None:
        from eavesong.check import check, report_text
        from eavesong.scene import Order, make_scene

        report = check(make_scene(Order(str(done.show), str(layout))), drawn=True)
        click.echo(f"\n{report_text(report)}")
        look = look or bool(report.findings)
        frames = done.show.with_name(done.show.name.removesuffix(".toml").removesuffix(".show") + ".h5")
        render = f"render {typed(done.show)} --layout {typed(layout)} --out {typed(frames)}"
        next_step(f"compute the light{' when you have looked' if look else ''}", render)
    else:
        next_step("what it lights on your house", f"check {typed(done.show)} --layout HOUSE.toml")
    if look:
        raise click.exceptions.Exit(1)


def _missing_sections(done: Unpacked) -> list[str]:
    """A line for each label of sections that cues name and your copy has not got, where nothing else lights them."""
    from eavesong.show import load_show

    labels = {part.label.lower() for part in done.found.grid.sections}
    named: dict[str, list[int]] = {}
    for number, cue in enumerate(load_show(done.show).cues, start=1):
        asked = [label for label in cue.sections or () if label.lower() not in labels]
        if cue.sections and not cue.kinds and len(asked) == len(cue.sections):
            for label in asked:
                named.setdefault(label, []).append(number)
    return [
        f"no section is called '{label}', which cue{'s' * (len(cues) > 1)} {', '.join(map(str, cues[:5]))} "
        f"{'name' if len(cues) > 1 else 'names'}: the pack was made without the song's sections"
        for label, cues in named.items()
    ]


def _tell(done: Unpacked, title: str) -> None:
    click.echo(title)
    for line in (f"by {each}" for each in done.credits):
        click.echo(line)
    click.echo(f"may be used: {done.licence or 'not said; ask whoever gave it to you'}\n")
    tell_found(done.found)
    for cues, what in (
        (done.cues.changed, "at other bars or times now"),
        (done.cues.gone, "not in your copy, kept as comments"),
        (done.cues.often, "come too often to be written one by one, and may fall beside the music after a cut"),
        (done.cues.others, "by 'turn', other parts of the music now"),
    ):
        if cues:
            more = f" and {len(cues) - 5} more" if len(cues) > 5 else ""
            click.echo(f"{what}: {', '.join(cues[:5])}{more}")
    click.echo(f"\nWrote {len(done.files)} files to {done.show.parent}; the show is {done.show.name}.")


def tell_found(found: Found) -> None:
    """Print what was found and how sure it is."""
    click.echo(f"your copy: {', '.join(found.told)}")
    click.echo(f"how sure:  {SURE[found.sure]} ({found.why})")
