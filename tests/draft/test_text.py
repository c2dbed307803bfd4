"""The text: TOML that says what was meant, in keys that a person would write."""

import tomllib

from eavesong.draft.cue import Draft, joined
from eavesong.draft.text import colours_text, cue_lines, palette_lines, quoted


def test_a_cue_is_written_as_short_as_it_can_be():
    lines = cue_lines(Draft("Glow", "why not", "plain"))
    assert lines == ["# why not", "[[cue]]", 'name = "Glow"', 'effect = "plain"']


def test_everything_comes_back_from_toml():
    cue = Draft(
        "A", "b", "answer", ("tree or bush", "all"), tuple((float(8 * n + 1), 8.0 * n + 5) for n in range(20)),
        {"beats": 2.0, "least": {"from": 0.1, "to": 0.5}}, "a deep", "screen", 0.25, 2, 1,
    )  # fmt: skip
    text = "\n".join(cue_lines(cue))
    assert max(map(len, text.splitlines())) <= 120
    (found,) = tomllib.loads(text)["cue"]
    assert found["bars"][19] == [153, 157]
    assert found["on"] == ["tree or bush", "all"]
    assert found["parameters"] == {"beats": 2, "least": {"from": 0.1, "to": 0.5}}
    assert (found["palette"], found["blend"], found["opacity"]) == ("a deep", "screen", 0.25)
    assert (found["fade_in"], found["fade_out"]) == (2, 1)


def test_names_with_quotes_and_other_letters():
    odd = 'say "hi" to C:' + chr(92)
    assert tomllib.loads(f"a = {quoted(odd)}") == {"a": odd}
    palettes = {"strophe 1": colours_text(("red",)), "é": colours_text(("#fff",))}
    told = tomllib.loads("\n".join(palette_lines(palettes)))
    assert told["palettes"] == {"strophe 1": ["red"], "é": ["#fff"]}


def test_who_changes_a_palette_is_told_what_is_added_to_it():
    lines = palette_lines(dict.fromkeys(("a", "deep", "b", "b deep"), '["red"]'), {"b deep", "deep"})
    assert lines[:2] == [
        "[palettes]",
        "# deep and b deep: added to the others at every stroke, which can turn their hue; change them together.",
    ]
    assert "#" not in "".join(palette_lines(dict.fromkeys(("a", "deep"), '["red"]'), {"b deep"}))


def test_spans_that_touch_are_joined():
    assert joined([(5, 9), (1, 5), (20, 24)]) == ((1, 9), (20, 24))
