"""``eavesong play``: frames out to the controllers, with the song; or a whole evening."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eavesong.cli.words import moment_in

if TYPE_CHECKING:
    from eavesong.playback import Settings
    from eavesong.playback.stop import Stop

STANDARD_ERROR = 2
LEAST_SEEN = 3.0
"""Milliseconds between light and sound that anybody might notice; less was probably meant as seconds."""


def _log_name(_context: click.Context, _option: click.Parameter, path: Path | None) -> Path | None:
    """Lines are appended to a log, so a file that holds anything else is refused."""
    if path is None or not path.exists():
        return path
    if path.is_dir():
        raise click.BadParameter(f"'{path}' is a folder. Name a file in it.")
    if path.is_file():
        with path.open("rb") as file:
            if file.read(1) not in (b"", b"{"):
                raise click.BadParameter(f"'{path}' is there already, and is no log of eavesong. Name another file.")
    return path


@click.command(name="play", short_help="Play frames on the house with the song, or a setlist's evenings.")
@click.argument("path", metavar="FRAMES|SETLIST", type=click.Path(path_type=Path))
@click.option("--layout", "-l", type=click.Path(path_type=Path), help="A setlist of several houses: this one's frames.")
@click.option("--song", type=click.Path(path_type=Path), help="The sound file; else the one beside the frames.")
@click.option("--from", "start", metavar="TIME", help='One frames file: begin here in the song, as 1:23 or "bar 33".')
@click.option("--silent", is_flag=True, help="Play no sound.")
@click.option("--device", metavar="NAME", help="The audio device, by name or number.")
@click.option("--offset", default=0.0, metavar="MS", help="Milliseconds the light waits for the sound.")
@click.option("--calibrate", is_flag=True, help="Click and flash at several offsets, to find the right one.")
@click.option("--now", is_flag=True, help="A setlist: begin at once; quiet hours hold all the same.")
@click.option("--dry-run", is_flag=True, help="A setlist: print the next evening, send nothing.")
@click.option("--priority", default=100, type=click.IntRange(0, 200), help="E1.31 priority; 100 if not given.")
@click.option("--source-name", default="eavesong", metavar="TEXT", help="Name in the packets, up to 63 bytes.")
@click.option(
    "--sync", default=0, type=click.IntRange(0, 63999), metavar="UNIVERSE", help="Synchronise on this universe."
)
@click.option(
    "--sync-delay", default=0.0, type=click.FloatRange(0, 20), metavar="MS", help="Between data and synchronisation."
)
@click.option(
    "--to", default="", metavar="ADDRESS", help="Rehearse: send everything to this address instead, as 127.0.0.1."
)
@click.option("--interface", default="", metavar="ADDRESS", help="This computer's address that multicast leaves by.")
@click.option("--no-discovery", is_flag=True, help="Send no lists of universes.")
@click.option("--allow-public", is_flag=True, help="Send to public addresses too.")
@click.option("--full-rate", is_flag=True, help="Send faster than a DMX512 line takes, if the frames are.")
@click.option("--log", type=click.Path(path_type=Path), callback=_log_name, help="Append JSON lines to this file.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    path: Path, layout: Path | None, song: Path | None, start: str | None, silent: bool, device: str | None,
    offset: float, calibrate: bool, now: bool, dry_run: bool, priority: int, source_name: str, sync: int,
    sync_delay: float, to: str, interface: str, no_discovery: bool, allow_public: bool, full_rate: bool,
    log: Path | None, quiet: bool,
) -> None:  # fmt: skip
    """Play a frames file on the house it was rendered for, with its song, or the evenings of a setlist.

    \b
    eavesong play frost.h5
    eavesong play frost.h5 --from 1:23                     (or --from "bar 33")
    eavesong play december.toml --dry-run
    eavesong play december.toml --log play.jsonl
    eavesong play december.toml --layout mill-lane.toml    (a setlist of several houses)
    eavesong play frost.h5 --to 127.0.0.1    (and look: eavesong listen --layout house.toml)

    Ctrl-C or SIGTERM ends with black.
    """
    from eavesong.playback.session import Settings
    from eavesong.playback.wanted import is_setlist

    settings = Settings(
        source_name, priority, sync, sync_delay / 1000, not no_discovery, _interface(interface), allow_public,
        full_rate, _milliseconds(offset), not silent, device, log, quiet, to=_to(to, allow_public),
    )  # fmt: skip
    with _terminal_let_go():
        if is_setlist(path):
            if song is not None or start is not None or calibrate:
                raise click.UsageError(
                    "--song, --from and --calibrate are for one frames file, whose name ends in .h5: a setlist's lie "
                    "where it says 'frames'. An evening plays whole songs."
                )
            _evening(path, layout, settings, now=now, dry_run=dry_run)
        elif now or dry_run or layout:
            raise click.UsageError("--now, --dry-run and --layout are for setlists, whose names end in .toml.")
        elif start is not None and calibrate:
            raise click.UsageError("--calibrate clicks and flashes from its own beginning: leave --from out.")
        else:
            _song(path, settings, song, start, calibrate=calibrate)


def _song(path: Path, settings: Settings, song: Path | None, start: str | None, *, calibrate: bool) -> None:
    from eavesong.playback.wanted import song_meant

    if song is not None and (advice := song_meant(song)):
        raise click.BadParameter(f"there is no file '{song}'. {advice}", param_hint="--song")
    from eavesong.playback.calibrate import calibrate as click_and_flash
    from eavesong.playback.session import play

    seconds = _moment(path, start) if start is not None else None
    _end(click_and_flash(path, settings) if calibrate else play(path, settings, song=song, start=seconds))


def _moment(path: Path, text: str) -> float | None:
    """Seconds of a moment of the frames' song."""
    from eavesong.frames import open_frames
    from eavesong.scene import Reopened

    with open_frames(path) as frames:
        return moment_in(Reopened(frames), text, "--from")


def _evening(path: Path, layout: Path | None, settings: Settings, *, now: bool, dry_run: bool) -> None:
    from eavesong.playback.clock import SystemTime
    from eavesong.season.evening import dry_run as on_paper
    from eavesong.season.evening import run_evening
    from eavesong.season.setlist import load_setlist

    setlist = load_setlist(path).for_house(layout)
    if dry_run:
        evening = on_paper(setlist, SystemTime().wall(), now=now, allow_public=settings.allow_public)
        click.echo("\n".join(evening.lines))
        if not evening.all_well:
            raise click.exceptions.Exit(1)
        return
    _end(run_evening(setlist, settings, now=now))


def _end(stop: Stop) -> None:
    if stop.interrupted:
        raise click.Abort


@contextlib.contextmanager
def _terminal_let_go() -> Iterator[None]:
    """Afterwards say nothing more to a terminal that takes nothing, so that the command ends all the same."""
    import os
    import select

    try:
        yield
    finally:
        with contextlib.suppress(OSError):  # closed, or a system that can ask sockets only
            if not select.select([], [STANDARD_ERROR], [], 0)[1]:
                os.dup2(os.open(os.devnull, os.O_WRONLY), STANDARD_ERROR)


def _to(address: str, allow_public: bool) -> str:
    from eavesong.playback.wiring import misfit_of_address

    if misfit := misfit_of_address(address, allow_public) if address else None:
        raise click.BadParameter(". ".join(misfit), param_hint="--to")
    return address


def _interface(address: str) -> str:
    import ipaddress

    try:
        return str(ipaddress.IPv4Address(address)) if address else ""
    except ValueError:
        raise click.BadParameter(f"'{address}' is not an IPv4 address.", param_hint="--interface") from None


def _milliseconds(offset: float) -> float:
    if not -10_000 <= offset <= 10_000:
        raise click.BadParameter("Write milliseconds between -10000 and 10000.", param_hint="--offset")
    if 0 < abs(offset) < LEAST_SEEN:
        told = f"--offset {offset:g} is in milliseconds, too little to be seen; for seconds write {1000 * offset:g}."
        click.echo(told, err=True)
    return offset / 1000
