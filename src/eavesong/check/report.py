"""A check's report as text for people, 80 columns wide."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

from eavesong.check.findings import WEIGHTS, CueReport, Report
from eavesong.check.light import SectionLight
from eavesong.errors import Problem
from eavesong.words import clock_text

WIDTH = 79
MOST_SPANS_SHOWN = 4
MOST_PROPS_SHOWN = 8
UNLOOKED = "Flashes are looked for by 'eavesong limits', in rendered frames."
UNDRAWN = "What other cues always cover is looked for by 'eavesong check'."
"""What a check does not know."""


def report_text(report: Report) -> str:
    """``report`` as lines of at most 80 columns (a longer name stays whole), without a line end at the end."""
    return "\n".join(_lines(report))


def _lines(report: Report) -> Iterator[str]:
    yield f"show   {report.show}"
    yield f"house  {report.layout}: {_count(report.prop_count, 'prop')}, {_count(report.pixel_count, 'pixel')}"
    yield f"song   {clock_text(report.duration)}, {_count(report.bar_count, 'bar')}"
    yield UNLOOKED
    if not report.drawn:
        yield UNDRAWN
    if report.wishes:
        yield from _wrap(f"wishes {'; '.join(report.wishes)}", "       ")
    for cue in report.cues:
        yield ""
        yield from _cue_lines(cue)
    yield ""
    if report.light:
        yield from _light_lines(report.light)
        yield ""
    if not report.findings:
        every = "Every other prop" if any(wish.startswith("unlit: ") for wish in report.wishes) else "Every prop"
        yield f"{every} is lit, and the house is dark at no time for long. Nothing to look at."
    for weight, heading in WEIGHTS.items():
        yield from _findings_lines(report, weight, heading)
    if report.absent:
        words = f"{_few(report.absent, MOST_PROPS_SHOWN)}"
        yield from _wrap(f"Merely absent, while others of the same cue are lit: {len(report.absent)} ({words}).", "  ")


def _light_lines(light: Sequence[SectionLight]) -> Iterator[str]:
    """A table: how much of the house is lit in each section, how bright it is, and how many cues are lit at once."""
    yield f"{'light by section':<36} {'lit':>9} {'brightness':>11} {'layers':>8}"
    for part in light:
        label = part.label if len(part.label) <= 14 else part.label[:13] + "…"
        span = f"{clock_text(part.start, 0)} to {clock_text(part.end, 0)}"
        yield f"  {label:<16}{span:<18} {_percent(part.lit):>9} {_percent(part.brightness):>11} {part.layers:>8.1f}"


def _findings_lines(report: Report, weight: str, heading: str) -> Iterator[str]:
    """The findings of one weight below their heading, one that several cues share once."""
    of_weight = [each for each, own in zip(report.findings, report.weights, strict=True) if own == weight]
    if of_weight:
        yield f"{heading} ({len(of_weight)}):"
    alike: dict[tuple[str, ...], list[Problem]] = {}
    for finding in of_weight:
        place = "" if _cue_in(finding) else finding.place
        alike.setdefault((finding.file, place, finding.found, finding.instead), []).append(finding)
    for first, *others in alike.values():
        other = Path(first.file).name if weight in ("house", "wish", "hue", "faint") else ""
        where = ", ".join(part for part in (other, first.place) if part)
        cues = ", ".join(_cue_in(each) for each in others)
        more = f"; likewise cue{'s' * (len(others) > 1)} {cues}" if others else ""
        yield from _wrap(f"- {where}: {first.found}{more}." if where else f"- {first.found}{more}.", "  ")
        if first.instead:
            yield from _wrap(f"  {first.instead}", "  ")


def _cue_in(finding: Problem) -> str:
    """The number of the cue that a finding is about; empty where it is about none."""
    match = re.search(r"\bcue (\d+)", finding.place)
    return match[1] if match else ""


def _cue_lines(cue: CueReport) -> Iterator[str]:
    fallback = f" (choice {cue.choice} of {cue.choices})" if 1 < cue.choice <= cue.choices else ""
    name = f" '{cue.name}'" if cue.name else ""
    yield from _wrap(f"cue {cue.number}{name}: {cue.effect} on {cue.selector}{fallback}", "    ")
    if cue.choice == 0:
        yield "    lights nothing"
    else:
        does = "" if cue.does == "lights" else f"{cue.does} "
        lit = f"    {does}{_count(cue.pixels, 'pixel')} ({_percent(cue.share)}): {_few(cue.props, MOST_PROPS_SHOWN)}"
        yield from _wrap(lit, "    ")
    spans = [str(span) for span in cue.spans]
    yield from _wrap(f"    {_few(spans, MOST_SPANS_SHOWN) or 'never'}", "    ")


def _few(parts: Sequence[str], most: int) -> str:
    listed = ", ".join(parts[:most])
    return f"{listed}, and {len(parts) - most} more" if len(parts) > most else listed


def _percent(share: float) -> str:
    return "under 1 %" if 0 < share < 0.01 else f"{100 * share:.0f} %"


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
