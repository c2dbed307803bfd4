"""Code from strangers: read, refused with its place, or rebuilt as our own tree; never run, never slow."""

import re
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.errors import EffectError
from eavesong.language import effect_names, load_effect, parse_effect
from eavesong.language.check import check
from eavesong.language.parse import DEEPEST, LONGEST_CODE, LONGEST_ROW, Call, CodeError, Name, Number, parse


def problems(code):
    """(line, column, found) of everything wrong with ``code``, found within a second."""
    begun = time.process_time()
    with pytest.raises(CodeError) as caught:
        parse(code)
    assert time.process_time() - begun < 1
    assert all(isinstance(line, int) and isinstance(column, int) for line, column, _, _ in caught.value.problems)
    return [(line, column, found) for line, column, found, _ in caught.value.problems]


def test_an_assignment_becomes_our_own_tree():
    (line,) = parse("level = 0.5 * x")
    assert line.name == "level"
    assert line.tree == Call("*", (Number(0.5, 1, 9), Name("x", 1, 15)), 1, 9)


@pytest.mark.parametrize(
    ("text", "sign", "count"),
    [
        ("a + b", "+", 2), ("a - b", "-", 2), ("a * b", "*", 2), ("a / b", "/", 2), ("a % b", "%", 2),
        ("a ** b", "**", 2), ("-a", "0 -", 1), ("not a", "not ", 1), ("a < b", "<", 2), ("a <= b", "<=", 2),
        ("a > b", ">", 2), ("a >= b", ">=", 2), ("a == b", "==", 2), ("a != b", "!=", 2),
        ("a and b", "a and b", 2), ("a or b", "a or b", 2), ("a if b else c", "if else", 3), ("f(a, b)", "f", 2),
    ],
)  # fmt: skip
def test_operators_and_calls(text, sign, count):
    (line,) = parse(f"level = {text}")
    assert (line.tree.name, len(line.tree.arguments)) == (sign, count)


def test_a_power_binds_closer_than_a_sign_and_to_the_right():
    """As in Python: -a ** b ** c is -(a ** (b ** c))."""
    (line,) = parse("level = -a ** b ** c")
    assert line.tree.name == "0 -"
    assert [argument.name for argument in line.tree.arguments[0].arguments] == ["a", "**"]


def test_comments_lines_and_brackets_over_lines():
    lines = parse("# größer\na = (1 +  # ☃\n  2)\n\nlevel = a; colour = b\n")
    assert [(line.name, line.line) for line in lines] == [("a", 2), ("level", 5), ("colour", 5)]


NOT_A_NUMBER = "is not a number"
ESCAPES = [
    ("level = x.real", "the language has no attributes (a.b)"),
    ("level = (1).__class__", "the language has no attributes (a.b)"),
    ("level = x[0]", "the language has no indexing (a[b])"),
    ("level = ().__class__.__bases__[0]", "the language has no indexing (a[b])"),
    ("level = f()()", "this calls something that has no plain name"),
    ("level = x.f()", "this calls something that has no plain name"),
    ("level = (lambda: 1)()", "this calls something that has no plain name"),
    ("level = lambda: 1", "the language has no functions of your own"),
    ("level = [a for a in b]", "the language has no loops"),
    ("level = {a for a in b}", "the language has no loops"),
    ("level = {a: a for a in b}", "the language has no loops"),
    ("level = max(a for a in b)", "the language has no loops"),
    ("level = (a := 1)", "the language has no assignments inside an expression"),
    ("level = f'{x}'", "the language has no text"),
    ("level = 'x'", f"text {NOT_A_NUMBER}"),
    ("level = b'x'", f"text {NOT_A_NUMBER}"),
    ("level = '\\N{BULLET}'", f"text {NOT_A_NUMBER}"),
    ("level = True", f"'True' {NOT_A_NUMBER}"),
    ("level = None", f"'None' {NOT_A_NUMBER}"),
    ("level = ...", f"'Ellipsis' {NOT_A_NUMBER}"),
    ("level = 1j", f"'1j' {NOT_A_NUMBER}"),
    ("level = [1]", "the language has no lists"),
    ("level = (1, 2)", "the language has no lists"),
    ("level = {1: 2}", "the language has no tables"),
    ("level = max(*a)", "the language has no lists"),
    ("level = max(x=1)", "arguments of max() given by name"),
    ("level = max(**a)", "arguments of max() given by name"),
    ("level = ~x", "the language has no '~'"),
    ("level = x // 2", "the language has no '//'"),
    ("level = x @ x", "the language has no '@'"),
    ("level = x << 70", "the language has no '<<'"),
    ("level = x & 1", "the language has no '&'"),
    ("level = a < b < c", "two comparisons in one"),
    ("level = a is b", "the language has no such comparison"),
    ("level = a in b", "the language has no such comparison"),
    ("level = await x", "the language has no 'await'"),
    ("level = yield", "the language has no 'yield'"),
    ("level = 1e31", "a number larger than 1e30"),
    ("level = 1e999", "a number larger than 1e30"),
    ("level = 0x" + "f" * 5000, "a number larger than 1e30"),
    ("level = " + "9" * 7000, "a number larger than 1e30"),
    ("import os", "this is not an assignment"),
    ("from os import path", "this is not an assignment"),
    ("level += 1", "this is not an assignment"),
    ("level: int = 1", "this is not an assignment"),
    ("del x", "this is not an assignment"),
    ("x", "this is not an assignment"),
    ("exec('level = 1')", "this is not an assignment"),
    ("for a in b: level = 1", "this is not an assignment"),
    ("while 1: level = 1", "this is not an assignment"),
    ("def f(): return 1", "this is not an assignment"),
    ("class A: level = 1", "this is not an assignment"),
    ("with a: level = 1", "this is not an assignment"),
    ("try: level = 1\nfinally: level = 2", "this is not an assignment"),
    ("match a:\n case 1: level = 1", "this is not an assignment"),
    ("assert x", "this is not an assignment"),
    ("global x", "this is not an assignment"),
    ("a = b = 1", "this sets something other than one name"),
    ("a, b = 1, 2", "this sets something other than one name"),
    ("a.b = 1", "this sets something other than one name"),
    ("a[0] = 1", "this sets something other than one name"),
    ("__builtins__ = 1", "'__builtins__' cannot be a name"),
    ("_a = 1", "'_a' cannot be a name"),
    ("a__b = 1", "'a__b' cannot be a name"),
    ("", "there is no code"),
    ("# nothing\n", "there is no code"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "found"), ESCAPES)
def test_what_is_no_effect_code_is_refused(code, found):
    assert found in [said for _, _, said in problems(code)]


LOOKALIKES = ["ｌｅｖｅｌ = 1", "lеvel = 1", "level = ｘ", "level = 1 − 2", "level = 𝐱", "level = ²", "le\u200bvel = 1"]


@pytest.mark.parametrize("code", LOOKALIKES)
def test_letters_that_only_look_plain_are_refused_where_they_stand(code):
    """Python would read the first as ``level`` (NFKC); the second has a Cyrillic е."""
    column = next(at for at, letter in enumerate(code, start=1) if not letter.isascii())
    assert problems(f"a = 1\n{code}") == [(2, column, f"{code[column - 1]!r} cannot stand in code")]


@pytest.mark.parametrize(
    "code",
    [
        "level = " + "(" * 200 + "x" + ")" * 200,
        "level = " + "(" * 7000,
        "level = " + "[" * 7000,
        "level = " + "-" * 7000 + "x",
        "level = " + "- " * 3000 + "x",
        "level = " + "not " * 1900 + "x",
        "level = " + "**".join(["x"] * 2600),
        "level = " + "+".join(["x"] * 3900),
        "level = " + "x if x else " * 600 + "x",
        "level = " + "x if " * 1000,
        "level = " + "lambda:" * 1000 + "x",
        "level = " + "max(x," * 1000 + "x" + ")" * 1000,
        "level = " + "x" + "()" * 3000,
        "level = " + "x" + ".x" * 3000,
        "level = " + "x" + "[0]" * 2000,
        "level = " + "await " * 1000 + "x",
        "level = " + "f'{" * 100,
        "if x:\n" + "".join(" " * depth + "if x:\n" for depth in range(1, 99)),
    ],
    ids=lambda code: code[8:20],
)
def test_deep_nesting_is_refused_at_once(code):
    assert len(code) <= LONGEST_CODE
    assert problems(code)


@pytest.mark.parametrize(
    ("code", "column", "sign", "instead"),
    [
        ("a = x ^ 2", 5, "^", "pow(a, b) or a ** b"),
        ("a = x // 2", 5, "//", "floor(a / b)"),
        ("a = x & y", 5, "&", "'a and b'"),
        ("a = x > 0 && y > 0", 11, "&&", "'a and b'"),
        ("a = x > 0 || y > 0", 11, "||", "'a or b'"),
        ("a = x != 1 and !y", 16, "!", "'not a'"),
        ("a = x > 0 ? 1 : 0", 11, "?", "'a if condition else b'"),
    ],
)
def test_signs_of_other_languages_are_told_what_to_write_instead(code, column, sign, instead):
    with pytest.raises(CodeError) as refused:
        parse(f"b = 1 # && || !\n{code}")
    [(line, at, found, advice)] = refused.value.problems
    assert (line, at, found) == (2, column, f"the language has no '{sign}'")
    assert instead in advice


@pytest.mark.parametrize("join", [" and ", " or "])
def test_long_chains_of_conditions_are_no_nesting(join):
    (line,) = parse("level = " + join.join(["x"] * 1000))

    def depth(tree):
        return 1 + max((depth(argument) for argument in getattr(tree, "arguments", ())), default=0)

    assert depth(line.tree) < 15


@pytest.mark.parametrize("sign", ["+", "-", "*", "/", "%"])
def test_long_sums_and_products_are_no_nesting(sign):
    """What stands in a row is as deep as one of its members."""
    code = "level=" + sign.join(["x"] * LONGEST_ROW)
    (line,) = parse(code)
    assert line.tree.name == sign
    assert check(parse(f"{code}\ncolour=tint"), {"tint": "colour"}) == {"level": "number", "colour": "colour"}


def test_rows_have_a_longest_length():
    said = problems("level=" + "+".join(["x"] * (LONGEST_ROW + 1)))
    assert [found for _, _, found in said] == [f"more than {LONGEST_ROW:,} numbers in a row"]


def test_nesting_up_to_the_limit_is_taken_and_more_refused():
    deep = "-(x + " * (DEEPEST // 2)
    assert parse(f"level = {deep}1{')' * (DEEPEST // 2)}")
    said = problems("level = " + "x ** " * (DEEPEST + 1) + "x")
    assert {found for _, _, found in said} == {f"expressions nested more than {DEEPEST} deep"}


def test_code_has_a_longest_length():
    filler = "level = 1 #"
    assert parse(filler + "-" * (LONGEST_CODE - len(filler)))
    assert problems(filler + "-" * (LONGEST_CODE - len(filler) + 1)) == [
        (1, 1, f"the code is longer than {LONGEST_CODE} characters")
    ]


def test_zero_bytes_are_refused():
    assert problems("level = 1\0") == [(1, 1, "the code holds a zero byte")]


@pytest.mark.parametrize(
    ("code", "line"), [("a = 1\nlevel = 2 +\n", 2), ("\nlevel = (1", 2), ("level == 1 1", 1), ("a = 1\n  b = 2", 2)]
)
def test_what_is_no_expression_is_refused_where_it_stops(code, line):
    """The words after the colon and the column are those of the Python that runs."""
    ((where, _, found),) = problems(code)
    assert found.startswith("this cannot be read: ")
    assert where == line


def test_all_problems_are_told_at_once_each_in_its_place():
    code = "a = x.y\nimport os\nb = 'text' + [1]\n_c = 1\n"
    assert problems(code) == [
        (1, 5, "the language has no attributes (a.b)"),
        (2, 1, "this is not an assignment"),
        (3, 5, f"text {NOT_A_NUMBER}"),
        (3, 14, "the language has no lists"),
        (4, 1, "'_c' cannot be a name"),
    ]


# --- anything at all -------------------------------------------------------------------------------------------------

SAMPLES = [load_effect(name).code for name in effect_names()]
WORDS = """
level colour x y beat + - * / % ** ( ) [ ] { } , . : ; := < > == != and or not if else lambda for in is import def class
yield await f' ' " # \\ 0 1 1e9 0x 1_0 __ max mix band noise palette rgb ... @ ~ & | ^ \t
"""
FRAGMENTS = WORDS.split(" ")


def problems_of_file(code):
    try:
        parse_effect(f'title = "T"\nabout = "A"\ncode = """\n{code}"""\n', "t", "t.toml")
    except EffectError as fault:
        return fault.problems
    return ()


def taken_or_refused(code):
    """Nothing but an EffectError is raised, and its places are lines of the file."""
    assert all(re.match(r"line \d+|code|byte|$", problem.place) for problem in problems_of_file(code))


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text):
    try:
        lines = parse(text)
    except CodeError:
        return
    assert lines


@given(st.lists(st.sampled_from(FRAGMENTS), max_size=60))
@settings(max_examples=300)
def test_any_words_are_read_or_refused(words):
    taken_or_refused(" ".join(words))


@given(
    st.sampled_from(SAMPLES), st.integers(0, 400), st.integers(0, 12), st.sampled_from(FRAGMENTS), st.integers(0, 400)
)
@settings(max_examples=400)
def test_mutated_effects_are_read_or_refused(code, at, length, put, again):
    """A piece cut out, another put in, and a part said twice."""
    at %= len(code)
    changed = code[:at] + put + code[at + length :]
    taken_or_refused(changed[: again % len(changed)] + changed[at // 2 :])
