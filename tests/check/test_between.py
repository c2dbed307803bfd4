"""Hues between those that a house wishes, counted by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.check.between import Between, between_drawn, between_in, colour_like, faint_in, left_in
from eavesong.engines import draw
from eavesong.layout import Layout, load_layout
from eavesong.music import BeatGrid
from eavesong.scene import set_scene
from eavesong.show import Show

ADDED = """
[[cue]]
effect = "glow"
parameters = { tint = "red" }
[[cue]]
effect = "glow"
parameters = { tint = "lime" }
on = "path"
blend = "plus-lighter"
"""


@pytest.mark.parametrize(
    ("wishes", "share"),
    [
        ('all = ["red", "lime"]', 60 / 300),  # red and green light make yellow on the three arches
        ('all = ["red", "gold"]', 0.0),  # as much of a hue as yellow, but not between these
        ('all = "red"', 0.0),
        ('holly = ["red", "lime"]', 0.0),
        ('all = "red"\nholly = "lime"', 0.0),  # no cue asks for holly
    ],
)
def test_what_adds_up_to_a_third_hue_is_counted(
    read: Callable[[str], Show], house_text: str, tmp_path: Path, grid: BeatGrid, wishes: str, share: float
) -> None:
    path = tmp_path / "house.toml"
    path.write_text(f"{house_text}\n[palettes]\n{wishes}\n")
    scene = set_scene(read(ADDED), load_layout(path), grid)
    frames = draw(scene).block(0, 80)
    for told in (between_drawn(scene), between_in(scene, frames)):
        if not share:
            assert told == []
            continue
        (seen,) = told
        assert (seen.share, seen.colour) == (pytest.approx(share), "#ffff00")
        assert seen.prop.startswith("arch")
    told = [each for each in check(scene, drawn=True).findings if "hue between" in each.found]
    assert len(told) == bool(share)
    assert not share or told[0].found.startswith("20 % of what is lit shows a hue between #ff0000 and #00ff00")


MIXED = """
[[cue]]
effect = "wash"
palette = "holly"
"""


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ('["gold", "royalblue"]', "is a grey or white between #ffd700 and #4169e1, such as #"),
        ('["red", "white"]', "is paler than #ff0000 and no white, such as #"),
        ('["red", "lime"]', ""),  # their mixes have hues
        ('["red", "gold"]', ""),
        ('"red"', ""),
        ('["pink", "skyblue"]', ""),  # pale colours are wished
        ('"frost"', ""),  # a palette that comes along, and is made so
    ],
)
def test_what_comes_out_paler_than_the_colours_that_are_wished_is_told(
    read: Callable[[str], Show], house_text: str, tmp_path: Path, grid: BeatGrid, wishes: str, words: str
) -> None:
    """Mixed in OKLab: of two hues that lie opposite each other half of what lies between is as good as grey."""
    path = tmp_path / "house.toml"
    path.write_text(f"{house_text}\n[palettes]\nall = {wishes}\n")
    scene = set_scene(read(MIXED), load_layout(path), grid)
    pale = [each for each in between_drawn(scene) if each.pale is not None]
    assert len(pale) == bool(words)
    told = [each.found for each in check(scene, drawn=True).findings if "grey" in each.found or "paler" in each.found]
    assert len(told) == bool(words)
    if words:
        assert 0.2 < pale[0].share < 0.6
        assert words in told[0]


DIMMED = """
[[controller]]
name = "box"
address = "192.0.2.10"
[[controller.output]]
number = 1
chain = [{names}]
brightness = {brightness}
order = "{order}"
"""


@pytest.fixture
def dimmed(house_text: str, tmp_path: Path) -> Callable[..., Layout]:
    """Makes the test house, wired and dimmed, with wishes."""

    def make(brightness: float, wishes: str, order: str = "RGB") -> Layout:
        path = tmp_path / "house.toml"
        path.write_text(house_text)
        names = ", ".join(f'"{name}"' for name in dict.fromkeys(prop.member_of for prop in load_layout(path).props))
        path.write_text(house_text + DIMMED.format(names=names, brightness=brightness, order=order) + wishes)
        return load_layout(path)

    return make


@pytest.mark.parametrize(
    ("wishes", "brightness", "still"),
    [
        ('[colours]\nyellow = "blue"\n', 1, True),
        ('[colours]\nyellow = "blue"\n', 0.05, True),  # 13 of 255, and as yellow
        ('[colours]\nred = "blue"\n', 1, False),
        ('[colours]\nyellow = "gold"\n', 1, False),
        ('[palettes]\nall = "yellow"\n[colours]\nyellow = "blue"\n', 1, False),  # wished by the house itself
    ],
)
def test_a_hue_that_is_not_wanted_and_comes_all_the_same_is_told(
    read: Callable[[str], Show],
    dimmed: Callable[..., Layout],
    grid: BeatGrid,
    wishes: str,
    brightness: float,
    still: bool,
) -> None:
    """Yellow is in no palette here: red and green light add up to it. Gold is nearly yellow, and wished."""
    report = check(set_scene(read(ADDED), dimmed(brightness, wishes), grid), drawn=True)
    told = [each.found for each in report.findings if " all the same, " in each.found]
    assert len(told) == still
    assert not still or told[0].startswith("20 % of what is lit is yellow all the same, such as #ffff00 at")


@pytest.mark.parametrize(
    ("colour", "wishes", "close"),
    [
        ("#e95f87", 'red = "blue"', True),  # rose, of 5 degrees: red reaches to 10
        ("#e95f87", 'red = "blue"\npink = "gold"', False),  # somebody else's
        ("#e95f87", 'red = "hotpink"', True),
        ("#e95f87", 'red = "blue"\n"#e95f87" = "blue"', False),
        ("#259dfb", 'blue = "gold"', False),  # azure is blue
        ("orange", 'red = "blue"', False),  # far from it
        ("#edba75", 'orange = "blue"', True),  # candlelight
        ("#edba75", 'orange = "blue"\n"#edba75" = "blue"', False),
        ("#ffd6a1", 'orange = "blue"', False),  # white to everybody
        ("#edba75", 'red = "blue"', False),
        ("#ffa8a3", 'pink = "teal"', True),  # a pale red, of 23 degrees: pink reaches to 10
        ("#f0b5af", 'Pink = "teal"', True),
        ("#ffa8a3", 'pink = "teal"\nred = "blue"', False),
        ("#ffa8a3", 'violet = "teal"', False),
        ("tomato", 'pink = "teal"', False),
        ("#ffaa88", 'pink = "teal"', False),  # a pale orange
    ],
)
def test_a_hue_close_to_one_that_is_not_wanted_is_told(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, colour: str, wishes: str, close: bool
) -> None:
    show = read(f"[[cue]]\neffect = 'glow'\nparameters = {{ tint = '{colour}' }}\n")
    report = check(set_scene(show, dimmed(1, f"[colours]\n{wishes}\n"), grid), drawn=True)
    told = [f"{each.found}. {each.instead}" for each in report.findings if "stays as it is" in each.found]
    assert len(told) == close
    assert not close or told[0].startswith("100 % of what is lit is ")
    assert (
        not close
        or f", such as {colour} at 0:00 on " in told[0]
        or " does not count as " in told[0]
        or "a paler hue" in told[0]
    )
    assert not close or f'"{colour}" = "' in told[0]


@pytest.mark.parametrize(("seconds", "told"), [(4, 1), (0.3, 0)])
def test_a_small_prop_that_is_of_the_hue_all_over_is_told(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, seconds: float, told: int
) -> None:
    """Twenty pixels of three hundred, for an eighth of the song, are less than a fiftieth of what is lit."""
    text = ADDED.replace('on = "path"', f'on = "arch 1"\ntimes = [[0, {seconds}]]')
    scene = set_scene(read(text), dimmed(1, '[colours]\nyellow = "blue"\n'), grid)
    found = [each.found for each in check(scene, drawn=True).findings if "is yellow all the same" in each.found]
    assert len(found) == told
    assert not told or found[0].startswith("1 % of what is lit, and all of 'arch 1' at times, is yellow all the same")


def test_words_of_one_hue_count_what_is_lit_once(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid
) -> None:
    wishes = "".join(f'{word} = "lime"\n' for word in ("violet", "purple", "magenta"))
    show = read(ADDED.replace('"lime"', '"blue"'))
    report = check(set_scene(show, dimmed(1, f"[colours]\n{wishes}"), grid), drawn=True)
    (told,) = [each.found for each in report.findings if " all the same, " in each.found]
    assert told.startswith("20 % of what is lit is ")


@pytest.mark.parametrize(("tint", "line"), [("#00b400", False), ("#ff7a4a", True)])
def test_a_line_of_its_own_is_offered_to_a_colour_that_somebody_wrote(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, tint: str, line: bool
) -> None:
    """Red and a dark green make amber, which no line below [colours] reaches; orange that is written is reached."""
    written = f"[[cue]]\neffect = 'glow'\nparameters = {{ tint = '{tint}' }}\n"
    text, wishes = (written, 'orange = "blue"') if line else (ADDED.replace('"lime"', f'"{tint}"'), 'yellow = "blue"')
    report = check(set_scene(read(text), dimmed(1, f"[colours]\n{wishes}\n"), grid), drawn=True)
    (told,) = [each.instead for each in report.findings if "is close to" in each.found]
    assert ("give it a line of its own" in told) is line
    assert ("whatever comes, all = …" in told) is not line


@pytest.mark.parametrize(("asked", "told"), [("holly", 0), ("a", 0), ("b", 1)])
def test_what_the_house_itself_has_in_place_of_palettes_is_meant(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, asked: str, told: int
) -> None:
    """Also of a draft's palettes that were made of one that it replaces; #ff3d7f is 4 degrees from any red."""
    drafted = "[palettes_from]\nholly = ['a']\n[palettes]\na = ['red', 'red']\nb = ['#ff3d7f', '#ff3d7f']\n"
    show = read(f"{drafted}[[cue]]\neffect = 'wash'\npalette = '{asked}'\n")
    scene = set_scene(show, dimmed(1, '[palettes]\nholly = "#ff3d7f"\n[colours]\nred = "blue"\n'), grid)
    found = [each.found for each in check(scene, drawn=True).findings if "close to red" in each.found]
    assert len(found) == told


def test_a_line_is_offered_to_the_colour_beside_the_hue_that_others_mix_with(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid
) -> None:
    """Pink and gold mix to oranges: what is close to red is often none of the colours that are written."""
    show = read(
        "[[cue]]\neffect = 'wash'\npalette = ['#e95f87', 'gold', 'lime']\non = 'arch'\nbars = [[1, 3]]\n"
        "[[cue]]\neffect = 'glow'\nparameters = { tint = '#ff6347' }\non = 'path'\nbars = [[1, 3]]\n"
    )
    scene = set_scene(show, dimmed(1, '[colours]\nred = "blue"\n'), grid)
    here = scene.cues[0].spans[0].start, scene.layout.props[scene.cues[0].props[0]].name
    assert colour_like(scene, Between(0.1, "#ce9a7e", ("red", ""), *here)) == "#e95f87"
    assert colour_like(scene, Between(0.1, "#ffd701", ("red", ""), *here)) == "#ffd700"
    after = scene.cues[0].spans[0].end + 0.1, here[1]
    assert colour_like(scene, Between(0.1, "#ce9a7e", ("red", ""), *after)) == ""


@pytest.mark.parametrize("order", ["RGB", "WGRB"])
@pytest.mark.parametrize(
    ("brightness", "wishes", "opacity", "share"),
    [
        (0.3, '[palettes]\nall = "warm white"\n', 0.03, 1.0),
        (0.9, '[palettes]\nall = "warm white"\n', 0.03, 0.0),
        (0.9, '[palettes]\nall = "warm white"\n', 0.01, 1.0),  # too faint without being dimmed, too
        (1, '[palettes]\nall = "warm white"\n', 0.01, 1.0),
        (0.3, "", 0.03, 0.0),
    ],
)
def test_light_that_is_too_faint_for_its_colour_is_told_where_colours_are_wished(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, order: str, brightness: float,
    wishes: str, opacity: float, share: float,
) -> None:  # fmt: skip
    """Three hundredths of 0.3 are 2.3 of 255, of 0.9 they are 6.9."""
    show = read(f"[[cue]]\neffect = 'glow'\nopacity = {opacity}\n")
    scene = set_scene(show, dimmed(brightness, wishes, order), grid)
    frames = draw(scene).block(0, 80)
    seen = faint_in(scene, frames)
    assert (seen.share if seen else 0.0) == pytest.approx(share)
    assert seen is None or seen.dimmed == (brightness == 0.3)
    assert (f"dimmed to {100 * brightness:.0f} % of its bytes at most" in check(scene).wishes) == (brightness < 1)
    told = [each.found for each in check(scene, frames=frames).findings if "so faint that" in each.found]
    assert len(told) == bool(share)


@pytest.mark.parametrize("order", ["RGB", "GRB", "WGRB"])
@pytest.mark.parametrize(
    ("wishes", "colour", "opacity", "share"),
    [
        ('[colours]\nred = "gold"\n', "#6b4317", 0.03, 1.0),
        ('[colours]\nred = "gold"\n', "#6b4317", 0.3, 0.0),
        ('[colours]\nblue = "gold"\n', "#6b4317", 0.03, 0.0),
        ('[colours]\nred = "crimson"\n', "#6b4317", 0.03, 0.0),  # red is wished all the same
        ("", "#6b4317", 0.03, 0.0),
    ],
)
def test_light_of_which_only_an_unwanted_hue_is_left_is_told(
    read: Callable[[str], Show], dimmed: Callable[..., Layout], grid: BeatGrid, order: str, wishes: str, colour: str,
    opacity: float, share: float,
) -> None:  # fmt: skip
    """Of #6b4317 (IEC 61966-2-1: 0.147, 0.056, 0.009 of light) three hundredths are 1.1, 0.4 and 0.1 of 255."""
    show = read(f"[[cue]]\neffect = 'wash'\npalette = ['{colour}']\nopacity = {opacity}\n")
    scene = set_scene(show, dimmed(1, wishes, order), grid)
    frames = draw(scene).block(0, 80)
    seen = left_in(scene, frames)
    assert (seen.share if seen else 0.0) == pytest.approx(share)
    told = [each.found for each in check(scene, frames=frames).findings if "only red is left" in each.found]
    assert len(told) == bool(share)
