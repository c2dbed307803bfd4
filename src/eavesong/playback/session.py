"""One run of playback: everything set up, and the streams ended properly whatever ends the run."""

from __future__ import annotations

import bisect
import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

from eavesong.errors import AudioError, EavesongError, FramesError, Problem
from eavesong.playback.audio import AudioClock, AudioUnavailableError
from eavesong.playback.clock import Clock, SongClock, SystemTime, Time
from eavesong.playback.links import Links
from eavesong.playback.neighbours import Announcer, Place
from eavesong.playback.now import as_it_is
from eavesong.playback.packets import PORT
from eavesong.playback.player import Fired, Player
from eavesong.playback.sender import Sender, Voice
from eavesong.playback.source import FileSource, Source
from eavesong.playback.status import Status
from eavesong.playback.stop import Stop, stop_on_signals
from eavesong.playback.understudy import understudied
from eavesong.playback.urgency import first_in_line, undisturbed
from eavesong.scene.reopen import Reopened, is_another_song
from eavesong.words import clock_text, visible

if TYPE_CHECKING:
    from eavesong.frames import FramesFile

HEAD_START = 0.05
"""Seconds before a silent song begins, in which its first frame is read."""


@dataclass(frozen=True)
class Settings:
    """How to play, as the command line says it."""

    source_name: str = "eavesong"
    priority: int = 100
    sync_address: int = 0
    sync_delay: float = 0.0
    discovery: bool = True
    interface: str = ""
    """This computer's address that multicast leaves by; the system's choice when empty."""
    allow_public: bool = False
    full_rate: bool = False
    """Send faster than a DMX512 line refreshes, where the frames are."""
    offset: float = 0.0
    """Seconds the light waits for the sound."""
    sound: bool = True
    device: str | None = None
    log: Path | None = None
    quiet: bool = False
    companion: str = ""
    """What this run is for, where it may run beside a show."""
    port: int = PORT
    to: str = ""
    """The address that everything is sent to in place of the controllers': a rehearsal; empty for the house."""


@dataclass(frozen=True)
class Stage:
    """What a run has at hand."""

    settings: Settings
    time: Time
    stop: Stop
    status: Status
    sender: Sender
    player: Player


@contextlib.contextmanager
def on_stage(
    settings: Settings, time: Time | None = None, *, out: IO[str] | None = None, fired: Fired | None = None
) -> Iterator[Stage]:
    """Everything a run needs; black and three terminated packets in every universe when the block ends, however."""
    time = time or SystemTime()
    status = Status(time, log=settings.log, out=out, quiet=settings.quiet)
    links = Links(allow_public=settings.allow_public, interface=settings.interface, port=settings.port)
    with contextlib.closing(Place(settings.companion or "play")) as place:
        voice = Voice(
            place.cid, settings.source_name, settings.priority, settings.sync_address, settings.sync_delay,
            settings.discovery,
        )  # fmt: skip
        sender = Sender(links, voice, time, to=settings.to)
        announcer = Announcer(place, status, settings.priority, settings.to)
        with stop_on_signals() as stop, undisturbed() as missing, understudied(sender, stop, time):
            player = Player(
                sender, time, stop, status, offset=settings.offset, ceiling=not settings.full_rate, fired=fired,
                alert=first_in_line, taken=announcer.taken,
            )  # fmt: skip
            for sentence in missing if isinstance(time, SystemTime) and not settings.companion else ():
                status.event("withheld", sentence)
            try:
                yield Stage(settings, time, stop, status, sender, player)
            finally:
                sender.close()
                links.close()
                announcer.settle()
                status.close()


def play(
    path: str | Path, settings: Settings, *, song: Path | None = None, start: float | None = None,
    time: Time | None = None, out: IO[str] | None = None, fired: Fired | None = None,
) -> Stop:  # fmt: skip
    """Play one frames file with its song, to the end or until told to stop; how it was told.

    ``song``: the sound file; without it the one that lies beside the frames under the name they were made for.
    ``start``: seconds into the song at which light and sound begin; where the frames do when None.
    Raises FramesError when the frames, or nothing from ``start`` on, AudioError when the song given cannot be used.
    """
    source = FileSource(path, allow_public=settings.allow_public)
    first = _first_of(source, start)
    with contextlib.closing(source), on_stage(settings, time, out=out, fired=fired) as stage:
        changed = as_it_is(source, allow_public=settings.allow_public, rehearsal=bool(settings.to))
        told(stage, source)
        for word in changed:
            stage.status.event("outdated", word)
        stage.player.prepare(source, first)
        sound = song or song_beside(source)
        if sound is None and source.file.song and settings.sound:
            gone = f"the song '{visible(source.file.song)}' is neither beside the frames nor where it was"
            stage.status.event("no sound", f"no sound: {gone}; say where it is with --song FILE, or --silent")
        elif sound is not None and settings.sound and is_another_song(source.file, sound):
            other = f"'{visible(sound.name)}' is not the file that these frames were made to, so light may not fit it"
            stage.status.event("outdated", f"{other}: render them again")
        for stray in Reopened(source.file).strays:
            stage.status.event("outdated", f"{stray.found}; render them again when it is mended")
        clock = start_clock(stage, sound, first, strict=song is not None)
        reached = False
        with contextlib.closing(clock):
            try:
                reached = stage.player.play(source, clock, bar_at=bars_of(source.file))
            except FramesError as fault:
                stage.status.event("damaged", str(fault))
                raise
            finally:
                stage.status.event("end", end_of(stage, source, reached), **counts(stage))
    return stage.stop


def _first_of(source: FileSource, start: float | None) -> float:
    """Seconds into the song at which ``source`` is begun; FramesError where it has nothing there."""
    if start is None:
        return source.start
    end = source.start + source.file.frame_count / source.frame_rate
    if source.start <= start < end:
        return start
    source.close()
    found = f"has nothing from {clock_text(start)} on: it begins at {clock_text(source.start)}"
    raise FramesError(Problem(str(source.file.path), "", f"{found} and ends at {clock_text(end)}"))


def told(stage: Stage, source: FileSource) -> None:
    """Say what is about to be played, and when not every frame of it is sent."""
    universes = len(source.wiring.universes)
    to = stage.settings.to
    where = f"{to}, a rehearsal" if to else ", ".join(source.wiring.controllers.values())
    stage.status.event(
        "song", f"{source.title}: {universes} universes to {where}",
        title=source.title, universes=universes,
    )  # fmt: skip
    strides = source.wiring.strides(source.frame_rate, ceiling=not stage.settings.full_rate)
    if (most := int(strides.max())) > 1:
        own = source.wiring.strides(source.frame_rate, ceiling=False)
        what = "a controller is said to take" if int(own.max()) == most else "a universe takes"
        some = "" if int(strides.min()) == most else f" to {int((strides == most).sum())} of {universes} universes"
        stage.status.event(
            "slower",
            f"{source.frame_rate:g} frames a second are more than {what}; every {nth(most)} is sent{some}",
        )


def nth(number: int) -> str:
    """``2nd`` for 2."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th") if number % 100 not in (11, 12, 13) else "th"
    return f"{number}{ending}"


def start_clock(stage: Stage, song: Path | None, start: float, *, strict: bool = False) -> Clock:
    """The song's clock, sounding where possible; else the monotonic one, and a word why.

    ``strict``: a song that cannot be read raises AudioError instead.
    """
    if song is not None and stage.settings.sound:
        try:
            return AudioClock(song, stage.time, start, device=stage.settings.device)
        except AudioUnavailableError as fault:
            stage.status.event("no sound", f"no sound: {fault}")
        except AudioError as fault:
            if strict:
                raise
            stage.status.event("no sound", f"no sound: {fault}")
    return SongClock(stage.time, start - HEAD_START)


def song_beside(source: FileSource) -> Path | None:
    """The sound file that the frames were made for, beside them or where it lay then; None where it is not found."""
    from eavesong.scene import Reopened

    return Reopened(source.file).song


def bars_of(file: FramesFile) -> Callable[[float], int]:
    """The bar, from 1, at a time of the song, by the beats that the file tells; 0 where there are none."""
    from eavesong.scene import Reopened

    try:
        grid = Reopened(file).grid
    except EavesongError:  # a damaged text is no reason not to play
        grid = None
    downbeats = grid.downbeats if grid is not None else ()
    return lambda seconds: bisect.bisect_right(downbeats, seconds)


def end_of(stage: Stage, source: Source, reached: bool) -> str:
    """The end of a song, or where it was stopped, with what became of its frames and of the packets that held them."""
    state = stage.status.state
    dropped = stage.sender.links.dropped - state.dropped_before
    lost = f"; {dropped:,} packets reached nobody" if dropped else ""
    place = clock_text(max(0.0, state.position), 0)
    where = f"end of {source.title}" if reached else f"{source.title} stopped at {place}"
    return f"{where}: {state.punctuality}{lost}"


def counts(stage: Stage) -> dict[str, float]:
    """What was sent, and how punctually, for the log."""
    links = stage.sender.links
    return {"sent": links.sent, "dropped": links.dropped, **stage.status.state.punctuality.counts()}
