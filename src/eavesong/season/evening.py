"""An evening: the songs of a setlist between dusk and bedtime, night after night, whatever goes wrong."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import islice
from typing import IO, TYPE_CHECKING

from eavesong.errors import EavesongError, FramesError, Problem, ShowError
from eavesong.playback.clock import SongClock, Time
from eavesong.playback.session import Settings, Stage, bars_of, counts, end_of, on_stage, start_clock, told
from eavesong.playback.source import FileSource, Source, Still
from eavesong.playback.stop import Stop
from eavesong.playback.wanted import song_meant
from eavesong.season.housed import HouseNow
from eavesong.season.idle import idle_frame, idle_source, idle_words, look_at_idle
from eavesong.season.said import damage
from eavesong.season.schedule import Calendar, OneEvening, order_of, plan_evening
from eavesong.season.zones import clock_words, doubt_of_clock, doubt_of_length, end_words, none_words
from eavesong.words import clock_text, typed

if TYPE_CHECKING:
    from datetime import tzinfo

    from eavesong.season.setlist import Setlist, Song
    from eavesong.season.times import Evening

WAIT = 0.5
"""Seconds between looks at the wall clock while nothing plays: it may be set at any time."""
MOST_TURNS = 40
"""Songs of an evening that a dry run tells one by one."""
NOTHING_TO_PLAY = 15.0
"""Seconds until songs that cannot be played are tried again: a disk or a network that comes late."""


def evening_of(setlist: Setlist, *, now: bool = False) -> Evening:
    """The evening of a setlist. Raises ShowError when it has none; with ``now``, when none is needed, all day then."""
    if setlist.file.evening is None and now:
        from eavesong.season.times import Evening

        return Evening.model_validate({"start": "00:00", "end": "23:59"})
    if setlist.file.evening is None:
        advice = "Add a table [evening] with 'start' and 'end', or play it at once: --now."
        raise ShowError(Problem(str(setlist.path), "", "the setlist has no [evening]", advice))
    return setlist.file.evening


def run_evening(
    setlist: Setlist, settings: Settings, *, now: bool = False, time: Time | None = None, local: tzinfo | None = None,
    out: IO[str] | None = None,
) -> Stop:  # fmt: skip
    """Play the setlist on its evenings until told to stop; how it was told.

    ``now``: begin at once and go on, whatever 'start' and 'end' say; quiet hours hold all the same. ``local`` is the
    time zone of a setlist that names none. Raises ShowError when no song can be played, or the setlist has no
    evening and is not to be played now.
    """
    calendar = Calendar(evening_of(setlist, now=now), local)
    house = HouseNow(setlist, allow_public=settings.allow_public, rehearsal=bool(settings.to))
    word = _refuse_if_hopeless(setlist, settings, house)
    with on_stage(settings, time, out=out) as stage:
        night = _Night(setlist, calendar, stage, house, always=now)
        night.tell_of_house(word)
        wall = stage.time.wall(calendar.zone)
        night.tell_of_house(doubt_of_clock(calendar, wall))
        night.tell_of_house("" if now else doubt_of_length(calendar, calendar.following(wall)))
        try:
            while not stage.stop.asked:
                night.step()
        finally:
            how = "told to stop" if stage.stop.asked else "broken off"
            stage.status.event("end", how, **counts(stage))
    return stage.stop


def _refuse_if_hopeless(setlist: Setlist, settings: Settings, house: HouseNow) -> str:
    """What is to be said of the house at the start, while somebody is there to see, by the first song that can be
    played; raises what is wrong with every song when none can."""
    problems: list[Problem] = []
    for song in setlist.songs:
        try:
            with contextlib.closing(_opened(setlist, song, settings.allow_public)) as source:
                return house.takes(source, song)
        except FramesError as fault:
            problems += fault.problems
    raise ShowError(dict.fromkeys(problems))


def _opened(setlist: Setlist, song: Song, allow_public: bool) -> FileSource:
    """The frames of a song. Raises FramesError, where they are not there with what makes them."""
    path = setlist.beside(song.frames_file)
    try:
        return FileSource(path, allow_public=allow_public)
    except FramesError as fault:
        if path.exists():
            raise
        advice = f"Make it first: eavesong batch {typed(setlist.path)}"
        raise FramesError(replace(each, instead=advice) for each in fault.problems) from None


class _Night:
    """What is being played, and what comes next."""

    def __init__(
        self, setlist: Setlist, calendar: Calendar, stage: Stage, house: HouseNow, *, always: bool
    ) -> None:  # fmt: skip
        self.setlist = setlist
        self.house = house
        self._told_of_house: set[str] = {""}
        self.calendar = calendar
        self.stage = stage
        self.always = always
        self._turns: list[int] = []
        self._round = 0
        self._day: object = None
        self._announced: object = None
        self._idling = ""
        self._idle: Source | None = None

    def step(self) -> None:
        """Play one song and the pause after it, or wait a moment."""
        wall = self._wall()
        window = self.calendar.current(wall)
        if self.calendar.quiet(wall) or not (window or self.always):
            self._rest(wall)
            return
        self._announced = None
        day = window.day if window else wall.date()
        if day != self._day:
            self._day, self._turns, self._round = day, [], 0
        played = self._play_next(window)
        evening = self.calendar.evening
        self._tell_idle("" if played or self.stage.stop.asked else self._why_idle(window))
        self._pause(evening.pause if played else max(evening.pause, NOTHING_TO_PLAY))

    def tell_of_house(self, word: str) -> None:
        """Say what has changed about the house, once."""
        if word not in self._told_of_house:
            self._told_of_house.add(word)
            self.stage.status.event("house", word)

    def _why_idle(self, window: OneEvening | None) -> str:
        """Why nothing is played though it is time."""
        if not self._turns and not self.calendar.evening.repeat:
            return "all songs were played once; 'repeat = true' below [evening] plays them over and over"
        over = f", or over before {window.end:%H:%M}" if window else ""
        return f"waiting: no song can be played{over}"

    def _tell_idle(self, why: str) -> None:
        """Say why nothing is played, once for each reason."""
        if why and why != self._idling:
            self.stage.status.event("waiting", why)
        self._idling = why

    def _wall(self) -> datetime:
        return self.stage.time.wall(self.calendar.zone)

    def _rest(self, wall: datetime) -> None:
        """Nothing is lit: end the streams, say when it goes on, and wait."""
        self.stage.sender.finish()
        quiet = self.calendar.quiet(wall)
        following = None if quiet else self.calendar.following(wall)
        news = "quiet" if quiet else following
        if news != self._announced:
            self._announced = news
            self.stage.player.leave()
            text = (
                "quiet hours"
                if quiet
                else f"next evening: {_when(following)}"
                if following
                else none_words(self.calendar, wall)
            )
            self.stage.status.event("waiting", text)
        self._close_idle()
        self.stage.time.sleep(WAIT)

    def _play_next(self, window: OneEvening | None) -> bool:
        """Play the next song that can be played and is over in time; whether there was one."""
        for _ in self.setlist.songs:
            number = self._next_number()
            if number is None or self.stage.stop.asked:
                return False
            if self._play(self.setlist.songs[number], window):
                return True
        return False

    def _next_number(self) -> int | None:
        evening = self.calendar.evening
        if not self._turns:
            if self._round and not evening.repeat:
                return None
            shuffle = evening.order == "shuffle"
            self._turns = list(order_of(len(self.setlist.songs), self._day, self._round, shuffle=shuffle))  # type: ignore[arg-type]
            self._round += 1
        return self._turns.pop(0)

    def _play(self, song: Song, window: OneEvening | None) -> bool:
        try:
            source = _opened(self.setlist, song, self.stage.settings.allow_public)
            try:
                self.tell_of_house(self.house.takes(source, song))
                for word in self.house.changed(source, song):
                    self.tell_of_house(word)
            except FramesError:
                source.close()
                raise
        except FramesError as fault:
            self.stage.status.event("left out", f"{song.name} is left out: {fault}", title=song.name)
            return False
        with contextlib.closing(source):
            source.title = song.title or source.title
            left = (window.end - self._wall()).total_seconds() if window else float("inf")
            if source.frame_count / source.frame_rate > left:
                if self._idle is None:  # whoever comes too late for any song sees what is shown after one
                    self._settle_idle(source)
                return False
            self._perform(song, source)
        return True

    def _perform(self, song: Song, source: FileSource) -> None:
        told(self.stage, source)
        self._settle_idle(source)
        sound = self.setlist.beside(song.song) if song.song else None
        self.stage.player.prepare(source)
        clock = start_clock(self.stage, sound, source.start)
        reached = False
        with contextlib.closing(clock):
            try:
                reached = self.stage.player.play(source, clock, until=self._is_quiet, bar_at=bars_of(source.file))
            except FramesError as fault:
                self.stage.status.event("damaged", f"{song.name} is broken off: {fault}", title=song.name)
        self.stage.status.event("song end", end_of(self.stage, source, reached), **counts(self.stage))

    def _is_quiet(self) -> bool:
        return self.calendar.quiet(self._wall())

    def _is_over(self) -> bool:
        wall = self._wall()
        return self.calendar.quiet(wall) or not (self.always or self.calendar.current(wall))

    def _pause(self, seconds: float) -> None:
        """The idle look, or black, for some seconds."""
        if self._idle is None:
            self._wait(seconds)
        elif not self._is_over():
            time = self.stage.time
            self.stage.player.play(self._idle, SongClock(time), until=self._is_over, stop_at=time.monotonic() + seconds)

    def _wait(self, seconds: float) -> None:
        """Nothing was ever playable, so there is no house to show an idle look on."""
        end = self.stage.time.monotonic() + seconds
        while self.stage.time.monotonic() < end and not self.stage.stop.asked and not self._is_over():
            self.stage.time.sleep(WAIT)

    def _settle_idle(self, source: FileSource) -> None:
        """The idle look for the house of the song that plays."""
        evening = self.calendar.evening
        self._close_idle()
        frame = None
        if evening.idle and evening.idle.endswith(".h5"):
            try:
                self._idle = idle = idle_source(self.setlist, evening.idle, self.stage.settings.allow_public)
                self.tell_of_house(self.house.takes_idle(idle))
                return
            except FramesError as fault:
                self.stage.status.event("left out", f"the idle look is left out: {fault}")
        elif evening.idle:
            try:
                frame = idle_frame(source, evening.idle, evening.idle_level)
            except EavesongError as fault:
                self.stage.status.event("left out", f"the idle look is left out: {fault}")
        self._idle = Still("pause", source.wiring, frame)

    def _close_idle(self) -> None:
        if self._idle is not None:
            self._idle.close()
            self._idle = None


def _when(window: OneEvening) -> str:
    return f"{window.start:%A %d %B, %H:%M} to {window.end:%H:%M} by the clock of {window.start:%Z}"


@dataclass(frozen=True)
class OnPaper:
    """What an evening will be."""

    lines: list[str]
    all_well: bool
    """Whether all that the setlist names is there and can be played."""


def dry_run(
    setlist: Setlist, wall: datetime, *, now: bool = False, allow_public: bool = False, local: tzinfo | None = None
) -> OnPaper:
    """The rest of the evening that ``wall`` lies in, as one who starts to play then does, or the next evening, in lines
    of text: what is not played, and what is when.

    now: what would be played at once, each song one time. Raises ShowError as `evening_of`.
    """
    calendar = Calendar(evening_of(setlist, now=now), local)
    evening, window, doubt = calendar.evening, calendar.following(wall), doubt_of_clock(calendar, wall)
    here = wall.astimezone(calendar.zone)
    at_once = now and (setlist.file.evening is None or calendar.current(wall) is None)
    if at_once:
        window = OneEvening(here.date(), here, here + timedelta(days=1))
    if window is None:
        return OnPaper([setlist.title, *(f"  {told}" for told in (none_words(calendar, wall), doubt) if told)], True)
    begun = not at_once and calendar.current(wall) is not None
    lengths, faults, words = _lengths(setlist, allow_public)
    quiet = [f"  {'quiet':<10} {first} to {last}" for first, last in evening.quiet]
    lines = [
        setlist.title,
        f"  {'evening':<10} {window.start:%A %d %B %Y}",
        f"  {'start':<10} {window.start:%H:%M:%S}  ({'at once' if at_once else evening.start})",
        *([f"  {'now':<10} {here:%H:%M:%S}  (it has begun; below is what is played from now on)"] if begun else []),
        f"  {'end':<10} {'when it is told to stop' if at_once else f'{end_words(window)}  ({evening.end})'}",
        f"  {'clock':<10} {clock_words(calendar, window.start)}",
        *quiet,
        f"  {'order':<10} {evening.order}{', over and over' if evening.repeat else ''}",
        f"  {'between':<10} {evening.pause:g} s, {_idle_of(setlist, evening, allow_public)}",
        "",
    ]
    ahead = replace(window, start=here) if begun else window
    turns = list(islice(plan_evening(calendar, ahead, lengths), len(lengths) if at_once else None))
    told = []
    for turn in turns:
        length = clock_text(_seconds(turn.start, turn.end), 0)
        told.append(f"  {turn.start:%H:%M:%S}  {setlist.songs[turn.song].name[:48]:<48}  {length:>6}")
    if len(told) > MOST_TURNS:
        told[MOST_TURNS - 2 : -1] = [f"  … {len(told) - MOST_TURNS + 1} more songs …"]
    idle, word = look_at_idle(setlist, evening.idle, allow_public)
    faults += [f"the idle look: {fault}" for fault in idle]
    words = [*words, word] if word else words
    more = [
        *([f"  the clock: {doubt}"] if doubt else []),
        *([f"  the evening: {long}"] if (long := "" if at_once else doubt_of_length(calendar, window)) else []),
        *(f"  left out: {fault}" for fault in faults),
        *(f"  look: {word}" for word in words),
    ]
    dark = "  nothing is played"
    if any(lengths) and evening.idle and not idle and calendar.quiet_from(ahead.start, ahead.end) is None:
        dark += f": no song is over before {end_words(window)}, and the idle look is shown until then"
    told = [*more, *([""] if more else []), *(told or [dark])]
    return OnPaper([*lines, *told], not faults)


def _idle_of(setlist: Setlist, evening: Evening, allow_public: bool) -> str:
    """What is seen between songs, as the house of the first song that can be played shows it."""
    if not evening.idle or evening.idle.endswith(".h5"):
        return evening.idle or "black"
    for song in setlist.songs:
        with contextlib.suppress(FramesError), contextlib.closing(_opened(setlist, song, allow_public)) as source:
            return idle_words(source, evening.idle, evening.idle_level)
    return evening.idle


def _seconds(start: datetime, end: datetime) -> float:
    from datetime import UTC

    return (end.astimezone(UTC) - start.astimezone(UTC)).total_seconds()


def _lengths(setlist: Setlist, allow_public: bool) -> tuple[Sequence[float | None], list[str], list[str]]:
    """Seconds of each song, None for one that cannot be played; why those cannot; and what has changed about the
    house."""
    house, words = HouseNow(setlist, allow_public=allow_public), dict.fromkeys([""])
    lengths: list[float | None] = []
    faults: list[str] = []
    for song in setlist.songs:
        try:
            with contextlib.closing(_opened(setlist, song, allow_public)) as source:
                words |= dict.fromkeys((house.takes(source, song), *house.changed(source, song)))
                lengths.append(source.frame_count / source.frame_rate)
            if found := damage(str(setlist.beside(song.frames_file))):
                lengths[-1] = None
                faults.append(
                    f"{song.name}: {song.frames_file}: {found}. Render it again: eavesong batch {setlist.path}"
                )
        except FramesError as fault:
            lengths.append(None)
            more = f" (and {fault.count - 1:,} more problems)" if fault.count > 1 else ""
            faults.append(f"{song.name}: {fault.problems[0]}{more}")
        if song.song and (advice := song_meant(setlist.beside(song.song))):
            faults.append(f"{song.name}, the sound only: there is no file '{song.song}'. {advice}")
    return lengths, faults, [word for word in words if word]
