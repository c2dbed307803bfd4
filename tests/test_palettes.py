"""The palettes that come with eavesong."""

import numpy as np
import pytest
from pydantic import ValidationError

from eavesong.colours import NAMES, palette_table, parse_colour
from eavesong.palettes import BUILT_IN, RENAMED, USUAL, PaletteStop, advice_for
from eavesong.show.model import ShowFile


@pytest.mark.parametrize("name", BUILT_IN)
def test_every_palette_can_be_mixed_and_is_seen(name: str) -> None:
    table = palette_table([parse_colour(colour) for colour in BUILT_IN[name]])
    assert np.max(table) > 0.2
    assert np.ptp(table, axis=0).max() > 0.1  # more than one colour


def test_the_usual_palette_is_there() -> None:
    assert USUAL in BUILT_IN


@pytest.mark.parametrize("old", RENAMED)
def test_an_old_name_is_answered_with_the_new_one(old: str) -> None:
    assert old not in BUILT_IN
    assert RENAMED[old] in BUILT_IN
    assert advice_for(old, BUILT_IN) == f"It is called '{RENAMED[old]}' now."


def test_any_other_name_with_the_nearest_palette() -> None:
    assert advice_for("medow", BUILT_IN) == "Did you mean 'meadow'?"


def test_a_palette_among_colours_and_a_short_hex_code_are_told_as_what_they_are():
    assert advice_for("#ff00", BUILT_IN) == "Write three or six digits 0-9 a-f, like #ff8c00."
    name = next(name for name in BUILT_IN if " " not in name)
    with pytest.raises(ValidationError, match=f"'{name}' is a palette, where one colour belongs"):
        PaletteStop.model_validate({"colour": name})


@pytest.mark.parametrize(("text", "colours"), [("holly", BUILT_IN["holly"]), ("gold", ("gold",)), ("#123", ("#123",))])
def test_a_palette_may_be_the_name_of_one_or_of_a_colour(text: str, colours: tuple[str, ...]) -> None:
    """As where a cue or a house names it."""
    file = ShowFile.model_validate({"title": "Bells", "palettes": {"roof": text}})
    assert tuple(stop.colour for stop in file.palettes["roof"]) == colours


def test_what_is_neither_a_palette_nor_a_colour_is_told_with_the_nearest() -> None:
    with pytest.raises(ValidationError, match="no palette or colour is called 'holy'") as told:
        ShowFile.model_validate({"title": "Bells", "palettes": {"roof": "holy"}})
    assert told.value.errors()[0]["ctx"]["error"].instead == "Did you mean 'holly'?"


def test_whites_that_are_palettes_may_stand_for_one_colour() -> None:
    assert PaletteStop.model_validate({"colour": "warm white"}).colour == BUILT_IN["warm white"][0]
    with pytest.raises(ValidationError, match="'holly' is a palette"):
        PaletteStop.model_validate({"colour": "holly"})


def test_a_misspelt_colour_is_answered_with_the_nearest_of_colours_and_palettes() -> None:
    assert advice_for("golld", BUILT_IN, NAMES) == "Did you mean the colour 'gold'?"
    assert advice_for("hollly", BUILT_IN, NAMES) == "Did you mean 'holly'?"
    assert advice_for("amber", BUILT_IN, NAMES) == "Write 'orange' or 'gold'."  # not 'azure', which is spelled like it
    with pytest.raises(ValidationError, match="no colour is called 'warm wite'") as told:
        PaletteStop.model_validate({"colour": "warm wite"})
    assert told.value.errors()[0]["ctx"]["error"].instead == "Did you mean 'warm white'?"


def test_a_mistyped_palette_is_told_with_the_near_name():
    from eavesong.palettes import slips_of_wishes

    assert dict(slips_of_wishes(["hollly", "frost", "all", "embers"], {"embers"})) == {
        "hollly": "Did you mean 'holly'?"
    }
    assert dict(slips_of_wishes(["ocean"], ())) == {"ocean": "It is called 'lagoon' now."}
    assert dict(slips_of_wishes(["qqqqqqq", "rose"], ())) == {}  # a show may have one called so
    assert [*dict(slips_of_wishes(["qqqqqqq", "rose"], {"rose"}, every=True))] == ["qqqqqqq"]
    # Letters for palettes are those of another song; and what has a line of its own is not meant by the next.
    assert dict(slips_of_wishes(["g beside", "f beside"], {"a", "a beside"})) == {}
    assert "embers" not in dict(slips_of_wishes(["emberz", "embers"], {"embers"})).get("emberz", "")
