"""The little language that selects props."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.show.selection import DEEPEST, parse_selector

ROOF = {"ridge", "roofline", "upper"}
ARCH = {"arch 1", "arch", "path"}
TREE = {"old oak", "tree"}


@pytest.mark.parametrize(
    ("text", "selected"),
    [
        ("all", (True, True, True)),
        ("roofline", (True, False, False)),
        ("ROOFLINE", (True, False, False)),
        ("arch", (False, True, False)),
        ("'arch 1'", (False, True, False)),
        ("arch 1", (False, True, False)),  # words in a row are one name
        ("Old  oak or roofline", (True, False, True)),
        ("not old oak and not (arch 1)", (True, False, False)),
        ("roofline tree", (False, False, False)),
        ('"Arch 1"', (False, True, False)),
        ("roofline or tree", (True, False, True)),
        ("roofline and upper", (True, False, False)),
        ("roofline and tree", (False, False, False)),
        ("not tree", (True, True, False)),
        ("not not tree", (False, False, True)),
        ("not tree and not path", (True, False, False)),
        ("not (tree or path)", (True, False, False)),
        ("tree or path and arch", (False, True, True)),  # 'and' binds closer than 'or', as in logic
        ("(tree or path) and arch", (False, True, False)),
        ("all and not all", (False, False, False)),
        ("'all'", (False, False, False)),  # quoted, it is a name
        ("nothing-of-the-kind", (False, False, False)),
    ],
)
def test_selected(text: str, selected: tuple[bool, bool, bool]) -> None:
    assert tuple(parse_selector(text).matches(names) for names in (ROOF, ARCH, TREE)) == selected


def test_words_are_listed_once_in_order() -> None:
    assert parse_selector("b and not (A or 'old oak') or b or all").words == ("b", "a", "old oak")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", r"^column 1: a tag or a name is missing before the end\. Write one, like 'roofline', or 'all'\.$"),
        ("tree or", r"^column 8: a tag or a name is missing before the end\. "),
        ("tree or or arch", r"^column 9: a tag or a name is missing before 'or'\. "),
        ("and tree", r"^column 1: a tag or a name is missing before 'and'\. "),
        ("'old oak' tree", r"^column 11: 'tree' follows without 'and' or 'or'\. Write 'and' \(both at once\) or 'or'"),
        ("old 'oak'", r"^column 5: 'oak' follows without 'and' or 'or'\. "),
        ("tree not arch", r"^column 6: 'not' follows without 'and' or 'or'\. "),
        ("(tree or arch", r"^column 14: a parenthesis is not closed\. Add '\)'\.$"),
        ("tree) or arch", r"^column 5: '\)' follows without 'and' or 'or'\. Take it away, or open"),
        ("(tree 'arch')", r"^column 7: 'arch' follows without 'and' or 'or'\. "),
        ("tree & arch", r"^column 6: '&' means nothing here\. Write 'and'\.$"),
        ("tree, arch", r"^column 5: ',' means nothing here\. Write 'or'\.$"),
        ("!tree", r"^column 1: '!' means nothing here\. Write 'not'\.$"),
        ("tree.name", r"^column 5: '\.' means nothing here\. Write tags and names, joined by"),
        ("'old oak", r"^column 1: the quote is not closed\. Add ' at the end of the name\.$"),
        ("''", r"^column 1: the quotes are empty\. Write a tag or a name between them\.$"),
        (
            "not " * 30 + "tree",
            r"^column 85: more than 20 parentheses and 'not' inside each other\. Take",
        ),
        ("(" * 400 + ")" * 400, r"^a selector has at most 500 characters\. Give the props a tag in common\.$"),
    ],
)
def test_what_cannot_be_read_names_its_column(text: str, message: str) -> None:
    with pytest.raises(MisfitError, match=message):
        parse_selector(text)


def test_nesting_as_deep_as_allowed() -> None:
    assert parse_selector("(" * DEEPEST + "tree" + ")" * DEEPEST).matches(TREE)


words = st.sampled_from(["a", "b", "c"])
trees = st.recursive(
    words,
    lambda inner: st.one_of(
        inner.map(lambda part: f"not ({part})"),
        st.tuples(inner, st.sampled_from(["and", "or"]), inner).map(lambda parts: f"({' '.join(parts)})"),
    ),
    max_leaves=8,
)


@given(trees, st.sets(words))
def test_it_means_what_python_means_by_the_same_words(text: str, names: set[str]) -> None:
    # Python's own 'and', 'or', 'not' and parentheses as the reference.
    expected = eval(text, {"__builtins__": {}}, {word: word in names for word in "abc"})
    assert parse_selector(text).matches(names) == expected


@given(st.text(alphabet="ab ()'\"-_andornot!&ß\n", max_size=60))
def test_any_text_is_a_selector_or_is_told_what_to_write(text: str) -> None:
    try:
        parse_selector(text)
    except MisfitError as fault:
        said = fault
    else:
        return
    assert said.found
    assert said.instead
