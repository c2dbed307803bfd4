"""Names, types and arities: everything that can be wrong with a tree, found before anything is built from it."""

from __future__ import annotations

from collections.abc import Mapping

from eavesong.errors import advise, nearest
from eavesong.language.builtins import FUNCTIONS, INPUTS, NAMED_NUMBERS, OPERATORS, Kind
from eavesong.language.parse import Assignment, Call, CodeError, Name, Number, Tree

OUTPUTS: dict[str, Kind] = {"level": "number", "colour": "colour"}


def check(assignments: tuple[Assignment, ...], parameters: Mapping[str, Kind]) -> dict[str, Kind]:
    """The kind of every assigned name; CodeError with every unknown name, wrong type and unused value.

    parameters: the effect's parameters and their kinds.
    """
    checker = _Checker(parameters)
    for assignment in assignments:
        checker.assign(assignment)
    checker.finish(assignments)
    if checker.problems:
        raise CodeError(sorted(checker.problems))
    return checker.assigned


class _Checker:
    def __init__(self, parameters: Mapping[str, Kind]) -> None:
        self.parameters = parameters
        self.assigned: dict[str, Kind] = {}
        self.used: set[str] = set()
        self.problems: list[tuple[int, int, str, str]] = []

    def say(self, node: Tree | Assignment, found: str, instead: str = "") -> None:
        """Note a problem with its place."""
        self.problems.append((node.line, node.column, found, instead))

    def assign(self, line: Assignment) -> None:
        """Check a line, and know its name from now on."""
        kind = self.kind(line.tree)
        taken = (
            "an input" if line.name in INPUTS else
            "a parameter" if line.name in self.parameters else
            "a named number" if line.name in NAMED_NUMBERS else
            "a function" if line.name in FUNCTIONS else ""
        )  # fmt: skip
        if taken:
            self.say(line, f"'{line.name}' is already {taken}", "Choose another name.")
        elif line.name in self.assigned:
            self.say(line, f"'{line.name}' is set twice", "Give the second one a name of its own.")
        wanted = OUTPUTS.get(line.name)
        if wanted and kind != wanted:
            self.say(line, f"'{line.name}' must be a {wanted}, this is a {kind}", _KIND_ADVICE[wanted])
            kind = wanted
        self.assigned[line.name] = kind

    def finish(self, lines: tuple[Assignment, ...]) -> None:
        """Note outputs that are never set, and names and parameters that are never used."""
        last = lines[-1] if lines else Assignment("", Number(0, 1, 1), 1, 1)
        idle = {line.name: line for line in lines if line.name not in self.used and line.name not in OUTPUTS}
        for name in OUTPUTS:
            if name in self.assigned:
                continue
            if meant := nearest(name, idle):  # such as 'color'
                found = f"'{meant}' is set but never used, and '{name}' is never set"
                self.say(idle.pop(meant), found, f"Write '{name} = …'.")
            else:
                self.say(last, f"'{name}' is never set", f"Add a line '{name} = …'.")
        for line in lines:
            if idle.get(line.name) is line:
                self.say(line, f"'{line.name}' is set but never used", "Use it, or delete the line.")
        for name in self.parameters:
            if name not in self.used:
                self.say(last, f"the parameter '{name}' is never used", "Use it in the code, or delete it.")

    def kind(self, tree: Tree) -> Kind:
        """The kind of a tree. Long sums lean to the left, so first arguments are followed without recursion."""
        calls: list[Call] = []
        while isinstance(tree, Call) and tree.arguments:
            calls.append(tree)
            tree = tree.arguments[0]
        kind = self.leaf(tree)
        for call in reversed(calls):
            kinds = [kind, *(self.kind(argument) for argument in call.arguments[1:])]
            kind = self.operator(call, kinds) if call.name in OPERATORS else self.function(call, kinds)
        return kind

    def leaf(self, tree: Tree) -> Kind:
        """Number or colour: what a tree without inner trees stands for."""
        if isinstance(tree, Name):
            return self.name(tree)
        return self.function(tree, []) if isinstance(tree, Call) else "number"

    def name(self, tree: Name) -> Kind:
        """The kind of a name, which counts as used."""
        self.used.add(tree.name)
        if tree.name in self.assigned:
            return self.assigned[tree.name]
        if tree.name in self.parameters:
            return self.parameters[tree.name]
        if tree.name not in INPUTS and tree.name not in NAMED_NUMBERS:
            if tree.name in FUNCTIONS:
                self.say(tree, f"'{tree.name}' is a function", f"Call it: {FUNCTIONS[tree.name].signature}.")
            else:
                known = [*self.assigned, *self.parameters, *INPUTS, *NAMED_NUMBERS]
                self.say(tree, f"nothing is called '{tree.name}'", advise(tree.name, known))
        return "number"

    def operator(self, tree: Call, kinds: list[Kind]) -> Kind:
        """The kind that an operator gives for these kinds."""
        sign = tree.name
        if "colour" not in kinds:
            return "number"
        if sign in ("+", "-") and kinds == ["colour", "colour"]:
            return "colour"
        if sign == "*" or (sign == "/" and kinds[1] == "number"):
            return "colour"
        if sign == "if else" and kinds[0] == "number" and kinds[1] == kinds[2]:
            return "colour"
        self.say(tree, f"'{_shown(sign)}' does not take {_listing(kinds)}", _COLOUR_ADVICE)
        return "number" if sign in _TRUTHS else "colour"

    def function(self, tree: Call, kinds: list[Kind]) -> Kind:
        """The kind that a call gives for arguments of these kinds."""
        function = FUNCTIONS.get(tree.name)
        if function is None:
            self.say(tree, f"there is no function '{tree.name}'", advise(tree.name, FUNCTIONS, "function"))
            meant = nearest(tree.name, FUNCTIONS)
            return FUNCTIONS[meant].result if meant else "number"
        most = len(function.arguments)
        least = most - function.optional
        if not least <= len(kinds) <= most:
            wanted = str(most) if least == most else f"{least} to {most}"
            noun = "argument" if wanted == "1" else "arguments"
            found = f"{tree.name}() takes {wanted} {noun}, this has {len(kinds)}"
            self.say(tree, found, f"Write {function.signature}.")
        elif tree.name == "mix" and kinds[:2] == ["colour", "colour"] and kinds[2] == "number":
            return "colour"
        elif "colour" in kinds:
            self.say(tree, f"{tree.name}() does not take {_listing(kinds)}", _COLOUR_ADVICE)
            return "colour" if tree.name == "mix" else function.result
        else:
            self.shares(tree)
        return function.result

    def shares(self, tree: Call) -> None:
        """Note numbers that are written as style sheets have them, in 255ths or per cent, where shares are meant."""
        most, whole = _SHARES.get(tree.name, ((), 1.0))
        for at in most:
            argument = tree.arguments[at]
            if isinstance(argument, Number) and argument.value >= _BEYOND:
                found = f"{tree.name}() takes a share from 0 to 1 here, not {argument.value:g}"
                self.say(argument, found, f"Write {round(min(argument.value / whole, 1.0), 3):g}.")


_SHARES: dict[str, tuple[tuple[int, ...], float]] = {
    "rgb": ((0, 1, 2), 255.0), "hsl": ((1, 2), 100.0), "oklch": ((0,), 100.0),
}  # fmt: skip
"""Which arguments of what makes colours are shares, and what a whole is where others write them."""
_BEYOND = 1.5
"""A number written for a share from which on it is none: a little more than 1 may be meant."""
_TRUTHS = ("<", "<=", ">", ">=", "==", "!=", "a and b", "a or b", "not ")
"""Operators whose result is 1 or 0."""

_COLOUR_ADVICE = (
    "Colours can be added, subtracted, multiplied, divided by a number, chosen with if and else, and mixed with mix()."
)
_KIND_ADVICE: dict[Kind, str] = {
    "number": "Set it to a number from 0 (dark) to 1 (full).",
    "colour": "Use palette(), rgb(), hsl(), oklch(), or a parameter that is a colour.",
}


def _listing(kinds: list[Kind]) -> str:
    return " and ".join(f"a {kind}" for kind in kinds)


def _shown(sign: str) -> str:
    return {"0 -": "-", "not ": "not", "a and b": "and", "a or b": "or", "if else": "if … else"}.get(sign, sign)
