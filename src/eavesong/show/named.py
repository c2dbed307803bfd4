"""The effects that a show names, each read once, and what is wrong with its name or inside its file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EffectError, MisfitError, Problem, advise, nearest

if TYPE_CHECKING:
    from eavesong.language import Effect

    LoadEffect = Callable[[str, Path], Effect]

Refused = tuple[MisfitError | None, tuple[Problem, ...]]
"""What is wrong with an effect's name, and what is wrong inside its file."""


class EffectReader:
    """Loads each effect once, and remembers what was wrong with it."""

    def __init__(self, beside: Path, load: LoadEffect | None, names: Iterable[str] | None) -> None:
        self.beside = beside
        self.effects: dict[str, Effect] = {}
        self._problems: dict[str, Refused] = {}
        self._load = load
        self._names = tuple(names) if names is not None else None
        self._given = names is not None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the effects that come with eavesong."""
        if self._names is None:
            from eavesong.language import effect_names

            self._names = tuple(effect_names())
        return self._names

    def read(self, name: str) -> Refused:
        """What is wrong with the name, and what is wrong inside the effect's own file."""
        if name not in self._problems and name not in self.effects:
            self._problems[name] = self._try(name)
        return self._problems.get(name, (None, ()))

    def _try(self, name: str) -> Refused:
        if not name.endswith(".toml"):
            if name not in self.names:
                return MisfitError(f"no effect is called '{name}'", _effect_advice(name, self.names, self._given)), ()
        elif not (self.beside / name).is_file():
            others = [str(found.name) for found in (self.beside / name).parent.glob("*.toml")]
            return MisfitError(f"there is no effect file '{name}'", advise(Path(name).name, others, "file")), ()
        try:
            self.effects[name] = self._loader()(name, self.beside)
        except EffectError as fault:
            own = [problem for problem in fault.problems if problem.file == name]
            misfit = MisfitError(own[0].found, own[0].instead) if own else None
            return misfit, tuple(problem for problem in fault.problems if problem.file != name)
        return None, ()

    def _loader(self) -> LoadEffect:
        if self._load is None:
            from eavesong.language import load_effect

            self._load = load_effect
        return self._load


def _effect_advice(name: str, names: Sequence[str], given: bool) -> str:
    """The effect whose name is nearest, if it is near; else where all are described."""
    if close := nearest(name, names, 0.75):
        return f"Did you mean '{close}'?"
    if given:
        return advise("", names, "effect")
    from eavesong.language import effect_advice

    return effect_advice(name)
