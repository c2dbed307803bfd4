"""``eavesong listen``: what arrives on the network, as a small live picture."""

from __future__ import annotations

import contextlib
import shutil
import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from eavesong.playback.listen import Listener, Stream
    from eavesong.playback.picture import HousePicture


@click.command(name="listen", short_help="Show what arrives on the network, as a small live picture.")
@click.argument("universes", required=False, metavar="[UNIVERSES]")
@click.option("--layout", "-l", type=click.Path(path_type=Path), help="Draw this house, and listen to its universes.")
@click.option("--address", default="", metavar="ADDRESS", help="Only what is sent to this address of this computer.")
@click.option("--interface", default="", metavar="ADDRESS", help="This computer's address that multicast comes in by.")
@click.option("--seconds", type=click.FloatRange(0.1, 1e6), help="Stop after so long; else at Ctrl-C.")
def command(universes: str | None, layout: Path | None, address: str, interface: str, seconds: float | None) -> None:
    """Listen to UNIVERSES, such as 1-4,9, and show who sends and what it looks like.

    On a terminal the picture is live; elsewhere one table is printed at the end, at Ctrl-C or when it is ended.

    \b
    eavesong listen 1-4
    eavesong listen --layout house.toml
    """
    from eavesong.cli.play import _interface
    from eavesong.playback.listen import Listener
    from eavesong.playback.picture import HousePicture

    house = None
    if layout:
        from eavesong.layout import load_layout

        house = HousePicture(load_layout(layout))
    numbers = _numbers(universes) if universes else house.universes if house else ()
    if not numbers:
        raise click.UsageError("Name universes, such as 1-4,9, or a --layout that has some.")
    if house is None:
        click.echo(
            "Strips show bytes as they are sent, three to a light; --layout HOUSE.toml shows its colours.", err=True
        )
    ear = Listener(numbers, address=_interface(address), interface=_interface(interface))
    with contextlib.closing(ear):
        told = _beside(ear)
        for line in told:
            click.echo(line, err=True)
        # Shells have what they start in the background ignore this signal.
        signal.signal(signal.SIGINT, signal.default_int_handler)
        try:  # asked to end, by whatever signal, it tells what it heard first
            with contextlib.suppress(KeyboardInterrupt):
                _show(ear, house, seconds)
        finally:
            click.echo("\n".join([*_summary(ear), *(line for line in _beside(ear) if line not in told)]))


def _show(ear: Listener, house: HousePicture | None, seconds: float | None) -> None:
    live = sys.stdout.isatty()
    if live:
        click.echo("\x1b[2J", nl=False)
    heard = 0.0
    while seconds is None or heard < seconds:
        ear.hear(min(0.1, (seconds or 1e9) - heard))
        heard += 0.1
        if live:
            lines = fitted(list(_picture(ear, house)), shutil.get_terminal_size().lines - 1)
            click.echo("\x1b[H" + "\n".join(f"{line}\x1b[K" for line in lines) + "\x1b[J", nl=False)
    if live:
        click.echo()


def _picture(ear: Listener, house: HousePicture | None) -> Iterator[str]:
    from eavesong.playback.picture import strip

    heard = ear.heard()
    yield from _beside(ear)
    if house:
        yield from house.draw({universe.number: universe.slots() for universe in heard})
        yield from _summary(ear)
        return
    if not heard:
        yield _summary(ear)[-1].strip().replace("nothing", "nothing yet")
    for universe in heard:
        yield f"universe {universe.number}: {_told(universe.leader)}"
        yield from strip(universe.slots())


def _beside(ear: Listener) -> list[str]:
    """What to know of another program that listens on this computer, and of a network without multicast; the live
    picture has it, too, as it clears the screen."""
    import textwrap

    from eavesong.playback.listen import BESIDE_ANOTHER, ONLY_HERE

    told = [BESIDE_ANOTHER] * ear.beside_another + [ONLY_HERE] * ear.only_here
    return [line for each in told for line in textwrap.wrap(each, 80)]


def fitted(lines: list[str], room: int) -> list[str]:
    """The lines that ``room`` holds; where they are more, the last of them says how many are not shown."""
    if len(lines) <= room:
        return lines
    shown = max(room - 1, 0)
    return [*lines[:shown], f"… and {len(lines) - shown} more lines, all told at the end"]


def _told(leader: Stream | None) -> str:
    return f"{leader.source_name}, {leader.rate:.1f} a second" if leader else "nothing now"


def _summary(ear: Listener) -> list[str]:
    from eavesong.playback.picture import table

    return table(ear)


def _numbers(text: str) -> tuple[int, ...]:
    from eavesong.playback.packets import ranges

    try:
        return tuple(ranges(text))
    except ValueError as fault:
        raise click.BadParameter(f"{fault}. Write 1-4,9.", param_hint="UNIVERSES") from None
