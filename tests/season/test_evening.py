"""Whole evenings in seconds: the order of things, and what can go wrong in a night."""

import io
import json
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import ShowError
from eavesong.playback import session
from eavesong.playback.session import Settings
from eavesong.season.evening import dry_run, run_evening
from eavesong.season.setlist import Setlist, load_setlist
from playback.helpers import RememberingLinks, SimTime, house, moving, still, write_frames

KEYS = 'start = "17:00"\nend = "17:10"\npause = 10\n'


OPEN = 1000.0 + 120
"""17:00 by the monotonic clock: it is 16:58 at first."""


class Evening:
    """A setlist of two songs on simulated clocks."""

    def __init__(self, folder: Path, time: SimTime, network: RememberingLinks) -> None:
        self.folder, self.time, self.network = folder, time, network
        time.set(datetime(2026, 12, 4, 16, 58, tzinfo=UTC))
        for name, title, seconds in (("frost", "Ribbon of frost", 60), ("bells", "Bells", 90)):
            described = house(universes=1 if name == "frost" else 2, title=title, frame_rate=4.0, pixels=20)
            write_frames(folder / f"{name}.h5", described, moving(described, seconds * 4))
        self.out = io.StringIO()

    def setlist(self, keys: str = KEYS, songs: str = "") -> Setlist:
        songs = songs or '[[song]]\nframes = "frost.h5"\n[[song]]\nframes = "bells.h5"\n'
        (self.folder / "december.toml").write_text(f"[evening]\n{keys}\n{songs}")
        return load_setlist(self.folder / "december.toml")

    def run(self, until: float, setlist: Setlist | None = None, *, now: bool = False) -> list[dict[str, object]]:
        """Play until so many seconds after 17:00; what the log says."""
        log = self.folder / "log.jsonl"

        def end() -> None:
            raise KeyboardInterrupt

        self.time.at.append((OPEN + until, end))
        self.time.at.sort(key=lambda entry: entry[0])
        with pytest.raises(KeyboardInterrupt):
            run_evening(
                setlist or self.setlist(), Settings(log=log, quiet=True, discovery=False), now=now, time=self.time,
                local=UTC, out=self.out,
            )  # fmt: skip
        return [json.loads(line) for line in log.read_text().splitlines()]

    def lit(self) -> list[tuple[float, float]]:
        """Times (seconds since 17:00) between which packets with light came, gaps of over 2 s parting them."""
        times = [when - OPEN for when, packet in self.network.data(1) if any(packet.slots)]
        runs: list[list[float]] = []
        for when in times:
            if not runs or when - runs[-1][1] > 2:
                runs.append([when, when])
            runs[-1][1] = when
        return [(round(first), round(last)) for first, last in runs]


@pytest.fixture
def evening(tmp_path: Path, time: SimTime, network: RememberingLinks, monkeypatch: pytest.MonkeyPatch) -> Evening:
    monkeypatch.setattr(session, "Links", lambda **_: network)
    return Evening(tmp_path, time, network)


Told = list[dict[str, object]]


def titles(told: Told, event: str = "song") -> list[str]:
    return [str(each.get("title", each["text"])) for each in told if each["event"] == event]


def test_songs_take_turns_with_a_pause_between(evening: Evening) -> None:
    # 17:00 to 17:10, songs of 60 and 90 s, pauses of 10 s; a song that would not end in time is not begun.
    told = evening.run(1200)
    assert titles(told) == ["Ribbon of frost", "Bells"] * 3 + ["Ribbon of frost"]
    expected = [(0, 60), (70, 160), (170, 230), (240, 330), (340, 400), (410, 500), (510, 570)]
    assert np.abs(np.subtract(evening.lit(), expected)).max() <= 1


def test_after_the_evening_the_streams_have_ended(evening: Evening) -> None:
    evening.run(1200)
    packets = [packet for _, packet in evening.network.data(1)]
    assert [packet.terminated for packet in packets[-4:]] == [False, True, True, True]
    assert not any(packets[-4].slots)
    assert max(when for when, _ in evening.network.data()) < OPEN + 601
    last = [each["text"] for each in evening.run(1300) if each["event"] == "waiting"]
    assert last[0] == "next evening: Friday 04 December, 17:00 to 17:10 by the clock of UTC"
    assert "next evening: Saturday 05 December, 17:00 to 17:10 by the clock of UTC" in last


def test_between_songs_the_controllers_hear_signs_of_life(evening: Evening) -> None:
    evening.run(590)
    times = [when for when, _ in evening.network.data(1)]
    assert np.diff(times).max() <= 1.0 + 1e-6  # E1.31-2018, 6.6.2


def test_an_idle_colour(evening: Evening) -> None:
    evening.run(69, evening.setlist(KEYS + 'idle = "red"\nidle_level = 0.2\n'))
    pause = [packet.slots[:6] for when, packet in evening.network.data(1) if OPEN + 61 < when < OPEN + 69]
    assert set(pause) == {bytes((51, 0, 0, 51, 0, 0))}


def test_an_idle_look_from_a_file(evening: Evening) -> None:
    described = house(universes=1)
    write_frames(evening.folder / "candles.h5", described, still(described, 33, 7))
    evening.run(69, evening.setlist(KEYS + 'idle = "candles.h5"\n'))
    pause = [packet.slots[0] for when, packet in evening.network.data(1) if OPEN + 61 < when < OPEN + 69]
    assert set(pause) == {33}


def test_quiet_hours_cut_a_song(evening: Evening) -> None:
    keys = 'start = "17:00"\nend = "18:00"\nquiet = ["17:01", "17:59"]\npause = 10\n'
    told = evening.run(1200, evening.setlist(keys, '[[song]]\nframes = "bells.h5"\n'))
    assert titles(told) == ["Bells"]  # at 17:59 no song fits before the end
    assert "quiet hours" in [each.get("text") for each in told]
    ((first, last),) = evening.lit()
    assert (first, last) in ((0, 60), (0, 61))


def test_not_even_now_overrides_quiet_hours(evening: Evening) -> None:
    keys = 'start = "20:00"\nend = "21:00"\nquiet = ["17:01", "23:00"]\npause = 10\n'
    told = evening.run(100, evening.setlist(keys), now=True)
    assert titles(told) == ["Ribbon of frost", "Bells", "Ribbon of frost"]
    assert evening.lit()[-1][1] <= 61  # 17:01, to the second that the clock is looked at


def test_now(evening: Evening) -> None:
    assert titles(evening.run(-20, now=True)) == ["Ribbon of frost", "Bells"]


@pytest.mark.parametrize("spoil", [Path.unlink, lambda path: path.write_bytes(b"x"), lambda path: _cut(path)])
def test_a_song_that_cannot_be_played_is_left_out(evening: Evening, spoil: Callable[[Path], object]) -> None:
    spoil(evening.folder / "frost.h5")
    told = evening.run(400)
    assert titles(told)[:3] == ["Bells", "Bells", "Bells"]
    assert titles(told, "left out")[0] == "frost"


def _cut(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)


def test_whoever_waits_is_told_why_once(evening: Evening) -> None:
    once = evening.run(400, evening.setlist(KEYS + "repeat = false\n"))
    assert titles(once) == ["Ribbon of frost", "Bells"]
    assert [entry["text"] for entry in once if entry["event"] == "waiting" and "all songs" in str(entry["text"])] == [
        "all songs were played once; 'repeat = true' below [evening] plays them over and over"
    ]


def test_an_evening_too_short_for_any_song_says_so(evening: Evening) -> None:
    """17:00 to 17:01, and the song lasts 90 s."""
    keys = 'start = "17:00"\nend = "17:01"\npause = 10\n'
    told = evening.run(20, evening.setlist(keys, '[[song]]\nframes = "bells.h5"\n'))
    assert titles(told) == []
    assert [entry["text"] for entry in told if "no song" in str(entry.get("text"))] == [
        "waiting: no song can be played, or over before 17:01"
    ]


def test_an_evening_too_short_for_any_song_shows_the_idle_look(evening: Evening) -> None:
    """As it does where the last song that fits is over."""
    keys = 'start = "17:00"\nend = "17:01"\npause = 10\nidle = "red"\n'
    told = evening.run(40, evening.setlist(keys, '[[song]]\nframes = "bells.h5"\n'))
    assert titles(told) == []
    first, last = evening.lit()[0][0], evening.lit()[-1][1]
    assert first < 10
    assert last >= 35


@pytest.mark.parametrize(("idle", "dark"), [('idle = "red"\n', False), ("", True)])
def test_a_dry_run_of_an_evening_too_short_for_any_song_says_what_is_shown(
    evening: Evening, idle: str, dark: bool
) -> None:
    keys = f'start = "17:00"\nend = "17:01"\npause = 10\n{idle}'
    setlist = evening.setlist(keys, '[[song]]\nframes = "bells.h5"\n')
    told = dry_run(setlist, datetime(2026, 12, 4, 12, tzinfo=UTC), local=UTC).lines[-1]
    shown = ": no song is over before 17:01:00, and the idle look is shown until then"
    assert told == f"  nothing is played{'' if dark else shown}"


def test_now_needs_no_evening(evening: Evening) -> None:
    setlist = evening.setlist()
    setlist.path.write_text(setlist.path.read_text().replace(f"[evening]\n{KEYS}", ""))
    setlist = load_setlist(setlist.path)
    assert setlist.file.evening is None
    assert titles(evening.run(-20, setlist, now=True)) == ["Ribbon of frost", "Bells"]


def test_a_song_that_comes_back_is_played_again(evening: Evening) -> None:
    (evening.folder / "frost.h5").rename(evening.folder / "away.h5")
    evening.time.at.append(
        (OPEN + 50, lambda: (evening.folder / "away.h5").rename(evening.folder / "frost.h5") and None)
    )
    assert titles(evening.run(400))[:3] == ["Bells", "Ribbon of frost", "Bells"]


def test_songs_that_all_go_missing_are_tried_again(evening: Evening) -> None:
    for name in ("frost", "bells"):
        evening.time.at.append(
            (OPEN + 50, lambda name=name: (evening.folder / f"{name}.h5").rename(evening.folder / f"{name}.away"))
        )  # type: ignore[misc]
        evening.time.at.append(
            (OPEN + 200, lambda name=name: (evening.folder / f"{name}.away").rename(evening.folder / f"{name}.h5"))
        )  # type: ignore[misc]
    evening.time.at.sort(key=lambda entry: entry[0])
    told = evening.run(595)
    assert len(titles(told)) >= 3


def test_a_missing_sound_leaves_the_light(evening: Evening) -> None:
    told = evening.run(60, evening.setlist(songs='[[song]]\nsong = "gone.flac"\nframes = "frost.h5"\n'))
    assert titles(told) == ["Ribbon of frost"]
    assert any(each["event"] == "no sound" for each in told)


def test_a_clock_that_jumps_forward_ends_the_evening_after_the_song(evening: Evening) -> None:
    evening.time.at.append((OPEN + 30, lambda: setattr(evening.time, "jump", timedelta(hours=1))))
    told = evening.run(1300)
    assert titles(told) == ["Ribbon of frost"]
    assert evening.lit() == [(0, 60)]


def test_a_clock_that_jumps_back_begins_the_evening_again(evening: Evening) -> None:
    # NTP, or a change from summer time: at 17:00:30 it is 16:58:30 once more.
    evening.time.at.append((OPEN + 30, lambda: setattr(evening.time, "jump", timedelta(minutes=-2))))
    told = evening.run(200)
    assert titles(told) == ["Ribbon of frost", "Bells"]
    assert evening.lit()[:2] == [(0, 60), (120, 199)] or evening.lit()[:2] == [(0, 60), (120, 200)]


def test_a_setlist_that_cannot_be_played_at_all_is_refused_at_once(evening: Evening) -> None:
    songs = '[[song]]\nframes = "gone.h5"\n[[song]]\nframes = "lost.h5"\n'
    with pytest.raises(
        ShowError, match=r"gone\.h5: there is no such file\n    Make it first: eavesong batch"
    ) as caught:
        run_evening(evening.setlist(songs=songs), Settings(quiet=True), time=evening.time, local=UTC)
    assert len(caught.value.problems) == 2


def test_a_setlist_without_an_evening(tmp_path: Path) -> None:
    (tmp_path / "x.toml").write_text('[[song]]\nframes = "frost.h5"\n')
    with pytest.raises(ShowError, match=r"has no \[evening\]\n    Add a table \[evening\]"):
        run_evening(load_setlist(tmp_path / "x.toml"), Settings(quiet=True))


def test_a_dry_run_says_what_then_happens(evening: Evening) -> None:
    # Not a song that is over exactly at the end: some tenths of a second go by between songs.
    setlist = evening.setlist(KEYS.replace("10\n", "11\n") + 'order = "shuffle"\n')
    lines = dry_run(setlist, datetime(2026, 12, 4, 12, tzinfo=UTC), local=UTC).lines
    told = [line for line in lines if line.strip().startswith("17:0") and ":" in line[10:]]
    played = [title.split()[-1].lower() for title in titles(evening.run(1200, setlist))]
    assert [line.split()[1] for line in told if line.split()[1] in ("frost", "bells")] == played
    assert "  evening    Friday 04 December 2026" in lines
    assert max(map(len, lines)) <= 80


def test_a_dry_run_inside_an_evening_tells_what_is_still_to_come(evening: Evening) -> None:
    """Two hours into an evening: what one who starts to play then does, not what has gone by."""
    setlist = evening.setlist('start = "15:00"\nend = "18:00"\npause = 10\nrepeat = false\n')
    lines = dry_run(setlist, datetime(2026, 12, 4, 17, 0, 20, tzinfo=UTC), local=UTC).lines
    assert "  start      15:00:00  (15:00)" in lines
    assert "  now        17:00:20  (it has begun; below is what is played from now on)" in lines
    told = [line.split()[:2] for line in lines if line.split()[1:2] in (["frost"], ["bells"])]
    assert told == [["17:00:20", "frost"], ["17:01:30", "bells"]]


def test_a_dry_run_of_a_long_evening_keeps_to_a_screen_or_so(evening: Evening) -> None:
    """Twelve hours of songs of 60 and 90 s with 10 s between them: 43,200 / 170, two for each."""
    keys = 'start = "10:00"\nend = "22:00"\npause = 10\n'
    lines = dry_run(evening.setlist(keys), datetime(2026, 12, 4, 8, tzinfo=UTC), local=UTC).lines
    assert len(lines) < 55
    (left,) = [line for line in lines if "more songs" in line]
    shown = [line for line in lines if line.strip().startswith(("1", "2")) and line.split()[1] in ("frost", "bells")]
    assert abs(int(left.split()[1]) + len(shown) - 2 * 43_200 / 170) < 2
    assert shown[-1].startswith("  21:5")


def test_a_dry_run_says_what_is_missing(evening: Evening) -> None:
    (evening.folder / "bells.h5").unlink()
    lines = dry_run(evening.setlist(), datetime(2026, 12, 4, 12, tzinfo=UTC), local=UTC).lines
    (told,) = (line for line in lines if "left out: bells" in line)
    assert "there is no such file" in told
    assert told.endswith(f"Make it first: eavesong batch {evening.folder / 'december.toml'}")


def test_a_dry_run_says_first_which_sound_is_missing(evening: Evening) -> None:
    songs = '[[song]]\nframes = "frost.h5"\nsong = "frosst.flac"\n'
    (evening.folder / "frost.flac").touch()
    planned = dry_run(evening.setlist(songs=songs), datetime(2026, 12, 4, 12, tzinfo=UTC), local=UTC)
    missing = "  left out: frosst, the sound only: there is no file 'frosst.flac'. Did you mean 'frost.flac'?"
    assert planned.lines.index(missing) < next(i for i, line in enumerate(planned.lines) if line.startswith("  17:"))
    assert not planned.all_well


def test_a_dry_run_says_that_the_idle_look_is_missing(evening: Evening) -> None:
    setlist = evening.setlist(KEYS + 'idle = "candles.h5"\n')
    shutil.copy(evening.folder / "bells.h5", evening.folder / "candles.h5")
    noon = datetime(2026, 12, 4, 12, tzinfo=UTC)
    assert not any("left out" in line for line in dry_run(setlist, noon, local=UTC).lines)
    (evening.folder / "candles.h5").unlink()
    (told,) = (line for line in dry_run(setlist, noon, local=UTC).lines if "left out" in line)
    assert told.startswith("  left out: the idle look: ")
    assert "there is no 'candles.h5'" in told


def test_a_dry_run_of_what_is_played_at_once(evening: Evening, tmp_path: Path) -> None:
    """At noon, five hours before the evening, and of a setlist that has none: both songs, once, from now on."""
    noon = datetime(2026, 12, 4, 12, tzinfo=UTC)
    songs = tmp_path / "songs.toml"
    songs.write_text('[[song]]\nframes = "frost.h5"\n[[song]]\nframes = "bells.h5"\n')
    for setlist in (evening.setlist(), load_setlist(songs)):
        lines = dry_run(setlist, noon, now=True, local=UTC).lines
        assert "  start      12:00:00  (at once)" in lines
        assert "  end        when it is told to stop" in lines
        assert next(line.split()[:2] for line in lines if line.startswith("  12:0")) == ["12:00:00", "frost"]
        assert sum(line.split()[1:2] in (["frost"], ["bells"]) for line in lines) == 2
