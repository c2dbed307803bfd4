"""A drafted cue: a show file's own keys, and the reason that stands above it as a comment."""

from __future__ import annotations

from dataclasses import dataclass, field

LONGEST = 80
"""Characters of a cue's name at most, as show files have them."""
Value = float | str | dict[str, float | str]


@dataclass(frozen=True)
class Draft:
    """A cue as it will be written."""

    name: str
    why: str
    """The comment above it."""
    effect: str
    on: tuple[str, ...] = ("all",)
    bars: tuple[tuple[float, float], ...] = ()
    """In bars from 1; empty for the whole song."""
    parameters: dict[str, Value] = field(default_factory=dict)
    palette: str = ""
    blend: str = ""
    opacity: float = 1.0
    fade_in: float = 0.0
    """Beats."""
    fade_out: float = 0.0
    spare: bool = False
    """Whether the show stands without it, where it would be too long."""

    @property
    def written(self) -> str:
        """Its name as long as a show file bears it."""
        return self.name[:LONGEST]


def joined(spans: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Spans in order, those that touch as one."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def spoken(letter: str) -> str:
    """What people call the parts of a letter, which may be a word of theirs: ``B``, ``Finale``."""
    return letter.upper() if len(letter) < 3 else letter[:1].upper() + letter[1:]
