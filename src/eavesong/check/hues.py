"""Findings about hues that a house does not wish and that come all the same, and about light too faint for any."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from eavesong.check.between import TINT, WHITE, between_drawn, between_in, colour_like, faint_in, left_in
from eavesong.check.wishes import changed_by
from eavesong.colours import hex_of, spoken_hue
from eavesong.errors import Problem
from eavesong.palettes import ALL
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.check.light import Footage
    from eavesong.colours import Colour
    from eavesong.scene import Scene


def hue_findings(scene: Scene, frames: Footage | None, drawn: bool) -> Iterator[Problem]:
    """Hues between those that a house wishes in place of all palettes, and hues that it has others in place of."""
    layout = scene.layout
    if frames is not None:
        found_hues = between_in(scene, frames)
    else:
        found_hues = between_drawn(scene) if drawn else []
    for seen in found_hues:
        one, other = seen.nearest
        such = f"such as {seen.colour} at {clock_text(seen.seconds, 0)} on '{seen.prop}'"
        such += f", most of it on '{seen.most}'" if seen.most not in (seen.prop, seen.whole) else ""
        shown = f"{100 * seen.share:.0f} % of what is lit"
        if seen.whole:
            little = shown if seen.share >= 0.005 else "less than 1 % of what is lit"
            shown = f"{little}, and all of '{seen.whole}' at times,"
        if one == other:
            found = (
                f"{shown} is {one} all the same, {such}: effects make hues, palettes mix them, also with what stands "
                f"in for {one}, and cues add up to them"
            )
            advice = (
                f"Another colour in its place, nearer to those beside it, may mix otherwise. Whatever comes, one in "
                f"place of all palettes holds: {ALL} = … below [palettes]."
            )
        elif other in ("", WHITE, TINT):
            whats = {WHITE: f"a white of lamps, which does not count as {one}", TINT: f"close to {one}: a paler hue"}
            what = whats.get(other, f"close to {one}")
            found = f"{shown} is {what}, {such}, and stays as it is"
            worn, wished = colour_like(scene, seen), layout.colours[one][1]
            line = _line_of(scene, worn, wished) if worn else ""
            advice = (
                f"Where it is meant, too, give it a line of its own: {line}"
                + (", pale or not." if other == TINT else ".")
                if line
                else f"Effects make it, or others mix to it; whatever comes, {ALL} = … below [palettes] holds."
            )
        elif seen.pale is not None and seen.pale.pastel:
            mixed = "the colours of a palette are mixed, and cues add up"
            found = f"{shown} is paler than {one} and no white, {such}: {mixed}"
            advice = f'One colour, or shades of one, is not mixed: {ALL} = "{one}".'
        elif seen.pale is not None:
            found = (
                f"{shown} is a grey or white between {one} and {other}, {such}: colours that are as unlike as these "
                "lose their hue where a palette is mixed, and where cues add up"
            )
            advice = f'Colours nearer to each other keep theirs; one, or its shades, is not mixed: {ALL} = "{one}".'
        else:
            mixed = "the colours of a palette are mixed, and cues add up"
            found = f"{shown} shows a hue between {one} and {other}, {such}: {mixed}"
            advice = f'One colour, or shades of one, is not mixed: {ALL} = "{one}".'
        where = "the house's [colours]" if other in (one, "", WHITE, TINT) else "the house's [palettes]"
        yield Problem(layout.path or layout.title, where, found, advice)


def faint_findings(scene: Scene, frames: Footage | None) -> Iterator[Problem]:
    """Light that is too faint to show the colours that a house wishes."""
    layout = scene.layout
    if frames is None:
        return
    if faint := faint_in(scene, frames):
        found = (
            f"{100 * faint.share:.0f} % of what is lit is so faint that little of its colour is left, most at "
            f"{clock_text(faint.seconds, 0)} on '{faint.prop}': of one to three of 255, warm white ends in red, and "
            "others in olive or mauve"
        )
        advice = "Cues that do not fade so far leave more of it."
        if faint.dimmed:
            advice = "A higher 'brightness', or cues that do not fade so far, leave more of it."
        where = "the house's brightness" if faint.dimmed else "faint light"
        yield Problem(layout.path or layout.title, where, found, advice)


def left_findings(scene: Scene, frames: Footage | None) -> Iterator[Problem]:
    """Light that is so faint that nothing but a hue that a house does not wish is left of its colour."""
    layout = scene.layout
    if frames is None or not (left := left_in(scene, frames)):
        return
    share = f"{100 * left.share:.0f} % of what is lit"
    if left.whole:
        share = (
            f"{share if left.share >= 0.005 else 'less than 1 % of what is lit'}, and all of '{left.whole}' at times,"
        )
    found = f"{share} is so faint that only {left.hue} is left of its colour"
    found += "" if left.whole else f", most at {clock_text(left.seconds, 0)} on '{left.prop}'"
    found += ": light of one to three of 255, in which deep colours end"
    advice = "Lighter colours, or cues that do not fade so far, leave less of it."
    yield Problem(layout.path or layout.title, "the house's [colours]", found, advice)


def _line_of(scene: Scene, worn: str, wished: Colour) -> str:
    """What a house may write to have another colour in place of one, and the cues that this changes; empty where there
    are none."""
    assert scene.show is not None, "a scene without a show has nothing to check"
    spoken = spoken_hue(worn)
    changed = changed_by(scene.show, scene.layout, (spoken, wished)) if spoken else ""
    return f'"{worn}" = "{hex_of(wished)}", which changes {changed}' if changed else ""
