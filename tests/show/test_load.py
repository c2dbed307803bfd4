"""Show files that can be read, and the wording and places of what is wrong in those that cannot."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.errors import ShowError
from eavesong.language import Effect, parse_effect
from eavesong.show import Show, grid_of, load_show

Read = Callable[[str], Show]


def said(read: Read, text: str) -> list[str]:
    """What reading a broken show says: place, what was found and advice, in order."""
    with pytest.raises(ShowError, match=r"test\.show\.toml") as raised:
        read(text)
    return [f"{problem.place}: {problem.found} | {problem.instead}" for problem in raised.value.problems]


def test_a_short_show(read: Read) -> None:
    show = read('[[cue]]\neffect = "wash"\n')
    assert show.title == "test"  # the file's name, where it has no title
    assert [cue.effect for cue in show.cues] == ["wash"]
    assert show.called(0) == "cue 1 (wash)"


def test_paths_count_from_the_show_file(read: Read, tmp_path: Path) -> None:
    show = read('title = "Bells"\nsong = "music/bells.flac"\nbeats = "bells.beats"\n')
    assert show.song == tmp_path / "music" / "bells.flac"
    assert show.beats == tmp_path / "bells.beats"
    assert show.sections is None


def test_palettes_by_name_inline_and_none(read: Read) -> None:
    show = read(
        """
        [palettes]
        ember = ["black", "white"]
        [[cue]]
        effect = "wash"
        palette = "ember"
        [[cue]]
        effect = "wash"
        palette = ["black", "white", { colour = "black", at = 0.5 }]
        [[cue]]
        effect = "wash"
        palette = "paintbox"
        [[cue]]
        effect = "wash"
        """
    )
    own, inline, built_in, none = (show.palette_of(cue) for cue in show.cues)
    assert own == ((0, (0, 0, 0)), (1, (1, 1, 1)))  # a show's own palette comes before the built-in one
    assert [place for place, _ in inline] == [0, 0.25, 0.5]
    assert len(built_in) == 6
    assert none[0][1][0] == 1  # warm white


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('effect = "waxh"', "line 2, cue 1, effect: no effect is called 'waxh' | Did you mean 'wash'?"),
        ('effect = "sparkle"', "line 2, cue 1, effect: no effect is called 'sparkle' | Known effects: glow, wash."),
        ('effect = "a | b"', "line 2, cue 1, effect: no effect is called 'a | b' | Known effects: glow, wash."),
        ('effect = "own.toml"', "line 2, cue 1, effect: there is no effect file 'own.toml' | "),
        ("", "line 1, cue 1: 'effect' is missing | Add a line 'effect = …'."),
        (
            'effect = "wash"\nparameters = { beat = 4 }',
            "line 3, cue 1, parameters, beat: the effect 'wash' has no parameter 'beat' | Did you mean 'beats'?",
        ),
        (
            'effect = "wash"\nparameters = { beats = 100 }',
            "line 3, cue 1, parameters, beats: 100 is above the most, 64 | Write a number from 0.25 up to 64 beats.",
        ),
        (
            'effect = "wash"\n[cue.parameters]\nbeats = 0',
            "line 4, cue 1, parameters, beats: 0 is below the least, 0.25 | Write a number from 0.25 up to 64 beats.",
        ),
        (
            'effect = "glow"\nparameters = { tint = 3 }',
            "line 3, cue 1, parameters, tint: 'tint' is a colour | Write a colour.",
        ),
        (
            'effect = "glow"\nparameters = { tint = "god" }',
            "line 3, cue 1, parameters, tint: no colour is called 'god' | Did you mean 'gold'?",
        ),
        (
            'effect = "wash"\npalette = "paintbix"',
            "line 3, cue 1, palette: no palette is called 'paintbix' | Did you mean 'paintbox'?",
        ),
        (
            'effect = "wash"\non = "roofline \'tree\'"',
            "line 3, cue 1, on: column 10: 'tree' follows without 'and' or 'or'",
        ),
        (
            'effect = "wash"\nbars = [4, 4]',
            "line 3, cue 1, bars 1: [4, 4] has no length: the end is not part of it | Write [4, 5].",
        ),
        ('effect = "wash"\nbars = [9, 1]', "line 3, cue 1, bars 1: [9, 1] ends before it starts | Write [1, 9]."),
        (
            'effect = "wash"\nbars = [[1, 5], [4, 8]]',
            "line 3, cue 1, bars: [1, 5] and [4, 8] overlap | Join them to [1, 8], or write two cues.",
        ),
        (
            'effect = "wash"\nbars = [1, 5]\nbeats = [1, 5]',
            "line 1, cue 1: a cue has 'bars' and 'beats' | Keep one of them, or write two cues.",
        ),
        (
            'effect = "wash"\nbars = [1, 5]\nkinds = "high"',
            "line 1, cue 1: a cue has 'bars' and 'kinds' | Keep one of them, or write two cues.",
        ),
        (
            'effect = "wash"\nkinds = ["hihg"]',
            "line 3, cue 1, kinds 1: no kind of section is called 'hihg' | Did you mean 'high'?",
        ),
        (
            'effect = "wash"\nkinds = "loud"',
            "line 3, cue 1, kinds: no kind of section is called 'loud' | Known kinds: break, build, end, high, quiet",
        ),
        (
            'effect = "wash"\nkinds = "high"\nevery = 4',
            "line 1, cue 1: 'every' has no 'bars', 'beats' or 'times' to repeat",
        ),
        (
            'effect = "wash"\nevery = 4',
            "line 1, cue 1: 'every' has no 'bars', 'beats' or 'times' to repeat | Add, for instance, 'bars = [1, 2]'.",
        ),
        (
            'effect = "wash"\nbars = [1, 5]\nevery = 2',
            "line 1, cue 1: 'every' is shorter than what it repeats | Write every = 4, or more.",
        ),
        (
            'effect = "wash"\nopactiy = 1',
            "line 3, cue 1, opactiy: 'opactiy' is not a key here | Did you mean 'opacity'?",
        ),
        (
            'effect = "wash"\nblend = "multiplied"',
            "line 3, cue 1, blend: no blend is called 'multiplied'",
        ),
        (
            'effect = "wash"\nfade_in = { beats = 1, bars = 2 }',
            "line 3, cue 1, fade_in: a fade has one length, in 'beats', 'bars' or 'seconds' | Write { beats = 2 }.",
        ),
        (
            'effect = "wash"\nfade_in = { beats = 1, easing = "ease-im" }',
            "line 3, cue 1, fade_in, easing: no easing is called 'ease-im'",
        ),
        ('effect = "wash"\nwithin = [0, 1]', "line 3, cue 1, within: this is not a table"),
        (
            'effect = "wash"\nwithin = { x = [0, 5.5] }',
            "line 3, cue 1, within, x: [0, 5.5] reaches beyond the house, which goes from 0 to 1",
        ),
        (
            'effect = "wash"\nwithin = { y = [0, 50] }',
            "line 3, cue 1, within, y: [0, 50] reaches beyond the house, which goes "
            "from 0 to 1 | Write shares of the house, not lengths: [0, 0.5] where they are percent, or",
        ),
        (
            'effect = "wash"\nwithin = { z = [-0.5, 0.5] }',
            "line 3, cue 1, within, z: [-0.5, 0.5] reaches beyond the house, which goes from 0 to 1 | Write "
            "shares of the house, not lengths: [0, 0.5], or",
        ),
        ('effect = "wash"\non = []', "line 3, cue 1, on: this is neither a text nor a list of texts"),
    ],
)
def test_one_mistake(read: Read, text: str, problem: str) -> None:
    (only,) = said(read, f"[[cue]]\n{text}\n")
    assert re.sub(r" \(found [^)]*\)", "", only).startswith(problem)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('titel = "x"', "line 1, titel: 'titel' is not a key here | Did you mean 'title'?"),
        ('[cue]\neffect = "wash"', "line 1, cue: 'cue' is a single table | Write [[cue]], in double brackets, above"),
        ("[palettes]\ndusk = []", "line 2, palettes, dusk: a palette needs at least one colour | Add a colour, like"),
        ('[palettes]\ndusk = ["#12"]', "line 2, palettes, dusk 1: '#12' is not a hex colour"),
        ("[[cue]\n", "line 1, column 6: is not TOML"),
    ],
)
def test_one_mistake_outside_the_cues(read: Read, text: str, problem: str) -> None:
    (only,) = said(read, text)
    assert only.startswith(problem)


def test_all_mistakes_of_a_file_at_once_in_its_order(read: Read) -> None:
    problems = said(
        read,
        """
        titel = "Five mistakes"
        [[cue]]
        effect = "waxh"
        on = "roofline and"
        [[cue]]
        effect = "wash"
        palette = "paintbix"
        bars = [3, 3]
        """,
    )
    assert [problem.partition(" | ")[0].partition(" (found")[0] for problem in problems] == [
        "line 2, titel: 'titel' is not a key here",
        "line 4, cue 1, effect: no effect is called 'waxh'",
        "line 5, cue 1, on: column 13: a tag or a name is missing before the end",
        "line 8, cue 2, palette: no palette is called 'paintbix'",
        "line 9, cue 2, bars 1: [3, 3] has no length: the end is not part of it",
    ]


def test_two_kinds_of_span_are_seen_beside_another_mistake_in_the_same_cue(read: Read) -> None:
    problems = said(read, '[[cue]]\neffect = "wash"\nopacity = 2\nbars = [1, 2]\ntimes = [1, 2]\n')
    assert [problem.partition(":")[0] for problem in problems] == ["line 1, cue 1", "line 3, cue 1, opacity"]


def test_what_is_wrong_in_an_effect_file_is_told_with_the_rest(tmp_path: Path) -> None:
    def load(name: str, beside: Path) -> Effect:
        return parse_effect((beside / name).read_text(), name, str(beside / name))

    broken = 'title = "Own"\nabout = "Broken."\ncode = """\nlevel = missing\ncolour = rgb(1, 0, 0)\n"""\n'
    (tmp_path / "own.toml").write_text(broken)
    path = tmp_path / "test.show.toml"
    path.write_text('[[cue]]\neffect = "own.toml"\nopacity = 2\n[[cue]]\neffect = "own.toml"\n')
    with pytest.raises(ShowError, match="missing") as raised:
        load_show(path, load=load, names=())
    assert [Path(problem.file).name for problem in raised.value.problems] == ["test.show.toml", "own.toml"]


def test_an_effect_outside_the_folder_of_the_show_is_refused(tmp_path: Path) -> None:
    (tmp_path / "shows").mkdir()
    (tmp_path / "own.toml").write_text("")
    path = tmp_path / "shows" / "test.show.toml"
    path.write_text('[[cue]]\neffect = "../own.toml"\n')
    with pytest.raises(ShowError, match=r"line 2, cue 1, effect: this effect lies outside the show's folder"):
        load_show(path)


def test_a_show_that_is_not_there(tmp_path: Path) -> None:
    (tmp_path / "bells.show.toml").touch()
    with pytest.raises(ShowError, match=r"there is no such file\n +Did you mean 'bells.show.toml'\?"):
        load_show(tmp_path / "bell.show.toml")


def test_the_grid_needs_a_song_that_is_there(read: Read, tmp_path: Path) -> None:
    with pytest.raises(ShowError, match=r'the show names no song\n +Add a line like song = "song.flac" at the top'):
        grid_of(read('title = "x"'))
    (tmp_path / "bells.flac").touch()
    show = read('title = "x"\nsong = "bell.flac"\nbeats = "bells.txt"')
    with pytest.raises(ShowError, match=r"line 2, song: there is no file '.*bell.flac'\n +Did you mean 'bells.flac'\?"):
        grid_of(show)


@pytest.mark.parametrize(
    "key",
    ["parameters = {{ beats = {} }}", "bars = [1, {}]", "opacity = {}", "fade_in = {}", "within = {{ x = [0, {}] }}"],
)
@pytest.mark.parametrize("sign", ["", "-"])
def test_whole_numbers_too_large_for_calculations_are_refused(read: Read, key: str, sign: str) -> None:
    """Floats end at 1.8e308 (IEEE 754 double precision); whole numbers in Python do not."""
    (problem,) = said(read, f'[[cue]]\neffect = "wash"\n{key.format(sign + "1" + "0" * 400)}\n')
    assert problem.startswith("line 3, cue 1")


values = st.recursive(
    st.one_of(
        st.sampled_from(["true", "nan", "-inf", "0", "1e308", "-3", '"wash"', '"("', "[]", "{}", "1979-05-27", '""']),
        st.integers(-(2**63), 2**63 - 1).map(str),
        st.integers(-(10**400), 10**400).map(str),  # beyond TOML's 64 bits, which Python's reader takes
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda parts: f"[{', '.join(parts)}]"),
        st.lists(inner, max_size=2).map(
            lambda parts: "{" + ", ".join(f"{key} = {part}" for key, part in zip("xb", parts, strict=False)) + "}"
        ),
    ),
    max_leaves=6,
)
keys = st.sampled_from(
    ["effect", "name", "on", "within", "bars", "beats", "times", "sections", "every", "parameters", "palette", "blend",
     "opacity", "fade_in", "fade_out", "other"]
)  # fmt: skip
tables = st.dictionaries(keys, values, max_size=6).map(
    lambda table: "".join(f"{key} = {value}\n" for key, value in table.items())
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(
    st.dictionaries(st.sampled_from(["title", "song", "palettes", "cue"]), values, max_size=2).flatmap(
        lambda top: st.lists(tables, max_size=3).map(
            lambda cues: (
                "".join(f"{key} = {value}\n" for key, value in top.items()) + "".join(f"[[cue]]\n{c}" for c in cues)
            )
        )
    )
)
def test_any_toml_is_a_show_or_a_show_error(read: Read, text: str) -> None:
    try:
        read(text)
    except ShowError as fault:
        problems = fault.problems
    else:
        return
    assert all(problem.file and problem.found for problem in problems)


def test_one_colour_is_a_palette_of_its_own(read: Read) -> None:
    show = read(
        "".join(f'[[cue]]\neffect = "wash"\npalette = "{text}"\n' for text in ("red", "#ff0000", "rgb(255 0 0)"))
    )
    for cue in show.cues:  # CSS Color 4, 6.1: red is #ff0000
        assert {colour for _, colour in show.palette_of(cue)} == {(1.0, 0.0, 0.0)}


def test_a_palette_of_its_own_comes_before_the_colour_of_that_name(read: Read) -> None:
    show = read('[palettes]\nred = ["blue"]\n[[cue]]\neffect = "wash"\npalette = "red"\n')
    assert {colour for _, colour in show.palette_of(show.cues[0])} == {(0.0, 0.0, 1.0)}


def test_colours_in_one_string_are_told_as_a_list(read: Read) -> None:
    (told,) = said(read, '[[cue]]\neffect = "wash"\npalette = "red, white"\n')
    assert told.endswith('| Write a list: ["red", "white"].')


def test_a_colour_that_is_misspelt_is_told_as_one(read: Read) -> None:
    (told,) = said(read, '[[cue]]\neffect = "wash"\npalette = "cremson"\n')
    assert told == "line 3, cue 1, palette: no palette is called 'cremson' | Did you mean the colour 'crimson'?"


def test_times_may_be_written_as_on_a_clock(read: Read) -> None:
    texts = ('["0:10", "1:02.5"]', '[["0:10", 62.5]]', '[10, "0:01:02.50"]')
    cues = read("".join(f'[[cue]]\neffect = "wash"\ntimes = {text}\n' for text in texts)).cues
    assert [cue.times for cue in cues] == [((10.0, 62.5),)] * 3


def test_what_is_no_time_is_told(read: Read) -> None:
    (told,) = said(read, '[[cue]]\neffect = "wash"\ntimes = ["soon", 3]\n')
    assert told.startswith("line 3, cue 1, times: 'soon' is no time of a song")
    assert told.endswith("| Write seconds, 62.5, or minutes too, '1:02.5'.")


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ("turn = 2", "'turn' has no 'sections' or 'kinds' to count"),
        ('bars = [1, 2]\nturn = "last"', "'turn' has no 'sections' or 'kinds' to count"),
        ('kinds = "high"\nturn = "lats"', "turn: this is no turn"),
        ('kinds = "high"\nturn = 0', "turn: this is no turn"),
        ('kinds = "high"\nturn = []', "turn: there is no turn in it"),
    ],
)
def test_turns_that_are_none_are_told(read: Read, keys: str, told: str) -> None:
    assert any(told in line for line in said(read, f'[[cue]]\neffect = "wash"\n{keys}\n'))


def test_what_darkens_stays_dark_on_a_house_that_wishes_all_in_one_colour(read: Read) -> None:
    show = read("[[cue]]\neffect = 'wash'\npalette = 'black'\n[[cue]]\neffect = 'wash'\npalette = 'red'\n")
    gold = ((None, (1.0, 0.8, 0.0)),)
    black, red = ({colour for _, colour in show.palette_of(cue, {"all": gold})} for cue in show.cues)
    assert (black, red) == ({(0.0, 0.0, 0.0)}, {(1.0, 0.8, 0.0)})
    (wished,) = {colour for _, colour in show.palette_of(show.cues[0], {"black": gold})}
    assert wished == (1.0, 0.8, 0.0)


def test_only_songs_are_offered_for_a_missing_song(tmp_path):
    for name in ("season.report.json", "first.pack.zip", "pages", "bells.flac"):
        (tmp_path / name).mkdir() if name == "pages" else (tmp_path / name).touch()
    (tmp_path / "a.show.toml").write_text('song = "snow.mp3"\n[[cue]]\neffect = "plain"\n')
    with pytest.raises(ShowError, match=r"there is no file '.*snow.mp3'\n    Known songs: bells.flac\."):
        grid_of(load_show(tmp_path / "a.show.toml"), None)
