"""What to write instead of a value that does not fit, where its own look tells what was meant."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from eavesong.words import NUMBER, number_meant

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Near = Callable[[str, Collection[str]], str]
"""Gives the name among others that a name was probably meant to be, empty for none."""
PERCENT = 100
_NUMBER = re.compile(NUMBER)


def telling(found: Sequence[ErrorDetails], nearest: Near) -> list[ErrorDetails]:
    """The misfits that say something of their own.

    Left out: that a list is too short where only its faulty entries were left out of it; and of a list of fixed length
    that several values are missing of, all but the last one's, which tells how many belong there;
    and that a key is missing where one beside it is a slip of the pen for it, which is told.
    """
    unknown = [each["loc"] for each in found if each["type"] == "extra_forbidden"]
    slips = [loc for loc in _missing(found) if any(
        loc[:-1] == other[:-1] and nearest(str(other[-1]), [str(loc[-1])]) for other in unknown)]  # fmt: skip
    last = {each["loc"][:-1]: each["loc"] for each in found if _is_of_list(each)}
    return [
        each
        for each in found
        if each["loc"] not in slips
        and not _only_follows(each)
        and (not _is_of_list(each) or each["loc"] == last[each["loc"][:-1]])
    ]


def without(tables: Any, paths: Iterable[Sequence[int | str]]) -> Any:
    """A copy of a file's tables without the keys at these paths; of a place in a list, without the list's key."""
    gone: dict[int | str, list[Sequence[int | str]]] = {}
    for path in paths:
        while path and isinstance(path[-1], int):
            path = path[:-1]
        if path:
            gone.setdefault(path[0], []).append(path[1:])

    def shorn(key: int | str, value: Any) -> Any:
        """What is left of a value."""
        return without(value, gone[key]) if key in gone else value

    if isinstance(tables, dict):
        return {key: shorn(key, value) for key, value in tables.items() if () not in map(tuple, gone.get(key, ()))}
    return [shorn(number, value) for number, value in enumerate(tables)]


def of_tables(found: Sequence[ErrorDetails], gone: Sequence[ErrorDetails], nearest: Near) -> list[ErrorDetails]:
    """The misfits of whole tables, but for those whose words speak of a key that is ``gone``, as it did not fit itself,
    or of what an unknown one was probably meant to be: that may be all that is wrong."""
    keys = {str(part) for each in gone for part in each["loc"][-1:]}
    unknown = {str(each["loc"][-1]) for each in gone if each["type"] == "extra_forbidden"}

    def speaks(sentence: str) -> bool:
        """Whether it speaks of one of these keys."""
        words = re.findall(r"\w+", sentence)
        return not keys.isdisjoint(words) or any(nearest(key, words) for key in unknown)

    misfits = [each for each in found if each["type"] == "value_error" and isinstance(each["input"], dict)]
    return [each for each in misfits if not speaks(str(each["ctx"]["error"]))]


def _missing(found: Sequence[ErrorDetails]) -> list[tuple[int | str, ...]]:
    """Where a key is missing."""
    return [each["loc"] for each in found if each["type"] == "missing" and each["loc"] and not _is_of_list(each)]


def _is_of_list(details: ErrorDetails) -> bool:
    """Whether a value of a list of fixed length is missing."""
    return details["type"] == "missing" and bool(details["loc"]) and isinstance(details["loc"][-1], int)


def _only_follows(details: ErrorDetails) -> bool:
    """Whether a list is called too short only because its faulty entries were left out."""
    if details["type"] != "too_short":
        return False
    least = details["ctx"]["min_length"]
    return isinstance(details["input"], list | tuple) and len(details["input"]) >= least


def meant(kind: str, given: Any, limits: Mapping[str, Any], units: str = "") -> str:
    """Advice on the value ``given``, as a sentence; empty where its look tells nothing.

    kind: why it does not fit, in pydantic's word for it. limits: what that knows of it, as ``{"le": 1.0}``. units: in
    which the file tells lengths; empty where it tells none.
    """
    if kind in ("list_type", "tuple_type"):
        return list_meant(given)
    if kind == "too_long" and isinstance(given, list | tuple) and limits["max_length"] <= 4:
        return f"Write {_listed(given[: limits['max_length']])}."
    if kind in ("float_type", "int_type") and isinstance(given, str):
        return number_meant(given, units)
    if kind == "less_than_equal" and isinstance(given, int | float) and limits["le"] <= 1 < given / 5:
        share = given / PERCENT
        return f"Write {share:g} for {given:g} %." if share <= limits["le"] else ""
    return ""


def list_meant(given: Any) -> str:
    """Advice where a list belongs and something else stands: ``Write ["arch", "tree"].`` for ``"arch, tree"``."""
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        return ""
    if not isinstance(given, str):
        return f"Write it in brackets: {_listed([given])}."
    parts = [part for part in re.split(r"\s*[,;]\s*|\s+and\s+", given.strip().strip("[]()")) if part]
    if parts and all(_NUMBER.fullmatch(part) for part in parts):
        return f"Write numbers in brackets, without quotes: [{', '.join(parts)}]."
    return f"Write it in brackets: {_listed(parts)}." if parts else ""


def rest_meant(given: Any, last: int) -> tuple[str, str]:
    """What is wrong with a list that is too short, and what to write.

    given: what stands in the file. last: the position, from 0, of the last value that is
    missing.
    """
    values = list(given) if isinstance(given, list | tuple) else []
    count = last + 1
    whole = list(values)
    while len(whole) < count:
        whole.append(_like(whole))
    there = f"only {len(values)} of them" if values else "none"
    return f"{count} values belong here, and there {'are' if len(values) > 1 else 'is'} {there}", (
        f"Write all {count}, for instance {_listed(whole)}."
    )


def _like(values: list[Any]) -> Any:
    """A value that could stand behind others: the next number, 1 behind a share of 1, else the last one again."""
    last = values[-1] if values else -1
    if isinstance(last, bool) or not isinstance(last, int | float):
        return last
    return 1 if 0 <= last < 1 and isinstance(last, float) else last + 1


def _listed(values: Collection[Any]) -> str:
    """Values as a list in a TOML file."""
    return f"[{', '.join(_written(value) for value in values)}]"


def _written(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value:.40}"'
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, int | float) and abs(value) < 1e9 else "…"
