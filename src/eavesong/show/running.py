"""Cues of which something is told by how far their span has come: from another beginning they are other light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from eavesong.show.ramps import Ramp

if TYPE_CHECKING:
    from eavesong.show import Show

RUNNING = frozenset({"cue_progress", "cue_beat", "cue_bar"})
"""What effects read of how far a cue's span has come."""


def runs_through(show: Show, index: int) -> bool:
    """Whether a cue, by its number from 0, has a fade-in or a ramp, or an effect that reads how far it has come."""
    cue = show.cues[index]
    fade = any(each for each in (cue.fade_in.beats, cue.fade_in.bars, cue.fade_in.seconds))
    ramp = any(isinstance(value, Ramp) for value in show.parameters_of(cue).values())
    return fade or ramp or not RUNNING.isdisjoint(show.effects[cue.effect].program.frame_inputs())
