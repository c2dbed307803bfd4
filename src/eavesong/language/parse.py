"""Text to tree: the code of an effect as our own small nodes, and nothing else.

Python's own parser reads the text; an allow-list of its nodes is rebuilt as ours. Nothing of the text is ever
evaluated.
"""

from __future__ import annotations

import ast
import math
import re
import warnings
from dataclasses import dataclass

LONGEST_CODE = 8_000
"""Characters of the longest code."""

DEEPEST = 40
"""Levels of nesting that an expression may have."""


LONGEST_ROW = 1_000
"""Members of the longest sum or product; Python's own parser takes about three times as many."""


class CodeError(Exception):
    """Problems in an effect's code: (line, column, found, instead), lines and columns from 1."""

    def __init__(self, problems: list[tuple[int, int, str, str]]) -> None:
        self.problems = problems
        super().__init__("; ".join(found for _, _, found, _ in problems))


@dataclass(frozen=True)
class Number:
    """A number as written."""

    value: float
    line: int
    column: int


@dataclass(frozen=True)
class Name:
    """A name that stands for a value."""

    name: str
    line: int
    column: int


@dataclass(frozen=True)
class Call:
    """A function or an operator with its arguments; an operator's name is its sign."""

    name: str
    arguments: tuple[Tree, ...]
    line: int
    column: int


Tree = Number | Name | Call


@dataclass(frozen=True)
class Assignment:
    """One line of an effect: ``name = expression``."""

    name: str
    tree: Tree
    line: int
    column: int


# A sign cannot be mistaken for the name of a function that an author calls.
_BINARY: dict[type, str] = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Mod: "%", ast.Pow: "**",
}  # fmt: skip
_COMPARE: dict[type, str] = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
}  # fmt: skip
_REFUSED: dict[type, str] = {
    ast.Attribute: "attributes (a.b)",
    ast.Subscript: "indexing (a[b])",
    ast.Lambda: "functions of your own",
    ast.ListComp: "loops",
    ast.SetComp: "loops",
    ast.DictComp: "loops",
    ast.GeneratorExp: "loops",
    ast.NamedExpr: "assignments inside an expression",
    ast.JoinedStr: "text",
    ast.List: "lists",
    ast.Tuple: "lists",
    ast.Dict: "tables",
    ast.Set: "lists",
    ast.Starred: "lists",
    ast.Await: "'await'",
    ast.Yield: "'yield'",
}


_OTHER_SIGNS: dict[type, tuple[str, str]] = {
    ast.BitXor: ("^", "Write pow(a, b) or a ** b for a power, a != b for 'either, not both'."),
    ast.FloorDiv: ("//", "Write floor(a / b)."),
    ast.BitAnd: ("&", "Write 'a and b'."),
    ast.BitOr: ("|", "Write 'a or b'."),
    ast.Invert: ("~", "Write 'not a', or 1 - a."),
    ast.LShift: ("<<", "Write a * exp2(b)."),
    ast.RShift: (">>", "Write floor(a / exp2(b))."),
    ast.MatMult: ("@", "Write a * b."),
}
"""Signs that Python reads and the language does not have, and what to write instead."""
_OTHER_WORDS = (
    (r"&&", "'&&'", "Write 'a and b'."),
    (r"\|\|", "'||'", "Write 'a or b'."),
    (r"!(?!=)", "'!'", "Write 'not a'."),
    (r"\?", "'?'", "Write 'a if condition else b'."),
)
"""Signs of other languages at which Python's parser stops, as patterns, as shown, and what to write instead."""


def parse(code: str) -> tuple[Assignment, ...]:
    """The assignments of ``code`` in order; CodeError with every problem found."""
    module = _read(code)
    reader = _CodeReader()
    lines = [found for statement in module.body if (found := reader.statement(statement))]
    if not module.body:
        reader.problems.append((1, 1, "there is no code", "Set at least 'level' and 'colour'."))
    if reader.problems:
        raise CodeError(reader.problems)
    return tuple(lines)


def _read(code: str) -> ast.Module:
    if len(code) > LONGEST_CODE:
        raise CodeError([(1, 1, f"the code is longer than {LONGEST_CODE} characters", "Say it with less.")])
    if "\0" in code:
        raise CodeError([(1, 1, "the code holds a zero byte", "Retype the line.")])
    lines = [line.partition("#")[0] for line in re.split("\r\n?|\n", code)]
    _require_plain_letters(lines)
    _limit_nesting(lines)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return ast.parse(code)
    except SyntaxError as fault:
        line, column = fault.lineno or 1, fault.offset or 1
        if fault.msg.startswith("Exceeds the limit"):
            raise CodeError([(line, column, "a number larger than 1e30", "Write a smaller number.")]) from None
        raise CodeError([_unreadable(lines, line, column, fault.msg)]) from None
    except (ValueError, RecursionError, MemoryError):
        raise CodeError([(1, 1, "this cannot be read: nested too deeply or a number too long", "")]) from None


def _unreadable(lines: list[str], line: int, column: int, reason: str) -> tuple[int, int, str, str]:
    """The problem of a line that Python's parser stopped at, with advice for signs of other languages."""
    text = lines[line - 1] if line <= len(lines) else ""
    for pattern, shown, instead in _OTHER_WORDS:
        if found := re.search(pattern, text):
            return line, found.start() + 1, f"the language has no {shown}", instead
    return line, column, f"this cannot be read: {reason}", "Write 'name = expression'."


def _require_plain_letters(lines: list[str]) -> None:
    """Refuse letters that only look like plain ones, some of which Python's parser would read as those."""
    problems = []
    for number, line in enumerate(lines, start=1):
        odd = next((column for column, letter in enumerate(line, start=1) if not letter.isascii()), None)
        if odd is not None:
            found = f"{line[odd - 1]!r} cannot stand in code"
            problems.append((number, odd, found, "Use plain letters, digits and signs; comments may hold any letter."))
    if problems:
        raise CodeError(problems)


def _limit_nesting(lines: list[str]) -> None:
    """Refuse what could exhaust Python's parser before it is run."""
    depth, signs = 0, 0
    for number, line in enumerate(lines, start=1):
        for letter in line:
            depth += (letter in "([{") - (letter in ")]}")
            signs = signs + 1 if letter in "-+~" else signs if letter in " \t" else 0
            if depth > DEEPEST or signs > DEEPEST:
                raise CodeError([(number, 1, _TOO_DEEP, _TOO_DEEP_ADVICE)])


_TOO_DEEP = f"expressions nested more than {DEEPEST} deep"
_TOO_DEEP_ADVICE = "Give the inner parts names of their own, each on its own line."


class _CodeReader:
    def __init__(self) -> None:
        self.problems: list[tuple[int, int, str, str]] = []

    def refuse(self, node: ast.AST, found: str, instead: str = "") -> Number:
        """Note a problem; a number stands in for what was refused, so that reading goes on."""
        line, column = getattr(node, "lineno", 1), getattr(node, "col_offset", 0) + 1
        self.problems.append((line, column, found, instead))
        return Number(0.0, line, column)

    def statement(self, node: ast.stmt) -> Assignment | None:
        """One line as an assignment; None where it is none."""
        if not isinstance(node, ast.Assign):
            self.refuse(node, "this is not an assignment", "Write 'name = expression', one a line.")
            return None
        if len(node.targets) != 1 or not isinstance(node.targets[0], ast.Name):
            self.refuse(node, "this sets something other than one name", "Write 'name = expression'.")
            return None
        name = node.targets[0].id
        if "__" in name or name.startswith("_"):
            self.refuse(node, f"'{name}' cannot be a name", "Use plain letters, digits and single underscores inside.")
        return Assignment(name, self.tree(node.value, 0), node.lineno, node.col_offset + 1)

    def tree(self, node: ast.expr, depth: int) -> Tree:
        """The tree of a node. What stands to the left of a sign is no deeper than the whole: a sum may be long."""
        if depth > DEEPEST:
            return self.refuse(node, _TOO_DEEP, _TOO_DEEP_ADVICE)
        signs: list[ast.BinOp] = []
        while isinstance(node, ast.BinOp) and type(node.op) in _BINARY:
            signs.append(node)
            node = node.left
        if len(signs) >= LONGEST_ROW:
            found = f"more than {LONGEST_ROW:,} numbers in a row"
            return self.refuse(node, found, "Give parts of it names of their own, each on its own line.")
        tree = self.part(node, depth)
        for sign in reversed(signs):
            tree = self.make(sign, _BINARY[type(sign.op)], tree, self.tree(sign.right, depth + 1))
        return tree

    def part(self, node: ast.expr, depth: int) -> Tree:
        """The tree of an expression that is no sum and no product, so deep inside others."""
        if isinstance(node, ast.Constant):
            return self.number(node)
        if isinstance(node, ast.Name):
            return Name(node.id, node.lineno, node.col_offset + 1)
        if isinstance(node, ast.Call):
            return self.call(node, depth)
        return self.operator(node, depth)

    def number(self, node: ast.Constant) -> Number:
        """A literal; numbers beyond 1e30 are refused."""
        if isinstance(node.value, bool) or not isinstance(node.value, int | float):
            what = "text" if isinstance(node.value, str | bytes) else f"'{node.value}'"
            return self.refuse(node, f"{what} is not a number", "Only numbers, names and functions stand in code.")
        try:
            value = float(node.value)
        except OverflowError:
            value = math.inf
        if not abs(value) <= 1e30:
            return self.refuse(node, "a number larger than 1e30", "Write a smaller number.")
        return Number(value, node.lineno, node.col_offset + 1)

    def call(self, node: ast.Call, depth: int) -> Tree:
        """A call of a plain name with arguments in order."""
        if not isinstance(node.func, ast.Name):
            return self.refuse(node, "this calls something that has no plain name", "Call a function by its name.")
        if node.keywords:
            return self.refuse(
                node, f"arguments of {node.func.id}() given by name", "Give them in order, without names."
            )
        arguments = tuple(self.tree(argument, depth + 1) for argument in node.args)
        return Call(node.func.id, arguments, node.lineno, node.col_offset + 1)

    def operator(self, node: ast.expr, depth: int) -> Tree:
        """An operator as a call of its sign; what the language has not is refused by name."""
        inside = depth + 1
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.UAdd | ast.Not):
            operand = self.tree(node.operand, inside)
            if isinstance(node.op, ast.UAdd):
                return operand
            if isinstance(operand, Number) and isinstance(node.op, ast.USub):
                return Number(-operand.value, operand.line, operand.column)
            return self.make(node, "0 -" if isinstance(node.op, ast.USub) else "not ", operand)
        if isinstance(node, ast.IfExp):
            parts = (node.test, node.body, node.orelse)
            return self.make(node, "if else", *(self.tree(part, inside) for part in parts))
        if isinstance(node, ast.BoolOp):
            name = "a and b" if isinstance(node.op, ast.And) else "a or b"
            return self.chain(node, name, [self.tree(value, inside) for value in node.values])
        if isinstance(node, ast.Compare):
            return self.comparison(node, inside)
        if isinstance(node, ast.BinOp | ast.UnaryOp) and type(node.op) in _OTHER_SIGNS:
            sign, instead = _OTHER_SIGNS[type(node.op)]
            return self.refuse(node, f"the language has no '{sign}'", instead)
        what = _REFUSED.get(type(node), "this")
        return self.refuse(node, f"the language has no {what}" if what != "this" else "the language has no such thing")

    def chain(self, node: ast.expr, name: str, trees: list[Tree]) -> Tree:
        """Trees joined by "and" or by "or", in halves, so that a long chain makes no deep tree."""
        if len(trees) == 1:
            return trees[0]
        middle = len(trees) // 2
        return self.make(node, name, self.chain(node, name, trees[:middle]), self.chain(node, name, trees[middle:]))

    def comparison(self, node: ast.Compare, depth: int) -> Tree:
        """Two things compared; chains are refused."""
        if len(node.ops) != 1:
            return self.refuse(node, "two comparisons in one", "Join them: 'a < b and b < c'.")
        if type(node.ops[0]) not in _COMPARE:
            return self.refuse(node, "the language has no such comparison", "Use < <= > >= == !=.")
        left, right = self.tree(node.left, depth), self.tree(node.comparators[0], depth)
        return self.make(node, _COMPARE[type(node.ops[0])], left, right)

    def make(self, node: ast.expr, name: str, *arguments: Tree) -> Call:
        """A call at the place of a node."""
        return Call(name, arguments, node.lineno, node.col_offset + 1)
