"""``eavesong watch``: save a text, see the house change."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eavesong.cli.idle import tell_idle

if TYPE_CHECKING:
    from eavesong.music import BeatGrid
    from eavesong.scene import Order


@click.command(name="watch", short_help="Show the house live while its texts are changed.")
@click.argument("path", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--layout", "-l", type=click.Path(path_type=Path), help="The house; an effect has one without.")
@click.option("--song", type=click.Path(path_type=Path), help="Another song than the one the show names.")
@click.option("--at", metavar="TIME", help='Where in the song to begin: seconds, m:ss or "bar 9".')
@click.option("--loop", nargs=2, metavar="TIME TIME", help="Repeat from one time to the other.")
@click.option("--port", type=click.IntRange(1, 65535), help="To be served on; else the first free one from 8137.")
@click.option("--lan", is_flag=True, help="Let the home network look on, say a phone in the garden.")
@click.option("--lan-edit", is_flag=True, help="Let the home network turn and keep knobs too.")
@click.option("--no-browser", is_flag=True, help="Open no browser; the address is printed.")
@click.option("--once", "only_once", is_flag=True, help="Render everything once, say what is found, and end.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    path: Path, layout: Path | None, song: Path | None, at: str | None, loop: tuple[str, str] | None, port: int | None,
    lan: bool, lan_edit: bool, no_browser: bool, only_once: bool, quiet: bool,
) -> None:  # fmt: skip
    """Show FILE on a house, on a page in the browser, and again whenever a file that it stands on is saved.

    FILE is a show, or an effect to look at by itself. Knobs on the page are written into FILE when they are kept.

    \b
    eavesong watch frost.show.toml --layout house.toml
    eavesong watch frost.show.toml --layout house.toml --at "bar 9" --loop "bar 9" "bar 13"
    eavesong watch frost.show.toml --layout house.toml --lan
    eavesong watch ripple.toml
    """
    from eavesong.scene import Order
    from eavesong.watch.reading import is_effect

    if only_once:
        others = ("at", "loop", "port", "lan", "lan_edit", "no_browser")
        tell_idle(dict.fromkeys(others, "--once opens no page"))
    with ExitStack() as stack:
        effect = path if is_effect(path) else None
        if effect is not None:
            from eavesong.watch import by_itself

            order = stack.enter_context(by_itself(effect, layout, song))
        elif layout is None:
            raise click.UsageError("A show needs a house: --layout house.toml")
        else:
            order = Order.of(path, layout, song)
        found = _watch(order, effect, at, loop, (port, lan, lan_edit, not no_browser), only_once, quiet)
    if found:
        raise SystemExit(1)


def _watch(
    order: Order, effect: Path | None, at: str | None, loop: tuple[str, str] | None,
    served: tuple[int | None, bool, bool, bool], only_once: bool, quiet: bool,
) -> int:  # fmt: skip
    from eavesong.watch import Serving, watch
    from eavesong.watch.run import once

    def say(text: str) -> None:
        """Print a line, unless quiet."""
        if not quiet:
            click.echo(text)

    if only_once:
        return once(order, effect, say)
    port, lan, lan_edit, browser = served
    serving = Serving(_moment(at, "--at"), _moments(loop), port, lan, lan_edit, browser)
    watch(order, serving, say, effect)
    return 0


def _moment(text: str | None, option: str) -> Callable[[BeatGrid], float | None] | None:
    """What finds the moment that ``text`` names in a song; None for no text."""
    from eavesong.cli.words import moment_of, seconds_of

    if text is None:
        return None
    if not text.lower().startswith("bar"):
        seconds_of(text)  # refused now, not when the song has been read
    told: set[str] = set()

    def find(grid: BeatGrid) -> float | None:
        """Seconds of the moment in this grid; None where it has no such moment, which is said once."""
        try:
            return moment_of(text, grid, option)
        except click.BadParameter as fault:  # the show is shown all the same: it may be given more bars by and by
            if fault.message not in told:
                told.add(fault.message)
                click.echo(f"{option}: {fault.message}", err=True)
            return None

    return find


def _moments(texts: tuple[str, str] | None) -> Callable[[BeatGrid], tuple[float, float] | None] | None:
    if not texts:
        return None
    both = [_moment(text, "--loop") for text in texts]

    def find(grid: BeatGrid) -> tuple[float, float] | None:
        """Seconds of the first and the last of both moments; None where one of them is missing."""
        found = [at for one in both if one is not None and (at := one(grid)) is not None]
        return (min(found), max(found)) if len(found) == 2 else None

    return find
