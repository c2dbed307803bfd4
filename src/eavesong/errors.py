"""Every error eavesong raises on purpose, and the exit code each one ends the command with.

```
EavesongError            3   something given to eavesong cannot be used
├── LayoutError          3   a layout file, or a points file it names
├── EffectError          3   an effect file, its parameters or its code
├── ShowError            3   a show file
├── BeatsError           3   a beat or section text
├── AudioError           3   a song that cannot be read
├── SurveyError          3   a survey file, or a photo it names
├── PackError            3   a pack, or the trace in it, or a song that is another one
├── FramesError          3   a frames file: damaged, unfinished or from a newer format
└── OutputError          4   a place that cannot be written to
```

Exit codes of the command: 0 all well · 1 a check found something to look at · 2 the command was typed
wrongly · 3 an input cannot be used · 4 an output cannot be written · 70 a fault in eavesong itself ·
130 interrupted from the keyboard.

An error carries *all* problems of a file, each with the file, the place in it, what was found there and what
to write instead. What reads a single value, blind to files, raises a MisfitError; whoever knows the file and the place
makes a problem of it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from eavesong.words import visible

TOLD = 20
"""Problems of an error that are told one by one: nobody mends more before looking again."""

LONGEST = 2000
"""Letters of one that are shown: it may quote what stands in a file."""


class EavesongWarning(UserWarning):
    """Something that works but will surprise; never raised for what a file can mend."""


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong in one place of one file."""

    file: str
    place: str
    """Where in the file: ``line 12, cue 3 'Chorus', effect``; empty when it is the file as a whole."""
    found: str
    """What stands there, as a sentence without its full stop: ``no effect is called 'swep'``."""
    instead: str = ""
    """What to write instead, as a sentence: ``Write 'sweep'.``; empty when nothing helps."""
    count: int = 1
    """How many problems this stands for."""

    def __str__(self) -> str:
        """In words, on one line or two, whatever the file holds that it quotes."""
        where = ", ".join(part for part in (self.file, self.place) if part)
        advice = f"\n    {self.instead}" if self.instead else ""
        text = f"{where}: {self.found}{advice}" if where else f"{self.found}{advice}"
        return visible(text if len(text) <= LONGEST else f"{text[:LONGEST]}…", keep="\n\t")


class MisfitError(ValueError):
    """A value that cannot be used: ``found`` is what is wrong with it, ``instead`` what to write.

    Both are sentences as in a Problem: ``no easing is called 'eese'`` and ``Did you mean 'ease'?``. Raised by what
    reads one value, validators of models among them, and returned by what only looks.
    """

    def __init__(self, found: str, instead: str = "") -> None:
        super().__init__(found, instead)
        self.found = found
        self.instead = instead

    def __str__(self) -> str:
        return f"{self.found}. {self.instead}" if self.instead else self.found


class EavesongError(Exception):
    """Base of all errors raised on purpose; ``problems`` lists every one found, in the file's order."""

    exit_code = 3

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__(self.problems)

    @property
    def count(self) -> int:
        """How many problems there are, those among them that only stand for others."""
        return sum(problem.count for problem in self.problems)

    def __str__(self) -> str:
        """The first TOLD problems, and how many more there are."""
        told = [str(problem) for problem in self.problems[:TOLD]]
        if more := sum(problem.count for problem in self.problems[TOLD:]):
            told.append(f"… and {more:,} more.")
        return "\n".join(told)


class LayoutError(EavesongError):
    """A layout file, or a points file it names, cannot be used."""


class EffectError(EavesongError):
    """An effect's file, parameters or code cannot be used."""


class ShowError(EavesongError):
    """A show file cannot be used."""


class BeatsError(EavesongError):
    """A beat or section text cannot be used."""


class AudioError(EavesongError):
    """A song cannot be read as sound."""


class SurveyError(EavesongError):
    """A survey file, or a photo it names, cannot be used."""


class PackError(EavesongError):
    """A pack cannot be used, or the song it is for is not the one given."""


class FramesError(EavesongError):
    """A frames file is damaged, unfinished or from a newer format."""


class OutputError(EavesongError):
    """Something cannot be written where it was asked to go."""

    exit_code = 4


def nearest(name: str, names: Iterable[str], least: float = 0.6) -> str:
    """The entry of ``names`` spelled most like ``name`` and not the same, or an empty string when none comes close.

    Closeness is the ratio of ``difflib.SequenceMatcher``, at ``least`` that much, case ignored; of equals, the one that
    begins as the other does: 'unit' was meant to be 'units' rather than 'unlit'. Two letters that changed places are
    the nearest of all, in short words too: 'paht' is 'path'.
    """
    known = {candidate.lower(): candidate for candidate in names if candidate != name}
    word = name.lower()
    if swapped := next((known[other] for other in known if _is_swapped(word, other)), ""):
        return swapped

    def alike(other: str) -> tuple[float, bool]:
        """How like ``word`` the other is, from 0 to 1, and whether one begins with the other."""
        ratio = difflib.SequenceMatcher(None, other, word).ratio()
        return round(ratio, 6), other.startswith(word) or word.startswith(other)

    close = difflib.get_close_matches(word, known, n=3, cutoff=least)
    return known[max(close, key=alike)] if close else ""


def _is_swapped(word: str, other: str) -> bool:
    """Whether two neighbouring letters have changed places, and all others are the same; of three letters at least."""
    if not len(word) == len(other) > 2 or sorted(word) != sorted(other):
        return False
    apart = [at for at, (a, b) in enumerate(zip(word, other, strict=True)) if a != b]
    return len(apart) == 2 and apart[1] == apart[0] + 1


def advise(name: str, names: Iterable[str], noun: str = "name") -> str:
    """Advice for an unknown ``name``: the nearest valid one, else the list of all of them."""
    names = sorted(set(names))
    if name in ("colour", "color", "colours") and "palette" in names:
        return "Colours are a 'palette'."
    if close := nearest(name, names):
        return f"Did you mean '{close}'?"
    if not names:
        return f"There is no {noun} to choose from."
    listed = ", ".join(names[:24]) + (", …" if len(names) > 24 else "")
    return f"Known {noun}s: {listed}."
