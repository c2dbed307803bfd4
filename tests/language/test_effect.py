"""Effect files: what they hold, and every problem with its line in the file."""

import pytest
from pydantic import ValidationError

from eavesong.errors import EffectError
from eavesong.language import effect_advice, effect_names, effect_schema, load_effect, parse_effect

GOOD = """
title = "Sweep"
about = "A band of colour crosses the house."
[parameters]
beats = { default = 4, min = 0.25, max = 64, unit = "beats" }
tint = { default = "gold" }
"""
CODE = "level = band(x, fract(beat / beats), 0.2)\ncolour = tint\n"


def problems(text):
    with pytest.raises(EffectError) as caught:
        parse_effect(text, "test", "test.toml")
    return [(problem.place, problem.found, problem.instead) for problem in caught.value.problems]


def places(text):
    return [place for place, _, _ in problems(text)]


def test_an_effect_file():
    effect = parse_effect(f'code = """\n{CODE}"""{GOOD}', "sweep", "sweep.toml")
    assert (effect.name, effect.title, effect.code) == ("sweep", "Sweep", CODE)
    assert effect.parameters["beats"].default == 4.0
    assert effect.parameters["tint"].kind == "colour"


def test_code_below_the_parameters_is_the_effects():
    """TOML makes what stands below [parameters] a member of that table."""
    text = f'{GOOD}code = """\n{CODE}"""\n'
    assert parse_effect(text, "sweep", "sweep.toml").code == CODE


@pytest.mark.parametrize("name", effect_names())
def test_effects_that_ship_are_loaded_by_name(name):
    effect = load_effect(name)
    assert effect.name == name
    assert effect.about
    assert effect.misfits({key: parameter.default for key, parameter in effect.parameters.items()}) == []


def test_equal_effects_are_equal_and_frozen():
    text = f'code = """\n{CODE}"""{GOOD}'
    one, two = (parse_effect(text, "sweep", "sweep.toml") for _ in range(2))
    assert one == two
    with pytest.raises(ValidationError, match="frozen"):
        one.code = "level = 1"


# --- places ----------------------------------------------------------------------------------------------------------

HEAD = 'title = "Morse code"\nabout = """\nThe code of the sea.\n"""\n'
WRONG = "level = brat"


@pytest.mark.parametrize(
    ("opening", "place"),
    [
        ('code = """\n', "line 6, column 9"),
        ("code = '''\n", "line 6, column 9"),
        ('code = """', "line 5, column 9"),
        ('  code   =   """\n', "line 6, column 9"),
        ('"code" = """\n', "line 6, column 9"),
        ('# code = 1\n\ncode = """\n', "line 8, column 9"),
    ],
)
def test_a_problem_in_the_code_is_placed_in_the_file(opening, place):
    """A line break right behind the opening quotes is no line of the code (TOML 1.0)."""
    quotes = "'''" if "'''" in opening else '"""'
    assert places(f"{HEAD}{opening}{WRONG}\ncolour = rgb(1, 1, 1)\n{quotes}\n") == [place]


def test_a_problem_in_code_below_the_parameters():
    text = f'{HEAD}[parameters]\nspeed = {{ default = 1 }}\ncode = """\na = 1\nlevel = a * speed * brat\n'
    assert places(text + 'colour = rgb(1, 1, 1)\n"""\n') == ["line 9, column 21"]


def test_a_problem_in_code_on_one_line():
    text = f'{HEAD}code = "colour = rgb(1, 1, 1)\\nlevel = brat"\n'
    assert places(text) == ["line 5, code, line 2, column 9"]


def test_lines_are_right_in_files_with_windows_line_ends():
    text = f'{HEAD}code = """\n{WRONG}\ncolour = rgb(1, 1, 1)\n"""\n'.replace("\n", "\r\n")
    assert places(text) == ["line 6, column 9"]


def test_problems_of_the_file_come_all_at_once():
    text = 'titel = "x"\nabout = ""\n[parameters]\na = { default = 5, max = 4 }\nb = { default = "golb" }\n'
    said = problems(text)
    assert [found for _, found, _ in said][-2:] == [
        "the default is above the most, 4",
        "no colour is called 'golb'",
    ]
    assert {place for place, _, _ in said} >= {"line 1, titel", "line 2, about", "line 4, parameters, a"}
    assert any("'titel' is not a key here" in found and "title" in instead for _, found, instead in said)
    assert any("'code' is missing" in found for _, found, _ in said)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("x", "'x' is already an input"),
        ("beat", "'beat' is already an input"),
        ("noise", "'noise' is already a function"),
        ("pi", "'pi' is already a named number"),
        ("if", "'if' cannot be a parameter's name"),
        ("_a", "'_a' cannot be a parameter's name"),
        ("a__b", "'a__b' cannot be a parameter's name"),
        ('"größe"', "'größe' cannot be a parameter's name"),
        ('"a b"', "'a b' cannot be a parameter's name"),
        ('"1"', "'1' cannot be a parameter's name"),
    ],
)
def test_a_parameter_needs_a_name_of_its_own(name, found):
    said = problems(f'{HEAD}code = "level = 1"\n[parameters]\n{name} = {{ default = 1 }}\n')
    assert said[0][1] == found
    assert said[0][0].startswith("line 7, parameters")


@pytest.mark.parametrize(
    ("parameter", "found"),
    [
        ("{ default = true }", "this is not a number"),
        ("{ default = nan }", "this is not a finite number"),
        ("{ default = inf }", "this is not a finite number"),
        (f"{{ default = 1{'0' * 400} }}", "this is not a finite number"),
        (f"{{ default = 1, max = 1{'0' * 400} }}", "this is not a finite number"),
        ("{ default = 1, min = 2 }", "the default is below the least, 2"),
        ("{ default = 1, min = 2, max = 0 }", "min is above max"),
        ('{ default = "gold", min = 0 }', "a colour has no min or max"),
        ('{ default = "gold", step = 1 }', "'step' is not a key here"),
    ],
)
def test_what_a_parameter_cannot_be(parameter, found):
    assert any(found in said for _, said, _ in problems(f'{GOOD}size = {parameter}\ncode = "level = 1"\n'))


def test_values_that_do_not_fit():
    effect = parse_effect(f'code = """\n{CODE}"""{GOOD}', "sweep", "sweep.toml")
    assert effect.misfits({"beats": 8, "tint": "#ff0000"}) == []
    assert effect.misfits({"beat": 8, "beats": 0.1, "tint": 3}) == [
        ("beat", "the effect 'sweep' has no parameter 'beat'", "Did you mean 'beats'?"),
        ("beats", "0.1 is below the least, 0.25", "Write a number from 0.25 up to 64 beats."),
        ("tint", "'tint' is a colour", "Write a colour."),
    ]
    assert effect.misfits({"tint": "golb"})[0][:2] == ("tint", "no colour is called 'golb'")
    assert effect.misfits({"beats": True})[0][:2] == ("beats", "this is not a number")


# --- files -----------------------------------------------------------------------------------------------------------


def test_an_effect_beside_the_show(tmp_path):
    (tmp_path / "mine.toml").write_text(f'code = """\n{CODE}"""{GOOD}')
    assert load_effect("mine.toml", tmp_path).name == "mine"


def test_a_show_reads_no_effect_from_outside_its_folder(tmp_path):
    inside = tmp_path / "show"
    inside.mkdir()
    (tmp_path / "secret.toml").write_text("title = 'secret'")
    (inside / "link.toml").symlink_to(tmp_path / "secret.toml")
    for name in ("../secret.toml", str(tmp_path / "secret.toml"), "link.toml"):
        with pytest.raises(EffectError, match="lies outside the show's folder"):
            load_effect(name, inside)


def test_unknown_effects_and_missing_files(tmp_path):
    with pytest.raises(EffectError, match="there is no such effect") as caught:
        load_effect("crosing")
    assert caught.value.problems[0].instead == "Did you mean 'crossing'?"
    with pytest.raises(EffectError, match="there is no such file"):
        load_effect("none.toml", tmp_path)
    for name in ("../effects/plain", "plain.toml/..", ""):
        with pytest.raises(EffectError):
            load_effect(name, tmp_path)


def test_the_schema_names_every_key():
    assert set(effect_schema()["properties"]) == {"title", "about", "parameters", "code"}


def test_advice_for_an_effect_that_is_none():
    assert effect_advice("swel") == "Did you mean 'swell'?"
    assert effect_advice("xylophone") == f"'eavesong effects' lists all {len(effect_names())} and says what each does."
    word = next(word for word in load_effect("swell").about.split() if len(word) > 5).strip(".,;").lower()
    assert "Perhaps " in effect_advice(word)


def test_text_where_a_parameter_is_a_number_is_told_as_that():
    number = "speed = { default = 1, min = 0, max = 4 }"
    code = 'code = "colour = palette(x)\\nlevel = speed"'
    effect = parse_effect(f'title = "A"\nabout = "B"\n{code}\n[parameters]\n{number}\n', "a", "a.toml")
    assert effect.misfits({"speed": "fast"}) == [
        ("speed", "'speed' is a number, not the text 'fast'", "Write a number from 0 up to 4.")
    ]
    assert effect.misfits({"speed": "2"})[0][2] == "Write 2, without quotes."
