"""Which props a cue lights: words for tags and names, joined by ``and``, ``or`` and ``not``.

```
roofline                      props with the tag, or the name, 'roofline'
trees and not small           both at once; 'not' binds closest, then 'and', then 'or'
(left or right) and arches    parentheses as in arithmetic
arch 1 or all                 words in a row are one name, that of a prop or a row; 'all' is every prop
'big and small'               a name in which a word of the selector's own stands, in quotes
```

Case does not matter. A prop answers to its tags, its name and, in a repeated row, the name of the row.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NoReturn

from eavesong.errors import MisfitError

LONGEST = 500
"""Characters of the longest selector."""
DEEPEST = 20
"""How deep parentheses and ``not`` may nest."""

_TOKEN = re.compile(r"\s*(?:(?P<word>[\w-]+)|(?P<mark>[()])|'(?P<single>[^']*)'|\"(?P<double>[^\"]*)\")")
_JOINTS = ("and", "or", "not", "all")


@dataclass(frozen=True)
class Word:
    """A tag or a name, in lower case."""

    name: str


@dataclass(frozen=True)
class Everything:
    """The word ``all``."""


@dataclass(frozen=True)
class Negation:
    """``not`` and what follows it."""

    inner: Node


@dataclass(frozen=True)
class Junction:
    """Parts joined by one ``and`` or ``or``."""

    joint: str
    parts: tuple[Node, ...]


Node = Word | Everything | Negation | Junction


@dataclass(frozen=True)
class Selector:
    """A selector that has been read: its text and what it means."""

    text: str
    node: Node

    def matches(self, names: Collection[str]) -> bool:
        """Whether a prop that answers to ``names`` (lower case) is selected."""
        return _matches(self.node, names)

    @cached_property
    def words(self) -> tuple[str, ...]:
        """The tags and names in the selector, in lower case, each once, in order."""
        return tuple(dict.fromkeys(_words(self.node)))


def _matches(node: Node, names: Collection[str]) -> bool:
    if isinstance(node, Word):
        return node.name in names
    if isinstance(node, Negation):
        return not _matches(node.inner, names)
    if isinstance(node, Junction):
        found = (_matches(part, names) for part in node.parts)
        return all(found) if node.joint == "and" else any(found)
    return True


def _words(node: Node) -> Iterator[str]:
    if isinstance(node, Word):
        yield node.name
    elif isinstance(node, Negation):
        yield from _words(node.inner)
    elif isinstance(node, Junction):
        for part in node.parts:
            yield from _words(part)


@lru_cache(maxsize=2048)
def parse_selector(text: str) -> Selector:
    """Read a selector. Raises MisfitError that names the column."""
    if len(text) > LONGEST:
        raise MisfitError(f"a selector has at most {LONGEST} characters", "Give the props a tag in common.")
    reader = _SelectorReader(text)
    node = reader.read_or(0)
    if reader.kind != "end":
        reader.fail(f"{reader.shown} follows without 'and' or 'or'", reader.joining_advice())
    return Selector(text, node)


class _SelectorReader:
    """A recursive-descent reader, one token ahead: ``kind`` is a keyword, a parenthesis, ``name`` or ``end``."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.end = 0
        self.quoted = False
        self.advance()

    def advance(self) -> None:
        """Take the next token; MisfitError for a sign that means nothing."""
        rest = self.text[self.end :]
        self.start = self.end + len(rest) - len(rest.lstrip())
        if not rest.strip():
            self.kind, self.name, self.shown = "end", "", "the end"
            return
        token = _TOKEN.match(self.text, self.end)
        if not token:
            self._fail_at_character(self.text[self.start])
        self.end = token.end()
        self.shown = f"'{token[0].strip()}'"
        self.quoted = token["word"] is None and token["mark"] is None
        quoted = token["single"] if token["single"] is not None else token["double"]
        if quoted is not None:
            self.kind, self.name, self.shown = "name", quoted.strip().lower(), token[0].strip()
        else:
            word = (token["word"] or token["mark"]).lower()
            self.kind, self.name = (word if word in (*_JOINTS, "(", ")") else "name"), word
        if not self.name:
            self.fail("the quotes are empty", "Write a tag or a name between them.")

    def _fail_at_character(self, character: str) -> NoReturn:
        if character in "'\"":
            self.fail("the quote is not closed", f"Add {character} at the end of the name.")
        usual = {"&": "and", "|": "or", ",": "or", "+": "or", "!": "not", "-": "and not"}.get(character)
        advice = f"Write '{usual}'." if usual else "Write tags and names, joined by 'and', 'or' and 'not'."
        self.fail(f"'{character}' means nothing here", advice)

    def fail(self, found: str, advice: str) -> NoReturn:
        """Raise a MisfitError at the current token."""
        raise MisfitError(f"column {self.start + 1}: {found}", advice)

    def joining_advice(self) -> str:
        """What to write between two names that stand side by side."""
        if self.kind == ")":
            return "Take it away, or open a parenthesis before."
        return "Write 'and' (both at once) or 'or' (either) between."

    def read_or(self, depth: int) -> Node:
        """The parts joined by ``or`` from here on, as one node."""
        return self._read_joined("or", depth)

    def _read_joined(self, joint: str, depth: int) -> Node:
        parts = [self._read_part(joint, depth)]
        while self.kind == joint:
            self.advance()
            parts.append(self._read_part(joint, depth))
        return parts[0] if len(parts) == 1 else Junction(joint, tuple(parts))

    def _read_part(self, joint: str, depth: int) -> Node:
        return self._read_joined("and", depth) if joint == "or" else self._read_single(depth)

    def _read_single(self, depth: int) -> Node:
        if depth > DEEPEST:
            self.fail(f"more than {DEEPEST} parentheses and 'not' inside each other", "Take some away.")
        if self.kind == "not":
            self.advance()
            return Negation(self._read_single(depth + 1))
        if self.kind == "(":
            return self._read_parenthesis(depth)
        if self.kind not in ("all", "name"):
            self.fail(f"a tag or a name is missing before {self.shown}", "Write one, like 'roofline', or 'all'.")
        if self.kind == "all":
            self.advance()
            return Everything()
        return Word(self._read_name())

    def _read_name(self) -> str:
        """One name: in quotes, or words in a row up to the next joint or parenthesis."""
        words, whole = [self.name], self.quoted
        self.advance()
        while self.kind == "name" and not whole and not self.quoted:
            words.append(self.name)
            self.advance()
        return " ".join(words)

    def _read_parenthesis(self, depth: int) -> Node:
        self.advance()
        node = self.read_or(depth + 1)
        if self.kind == "end":
            self.fail("a parenthesis is not closed", "Add ')'.")
        if self.kind != ")":
            self.fail(f"{self.shown} follows without 'and' or 'or'", self.joining_advice())
        self.advance()
        return node
