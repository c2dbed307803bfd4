"""Expressions from text, by the strengths of signs in the manual."""

from __future__ import annotations

import re
from typing import Any

from second.made import FUNCTIONS, power
from second.trees import each, number, truth

TOKEN = re.compile(r"\s*(?:(0x[0-9a-f]+|\d[\d_]*\.?\d*(?:e[-+]?\d+)?|\.\d+)|([A-Za-z]\w*)|(\*\*|[<>=!]=|[-+*/%()<>,]))")


class Reader:
    """Expressions from text, by the table of strengths in the manual."""

    def __init__(self, text: str, names: dict[str, Any]) -> None:
        text = text.strip()
        self.words, at = [], 0
        while at < len(text):
            found = TOKEN.match(text, at)
            assert found, text[at:]
            self.words.append(found.group().strip())
            at = found.end()
        self.at, self.names = 0, names

    def peek(self) -> str:
        return self.words[self.at] if self.at < len(self.words) else ""

    def take(self, *wanted: str) -> str:
        if self.peek() in wanted:
            self.at += 1
            return self.words[self.at - 1]
        return ""

    def choice(self) -> Any:
        value = self.either()
        if not self.take("if"):
            return value
        condition = self.either()
        assert self.take("else")
        other = self.choice()
        return each(lambda chosen, rest: ("choose", condition, chosen, rest), value, other)

    def either(self) -> Any:
        value = self.both()
        while self.take("or"):
            value = ("choose", value, number(1), truth(self.both()))
        return value

    def both(self) -> Any:
        value = self.negation()
        while self.take("and"):
            value = ("choose", value, truth(self.negation()), number(0))
        return value

    def negation(self) -> Any:
        return ("same", self.negation(), number(0)) if self.take("not") else self.comparison()

    def comparison(self) -> Any:
        left = self.total()
        sign = self.take("<", "<=", ">", ">=", "==", "!=")
        if not sign:
            return left
        right = self.total()
        if sign in (">", ">="):
            left, right = right, left
        kind = {"<": "below", ">": "below", "<=": "upto", ">=": "upto"}.get(sign, "same")
        return ("minus", number(1), ("same", left, right)) if sign == "!=" else (kind, left, right)

    def total(self) -> Any:
        value = self.product()
        while sign := self.take("+", "-"):
            kind = {"+": "plus", "-": "minus"}[sign]
            value = each(lambda a, b, kind=kind: (kind, a, b), value, self.product())
        return value

    def product(self) -> Any:
        value = self.signed()
        while sign := self.take("*", "/", "%"):
            kind = {"*": "times", "/": "over", "%": "mod"}[sign]
            value = each(lambda a, b, kind=kind: (kind, a, b), value, self.signed())
        return value

    def signed(self) -> Any:
        if self.take("-"):
            return each(lambda a: ("minus", number(0), a), self.signed())
        return self.signed() if self.take("+") else self.power()

    def power(self) -> Any:
        base = self.atom()
        return power(base, self.signed()) if self.take("**") else base

    def atom(self) -> Any:
        if self.take("("):
            value = self.choice()
            assert self.take(")")
            return value
        word = self.peek()
        self.at += 1
        if word[0].isdigit() or word[0] == ".":
            return number(int(word, 16) if word.startswith("0x") else float(word.replace("_", "")))
        if not self.take("("):
            return self.names.get(word, ("input", word))
        arguments = [self.choice()]
        while self.take(","):
            arguments.append(self.choice())
        assert self.take(")")
        return FUNCTIONS[word](*arguments) if word in FUNCTIONS else (word, *arguments)


def lines(code: str) -> list[tuple[str, str]]:
    """(name, expression) of every line, remarks left out; inside brackets a line may be broken."""
    found, open_brackets = [""], 0
    for line in (line.partition("#")[0] for line in code.splitlines()):
        found[-1] += line + " "
        open_brackets += line.count("(") - line.count(")")
        if not open_brackets:
            found.append("")
    parted = [line.partition("=") for line in found if line.strip()]
    return [(name.strip(), expression) for name, _, expression in parted]
