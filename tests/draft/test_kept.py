"""Cues that stay: their own text, their colours, their place."""

import re
import tomllib
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.draft import Taste, draft
from eavesong.draft.kept import Kept, asked_before, asked_in, head_of, kept_cues
from eavesong.draft.text import ASKED
from eavesong.errors import ShowError
from eavesong.show import load_show

SHOW = """
[palettes]
dawn = ["#102040", { colour = "gold", at = 0.7 }]

# --- a heading ---

# mine, and it stays
[[cue]]
name = "Slow roof"   # with a remark
effect = "swell"
on = "roofline"
bars = [9, 17]
palette = "dawn"
keep = true

# theirs
[[cue]]
effect = "plain"

[[cue]]
effect = "knock"
keep = true
"""


def test_the_text_of_a_cue_stays_as_it_is_written(tmp_path):
    path = tmp_path / "old.show.toml"
    path.write_text(SHOW)
    first, second = kept_cues(path)
    assert first.lines[0] == "# mine, and it stays"
    assert first.lines[2] == 'name = "Slow roof"   # with a remark'
    assert 'palette = "dawn"' in first.lines
    assert first.beside({"a": '["red"]'}) == first
    assert 'palette = ["#102040", { colour = "gold", at = 0.7 }]' in first.beside({"dawn": '["red"]'}).lines
    assert (first.name, first.bar) == ("Slow roof", 9)
    assert second.lines == ("[[cue]]", 'effect = "knock"', "keep = true")
    assert (second.name, second.bar) == ("", None)


@pytest.mark.parametrize("key", ["palette", "  palette", '"palette"', "'palette' "])
@pytest.mark.parametrize("name", ['"dawn"', "'dawn'", '"""dawn"""', '"d\\u0061wn"'])
def test_colours_are_written_out_however_their_name_is_written(tmp_path, key, name):
    path = tmp_path / "old.show.toml"
    path.write_text(SHOW.replace('palette = "dawn"', f"{key} = {name}"))
    kept = kept_cues(path)[0].beside({"dawn": '["red"]'})
    (cue,) = tomllib.loads("\n".join(kept.lines))["cue"]
    assert cue["palette"] == ["#102040", {"colour": "gold", "at": 0.7}]


def test_a_palette_called_like_one_that_comes_with_eavesong_is_written_out(tmp_path):
    """The draft means that one."""
    path = tmp_path / "old.show.toml"
    path.write_text(SHOW.replace("dawn", "warm white").replace("\nwarm white =", '\n"warm white" ='))
    assert 'palette = ["#102040", { colour = "gold", at = 0.7 }]' in kept_cues(path)[0].beside({}).lines


def test_what_no_draft_knows_of_a_show_stays_in_its_head(tmp_path):
    path = tmp_path / "old.show.toml"
    path.write_text(
        'title = "Mine"\nlicence = "CC0"  # all of it\ncredits = ["one",\n  "two"]\n\n# flashes\nallow_flashes = true\n'
        + SHOW
    )
    title, lines = head_of(load_show(path))
    assert title == "Mine"
    assert lines == ('licence = "CC0"  # all of it', 'credits = ["one",', '  "two"]', "allow_flashes = true")
    path.write_text(SHOW)
    assert head_of(load_show(path)) == ("old", ())


@given(st.lists(st.text(min_size=1)), st.none() | st.floats(0, 1), st.none() | st.integers(0, 2**31))
def test_how_a_draft_was_asked_for_is_read_from_its_text(palettes, calm, seed):
    told = asked_in(palettes, calm, seed)
    if "\n" not in told and "\r" not in told:  # no command line has one in a palette that is a palette
        head = 'licence = "CC0"\n\ncredits = ["one"]\n# Drafted'  # people write above it what is theirs
        before = asked_before(SimpleNamespace(text=f"{head}\n{ASKED}{told}\n\n{SHOW}"))
        assert before.get("palettes", ()) == tuple(palettes)
        assert before.get("seed") == seed
        assert before.get("calm") == (None if calm is None else pytest.approx(calm, rel=1e-4))


def test_a_line_that_was_changed_by_hand_asks_for_nothing():
    for told in ("--calm much", "--calm", "'--calm 0.3", ""):
        assert asked_before(SimpleNamespace(text=f"# Drafted\n{ASKED}{told}\n")) == {}


def test_a_show_that_cannot_be_read_says_why(tmp_path):
    path = tmp_path / "old.show.toml"
    path.write_text('[[cue]]\neffect = "swel"\nkeep = true\n')
    with pytest.raises(ShowError, match="Did you mean 'swell'"):
        kept_cues(path)


def names_in(text):
    return [cue["name"] for cue in tomllib.loads(text)["cue"]]


def again(text, folder, form, house, seed=1):
    path = folder / "old.show.toml"
    path.write_text(text)
    return names_in(draft(form, house, Taste(seed=seed, keep=kept_cues(path)), "Song", "song.ogg"))


def test_a_kept_cue_wears_its_palette_by_name_as_long_as_that_is_the_same(song, house, tmp_path):
    """A house that has another in place of it goes on to have it. Where the draft calls other colours so, they are
    written out."""
    own = '\n[palettes]\n"star gold" = ["gold", "white"]\n'
    mine = '\n[[cue]]\nname = "{0}"\neffect = "swell"\npalette = "{0}"\nkeep = true\n'
    path = tmp_path / "old.show.toml"

    def drafted(text, seed=1):
        """The palettes of a draft around the cues that this show keeps, and what those wear."""
        path.write_text(text)
        told = tomllib.loads(draft(song, house, Taste(seed=seed, keep=kept_cues(path)), "Song", "song.ogg"))
        return told["palettes"], {cue["name"]: cue["palette"] for cue in told["cue"] if cue.get("keep")}

    before = draft(song, house, Taste(), "Song", "song.ogg")
    colours = tomllib.loads(before)["palettes"]
    some = sorted(colours)[0]
    mixed = before.replace("\n[palettes]\n", own) + mine.format("star gold") + mine.format(some)
    palettes, worn = drafted(mixed)
    assert palettes["star gold"] == ["gold", "white"]
    assert worn == {"star gold": "star gold", some: some}
    assert palettes == colours | {"star gold": ["gold", "white"]}
    palettes, worn = drafted(mixed.replace(f"{some} = [", f'{some} = ["lime", '))
    assert worn[some] == ["lime", *colours[some]]
    assert palettes[some] == colours[some]
    other = own.replace('["gold", "white"]', '"holly"')
    palettes, worn = drafted(before.replace("\n[palettes]\n", other) + mine.format("star gold"))
    assert (palettes["star gold"], worn["star gold"]) == ("holly", "star gold")


def test_what_palettes_were_made_from_is_known_however_often_a_show_is_drafted(song, house, tmp_path):
    """Of letters that kept cues wear, and of a palette that the draft has no other of."""
    path, taste = tmp_path / "old.show.toml", Taste(palettes=(("red", "lime"),), called=("holly",))
    text = draft(song, house, taste, "Song", "song.ogg")
    first = tomllib.loads(text)["palettes_from"]
    assert first["holly"][0] == "a"
    kept = '\n[[cue]]\nname = "{0}"\neffect = "swell"\npalette = "{0}"\nkeep = true\n'
    text = text.replace("[palettes]\n", '[palettes]\nmine = ["lime"]\n').replace(
        'holly = ["a",', 'holly = ["mine", "a",'
    )
    path.write_text(text + kept.format("a") + kept.format("mine"))
    for _ in range(2):
        path.write_text(draft(song, house, replace(taste, keep=kept_cues(path)), "Song", "song.ogg"))
    assert tomllib.loads(path.read_text())["palettes_from"] == {"holly": [*first["holly"], "mine"]}


@pytest.mark.parametrize("seed", [1, 7])
def test_a_kept_cue_stays_above_what_it_was_above(song, house, tmp_path, seed):
    """Cues are papers on a table: at the very end is on top of what dims the house, whatever bars it has."""
    text = draft(song, house, Taste(), "Song", "song.ogg")
    mine = '\n[[cue]]\nname = "Mine"\neffect = "plain"\nbars = [9, 12]\nkeep = true\n'
    assert again(text + mine, tmp_path, song, house, seed)[-1] == "Mine"
    headings = [line for line in text.split("\n") if line.startswith("# --- ")]
    found = again(text.replace(headings[-2], f"{mine}\n{headings[-2]}"), tmp_path, song, house, seed)
    assert found.index("Mine") < next(at for at, name in enumerate(found) if name.startswith("Dimmed"))
    assert again(text.replace(headings[0], headings[0] + mine), tmp_path, song, house, seed)[0] == "Mine"


@pytest.mark.parametrize("headings", [True, False])
def test_a_kept_cue_at_the_bottom_stays_there(song, house, tmp_path, headings):
    """Before all headings, or the first of a show without any, it lay below everything."""
    text = draft(song, house, Taste(), "Song", "song.ogg")
    mine = '\n[[cue]]\nname = "Mine"\neffect = "plain"\nopacity = 0.4\nkeep = true\n'
    first = text.index("# --- ")
    text = text[:first] + mine + "\n" + text[first:]
    if not headings:
        text = "\n".join(line for line in text.split("\n") if not line.startswith("# --- "))
    assert again(text, tmp_path, song, house)[0] == "Mine"


def test_a_kept_cue_lies_over_all_that_it_was_over_in_whatever_order_they_come():
    kept = Kept("Mine", ("mine",), None, under="over all of it", below=("low", "middle", "high"))
    blocks = [(name, [name]) for name in ("high", "new", "low", "newer")]
    kept.placed(blocks)
    assert [name for name, _ in blocks] == ["high", "new", "low", "Mine", "newer"]


ON = ('on = "arch or cane"',)


@pytest.mark.parametrize(
    ("below", "above", "order"),
    [
        (("low",), (), ["low", "roof", "newer", "Mine", "veil"]),  # the veil is on other props
        (("low",), ("veil",), ["low", "roof", "newer", "Mine", "veil"]),
        (("low",), ("newer",), ["low", "Mine", "roof", "newer", "veil"]),  # it was painted over it before
        (("gone",), ("veil",), ["low", "roof", "newer", "Mine", "veil"]),
        (("gone",), (), ["low", "roof", "newer", "veil", "Mine"]),
    ],
)
def test_nothing_new_on_its_props_is_painted_over_a_kept_cue(below, above, order):
    """What was painted over it before may be."""
    kept = Kept("Mine", ON, 9, under="C, high: bars 9 to 17", below=below, above=above)
    on = {"low": "all", "roof": "eaves", "newer": "arch or cane or path", "veil": "tree"}
    blocks = [(name, [f'on = "{on[name]}"']) for name in on]
    kept.placed(blocks)
    assert [name for name, _ in blocks] == order


def test_a_kept_cue_takes_the_place_of_one_of_its_name_whatever_its_capitals():
    blocks = [("Finale: trees", ["new"])]
    assert Kept("FINALE: trees", ("mine",), 9).put_in_place(blocks)
    assert blocks == [("FINALE: trees", ["mine"])]


def test_of_cues_of_one_name_one_stays_in_place_of_one():
    """Drafts call some alike; what is kept of them takes no other one's bars."""
    drafted = [("strokes", ["bars = [1, 5]"]), ("strokes", ["bars = [9, 13]"]), ("strokes", ["bars = [21, 25]"])]
    blocks = list(drafted)
    kept = Kept("strokes", ("bars = [9,13]", "keep = true"), 9)
    assert kept.put_in_place(blocks)
    assert blocks == [drafted[0], ("strokes", ["bars = [9,13]", "keep = true"]), drafted[2]]
    other = Kept("strokes", ("bars = [40, 41]", "keep = true"), 40)
    assert other.put_in_place(blocks)  # of no drafted one's bars: the first gives way, never one that stays
    assert [lines[0] for _, lines in blocks] == ["bars = [40, 41]", "bars = [9,13]", "bars = [21, 25]"]
    assert not Kept("else", ("keep = true",), None).put_in_place(blocks)


@pytest.mark.parametrize(("bars", "over"), [("[19, 23]", True), ("[[3, 5], [25, 27]]", True), ("[23, 27]", False)])
def test_a_kept_cue_is_over_what_is_new_of_its_name_while_it_is_lit(bars, over):
    """Its own bars may be some in which the draft varies what the part does by now."""
    mine = ("[[cue]]", 'name = "B: ground"', "keep = true", "bars = [[3, 7], [19, 23]]")
    other = ("B: ground, the other way round", ["[[cue]]", f"bars = {bars}"])
    blocks = [("B: roof", ["[[cue]]"]), ("B: ground", ["[[cue]]", "bars = [3, 7]"]), other, ("B: trees", ["[[cue]]"])]
    assert Kept("B: ground", mine, 3).put_in_place(blocks)
    order = ["B: ground, the other way round", "B: ground"] if over else ["B: ground", "B: ground, the other way round"]
    assert [name for name, _ in blocks] == ["B: roof", *order, "B: trees"]


def test_a_kept_cue_by_sections_is_over_what_is_new_of_its_name():
    """It may be lit at any time, for all that its bars say."""
    mine = ("[[cue]]", 'name = "B: ground"', "keep = true", 'sections = "B"')
    blocks = [("B: ground", ["[[cue]]", "bars = [3, 7]"]), ("B: ground, then", ["[[cue]]", "bars = [7, 11]"])]
    assert Kept("B: ground", mine, None).put_in_place(blocks)
    assert [name for name, _ in blocks] == ["B: ground, then", "B: ground"]


def test_a_kept_cue_between_two_of_one_name_stays_between_them():
    kept = Kept("Mine", ("mine",), None, under="C", below=("trees", "roof"))
    blocks = [(name, [name]) for name in ("trees", "roof", "trees", "roof")]
    kept.placed(blocks)
    assert [name for name, _ in blocks] == ["trees", "roof", "Mine", "trees", "roof"]


def test_in_the_same_draft_everything_keeps_its_place(song, house, tmp_path):
    """Over any cue, in a part or not, with bars or without: it is over the same cue again."""
    text = draft(song, house, Taste(), "Song", "song.ogg")
    rows = text.split("\n")
    for at, name in list(enumerate(names_in(text)))[::6]:
        line = rows.index(f'name = "{name}"')
        end = next(number for number in range(line, len(rows)) if not rows[number])
        mine = ["", "[[cue]]", 'name = "Mine"', 'effect = "plain"', 'kinds = "high"', "keep = true"]
        found = again("\n".join([*rows[:end], *mine, *rows[end:]]), tmp_path, song, house)
        assert found[found.index("Mine") - 1] == name, at


def test_a_cue_below_the_next_parts_heading_stays_over_the_part_of_its_bars(song, house, tmp_path):
    """Painted over all of that part's cues, it was seen; among the next part's it would be, too."""
    text = draft(song, house, Taste(), "Song", "song.ogg")
    parts = [line for line in text.split("\n") if re.search(r": bars \d+ to \d+", line)]
    first, end = map(int, re.search(r": bars (\d+) to (\d+)", parts[0]).groups())
    mine = f'\n[[cue]]\nname = "Mine"\neffect = "plain"\nbars = [{first + 1}, {end}]\nkeep = true\n'
    path = tmp_path / "old.show.toml"
    path.write_text(text.replace(parts[1], parts[1] + mine))
    anew = draft(song, house, Taste(keep=kept_cues(path)), "Song", "song.ogg")
    inside = anew[anew.index(parts[0]) : anew.index(parts[1])]
    assert names_in(inside)[-1] == "Mine"


def test_a_cue_of_no_part_keeps_its_place_however_often_it_is_drafted(song, house, tmp_path):
    text = draft(song, house, Taste(), "Song", "song.ogg")
    part = next(line for line in text.split("\n") if re.search(r": bars \d+ to \d+", line))
    mine = '\n[[cue]]\nname = "Mine"\neffect = "plain"\nbars = [900, 901]\nkeep = true\n'
    path, places = tmp_path / "old.show.toml", []
    path.write_text(text.replace(part, part + mine))
    for _ in range(3):
        path.write_text(draft(song, house, Taste(keep=kept_cues(path)), "Song", "song.ogg"))
        places.append(names_in(path.read_text()).index("Mine"))
    assert len({*places}) == 1
    assert places[0] < len(names_in(path.read_text())) - 1
