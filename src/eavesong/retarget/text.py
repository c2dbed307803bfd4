"""The report of a retargeting as text for people, 80 columns wide."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from eavesong.retarget.changes import KINDS, HouseChange, PropChange, gone_words, in_own_unit
from eavesong.retarget.report import CueChange, Lit, Retargeting

WIDTH = 79
MOST_PROPS = 8


def retarget_text(report: Retargeting) -> str:
    """``report`` as lines of at most 80 columns (a longer name stays whole), without a line end at the end."""
    return "\n".join(_lines(report))


def _lines(report: Retargeting) -> Iterator[str]:
    yield f"show   {report.show}"
    yield f"from   {report.house.old}"
    yield f"to     {report.house.new}"
    yield ""
    yield from _frame(report)
    if report.forgotten:
        yield from _wrap(forgotten_words(report), "  ")
    yield from _props(report.house)
    yield ""
    yield from _cues(report.cues)
    yield from _dark(report)


def frame_words(report: Retargeting) -> tuple[str, str]:
    """What to say about the house frame, and the lines that pin it; both empty where it stayed."""
    if report.house.another:
        return (
            "Another house: next to nothing stands where something stood, so the show is placed anew, and nothing can "
            "be copied. What each cue finds there is below."
        ), ""
    if not report.house.frame_moved:
        return "", ""
    units = report.house.units
    (was, size), (now, new_size) = ([_told(each, units) for each in corners] for corners in report.house.frame)
    where = "the new layout" if report.pin_in_new_only else "both layouts, and render the old one anew"
    said = (
        f"The house frame moved: everything shifts. It began at {was} and measured {size}, it begins at {now} "
        f"and measures {new_size} now; all house coordinates, and every pixel's bytes, change with it. "
        f"To keep everything in place, write into {where}:"
    )
    return said, report.house.pin


def forgotten_words(report: Retargeting) -> str:
    """Which wishes of the old house the new one has not got."""
    wishes = "; ".join(report.forgotten)
    return f"Wished before, and not in the new layout: {wishes}. Were these lines forgotten?"


def _told(place: tuple[float, float, float], units: str) -> str:
    numbers, unit = in_own_unit(place, units)
    return f"({', '.join(f'{value:.2f}' for value in numbers)}) {unit}"


def _frame(report: Retargeting) -> Iterator[str]:
    said, lines = frame_words(report)
    if not said:
        yield "The house frame stayed."
        return
    yield from _wrap(said, "")
    if not lines:
        return
    yield ""
    yield from (f"    {line}" for line in lines.splitlines())


def grouped_changes(house: HouseChange) -> list[tuple[str, PropChange]]:
    """The changed props with the names to show; neighbours of whom the same is said become one.

    Those that are only sent elsewhere come last, as one: where a prop comes or goes, all that is wired behind it moves.
    """
    groups: list[list[PropChange]] = []
    moved = [prop for prop in house.changed if prop.only_sent_elsewhere]
    for prop in house.changed:
        if len(moved) > 1 and prop.only_sent_elsewhere:
            continue
        if groups and (prop.kinds, prop.words) == (groups[-1][0].kinds, groups[-1][0].words):
            groups[-1].append(prop)
        else:
            groups.append([prop])
    told = [_as_one(group) if len(group) > 1 else (group[0].name, group[0]) for group in groups]
    if len(moved) > 1:
        words = f"rewired: {len(moved)} props are sent to other outputs, universes or slots, and no more"
        told.append((_few([prop.name for prop in moved]), replace(moved[0], words=(words,))))
    return told


def _as_one(group: Sequence[PropChange]) -> tuple[str, PropChange]:
    """Several props of whom the same is said: the pixels that are gone are those of all, others are each one's."""
    first, pixels = group[0], sum(prop.pixels for prop in group)
    words = tuple(
        gone_words(pixels) if kind == "gone" else f"{said} each" if kind == "re-pixelled" else said
        for kind, said in zip(first.kinds, first.words, strict=True)
    )
    return f"{first.name} to {group[-1].name}", replace(first, words=words, pixels=pixels)


def _props(house: HouseChange) -> Iterator[str]:
    if house.another:
        return
    counts = Counter(kind for prop in house.changed for kind in prop.kinds)
    same = len(house.props) - len(house.changed)
    said = ", ".join(f"{counts[kind]} {kind}" for kind in KINDS if counts[kind])
    yield ""
    yield f"props: {said or 'nothing changed'}; {same} as they were"
    for name, prop in grouped_changes(house):
        yield from _wrap(f"  {name}: {'; '.join(prop.words)}", "    ")


def _cues(cues: Sequence[CueChange]) -> Iterator[str]:
    counts = Counter(cue.state for cue in cues)
    yield "cues:  " + ", ".join(f"{count} {state}" for state, count in counts.items())
    same = [str(cue.number) for cue in cues if cue.state == "same"]
    if same:
        yield from _wrap(f"  as before: {', '.join(same)}", "    ")
    told: dict[tuple[str, ...], list[CueChange]] = {}
    for cue in cues:
        if cue.state != "same":
            told.setdefault((cue.state, *cue_words(cue), "", *cue.proposals), []).append(cue)
    for group in told.values():
        names = ", ".join(_with_effect(cue) for cue in group)
        yield from _wrap(f"  {names}: {group[0].state}", "    ")
        for words in cue_words(group[0]):
            yield from _wrap(f"    {words}", "      ")
        for proposal in group[0].proposals:
            yield from _wrap(f"    - {proposal}", "      ")


def _with_effect(cue: CueChange) -> str:
    """Its name with its effect, which the name of a cue that has none of its own tells already."""
    effect = f" ({cue.effect})"
    return cue.name if cue.name.endswith(effect) else cue.name + effect


def cue_words(cue: CueChange) -> Iterator[str]:
    """What became of a cue: what it lit and lights, or where the selector stayed, what it gains and loses."""
    if cue.state == "never seen":
        yield f"{cue.under} is painted over it here, and was not before"
    if cue.state != "changed":
        yield f"before: {lit_words(cue.before)}"
        yield f"now:    {lit_words(cue.now) if cue.state != 'unlit' else 'nothing, as the house wishes'}"
        return
    yield f"on {cue.now.taken}: {cue.before.pixels:,} pixels before, {cue.now.pixels:,} now"
    if cue.gained:
        yield f"gains: {_few(cue.gained)}"
    if cue.lost:
        yield f"loses: {_few(cue.lost)}"


def lit_words(lit: Lit) -> str:
    """``roofline, 812 pixels: ridge, left eaves``; ``nothing``, and what was asked for, where nothing is lit."""
    if not lit.props:
        return f"nothing (on '{lit.taken}')"
    return f"{lit.taken}, {lit.pixels:,} pixels: {_few(lit.props)}"


def _few(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_PROPS} more" if len(names) > MOST_PROPS else ""
    return ", ".join(names[:MOST_PROPS]) + more


def _dark(report: Retargeting) -> Iterator[str]:
    yield ""
    if not report.dark:
        yield lit_at_some_time(report)
    else:
        yield f"{len(report.dark)} prop{'s' if len(report.dark) > 1 else ''} that no light leaves:"
    for prop in report.dark:
        yield from _wrap(f"  {prop.name} ({prop.why}): {prop.proposal}", "    ")
    if report.seldom:
        yield DARK_FOR_MOST
    for prop in report.seldom:
        yield from _wrap(f"  {prop.name} ({prop.why}): {prop.proposal}", "    ")
    if report.unlit:
        yield from _wrap(meant_to_be_dark(report), "    ")
    for found in report.flashes:
        yield ""
        yield from _wrap(f"Flashes: {found}", "  ")


DARK_FOR_MOST = "New, of other tags, or lit by one cue less, and dark for most of the song:"
"""What stands above props that are seldom lit."""


def lit_at_some_time(report: Retargeting) -> str:
    """What to say where no prop is dark that is not meant to be."""
    return f"Every {'other ' if report.unlit else ''}prop is lit at some time."


def meant_to_be_dark(report: Retargeting) -> str:
    """Which props are dark by wish."""
    return f"Meant to be dark ('unlit' in the layout): {', '.join(report.unlit)}."


def _wrap(text: str, indent: str) -> list[str]:
    first = text[: len(text) - len(text.lstrip())]
    return textwrap.wrap(
        text.strip(), WIDTH, initial_indent=first, subsequent_indent=indent, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip
