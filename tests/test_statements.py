"""Where keys and tables stand in a TOML text, found in one pass, and texts that nobody wrote."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong import statements
from eavesong.errors import ShowError
from eavesong.files import parse_toml
from eavesong.statements import DEEPEST, MOST_PARTS, lines_by_path, place, repeated, spans_by_path, too_much

TOML = '''\
title = "here" # 1
"quoted key" = 2
about = """
[cue]
title = "not this one"
"""
points = [ # 7
  [0, 0],
  [1, 1]
]
[frame] # 11
size.x = 3
[[cue]] # 13
name = "a # [[cue]]"
[[cue]] # 15
  name = 'b'
  [cue.palette] # 17
  stops = ["red", { at = 0.5 }]
  [[cue.span]] # 19
  start = 1
  [[cue.span]] # 21
  start = 2
[[cue]] # 23
[[cue.span]] # 24
start = 3
'''


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ((), ""),
        (("title",), "line 1, title"),
        (("quoted key",), "line 2, quoted key"),
        (("points", 1, 0), "line 9, points 2 1"),
        (("frame",), "line 11, frame"),
        (("frame", "size", "x"), "line 12, frame, size, x"),
        (("cue", 0), "line 13, cue 1"),
        (("cue", 0, "name"), "line 14, cue 1, name"),
        (("cue", 1, "name"), "line 16, cue 2, name"),
        (("cue", 1, "opacity"), "line 15, cue 2, opacity"),
        (("cue", 1, "palette", "stops", 1, "at"), "line 18, cue 2, palette, stops 2, at"),
        (("cue", 1, "span", 1, "start"), "line 22, cue 2, span 2, start"),
        (("cue", 2, "span", 0, "start"), "line 25, cue 3, span 1, start"),
        (("cue", 2, "span", 0, "end"), "line 24, cue 3, span 1, end"),
        (("nowhere", 3), "nowhere 4"),
    ],
)
def test_places_in_a_file(path, told):
    assert parse_toml(TOML, "t", ShowError)["cue"][2]["span"] == [{"start": 3}], "the text is TOML"
    assert place(TOML, path) == told


def test_places_count_lines_as_editors_do():
    assert place("a = 'x\u2028y'\r\n\x0cb = 1\r\n", ("b",)) == "line 2, b"


@given(st.text())
def test_a_place_is_found_in_any_text_or_none(text):
    assert place(text, ("a", 0, "b")).endswith("a 1, b")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("x = 1\n" + ".".join("a" * 30_000) + " = 1", ("line 2", "a key has more than 32 parts")),
        ("x = 1\n[" + ".".join("a" * 30_000) + "]", ("line 2", "a key has more than 32 parts")),
        ("x = 1\n[" + ".".join("a" * 30_000), ("line 2", "a key has more than 32 parts")),
        ("x = {\n" + ".".join(['"a"'] * 30_000) + " = 1}", ("line 2", "a key has more than 32 parts")),
        ("x = {y = 1, " + ".".join("a" * 30_000) + " = 1}", ("line 1", "a key has more than 32 parts")),
        ("x = [\n" + "[" * 1000, ("line 2", "more than 64 arrays or tables stand inside each other")),
        ("x = " + "{a = " * 1000, ("line 1", "more than 64 arrays or tables stand inside each other")),
        ("[[a]]\n" * 1001, ("line 1001", "there are more than 1,000 keys and tables")),
        ("x = [" + "{a=1}," * 1000 + "]", ("line 1", "there are more than 1,000 keys and tables")),
    ],
)  # fmt: skip
def test_a_small_text_that_would_take_gigabytes_is_told_before_it_is_parsed(text, found, monkeypatch):
    monkeypatch.setattr(statements, "MOST_KEYS", 1000)
    monkeypatch.setattr(tomllib, "loads", lambda text: pytest.fail("was parsed"))
    assert too_much(text) == found
    with pytest.raises(ShowError, match=f"t, {found[0]}: {found[1]}"):
        parse_toml(text, "t", ShowError)


def test_what_people_write_is_not_too_much():
    dotted = ".".join("a" * MOST_PARTS)
    assert too_much(f"{dotted} = 1\n[{dotted}.b]") == ("line 2", "a key has more than 32 parts")
    assert too_much(f"{dotted} = 1") is None
    assert too_much("x = " + "[" * DEEPEST + "]" * DEEPEST) is None
    assert too_much('"' + "a." * 1000 + '" = 1  # [[[[' + "a." * 1000 + "=") is None
    assert too_much("[[[[\n" * 1000) is None  # not TOML, which is for tomllib to say


@pytest.mark.parametrize(
    "text",
    [
        "[" + " " * 1_000_000 + "a", "[a" + " " * 1_000_000 + "b", "a" + " " * 1_000_000 + "b",
        '"' * 1_000_001, '\\"""' * 300_000, "'" * 1_000_001, '"""' + "\\" * 1_000_001, '""" ""\\' * 100_000,
        "a = '''" + "''" * 400_000,
    ],
)  # fmt: skip
def test_a_million_characters_of_anything_take_no_longer_than_others(text):
    """With a pattern that goes back and tries again these would take from hours to years."""
    assert too_much(text) is None
    assert place(text, ("a", "b")).endswith("a, b")


def test_a_header_ends_at_its_bracket_and_strings_are_passed_over():
    text = 'a."b.c" = "[x]" # d = 1\n  [ e . "f" ] # g = 1\nh = [ 1, # ]\n 2]\ni = """\n[[j]]\nk = 1""" \n'
    text += "[[l]]\nm.n = {o = 1}\n"
    assert tomllib.loads(text)["e"]["f"]["h"] == [1, 2]
    assert lines_by_path(text) == {
        ("a",): 1, ("a", "b.c"): 1, ("e", "f"): 2, ("e", "f", "h"): 3, ("e", "f", "i"): 5,
        ("l",): 8, ("l", 0): 8, ("l", 0, "m"): 9, ("l", 0, "m", "n"): 9,
    }  # fmt: skip


keys = st.sampled_from(["a", "b-c", '"d e"', "'f.g'", '"h\'="'])
values = st.sampled_from(
    ["1", '"[x]"', "'#='", "[1, [2]]", "{i = 1}", '"""\n[n]\n"""', "'''\na = 1\n'''", "[\n1, # ]\n]"]
)


@given(st.lists(st.tuples(keys, values), max_size=5, unique_by=lambda pair: pair[0]), st.booleans())
def test_every_key_is_found_on_its_line(pairs, listed):
    """tomllib tells which keys there are; the lines are counted as the text is put together."""
    text, expected = ("[[t]] # x\n" if listed else "[t] # x\n"), {}
    for key, value in pairs:
        expected[key.strip("\"'")] = text.count("\n") + 1
        text += f" {key} = {value}\n"
    table = tomllib.loads(text)["t"]
    path = ("t", 0) if listed else ("t",)
    assert set(table[0] if listed else table) == set(expected)
    assert {key: lines_by_path(text)[*path, key] for key in expected} == expected


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("a = 1\n[b]\na = 2\n[[c]]\na = 3\n[[c]]\na = 4", None),
        ("a = 1\nb = 2\na = 3", ("a", 1, 3)),
        ("[[c]]\na = 3\nx = 1\nx = 2", ("x", 3, 4)),
        ("[b]\na = 1\n[b]\nc = 2", ("[b]", 1, 3)),
        ("[b]\na = 1\n[[b]]\nc = 2", ("[b]", 1, 3)),
        ("[[c]]\n[c.d]\n[[c]]\n[c.d]\n[c.d]", ("[c.d]", 4, 5)),
        ('a.b = 1\n"a".c = 2\na."b" = 3', ("b", 1, 3)),
    ],
)
def test_what_is_given_twice_is_found_with_both_lines(text, found):
    assert repeated(text) == found
    if found:
        with pytest.raises(tomllib.TOMLDecodeError):
            tomllib.loads(text)
    else:
        assert tomllib.loads(text)


VALUES = """\
a = 1 # one
"x # y" = [ # "z]"
  1, # [
  [2, 3], { b = '''}
]''', c.d = 5 } # 5
  , 'e,'
]
[["t # t".u]] # [[
k = { a = [
  1
], b = {} }
[["t # t".u]]
k = []"""


def test_values_are_found_where_they_stand():
    """tomllib reads the same of what stands there."""
    text, whole = VALUES, tomllib.loads(VALUES)
    rows = whole["t # t"]["u"]
    expected = {
        ("a",): whole["a"],
        ("x # y",): whole["x # y"],
        **{("x # y", place): value for place, value in enumerate(whole["x # y"])},
        **{("x # y", 1, place): value for place, value in enumerate([2, 3])},
        ("x # y", 2, "b"): "}\n]",
        ("x # y", 2, "c", "d"): 5,
        **{("t # t", "u", place, "k"): row["k"] for place, row in enumerate(rows)},
        **{("t # t", "u", 0, "k", key): value for key, value in rows[0]["k"].items()},
        ("t # t", "u", 0, "k", "a", 0): 1,
    }
    spans = spans_by_path(text)
    headers = {path for path, (begin, end) in spans.items() if text[begin:end] == '[["t # t".u]]'}
    assert headers == {("t # t", "u", 0), ("t # t", "u", 1)}
    found = {path: tomllib.loads(f"v = {text[slice(*spans[path])]}")["v"] for path in spans if path not in headers}
    assert found == expected
