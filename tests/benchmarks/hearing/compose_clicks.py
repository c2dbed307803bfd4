"""Songs that are hardly songs: metronomes, a bass drum alone, a cymbal alone."""

import numpy as np
from compose_band import DRUM_CHANNEL, Band
from compose_plan import Note, Plan

ACCENT, PLAIN, BETWEEN = 110, 88, 62
KEYS = {"block": (76, 77), "cowbell": (56, 56), "rim": (37, 37), "hat": (46, 42),
        "claves": (75, 75), "kick": (36, 36)}  # fmt: skip


def clicks(plan: Plan, rng: np.random.Generator) -> Band:
    """Strokes on every beat: with or without an accent on the first, with or without strokes between."""
    name = plan.genre.name
    sound = {"kick_only": "kick", "hat_only": "hat"}.get(name) or str(rng.choice(["block", "cowbell", "rim", "claves"]))
    flat = name in ("click_flat", "kick_only") or (name == "click_drifting" and rng.random() < 0.5)
    if flat:
        plan.flags.append("downbeats-unknowable")
    high, low = KEYS[sound]
    notes = []
    for bar in plan.bars:
        for step in range(bar.beats * plan.genre.steps):
            first, on_beat = step == 0 and not flat, step % plan.genre.steps == 0
            level = ACCENT if first else PLAIN if on_beat else BETWEEN
            notes.append(Note(bar.start + step / plan.genre.steps, 0.1, high if first else low, level, sound))
    return Band(notes, {sound: DRUM_CHANNEL})
