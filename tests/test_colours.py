"""Colours against the standards they come from, and against the colour-science library."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong import colours
from eavesong.colours import hex_of, parse_colour
from eavesong.errors import MisfitError

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science mentions optional packages that are not installed
    import colour
    from colour.notation import CSS_COLOR_3

unit = st.floats(0, 1)
triples = st.tuples(unit, unit, unit)


def encoded(text: str) -> np.ndarray:
    """The colour as percentages of encoded sRGB, the way CSS tests write it."""
    return 100 * colours.srgb_encode(parse_colour(text))


# --- the sRGB curve ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "light"),
    [
        (0.0, 0.0),  # IEC 61966-2-1: black and white are the ends
        (1.0, 1.0),
        (0.4613561, 0.18),  # colour-science, docstring of eotf_inverse_sRGB
        (128 / 255, 0.2158605),  # IEC 61966-2-1, computed by hand
        (0.5, 0.2140411),
        (0.7353570, 0.5),
        (-0.5, -0.2140411),  # CSS Color 4, 10.2: extended to negatives by odd symmetry
    ],
)
def test_srgb_curve(value: float, light: float) -> None:
    assert colours.srgb_decode(value) == pytest.approx(light, abs=1e-7)
    assert colours.srgb_encode(light) == pytest.approx(value, abs=1e-7)


def test_srgb_curve_agrees_with_colour_science() -> None:
    ramp = np.linspace(0, 1, 256)
    np.testing.assert_allclose(colours.srgb_decode(ramp), colour.models.eotf_sRGB(ramp), atol=1e-12)
    np.testing.assert_allclose(colours.srgb_encode(ramp), colour.models.eotf_inverse_sRGB(ramp), atol=1e-12)


# --- OKLab ------------------------------------------------------------------------------------------

# coloraide's tests of OKLab and OKLCH (red, orange, yellow, green, blue, grey); web-platform-tests oklab-001
# for green; lime from the matrices of CSS Color 4.
OKLAB = {
    "red": ((0.62796, 0.22486, 0.12585), (0.62796, 0.25768, 29.234)),
    "orange": ((0.79269, 0.05661, 0.16138), (0.79269, 0.17103, 70.670)),
    "yellow": ((0.96798, -0.07137, 0.19857), (0.96798, 0.21101, 109.77)),
    "green": ((0.51975, -0.14030, 0.10768), (0.51975, 0.17686, 142.50)),
    "lime": ((0.86644, -0.23389, 0.17950), (0.86644, 0.29483, 142.495)),
    "blue": ((0.45201, -0.03246, -0.31153), (0.45201, 0.31321, 264.05)),
    "gray": ((0.59987, 0.0, 0.0), (0.59987, 0.0, 0.0)),
}


@pytest.mark.parametrize("name", OKLAB)
def test_oklab_of_named_colours(name: str) -> None:
    lab, lch = OKLAB[name]
    linear = parse_colour(name)
    assert colours.linear_to_oklab(linear) == pytest.approx(lab, abs=2e-5)
    assert colours.oklab_to_oklch(colours.linear_to_oklab(linear)) == pytest.approx(lch, abs=6e-3)
    assert colours.oklch_to_linear(lch) == pytest.approx(linear, abs=2e-4)


def test_oklab_agrees_with_colour_science() -> None:
    linear = np.random.default_rng(4).random((50, 3))
    xyz = colour.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False)
    # Its matrices are Ottosson's of 2020, rounded for another white point: they differ by some 1e-4.
    np.testing.assert_allclose(colours.linear_to_oklab(linear), colour.XYZ_to_Oklab(xyz), atol=4e-4)


def test_white_is_neutral() -> None:
    assert colours.linear_to_oklab((1, 1, 1)) == pytest.approx((1, 0, 0), abs=1e-7)  # Ottosson 2020


@given(triples)
def test_oklab_there_and_back(linear: tuple[float, float, float]) -> None:
    assert colours.oklab_to_linear(colours.linear_to_oklab(linear)) == pytest.approx(linear, abs=1e-9)


@given(st.tuples(*3 * [st.floats(0, 1)]))
def test_what_takes_the_place_of_a_hue_is_as_bright_and_as_pale(light: tuple[float, float, float]) -> None:
    red, blue = parse_colour("red"), parse_colour("blue")
    hue, own = colours.hue_of(red), colours.hue_of(light)
    assert hue == pytest.approx(29.23, abs=0.01)  # OKLCH of red, CSS Color 4
    instead = colours.recoloured(light, [(colours.spoken_hue("#ff0000"), blue)])
    if own is None or not colours.has_hue(light) or abs((own - hue + 180) % 360 - 180) > colours.CODE:
        assert instead == light
    else:
        assert max(instead) == pytest.approx(max(light))
        assert min(instead) == pytest.approx(min(light))
        assert instead[2] == max(instead)


@pytest.mark.parametrize(
    ("name", "red"),
    [
        ("crimson", True),
        ("darkred", True),
        ("tomato", True),
        ("salmon", True),
        ("#ba8e88", True),
        ("#d59e9d", True),
        ("orange", False),
        ("gold", False),
        ("deeppink", False),
    ],
)
def test_what_is_called_red(name: str, red: bool) -> None:
    wishes = [(colours.spoken_hue("red"), parse_colour("blue"))]
    assert (colours.recoloured(parse_colour(name), wishes) != parse_colour(name)) is red


@pytest.mark.parametrize("word", ["red", "orange", "yellow", "green", "turquoise", "blue", "violet", "purple", "pink"])
def test_words_of_colours_reach_what_is_called_by_them(word: str) -> None:
    """The names of CSS Color 4, section 6.1, that end with the word, but for some that lie with its neighbours: two
    violet reds are pink and rose, light sea green is turquoise, and so are cadet and powder blue; a greenish yellow is
    green."""
    elsewhere = {"palevioletred", "mediumvioletred", "lightseagreen", "cadetblue", "powderblue", "greenyellow"}
    reach = colours.spoken_hue(word)
    hues = {name: colours.hue_of(parse_colour(name)) for name in colours.NAMES if name.endswith(word)}
    beyond = {name for name, hue in hues.items() if hue is not None and not reach.holds(hue)}
    assert beyond <= elsewhere
    assert not beyond or len(hues) > len(beyond) + 2


@pytest.mark.parametrize("names", [("purple", "magenta"), ("magenta", "purple"), ("green", "lime"), ("lime", "green")])
def test_of_two_words_of_one_hue_the_one_that_reaches_least_far_counts(names: tuple[str, str]) -> None:
    """In whatever order they are written; the other has the rest of what it reaches."""
    lights = {name: parse_colour("gold" if name in ("magenta", "lime") else "navy") for name in names}
    wishes = [(colours.spoken_hue(name), lights[name]) for name in names]
    own, wide = ("magenta", "blueviolet") if "magenta" in names else ("lime", "darkolivegreen")
    assert np.argmax(colours.recoloured(parse_colour(own), wishes)) == 0  # gold
    assert np.argmax(colours.recoloured(parse_colour(wide), wishes)) == 2  # navy


def test_words_of_colours_part_the_circle() -> None:
    """No hue is without a word, and none has two but those that mean much the same."""
    same = {"aqua": "cyan", "turquoise": "cyan", "violet": "purple", "magenta": "purple", "fuchsia": "purple"}
    for hue in range(360):
        of = {same.get(word, word) for word in colours.REACH if colours.spoken_hue(word).holds(hue + 0.5)}
        assert len(of) == 1, hue


def test_a_code_means_that_colour_and_its_shades_alone() -> None:
    """Coral, not the red beside it, as its name does (OKLCH 35, 28 and 40 degrees)."""
    blue = parse_colour("blue")
    for wish, kept in (("#ff7a59", ["#c81e1e"]), ("coral", [])):
        wishes = [(colours.spoken_hue(wish), blue)]
        seen = {each: colours.recoloured(parse_colour(each), wishes) for each in ("#ff7a59", "#ff9580", "#c81e1e")}
        assert [each for each, light in seen.items() if light == parse_colour(each)] == kept


def test_a_warm_white_is_no_orange() -> None:
    wishes = [(colours.spoken_hue("orange"), parse_colour("blue"))]
    for white in ("#ffb46b", "#ffd6a1", "#ffc46b"):
        assert colours.recoloured(parse_colour(white), wishes) == parse_colour(white)
    assert colours.recoloured(parse_colour("darkorange"), wishes) != parse_colour("darkorange")
    own = [(colours.spoken_hue("#edba75"), parse_colour("blue"))]
    assert colours.recoloured(parse_colour("#ffb46b"), own) != parse_colour("#ffb46b")


def test_arrays_of_any_shape_hold_the_same_numbers_as_single_colours() -> None:
    many = np.random.default_rng(5).random((4, 5, 3))
    for function in (
        colours.linear_to_oklab,
        colours.oklab_to_linear,
        colours.oklch_to_linear,
        colours.hsl_to_linear,
    ):
        assert function(many).shape == (4, 5, 3)
        np.testing.assert_array_equal(function(many)[2, 3], function(many[2, 3]))


def test_hsl_agrees_with_colour_science() -> None:
    hsl = np.random.default_rng(6).random((50, 3))
    turned = colours.hsl_to_srgb(hsl * (360, 1, 1))
    np.testing.assert_allclose(turned, colour.HSL_to_RGB(hsl), atol=1e-12)


# --- names ------------------------------------------------------------------------------------------


def test_names_are_those_of_the_standard() -> None:
    # CSS Color 3 as colour-science lists it: 147 names; CSS Color 4 adds rebeccapurple.
    for name, value in CSS_COLOR_3.items():
        assert f"#{colours.NAMES[name]}" == value.lower(), name
    assert set(colours.NAMES) - set(CSS_COLOR_3) == {"rebeccapurple"}
    assert colours.NAMES["rebeccapurple"] == "663399"  # CSS Color 4, 6.1


def test_a_hundred_and_forty_eight_names_for_a_hundred_and_thirty_nine_colours() -> None:
    # CSS Color 4, 6.1: aqua = cyan, fuchsia = magenta, and seven pairs of gray and grey.
    assert len(colours.NAMES) == 148
    assert len(set(colours.NAMES.values())) == 139


# --- what people write ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "orange", "Orange", "  orange ", "#ffa500", "#FFA500", "rgb(255, 165, 0)", "rgb(255 165 0)",
        "RGB(255 165 0)", "rgba(255,165,0)", "rgb(100% 64.70588% 0%)", "rgb(100%, 64.70588%, 0%)",
        "rgb(300 165 -20)", "rgb(255 165 none)", "rgb(100% 165 0)", "hsl(38.8235 100% 50%)",
        "hsl(38.8235, 100%, 50%)", "hsl(38.8235deg 100 50)", "hsl(398.8235 100% 50%)",
        "hsl(-321.1765 100% 50%)", "hsl(0.10784306turn 100% 50%)", "hsl(43.13722grad 100% 50%)",
        "hsl(0.677598rad 100% 50%)", "oklch(79.269% 0.17103 70.67)", "oklch(0.79269 42.7575% 70.67deg)",
        "oklab(0.79269 0.05661 0.16138)", "oklab(79.269% 14.1525% 40.345%)",
    ],
)  # fmt: skip
def test_orange_in_every_syntax(text: str) -> None:
    # Linear light of rgb(255 165 0): coloraide's tests of the sRGB curve.
    assert parse_colour(text) == pytest.approx((1, 0.37626, 0), abs=1e-4)


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        ("oklab(55% 0 -0.2)", (27.888, 38.072, 89.414)),  # web-platform-tests, css-color oklab-007
        ("#f80", (100, 53.3333, 0)),  # CSS Color 4, 5.2: each digit doubled
        ("hsl(120 100% 25%)", (0, 50, 0)),  # CSS Color 4, example in 7: dark green
        ("hsl(0 0% 50%)", (50, 50, 50)),
        ("hsl(120 -50% 50%)", (50, 50, 50)),  # CSS Color 4, 7: saturation below 0 counts as 0
        ("oklch(0.5 -1 0)", (38.857, 38.857, 38.857)),  # CSS Color 4, 9.4: chroma below 0 counts as 0
        ("oklab(2 0 0)", (100, 100, 100)),  # CSS Color 4, 9.4: lightness is clamped
        ("rgb(1e2% 0 .0)", (100, 0, 0)),  # CSS Values: numbers with exponents and without a leading 0
    ],
)
def test_values(text: str, percent: tuple[float, float, float]) -> None:
    assert encoded(text) == pytest.approx(percent, abs=2e-3)


def test_a_colour_outside_srgb_is_clipped_in_linear_light() -> None:
    vivid = colours.oklch_to_linear((0.7, 0.4, 150.0))
    assert vivid.min() < 0
    assert parse_colour("oklch(0.7 0.4 150)") == pytest.approx(np.clip(vivid, 0, 1), abs=1e-15)


@given(triples)
def test_what_is_written_is_what_is_read(linear: tuple[float, float, float]) -> None:
    lightness, a, b = (float(part) for part in colours.linear_to_oklab(linear))
    assert parse_colour(f"oklab({lightness:.15f} {a:.15f} {b:.15f})") == pytest.approx(linear, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("organge", r"^no colour is called 'organge'\. Did you mean 'orange'\?$"),
        ("Amber", r"^no colour is called 'Amber'\. Write 'orange' or 'gold'\.$"),
        ("ambre", r"^no colour is called 'ambre'\. Write 'orange' or 'gold'\.$"),
        ("zzz", r"^no colour is called 'zzz'\. Write a CSS name like 'gold', or a hex code like #ffd700\.$"),
        ("red | blue", r"^no colour is called 'red \| blue'\. "),
        ("", r"^no colour is called ''\. "),
        ("transparent", r"^'transparent' is not light .*\. Write 'black' for no light\.$"),
        ("#ff", r"^'#ff' is not a hex colour\. Write three or six digits 0-9 a-f, like #ff8c00\.$"),
        ("#ggg", r"^'#ggg' is not a hex colour\. "),
        ("#ff8c0080", r"^'#ff8c0080' has an alpha channel\. Leave the alpha out; a cue's opacity .*\.$"),
        ("rgb(1 2 3 / 50%)", r"^rgb\(\) has an alpha value\. Leave the alpha out"),
        ("rgba(1, 2, 3, 0.5)", r"^rgb\(\) has an alpha value\. Leave the alpha out"),
        ("rgb(1 2)", r"^rgb\(\) does not hold three values with spaces between\. Write rgb\(255 140 0\)\.$"),
        ("oklch(0.5, 0.1, 20)", r"^oklch\(\) does not hold three values .*\. Write oklch\(75% 0\.17 70\)\.$"),
        ("rgb(10%, 20, 30)", r"^rgb\(\) with commas mixes numbers and percentages\. "),
        ("hsl(10, 20, 30)", r"^hsl\(\) with commas mixes numbers and percentages\. "),
        ("oklhc(0.5 0.1 20)", r"^no colour function is called 'oklhc'\. Did you mean 'oklch'\?$"),
        ("rgb(1 2 x)", r"^'x' is not a number\. "),
        ("rgb(1 2 5.)", r"^'5\.' is not a number\. "),
        ("rgb(1 2 30deg)", r"^'30deg' is an angle where a number stands\. "),
        ("hsl(50% 50% 50%)", r"^'50%' is not a hue\. Write degrees, like 210 or 210deg\.$"),
        ("rgb(1e999 0 0)", r"^'1e999' is too large a number\. "),
        ("a" * 500, r"^a colour has at most 120 characters\. "),
    ],
)
def test_what_is_no_colour_says_what_to_write(text: str, message: str) -> None:
    with pytest.raises(MisfitError, match=message):
        parse_colour(text)


@given(st.text(max_size=40) | st.from_regex(r"(rgb|hsl|oklch|oklab)\([0-9.,%/ einf-]{0,30}\)", fullmatch=True))
def test_any_text_is_a_colour_or_is_told_what_to_write(text: str) -> None:
    try:
        parsed = parse_colour(text)
    except MisfitError as fault:
        said = fault
    else:
        assert all(0 <= channel <= 1 for channel in parsed)
        return
    assert said.found
    assert said.instead


# --- palettes ---------------------------------------------------------------------------------------

RED, BLUE, WHITE = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 1.0, 1.0)


def test_a_palette_ends_in_its_own_colours() -> None:
    table = colours.palette_table([RED, BLUE])
    assert table.shape == (256, 3)
    assert table.dtype == np.float32
    np.testing.assert_allclose(table[[0, -1]], [RED, BLUE], atol=1e-6)


def test_the_middle_is_mixed_in_oklab() -> None:
    middle = colours.palette_table([RED, BLUE], size=3)[1]
    lab = np.mean([OKLAB["red"][0], OKLAB["blue"][0]], axis=0)  # CSS Color 4, 12: linear in OKLab
    np.testing.assert_allclose(colours.linear_to_oklab(middle), lab, atol=2e-5)


def test_missing_positions_are_spread_evenly() -> None:
    # CSS Images 3, 3.4.3, as for colour stops of a gradient.
    assert [place for place, _ in colours.spread([RED, BLUE, WHITE])] == [0, 0.5, 1]
    stops = [(None, RED), (0.2, BLUE), (None, RED), (None, RED), (0.8, WHITE), (0.5, RED), (None, BLUE)]
    assert [place for place, _ in colours.spread(stops)] == pytest.approx([0, 0.2, 0.4, 0.6, 0.8, 0.8, 1])


def test_two_stops_in_one_place_make_a_hard_edge() -> None:
    table = colours.palette_table([(0.0, RED), (0.5, RED), (0.5, BLUE), (1.0, BLUE)], size=256)
    np.testing.assert_allclose(table[:128], np.tile(RED, (128, 1)), atol=1e-6)
    np.testing.assert_allclose(table[128:], np.tile(BLUE, (128, 1)), atol=1e-6)


def test_outside_the_outermost_positions_the_palette_stands_still() -> None:
    table = colours.palette_table([(0.25, RED), (0.75, BLUE)], size=5)
    np.testing.assert_allclose(table[[0, 1, 3, 4]], [RED, RED, BLUE, BLUE], atol=1e-6)


def test_one_colour_is_a_palette() -> None:
    np.testing.assert_allclose(colours.palette_table([WHITE]), np.ones((256, 3)), atol=1e-6)


@given(st.lists(triples, min_size=1, max_size=6))
def test_a_palette_stays_within_what_lights_can_show(stops: list[tuple[float, float, float]]) -> None:
    table = colours.palette_table(stops, size=32)
    assert table.min() >= 0
    assert table.max() <= 1


@pytest.mark.parametrize("colour", ["#102030", "#ffd700", "#000000", "#ffffff"])
def test_colours_come_back_as_they_are_written(colour: str) -> None:
    assert hex_of(parse_colour(colour)) == colour
    assert hex_of((1.2, -0.1, 0.0)) == "#ff0000"


def test_palettes_that_cannot_be() -> None:
    with pytest.raises(MisfitError, match=r"^a palette needs at least one colour\. Add a colour"):
        colours.palette_table([])
    with pytest.raises(MisfitError, match=r"^a palette position lies outside 0 to 1\. Write 0 for the start"):
        colours.palette_table([(1.5, RED)])


@pytest.mark.parametrize(
    ("wish", "flame", "sky"),
    [
        ("orange", True, False),  # the flame's brighter colour, and its redder one goes along
        ("red", True, False),  # the other way round
        ("blue", False, True),
        ("green", False, False),
    ],
)
def test_shades_of_one_thing_go_along_with_the_one_that_is_replaced(wish: str, flame: bool, sky: bool) -> None:
    """Mixed with what stands in for one of them, the other would be purple, which nobody wished."""
    lights = [colours.parse_colour(text) for text in ("#ff4a00", "#ffa04e", "deepskyblue", "white")]
    spoken = colours.spoken_hue(wish)
    assert spoken is not None
    seen = colours.recoloured_together(lights, [(spoken, colours.parse_colour("rebeccapurple"))])
    changed = [before != after for before, after in zip(lights, seen, strict=True)]
    assert changed == [flame, flame, sky, False]
    alone = [colours.recoloured(light, [(spoken, colours.parse_colour("rebeccapurple"))]) for light in lights]
    assert sum(before != after for before, after in zip(lights, alone, strict=True)) == int(flame or sky)
