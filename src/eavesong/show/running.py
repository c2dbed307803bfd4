"""What is told by how far a cue's span has come: from another beginning it is other light."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from eavesong.show.ramps import Ramp

if TYPE_CHECKING:
    from eavesong.language.program import Program

RUNNING = frozenset({"cue_progress", "cue_beat", "cue_bar"})
"""What effects read of how far a cue's span has come."""


def runs_through(fades_in: bool, parameters: Iterable[object], program: Program) -> bool:
    """Whether a cue fades in, has a ramp among its parameters, or an effect that reads how far its span has come."""
    ramp = any(isinstance(value, Ramp) for value in parameters)
    return fades_in or ramp or not RUNNING.isdisjoint(program.frame_inputs())
