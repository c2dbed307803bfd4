"""What a house wishes is kept whatever show is put on it, and told where it counts."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from eavesong.check import check, report_text
from eavesong.colours import as_bright, parse_colour, spread
from eavesong.engines import draw
from eavesong.errors import ShowError
from eavesong.layout import Layout, load_layout
from eavesong.music import BeatGrid
from eavesong.palettes import named_palette
from eavesong.scene import set_scene
from eavesong.show import Show

SHOW = """
[[cue]]
effect = "wash"
palette = "holly"
[[cue]]
effect = "wash"
palette = ["red", "white"]
on = "path"
[[cue]]
effect = "glow"
on = ["pond", "tree"]
"""

Wish = Callable[[str], Layout]


@pytest.fixture
def wish(house_text: str, tmp_path: Path) -> Wish:
    """Makes the test house with wishes."""

    def make(wishes: str) -> Layout:
        path = tmp_path / "house.toml"
        path.write_text(wishes + house_text if wishes.startswith("unlit") else house_text + wishes)
        return load_layout(path)

    return make


def test_a_palette_is_replaced_where_a_cue_names_it(read: Callable[[str], Show], wish: Wish, grid: BeatGrid) -> None:
    first, second, third = set_scene(read(SHOW), wish('[palettes]\nholly = "warm white"\n'), grid).cues
    assert first.palette == spread(named_palette("warm white"))
    assert [colour for _, colour in second.palette] == [parse_colour("red"), parse_colour("white")]
    assert third.palette == spread(named_palette("warm white"))  # the usual one


def test_all_replaces_what_has_no_line_of_its_own(read: Callable[[str], Show], wish: Wish, grid: BeatGrid) -> None:
    lines = '[palettes]\nall = "warm white"\nholly = "gold"\n'
    palettes = [cue.palette for cue in set_scene(read(SHOW), wish(lines), grid).cues]
    assert palettes[0] == spread([parse_colour("gold")])
    assert palettes[1] == palettes[2] == spread(named_palette("warm white"))


def test_a_colour_stands_in_place_of_whatever_is_of_a_hue(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """Red and dark red, not orange or white; of a palette that the house replaces nothing is asked."""
    palettes = "".join(
        f"[[cue]]\neffect = 'wash'\npalette = {palette}\n"
        for palette in ("['red', 'white', 'orange']", "'holly'", "'darkred'")
    )
    flame = "[[cue]]\neffect = 'glow'\nparameters = { tint = 'crimson' }\n"
    layout = wish('[palettes]\nholly = "red"\n[colours]\nred = "blue"\ngreen = "gold"\n')
    scene = set_scene(read(palettes + flame), layout, grid)
    listed, replaced, dark = ([colour for _, colour in cue.palette] for cue in scene.cues[:3])
    assert listed == [parse_colour("blue"), parse_colour("white"), parse_colour("orange")]
    assert replaced == [parse_colour("red")]
    assert dark == [pytest.approx((0.0, 0.0, max(parse_colour("darkred"))))]  # as dark as it was
    assert scene.cues[3].parameters["tint"][2] == pytest.approx(max(parse_colour("crimson")))
    told = "in place of what is red (cue 1 (wash), cue 3 (wash), cue 4 (glow)) or green, of which no palette or setting"
    assert f"colours of its own {told} of this show has any" in check(scene).wishes


def test_unlit_props_are_dark_and_all_others_as_before(
    read: Callable[[str], Show], wish: Wish, house: Layout, grid: BeatGrid
) -> None:
    before = draw(set_scene(read(SHOW), house, grid)).block(400, 3)
    now = draw(set_scene(read(SHOW), wish('unlit = "path"\n'), grid)).block(400, 3)
    dark = np.isin(house.pixels.prop, house.tagged("path")).repeat(3)
    assert not now[:, dark].any()
    assert before[:, dark].all(axis=0).any()
    np.testing.assert_array_equal(now[:, ~dark], before[:, ~dark])


def test_a_cue_on_what_is_unlit_takes_its_own_alternative_and_no_stand_in(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    show = read("[[cue]]\neffect = 'wash'\non = ['tree', 'path']\n[[cue]]\neffect = 'wash'\non = 'tree'\n")
    first, second = set_scene(show, wish('unlit = "tree"\n'), grid).cues
    assert (first.taken.text, first.taken.choice) == ("path", 1)
    assert (second.props, second.taken.choice) == ((), -1)


def test_wishes_are_told_and_what_is_dark_by_wish_is_no_finding(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    report = check(set_scene(read(SHOW), wish(['unlit = "tree"\n', 'palettes]\nholly = "warm white"\n'][0]), grid))
    assert report.wishes == ("unlit: old oak", "so nothing is lit by cue 3 (glow)")
    assert report.findings == ()
    assert report.dark_props == ()
    assert "\nwishes unlit: old oak; so nothing is lit by cue 3 (glow)\n" in report_text(report)
    assert "Every other prop is lit" in report_text(report)
    colours = check(set_scene(read(SHOW), wish('[palettes]\nholly = "gold"\nember = "gold"\nall = "red"\n'), grid))
    assert colours.wishes == (
        "colours of its own in place of holly", "colours of its own in place of all others",
        "colours in place of 'ember', which no cue of this show asks for",
    )  # fmt: skip


def test_a_wish_goes_by_the_name_however_it_is_written_and_not_for_lists(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    layout = wish('[palettes]\nred = "gold"\nholly = "lime"\n')
    scene = set_scene(read(SHOW.replace('"holly"', '"Red"')), layout, grid)
    assert scene.cues[0].palette == spread(layout.palettes["red"])
    assert check(scene).wishes == (
        "colours of its own in place of Red", "lists of colours stay as they are written: cue 2 (wash)",
        "colours in place of 'holly', which no cue of this show asks for",
    )  # fmt: skip


def test_a_wish_holds_for_a_palette_that_the_show_gives_a_name_of_its_own(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """Who wants no holly wants none under the name of 'roof'; and what is wished in place of that comes first."""
    show = read(SHOW.replace('"holly"', '"roof"').replace("[[cue]]", '[palettes]\nroof = "holly"\n[[cue]]', 1))
    layout = wish('[palettes]\nholly = "lime"\n')
    scene = set_scene(show, layout, grid)
    assert scene.cues[0].palette == spread(layout.palettes["holly"])
    assert check(scene).wishes[0] == "colours of its own in place of roof, which is holly"
    assert not any("no cue of this show asks for" in told for told in check(scene).wishes)
    nearer = wish('[palettes]\nholly = "lime"\nroof = "gold"\n')
    assert set_scene(show, nearer, grid).cues[0].palette == spread(nearer.palettes["roof"])


def test_a_wish_holds_for_palettes_that_were_made_from_the_one_it_is_about(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """As drafts make them, and as bright as those at most; for a setting of one of their colours, too. What lights up
    others in theirs stays."""
    cues = (
        "palette = 'a'\n",
        "palette = 'b'\n",
        "palette = 'a'\nblend = 'color-dodge'\n",
    )
    text = "[palettes]\na = ['#12b83a', '#63d56d']\nb = 'gold'\n[palettes_from]\nholly = ['a']\n"
    text += "".join(f"[[cue]]\neffect = 'wash'\n{cue}" for cue in cues)
    text += "[[cue]]\neffect = 'glow'\nparameters = { tint = '#63d56d' }\n"
    text += "[[cue]]\neffect = 'glow'\nparameters = { tint = '#63d56e' }\n"
    layout = wish('[palettes]\nholly = ["navy", "skyblue"]\n')
    scene, plain = set_scene(read(text), layout, grid), set_scene(read(text), wish(""), grid)
    lights, theirs = ([light for _, light in cue.palette] for cue in (scene.cues[0], plain.cues[0]))
    assert lights == as_bright([parse_colour("navy"), parse_colour("skyblue")], theirs)
    assert np.max(lights) == pytest.approx(np.max(theirs))
    assert [now.palette for now in scene.cues[1:3]] == [was.palette for was in plain.cues[1:3]]
    sky = as_bright([parse_colour("skyblue")], [parse_colour("#63d56d")])
    assert [cue.parameters["tint"] for cue in scene.cues[3:]] == [*sky, parse_colour("#63d56e")]
    assert check(scene, palettes=()).weights == ()
    with pytest.raises(ShowError, match=r"line 5, palettes_from, .*has no 'aa'.*\n.*Did you mean 'a'"):
        read(text.replace("['a']", "['aa']"))


def test_palettes_of_one_origin_are_told_together(read: Callable[[str], Show], wish: Wish, grid: BeatGrid) -> None:
    names = "abcde"
    show = read(
        "[palettes]\n"
        + "".join(f"{name} = 'lime'\n" for name in names)
        + f"[palettes_from]\nholly = {[*names]}\n"
        + "".join(f"[[cue]]\neffect = 'wash'\npalette = '{name}'\n" for name in (*names, "frost"))
    )
    told = check(set_scene(show, wish('[palettes]\nholly = "navy"\nfrost = "navy"\n'), grid)).wishes
    assert told == ("colours of its own in place of a, b, c and 2 more, which are holly, frost",)


def test_a_mistyped_palette_is_a_finding_with_the_near_name(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    report = check(set_scene(read(SHOW), wish('[palettes]\nhollly = "warm white"\n'), grid))
    assert report.weights == ("wish",)
    assert "no palette is called 'hollly'" in report.findings[0].found
    assert report.findings[0].instead == "Did you mean 'holly'?"


def test_a_palette_that_no_show_for_the_house_asks_for_is_told_by_whoever_knows_them_all(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """A lesser finding: the wish may be for the shows of another year. One show alone cannot tell."""
    scene = set_scene(read(SHOW), wish('[palettes]\nholly = "gold"\nfrost = "gold"\n'), grid)
    report = check(scene, palettes=())
    assert report.weights == ("unmet",)
    assert report.findings[0].found.startswith("no show for it asks for 'frost'")
    assert check(scene, palettes=("frost",)).findings == check(scene).findings == ()


def test_settings_that_are_colours_become_those_of_the_house_that_are_most_like_them(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """The house's own one, another, and black, which is none: who wants no red wants none in a flame either."""
    cues = "".join(
        f"[[cue]]\nname = '{name}'\neffect = 'glow'\nparameters = {{ tint = {tint} }}\n"
        for name, tint in (("Ours", "'gold'"), ("Theirs", "'#ff4a00'"), ("On", "{ from = 'black', to = 'orangered' }"))
    )
    gold, black = parse_colour("gold"), (0.0, 0.0, 0.0)
    ours, theirs, on = (
        cue.parameters["tint"] for cue in set_scene(read(cues), wish('[palettes]\nall = ["gold", "navy"]\n'), grid).cues
    )
    assert (ours, theirs) == (gold, gold)
    assert (on.start, on.end) == (black, gold)
    (kept,) = {
        cue.parameters["tint"] for cue in set_scene(read(cues), wish('[palettes]\nholly = "gold"\n'), grid).cues[1:2]
    }
    assert kept == parse_colour("#ff4a00")


def test_what_stands_for_all_palettes_is_as_bright_as_they_are_at_most(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """A deep ground stays deep, and what is pale grows no paler."""
    cues = "".join(f"[[cue]]\neffect = 'wash'\npalette = ['{first}', 'black']\n" for first in ("navy", "white"))
    deep, full = set_scene(read(cues), wish('[palettes]\nall = ["gold", "lime"]\n'), grid).cues
    gold, lime = parse_colour("gold"), parse_colour("lime")
    assert [light for _, light in full.palette] == [gold, lime]
    assert np.array([light for _, light in deep.palette]) == pytest.approx(
        max(parse_colour("navy")) * np.array([gold, lime])
    )


def test_nothing_goes_dark_by_what_stands_for_all_palettes(
    read: Callable[[str], Show], wish: Wish, grid: BeatGrid
) -> None:
    """The first colour of 'candle' gives a twenty-fifth of the light of the others."""
    for candle in ('"candle"', '["#3a0f00", "#ff7a1a", "#ffc46b"]'):
        (cue,) = set_scene(
            read("[[cue]]\neffect = 'wash'\npalette = 'white'\n"), wish(f"[palettes]\nall = {candle}\n"), grid
        ).cues
        assert [light for _, light in cue.palette] == [parse_colour("#ff7a1a"), parse_colour("#ffc46b")]
