"""Points files: comma-separated text with a column each for x, y and z."""

from __future__ import annotations

import csv
import io
import math
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from eavesong.errors import LayoutError, Problem
from eavesong.files import read_text
from eavesong.layout.props import Points
from eavesong.layout.wire import MOST_PIXELS, Floats

FARTHEST = 1e7
"""In the units of the layout: farther than any house."""

MOST_TOLD = 10
"""Bad lines of a points file that are told one by one."""


@dataclass
class PointsReader:
    """Reads points files that stand in or below ``folder``, and remembers their texts by name."""

    folder: Path
    texts: dict[str, str] = field(default_factory=dict)

    def __call__(self, prop: Points) -> Floats:
        """The places (n, 3) in the file of ``prop``; LayoutError when it is outside, missing or damaged."""
        return read_places(self._text(prop), str(self.folder / prop.file))

    def count(self, prop: Points) -> int:
        """At most how many places the file of ``prop`` holds, by its lines; 0 where quotes leave that open.

        Much quicker than reading them. Raises as a call does.
        """
        text = self._text(prop)
        return 0 if '"' in text else sum(1 for line in text.splitlines()[1:] if line.strip(" ,\t"))

    def _text(self, prop: Points) -> str:
        name = str(self.folder / prop.file)
        path = Path(name).resolve()
        if not path.is_relative_to(self.folder.resolve()):
            raise LayoutError(Problem(name, "", "leads out of the layout's folder", "Put a copy beside the layout."))
        if prop.file not in self.texts:
            self.texts[prop.file] = read_text(path, LayoutError)
        return self.texts[prop.file]


def read_places(text: str, name: str) -> Floats:
    """Places (n, 3) from comma-separated ``text`` whose first line names the columns x, y and z (RFC 4180).

    Other columns are left out, z may be missing (0), blank lines are skipped. Raises LayoutError with the line of
    everything that is not a finite number.
    """
    try:
        lines = csv.reader(io.StringIO(text), strict=True)
        header = [column.strip().lower() for column in next(lines, [])]
        columns = [header.index(axis) if axis in header else None for axis in "xyz"]
        if columns[0] is None or columns[1] is None:
            found = "the first line does not name the columns x and y"
            raise LayoutError(Problem(name, "line 1", found, "Write 'x,y,z'."))
        if (places := _quickly(text, columns)) is not None:
            return places
        rows, problems = [], []
        for row in lines:
            if any(cell.strip() for cell in row):
                values = list(_numbers(row, columns))
                rows.append([value for value, _ in values])
                problems += [
                    Problem(name, f"line {lines.line_num}, {axis}", fault, "Write a number such as 1.25.")
                    for axis, (_, fault) in zip("xyz", values, strict=True)
                    if fault
                ]
    except csv.Error as fault:
        raise LayoutError(Problem(name, f"line {lines.line_num}", f"is not comma-separated: {fault}")) from None
    if problems:
        if more := len(problems[MOST_TOLD:]):
            problems[MOST_TOLD:] = [Problem(name, "", f"{more:,} more problems follow", count=more)]
        raise LayoutError(problems)
    if not 0 < len(rows) <= MOST_PIXELS:
        raise LayoutError(Problem(name, "", "there is no point in it", "Write one point a line below 'x,y,z'."))
    return np.array(rows, dtype=np.float64)


def _quickly(text: str, columns: list[int | None]) -> Floats | None:
    """The places (n, 3) of a text that is plain numbers throughout; None leaves it to the careful reader."""
    named = [column for column in columns if column is not None]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # no data at all is only a warning to numpy
            table = np.loadtxt(io.StringIO(text), delimiter=",", skiprows=1, usecols=named, ndmin=2, comments=None)
    except (ValueError, UserWarning):
        return None
    places = np.zeros((len(table), 3))
    places[:, [axis for axis, column in enumerate(columns) if column is not None]] = table
    fits = 0 < len(places) <= MOST_PIXELS and bool((np.abs(places) <= FARTHEST).all())
    return places if fits else None


def _numbers(row: list[str], columns: list[int | None]) -> Iterator[tuple[float, str]]:
    """For each of x, y and z its value and what is wrong with it, if anything."""
    for column in columns:
        if column is None:
            yield 0.0, ""
            continue
        cell = row[column].strip() if column < len(row) else ""
        try:
            value = float(cell)
        except ValueError:
            yield 0.0, f"'{cell:.40}' is not a number" if cell else "there is nothing in this column"
            continue
        fine = math.isfinite(value) and abs(value) <= FARTHEST
        yield value if fine else 0.0, "" if fine else f"'{cell:.40}' is no place on a house"
