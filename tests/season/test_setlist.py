"""The setlist file: what may stand in it, and what is said when something else does."""

from pathlib import Path

import pytest

from eavesong.errors import ShowError
from eavesong.season.named import half_listed
from eavesong.season.setlist import load_setlist, setlist_schema
from eavesong.season.times import WallTime

EVENING = """
[evening]
start = "dusk + 10 min"
end = "22:00"
days = ["fri", "sat"]
latitude = 60.2
longitude = 24.9
timezone = "Europe/Helsinki"
quiet = ["22:30", "07:00"]
"""
SONGS = '[[song]]\nsong = "songs/bells.flac"\n\n[[song]]\nframes = "frost.h5"\ntitle = "Frost"\n'


def written(folder: Path, text: str) -> Path:
    path = folder / "december.toml"
    path.write_text(text)
    return path


def test_a_whole_setlist(tmp_path: Path) -> None:
    setlist = load_setlist(written(tmp_path, EVENING + SONGS))
    bells, frost = setlist.songs
    assert (setlist.title, bells.name, frost.name) == ("december", "bells", "Frost")
    assert setlist.beside(bells.frames_file) == tmp_path / "songs/bells.h5"
    assert frost.frames_file == "frost.h5"
    evening = setlist.file.evening
    assert evening is not None
    assert (evening.start, evening.end) == (WallTime("dusk", 10), WallTime("clock", 22 * 60))
    assert [[str(time) for time in span] for span in evening.quiet] == [["22:30", "07:00"]]


def test_an_evening_is_not_needed_for_a_batch(tmp_path: Path) -> None:
    text = 'show = "winter.show.toml"\nlayout = "house.toml"\n' + SONGS
    assert load_setlist(written(tmp_path, text)).file.evening is None


def test_tomls_own_time_is_a_time(tmp_path: Path) -> None:
    evening = load_setlist(written(tmp_path, "[evening]\nstart = 17:30:00\nend = 21:00:00\n" + SONGS)).file.evening
    assert evening is not None
    assert str(evening.start) == "17:30"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            ('"dusk + 10 min"', '"teatime"'),
            r"line 3, evening, start: this is no time of day .found 'teatime'.\n    Write '17:30'",
        ),
        (('"dusk + 10 min"', '"25:00"'), "no time of day .found '25:00'."),
        (('"dusk + 10 min"', '"dusk + 13 h"'), "no time of day"),
        (('"22:00"', "22"), "this is no time of day"),
        (
            ('["fri", "sat"]', '["fri", "satur"]'),
            r"line 5, evening, days: 'satur' is no day\n    Days are mon, tue, wed, thu, fri, sat, sun",
        ),
        (
            ('["22:30", "07:00"]', '"22:30 to 7:00"'),
            r"two times in brackets .found.*\n    Write quiet = ..22:30., .07:00..",
        ),
        (('["22:30", "07:00"]', '["23:00"]'), r'and here is 1 time\n    Write \["23:00", "07:00"\], or several'),
        (('["22:30", "07:00"]', '["22:30", "07:00", "12:00"]'), r'here are 3 times\n    Write \["22:30", "07:00"\]'),
        (("latitude = 60.2\n", ""), r"'dusk \+ 10 min' needs a place\n    Add 'latitude' and 'longitude'"),
        (("60.2", "91.0"), "line 6, evening, latitude: must be at most 90"),
        (('"Europe/Helsinki"', '"Helsinki"'), "there is no time zone of this name .found 'Helsinki'."),
        (('"Europe/Helsinki"', '"../../etc/passwd"'), "there is no time zone"),
        (('["22:30", "07:00"]', '["dusk", "07:00"]'), "quiet hours go by the clock"),
        (('["22:30", "07:00"]', '["07:00", "07:00"]'), "quiet hours begin and end at the same time"),
        (("quiet", "silent"), r"'silent' is not a key here"),
        (('"songs/bells.flac"', '"../bells.flac"'), "song 1, song: this path leads out of the setlist's folder"),
        (('"frost.h5"', '"/etc/frost.h5"'), "song 2, frames: this path leads out"),
        (('song = "songs/bells.flac"', 'title = "Bells"'), "a song has neither 'song' nor 'frames'"),
        (('end = "22:00"', 'end = "dusk + 10 min"'), "'start' and 'end' are the same time"),
        (('end = "22:00"', 'end = "22:00"\nidle = "bluish"'), "bluish"),
        (('end = "22:00"', 'end = "22:00"\nidle = "../x.h5"'), "leads out of the setlist's folder"),
        (('end = "22:00"', 'end = "22:00"\nidle_level = 1.0'), "must be at most 0.5"),
        (
            ('end = "22:00"', 'end = "22:00"\nfirst_date = 2027-01-06\nlast_date = 2026-12-01'),
            "'first_date' comes after 'last_date'",
        ),
        (("[[song]]", "[song]"), "stands in single brackets"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(tmp_path: Path, change: tuple[str, str], message: str) -> None:
    text = EVENING + SONGS
    assert change[0] in text
    with pytest.raises(ShowError, match=message):
        load_setlist(written(tmp_path, text.replace(*change)))


def test_all_faults_at_once(tmp_path: Path) -> None:
    text = EVENING.replace("60.2", "91.0").replace('"22:00"', '"late"') + SONGS.replace("frost.h5", "../frost.h5")
    with pytest.raises(ShowError) as caught:
        load_setlist(written(tmp_path, text))
    assert len(caught.value.problems) == 3


def test_a_colour_a_place_and_a_song_that_are_wrong_are_told_together(tmp_path: Path) -> None:
    (tmp_path / "songs").mkdir()
    (tmp_path / "songs" / "bells.flac").touch()
    text = EVENING.replace("latitude = 60.2\n", 'idle = "candle"\n') + SONGS.replace("bells.flac", "bels.flac")
    with pytest.raises(ShowError) as caught:
        load_setlist(written(tmp_path, text))
    place, colour, song = caught.value.problems
    assert place.found == "'dusk + 10 min' needs a place"
    assert colour.found == "'candle' is a palette, where one colour belongs"
    assert (song.found, song.instead) == ("there is no file 'songs/bels.flac'", "Did you mean 'bells.flac'?")
    assert song.place.endswith("song 1, song")


def test_a_setlist_without_songs(tmp_path: Path) -> None:
    with pytest.raises(ShowError, match="'song' is missing"):
        load_setlist(written(tmp_path, EVENING))


def test_editors_get_a_schema() -> None:
    assert {"song", "evening", "title"} <= set(setlist_schema()["properties"])


HOUSES = 'layout = ["mill-lane.toml", "houses/high-street.toml"]\nframes = "frames"\n'


def test_a_setlist_of_several_houses_is_played_on_one(tmp_path: Path) -> None:
    """Frames lie where a batch puts them: in a folder called after the house, those of one house alone too."""
    own = '[[song]]\nsong = "own.flac"\nlayout = "mill-lane.toml"\n[[song]]\nframes = "bells.h5"\n'
    setlist = load_setlist(written(tmp_path, HOUSES + '[[song]]\nsong = "frost.flac"\n' + own))

    def frames(house: str | Path) -> list[str | None]:
        return [song.frames for song in setlist.for_house(house).songs]

    assert frames("mill-lane.toml") == ["frames/mill-lane/frost.h5", "frames/mill-lane/own.h5", "mill-lane/bells.h5"]
    assert frames("houses/high-street.toml") == ["frames/high-street/frost.h5", "high-street/bells.h5"]
    assert frames(tmp_path / "mill-lane.toml") == frames("mill-lane.toml")


def test_a_version_of_a_song_for_one_house_lies_where_the_others_do(tmp_path: Path) -> None:
    own = '[[song]]\nsong = "a.flac"\nlayout = "brook/house.toml"\nshow = "own.show.toml"\n'
    rest = '[[song]]\nsong = "a.flac"\nlayout = ["larch/house.toml", "pine/house.toml"]\n'
    setlist = load_setlist(written(tmp_path, 'frames = "frames"\n' + own + rest))
    assert [song.frames for song in setlist.for_house("brook/house.toml").songs] == ["frames/brook/a.h5"]
    assert [song.frames for song in setlist.for_house("pine").songs] == ["frames/pine/a.h5"]
    with pytest.raises(ShowError, match="none of its songs is for 'pin'\n    Did you mean 'pine'"):
        setlist.for_house("pin")
    with pytest.raises(ShowError, match="for 3 houses"):
        setlist.for_house(None)


def test_a_song_is_for_all_houses_that_have_no_version_of_their_own(tmp_path: Path) -> None:
    """By the sound and the frames file: another song, or other frames of it, take nothing away."""
    head = "".join(f'[[house]]\nlayout = "{name}/house.toml"\n' for name in ("brook", "larch", "pine"))
    every = '[[song]]\nsong = "a.flac"\n[[song]]\nsong = "b.flac"\n'
    own = '[[song]]\nsong = "a.flac"\nlayout = "brook/house.toml"\nshow = "own.show.toml"\n'
    setlist = load_setlist(written(tmp_path, 'frames = "frames"\n' + head + every + own))
    assert [setlist.layouts_of(song) for song in setlist.file.songs] == [
        ("larch/house.toml", "pine/house.toml"),
        ("brook/house.toml", "larch/house.toml", "pine/house.toml"),
        ("brook/house.toml",),
    ]
    assert [(song.song, song.show) for song in setlist.for_house("brook").songs] == [
        ("a.flac", "own.show.toml"), ("b.flac", None)
    ]  # fmt: skip
    assert [song.song for song in setlist.for_house("pine").songs] == ["a.flac", "b.flac"]
    assert [setlist.layouts_of(song) for song in setlist.songs] == [
        setlist.layouts_of(song) for song in setlist.file.songs
    ]
    spelt = load_setlist(written(tmp_path, head + every + own.replace("brook/", "./brook/")))
    assert len(spelt.layouts_of(spelt.file.songs[0])) == 2
    assert [song.show for song in spelt.for_house("brook").songs] == ["own.show.toml", None]
    assert list(half_listed(setlist)) == []
    other = load_setlist(written(tmp_path, head + every + own + 'frames = "mine.h5"\n'))
    assert len(other.layouts_of(other.file.songs[0])) == 3


def test_a_setlist_for_one_customer_reads_what_the_one_for_all_has_made(tmp_path: Path) -> None:
    one = 'frames = "frames"\n[[house]]\nlayout = "pine/house.toml"\n[[song]]\nsong = "a.flac"\n'
    for house in (None, "pine/house.toml", "pine"):
        assert [song.frames for song in load_setlist(written(tmp_path, one)).for_house(house).songs] == [
            "frames/pine/a.h5"
        ]


def test_which_house_is_meant_has_to_be_said_where_there_are_several(tmp_path: Path) -> None:
    setlist = load_setlist(written(tmp_path, HOUSES + '[[song]]\nsong = "frost.flac"\n'))
    with pytest.raises(ShowError, match=r"are for 2 houses\n    Say which: --layout mill-lane.toml or houses/high-st"):
        setlist.for_house(None)
    with pytest.raises(ShowError, match=r"none of its songs is for 'mil-lane.toml'\n    Did you mean 'mill-lane.toml'"):
        setlist.for_house("mil-lane.toml")
    single = load_setlist(written(tmp_path, 'layout = "mill-lane.toml"\n[[song]]\nsong = "frost.flac"\n'))
    assert [song.frames for song in single.for_house(None).songs] == ["frost.h5"]
    assert [song.frames for song in single.for_house("mill-lane.toml").songs] == ["frost.h5"]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("customers/fir/house.toml", "Did you mean 'customers/fir/house-2027.toml'?"),
        ("customers/ash/house.toml", "Known houses: customers/birch/house.toml, customers/fir/house-2027.toml."),
    ],
)
def test_nobody_is_sent_to_another_ones_house_by_a_path_that_is_like_it(tmp_path: Path, asked: str, told: str) -> None:
    houses = ["customers/birch/house.toml", "customers/fir/house-2027.toml"]
    path = tmp_path / "setlist.toml"
    tables = "".join(f'[[house]]\nlayout = "{house}"\n' for house in houses)
    path.write_text(f'{tables}[[song]]\nsong = "a.wav"\nshow = "a.show.toml"\n')
    with pytest.raises(ShowError) as refused:
        load_setlist(path).for_house(asked)
    assert told in str(refused.value)


def test_times_of_a_song_are_written_as_on_the_command_line(tmp_path: Path) -> None:
    file = load_setlist(written(tmp_path, 'from = "0:10.5"\nto = "1:02"\n[[song]]\nsong = "frost.flac"\n')).file
    assert (file.start, file.stop) == (10.5, 62.0)
    with pytest.raises(ShowError, match="'1-02' is no time of a song"):
        load_setlist(written(tmp_path, 'to = "1-02"\n[[song]]\nsong = "frost.flac"\n'))


def test_an_idle_look_may_lie_in_the_folder_of_its_house(tmp_path: Path) -> None:
    setlist = load_setlist(written(tmp_path, HOUSES + '[[song]]\nsong = "frost.flac"\n')).for_house("mill-lane.toml")
    assert setlist.idle_file("idle/candles.h5") == tmp_path / "idle" / "candles.h5"
    (tmp_path / "idle" / "mill-lane").mkdir(parents=True)
    (tmp_path / "idle" / "mill-lane" / "candles.h5").touch()
    assert setlist.idle_file("idle/candles.h5") == tmp_path / "idle" / "mill-lane" / "candles.h5"
    (tmp_path / "frames" / "mill-lane").mkdir(parents=True)
    (tmp_path / "frames" / "mill-lane" / "waiting.h5").touch()  # beside the songs' frames of the house
    assert setlist.idle_file("waiting.h5") == tmp_path / "frames" / "mill-lane" / "waiting.h5"


@pytest.mark.parametrize("house", [None, "mill-lane.toml"])
def test_frames_alone_are_played_where_they_lie(tmp_path: Path, house: str | None) -> None:
    text = 'layout = "mill-lane.toml"\n[[song]]\nframes = "bells.h5"\n'
    assert [song.frames for song in load_setlist(written(tmp_path, text)).for_house(house).songs] == ["bells.h5"]


EACH = """
for = "Everybody"
date = "1 December"
limit = "supply"
[[house]]
layout = "mill-lane/house.toml"
limit = "house:1500W"
for = "Family Larch"
without = "wiring"
[[house]]
layout = "high-street/house.toml"
name = "Number 7"
soften = true
"""


def test_each_house_has_its_own_terms_folder_and_reader(tmp_path: Path) -> None:
    setlist = load_setlist(written(tmp_path, EACH + '[[song]]\nsong = "a.wav"\nlimit = []\n[[song]]\nsong = "b.wav"\n'))
    first, second = setlist.file.songs
    mill, high = setlist.layouts_of(second)
    assert setlist.said(second, mill) == {"limit": ("house:1500W",)}
    assert setlist.said(second, high) == {"limit": ("supply",), "soften": True}
    assert setlist.said(first, high) == {"limit": (), "soften": True}
    assert setlist.frames_of(second, mill) == "mill-lane/b.h5"
    assert setlist.frames_of(second, high) == "Number 7/b.h5"
    assert setlist.for_house("Number 7").songs[1].frames == "Number 7/b.h5"
    told = setlist.reader_of(mill)
    assert (told.reader, told.date, told.without) == ("Family Larch", "1 December", ("wiring",))
    assert setlist.reader_of(high).reader == "Everybody"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[house]]\nlayout = "a.toml"\n[[house]]\nlayout = "a.toml"\n', r"'a.toml' has two \[\[house\]\]"),
        ('layout = "a.toml"\n[[house]]\nlayout = "b.toml"\n', r"no song is for the \[\[house\]\] 'b.toml'"),
        ('[house]\nlayout = "b.toml"\n', "double brackets"),
        ('[[house]]\nlayout = "b.toml"\nname = "../b"\n', "house 1, name: '../b' is no name of a folder"),
        ('[[house]]\nlayout = "b.toml"\nlimt = "supply"\n', "limit"),
    ],
)
def test_what_is_wrong_with_a_house_is_told(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(ShowError, match=message):
        load_setlist(written(tmp_path, text + '[[song]]\nsong = "a.wav"\n'))


@pytest.mark.parametrize(
    ("line", "advice"),
    [
        ('unlit = ["tree"]', "What a house keeps dark stands in its layout, above the first"),
        ("tempo = 120", "Beats are heard in the song"),
        ("limits = []", "Did you mean 'limit'?"),
    ],
)
def test_keys_of_other_files_are_told_where_they_belong(tmp_path: Path, line: str, advice: str) -> None:
    (tmp_path / "x.toml").write_text(f'[[song]]\nsong = "a.wav"\n{line}\n')
    with pytest.raises(ShowError) as refused:
        load_setlist(tmp_path / "x.toml")
    (problem,) = refused.value.problems
    assert problem.instead.startswith(advice)


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        ("supply=200", r"'supply=200' is no limit\n    Write \"supply:200W\"\."),
        ("house 1500W", r"'house 1500W' is no limit\n    Write \"house:1500W\"\."),
        ("house:much", r"Write \"supply\", \"output:4A\" or \"house:1500W\"\."),
    ],
)
def test_advice_on_limits_stands_in_the_quotes_that_a_setlist_needs(tmp_path: Path, limit: str, told: str) -> None:
    with pytest.raises(ShowError, match=told):
        load_setlist(written(tmp_path, f'limit = "{limit}"\n[[song]]\nsong = "frost.flac"\n'))


def test_what_pages_do_not_hold_may_be_told_in_one_text(tmp_path: Path) -> None:
    setlist = load_setlist(written(tmp_path, 'without = "wiring, cues"\n[[song]]\nsong = "frost.flac"\n'))
    assert setlist.file.without == ("wiring", "cues")
