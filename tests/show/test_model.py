"""What may stand in a show file."""

import pytest
from pydantic import ValidationError

from eavesong.easing import parse_easing
from eavesong.music.kinds import KINDS
from eavesong.palettes import light_of
from eavesong.show.model import BLENDS, Cue, ShowFile, show_schema


def cue(**keys: object) -> Cue:
    return Cue.model_validate({"effect": "glow", **keys})


def test_a_cue_needs_only_an_effect() -> None:
    shortest = cue()
    assert shortest.on == ("all",)
    assert (shortest.blend, shortest.opacity) == ("source-over", 1)
    assert shortest.fade_in.beats == 0


def test_short_and_long_ways_to_write_are_the_same() -> None:
    assert cue(on="tree") == cue(on=["tree"])
    assert cue(bars=[1, 9]) == cue(bars=[[1, 9]])
    assert cue(bars=[[9, 10], [1, 2]]) == cue(bars=[[1, 2], [9, 10]])
    assert cue(fade_in=2) == cue(fade_in={"beats": 2, "easing": "linear"})
    assert cue(blend="normal") == cue(blend="source-over")  # CSS's name for the same
    assert cue(sections="chorus") == cue(sections=["chorus"])
    assert cue(kinds="high") == cue(kinds=["high"])


def test_fades_know_their_curve() -> None:
    assert cue(fade_out={"seconds": 0.5, "easing": "ease-in"}).fade_out.curve == parse_easing("ease-in")


def test_blends_are_those_of_the_standard() -> None:
    # W3C Compositing and Blending Level 1, 5 and 9; plus-lighter: Level 2.
    separable = (
        "multiply screen overlay darken lighten color-dodge color-burn hard-light soft-light difference exclusion"
    )
    others = "hue saturation color luminosity source-over plus-lighter"
    assert set(BLENDS) == {*separable.split(), *others.split()}


def test_blends_are_those_the_renderer_has() -> None:
    from eavesong.kernels.blend import MODES

    assert set(BLENDS) == set(MODES)


def test_palette_stops_with_and_without_places() -> None:
    file = ShowFile.model_validate({"palettes": {"dusk": ["black", {"colour": "white", "at": 0.25}]}})
    assert light_of(file.palettes["dusk"]) == ((None, (0, 0, 0)), (0.25, (1, 1, 1)))


def test_models_do_not_change() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        cue().opacity = 0.5


def test_the_schema_knows_short_and_long_ways() -> None:
    properties = show_schema()["$defs"]["Cue"]["properties"]
    assert {"type": "string"} in properties["on"]["anyOf"]
    assert "multiply" in properties["blend"]["enum"]
    assert {"type": "number"} in properties["fade_in"]["anyOf"]
    kind, several, _ = properties["kinds"]["anyOf"]
    assert kind["enum"] == several["items"]["enum"] == list(KINDS)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("2s", "{ seconds = 2 }"),
        ("1,5 seconds", "{ seconds = 1.5 }"),
        ("2 beats", "{ beats = 2 }"),
        ("1 bar", "{ bars = 1 }"),
    ],
)
def test_a_fade_in_quotes_is_told_as_what_it_says(text, advice):
    with pytest.raises(ValidationError, match=advice):
        Cue.model_validate({"effect": "swell", "fade_in": text})
