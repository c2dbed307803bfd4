"""What pages are told of a version: its house, its song, its cues and their knobs, and what deserves a second look."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import hex_of
from eavesong.errors import EavesongError, Problem
from eavesong.kernels.exact import TILE
from eavesong.leftovers import marked_folder
from eavesong.watch.version import BLOCK

if TYPE_CHECKING:
    from eavesong.language import Effect
    from eavesong.layout import Layout
    from eavesong.scene import PlacedCue, Scene
    from eavesong.show import Show
    from eavesong.watch.version import Version

MOST_FINDINGS = 40


def same_scene(one: Scene, other: Scene) -> bool:
    """Whether two scenes that one reader has read came from the same files."""
    assert one.show is not None
    assert other.show is not None
    same_song = one.signals is other.signals and one.grid == other.grid and one.song == other.song
    same_text = one.show.text == other.show.text and one.layout is other.layout
    return same_song and same_text and dict(one.show.effects) == dict(other.show.effects)


def problem(of: Problem) -> dict[str, str]:
    """A problem as pages show it."""
    return {"file": Path(of.file).name, "place": of.place, "found": of.found, "instead": of.instead}


def places_of(version: Version, before: Version | None, parts: Mapping[str, Any]) -> dict[str, Any]:
    """House and song of a version, in parts by name. before: another version, of which ``parts`` tell."""
    scene = version.scene
    same_song = before is not None and before.scene.grid == scene.grid and before.scene.hashes == scene.hashes
    if before is not None and same_song and before.frame_count == version.frame_count:
        return {"house": house(scene.layout), "song": parts["song"]}
    return {"house": house(scene.layout), "song": song(version)}


def parts_of(
    version: Version, effect: Path | None = None, before: Version | None = None, parts: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Everything about a version but its places and frames, in parts by name.

    effect: the file of one that is shown by itself. before: another version, of which ``parts`` tell: those that are
    the same are taken from there.
    """
    from eavesong.palettes import BUILT_IN
    from eavesong.show.model import flashes_allowed

    scene = version.scene
    show = scene.show
    assert show is not None
    known: dict[int, Any] = {}
    if before is not None and before.scene.show is not None and before.scene.show.palettes == show.palettes:
        same = (new is old for new, old in zip(scene.cues, before.scene.cues, strict=False))
        known = {at: (parts or {}).get(f"cue/{at}") for at, alike in enumerate(same) if alike}
    out: dict[str, Any] = {
        "show": {"title": show.title, "file": Path(effect or show.path).name, "effect": effect is not None,
                 "flashes": flashes_allowed(show.text)},
        "cues": len(scene.cues), "palettes": sorted({*BUILT_IN, *show.palettes}),
    }  # fmt: skip
    out |= {f"cue/{at}": known.get(at) or _cue(cue, show, effect is not None) for at, cue in enumerate(scene.cues)}
    if effect is not None and show.effects:
        from eavesong.watch.costs import costs

        out["code"] = costs(next(iter(show.effects.values())))
    return out


_HOUSES: dict[int, tuple[Any, dict[str, Any]]] = {}


def house(layout: Layout) -> dict[str, Any]:
    """The house as the page draws it: places in metres, how it is looked at, props. The last one told is kept."""
    kept = _HOUSES.get(id(layout))
    if kept is not None and kept[0] is layout:
        return kept[1]
    from eavesong.preview.outlook import Outlook
    from eavesong.preview.subject import subject_of_layout

    subject = subject_of_layout(layout)
    look = Outlook(subject, photo=Path(layout.path).parent / layout.photo if layout.photo and layout.path else None)
    value = {
        "title": layout.title, "pixels": layout.pixel_count,
        "places": base64.b64encode(np.ascontiguousarray(subject.metres, "<f4").tobytes()).decode(),
        "sight": look.told(),
        "props": [[prop.name, prop.start, prop.stop - prop.start, sorted(prop.tags)] for prop in layout.props],
        "photo": look.photo is not None,
    }  # fmt: skip
    _HOUSES.clear()
    _HOUSES[id(layout)] = (layout, value)
    return value


def song(version: Version) -> dict[str, Any]:
    """The song: its sound by its hash, its beats, bars and sections, and how it is cut into frames and blocks."""
    scene, grid = version.scene, version.scene.grid
    return {
        "audio": scene.hashes.get("audio", ""), "name": scene.song.stem if scene.song else "",
        "seconds": round(grid.duration, 4), "rate": scene.frame_rate, "frames": version.frame_count, "block": BLOCK,
        "tile": TILE,
        "beats": [round(at, 3) for at in grid.times], "bars": [round(at, 4) for at in grid.downbeats],
        "sections": [[part.start, part.end, part.label] for part in grid.sections],
    }  # fmt: skip


def _cue(cue: PlacedCue, show: Show, alone: bool) -> dict[str, Any]:
    written = show.cues[cue.index]
    name = written.name or cue.effect.title
    return {
        "name": name, "effect": cue.effect.title, "about": cue.effect.about, "on": str(cue.taken),
        "props": list(cue.props), "pixels": int(np.count_nonzero(cue.weight)), "runs": _runs(cue.weight),
        "spans": [[round(span.start, 3), round(span.end, 3)] for span in cue.spans], "blend": cue.blend,
        "knobs": [*_parameters(cue, alone), *([] if alone else _numbers(written))],
        "palette": {"name": _palette_name(written), "colours": _colours(written, show)},
    }  # fmt: skip


def _palette_name(written: Any) -> str:
    from eavesong.palettes import USUAL

    return (written.palette or USUAL) if isinstance(written.palette, str | None) else ""


def _runs(weight: NDArray[np.float32]) -> list[list[int]]:
    lit = np.flatnonzero(np.diff(np.concatenate([[0], (weight > 0).astype(np.int8), [0]])))
    return [[int(begin), int(end - begin)] for begin, end in lit.reshape(-1, 2)]


def _parameters(cue: PlacedCue, alone: bool) -> list[dict[str, Any]]:
    """A knob for each parameter of the cue's effect; two for one that runs from a value to another."""
    from eavesong.show.ramps import Ramp

    knobs: list[dict[str, Any]] = []
    for name, known in cue.effect.parameters.items():
        value = cue.parameters[name]
        shape: dict[str, Any] = {"unit": known.unit, "about": known.about, **_range(cue.effect, name)}
        ends = {"": value} if not isinstance(value, Ramp) else {"from": value.start, "to": value.end}
        for end, own in ends.items():
            words = f"{name}, {end}" if end else name
            knob = f"parameters.{name}" + (f".{end}" if end else "")
            if isinstance(own, tuple):
                knobs.append(
                    {"knob": knob, "name": words, "kind": "colour", "value": hex_of(own), "about": known.about}
                )
            else:
                knobs.append({"knob": knob, "name": words, "kind": "number", "value": own, **shape})
    return knobs


def _range(effect: Effect, name: str) -> dict[str, float]:
    """From where to where a slider goes; a parameter without bounds gets some round its default."""
    known = effect.parameters[name]
    if isinstance(known.default, str):
        return {}
    reach = max(1.0, 4 * abs(known.default))
    low = known.min if known.min is not None else min(0.0, -reach if known.default < 0 else 0.0)
    high = known.max if known.max is not None else max(known.default, low) + reach
    return {"min": low, "max": high}


def _numbers(written: Any) -> list[dict[str, Any]]:
    knobs = [{"knob": "opacity", "name": "opacity", "kind": "number", "value": written.opacity, "min": 0, "max": 1,
              "unit": "share", "about": "of this cue over those below it"}]  # fmt: skip
    for key, words in (("fade_in", "fades in"), ("fade_out", "fades out")):
        fade = getattr(written, key)
        unit = next(unit for unit in ("beats", "bars", "seconds") if getattr(fade, unit) is not None)
        knobs.append({"knob": key, "name": words, "kind": "number", "value": getattr(fade, unit), "min": 0, "max": 16,
                      "unit": unit, "about": ""})  # fmt: skip
    return knobs


def _colours(written: Any, show: Show) -> list[str]:
    """The colours of a cue's palette as they stand in it, in hexadecimal."""
    from eavesong.palettes import USUAL, hexes, light_of, named_palette

    name = written.palette or USUAL
    stops = named_palette(name, show.palettes) if isinstance(name, str) else light_of(name)
    return list(hexes(stops))


def findings_of(scene: Scene, glance: bool = False) -> list[dict[str, str]]:
    """What of the cues deserves a second look, as `eavesong check` says it; with a glance, what stays dark too."""
    from eavesong.check import check

    report = check(scene, glance=glance)
    return [problem(found) | {"weight": weight} for found, weight in
            zip(report.findings[:MOST_FINDINGS], report.weights, strict=False)]  # fmt: skip


def limits_of(version: Version, go_on: Callable[[], None] = lambda: None) -> list[dict[str, str]]:
    """What the whole song asks of supplies, wires and eyes beyond what they bear, as `eavesong limits` says it.

    go_on: is called again and again, and leaves off by raising.
    """
    from eavesong.frames import open_frames
    from eavesong.limits import limits
    from eavesong.render import render_scene
    from eavesong.scene import Scene

    scene = version.scene
    own = Scene(**{name: getattr(scene, name) for name in scene.__dataclass_fields__})
    with marked_folder("watch") as folder:
        frames = folder / "whole.h5"
        try:
            render_scene(own, frames, workers=1, progress=lambda *done: go_on())
            go_on()
            with open_frames(frames) as opened:
                found = limits(scene.layout, opened).findings
        except (EavesongError, OSError) as fault:
            why = f"the whole song could not be looked through: {reason(fault)}"
            return [{"file": "", "place": "limits", "found": why, "instead": "", "weight": "limit"}]
    return [{"file": "", "place": each.about, "found": each.found, "instead": each.instead, "weight": "limit"}
            for each in [each for each in found if not each.warning][:MOST_FINDINGS]]  # fmt: skip


def reason(fault: EavesongError | OSError) -> str:
    """Why something failed, in a few words."""
    return fault.problems[0].found if isinstance(fault, EavesongError) else fault.strerror or str(fault)
