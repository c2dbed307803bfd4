"""The report of a retargeting as one HTML page that needs nothing else: both houses side by side, changes coloured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.paint import Colour, Dots, Figure, Lines, Mark, Words, to_svg
from eavesong.retarget.changes import metres
from eavesong.retarget.report import Retargeting
from eavesong.retarget.text import (
    DARK_FOR_MOST,
    cue_words,
    forgotten_words,
    frame_words,
    grouped_changes,
    lit_at_some_time,
    lit_words,
    meant_to_be_dark,
)

if TYPE_CHECKING:
    from eavesong.layout import Layout

Floats = NDArray[np.float64]

WIDTH, TALLEST, MARGIN = 900, 700, 40
LETTERS = 13
"""Height of names in the pictures."""
NIGHT: Colour = (16, 19, 30)
STILL: Colour = (96, 104, 124)
COLOURS: dict[str, Colour] = {
    "added": (122, 214, 140), "gone": (236, 104, 96), "moved": (250, 190, 92), "turned": (250, 190, 92),
    "resized": (244, 140, 200), "re-pixelled": (160, 150, 250), "rewired": (104, 196, 240),
    "retagged": (216, 220, 130), "renamed": (216, 220, 130),
}  # fmt: skip
"""Of the first thing that is told of a prop."""


def retarget_page(report: Retargeting, old: Layout, new: Layout) -> str:
    """``report`` as an HTML page, with ``old`` and ``new`` seen from the street, to one scale."""
    body = [
        f"<h1>{escape(new.title)}: {escape(report.show)}</h1>",
        f'<p class="sub">from {escape(report.house.old)} to {escape(report.house.new)}</p>',
        *_houses(report, old, new),
        *_frame(report),
        *([] if report.house.another else ["<h2>Props</h2>", *_props(report)]),
        "<h2>Cues</h2>",
        *_cues(report),
        "<h2>What no cue lights</h2>",
        *_dark(report),
        *(f"<p><b>Flashes:</b> {escape(found)}</p>" for found in report.flashes),
    ]
    title = escape(f"{new.title}: {report.show}")
    style = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta name="generator" content="eavesong">\n<style>\n{style}</style>\n</head>\n'
        f"<body>\n<main>\n{chr(10).join(body)}\n</main>\n</body>\n</html>\n"
    )


def _frame(report: Retargeting) -> Iterator[str]:
    said, lines = frame_words(report)
    if said:
        told = f"<pre>{escape(lines)}</pre>" if lines else ""
        yield f'<div class="note"><p>{escape(said)}</p>{told}</div>'
    if report.forgotten:
        yield f'<div class="note"><p>{escape(forgotten_words(report))}</p></div>'


def _houses(report: Retargeting, old: Layout, new: Layout) -> Iterator[str]:
    first: dict[str, str] = {}
    before: dict[str, str] = {}
    for prop in () if report.house.another else report.house.changed:
        first[prop.name], before[prop.was or ""] = prop.kinds[0], prop.kinds[0]
    everything = np.concatenate([metres(house, prop) for house in (old, new) for prop in house.props])[:, :2]
    pictures = ((old, before), (new, first))
    drawn = [_picture(house, kinds, everything) for house, kinds in pictures]
    figures = "".join(
        f"<figure>{svg}<figcaption>{caption}: {escape(house.title)}</figcaption></figure>"
        for svg, (house, _), caption in zip(drawn, pictures, ("before", "now"), strict=True)
    )
    yield f'<div class="houses">{figures}</div>'
    told = dict.fromkeys(first.values())
    keys = "".join(f'<span style="--c:rgb{COLOURS[kind]}">{kind}</span>' for kind in told)
    if not report.house.another:
        yield f'<p class="key">{keys}<span style="--c:rgb{STILL}">as before</span></p>'


def _picture(house: Layout, kinds: dict[str, str], everything: Floats) -> str:
    """One house as SVG; ``everything`` (n, 2) are the metres that both pictures have to hold."""
    low, size = everything.min(axis=0), np.maximum(np.ptp(everything, axis=0), 0.5)
    scale = min((WIDTH - 2 * MARGIN) / size[0], (TALLEST - 2 * MARGIN) / size[1])
    height, left = round(size[1] * scale + 2 * MARGIN), (WIDTH - size[0] * scale) / 2

    def put(places: Floats) -> Floats:
        """Metres (n, 3) to places in the picture (n, 2)."""
        x = left + (places[:, 0] - low[0]) * scale
        return np.stack([x, height - MARGIN - (places[:, 1] - low[1]) * scale], axis=1)

    still: list[Mark] = []
    loud: list[Mark] = []
    rows: dict[tuple[str, str], list[Floats]] = {}
    for prop in sorted(house.props, key=lambda prop: float(house.pixels.Z[prop.start : prop.stop].mean())):
        kind = kinds.get(prop.name, "")
        points = put(metres(house, prop))
        colour = COLOURS[kind] if kind else STILL
        (loud if kind else still).append(Dots(points, 5.0 if kind else 3.4, colour))
        if kind:
            rows.setdefault((prop.member_of, kind), []).append(points)
    loud += _labels(rows, height)
    ground = height - MARGIN + 8.0
    edge = Lines(np.array([[MARGIN / 2, ground, WIDTH - MARGIN / 2, ground]]), 1.2, STILL)
    return to_svg(Figure(WIDTH, height, NIGHT, (edge, *still, *loud)))


def _labels(rows: dict[tuple[str, str], list[Floats]], height: int) -> Iterator[Words]:
    """The name of each prop, or of a whole row, above its pixels; higher, then below, where another name stands.

    That of a row stands at the member nearest to its middle, where something else may be.
    """
    taken: list[tuple[float, float, float]] = []
    for (name, kind), parts in rows.items():
        middle = np.concatenate(parts)[:, 0].mean()
        points = min(parts, key=lambda part: abs(float(part[:, 0].mean()) - middle))
        half = 0.3 * LETTERS * len(name)
        x = float(np.clip(points[:, 0].mean(), half + 4, max(half + 4, WIDTH - half - 4)))
        over, under = float(points[:, 1].min()) - 8, float(points[:, 1].max()) + 8 + LETTERS
        ways = [over - step * (LETTERS + 3) for step in range(6)] + [under + step * (LETTERS + 3) for step in range(6)]
        free = (
            y for y in ways if LETTERS <= y <= height - 4
            and all(abs(y - b) > LETTERS or abs(x - a) > half + other + 4 for a, b, other in taken)
        )  # fmt: skip
        y = next(free, max(over, 14.0))
        taken.append((x, y, half))
        yield Words(x, y, name, LETTERS, COLOURS[kind], "middle")


def _props(report: Retargeting) -> Iterator[str]:
    rows = [
        (_dot(prop.kinds[0]), escape(name), escape("; ".join(prop.words)))
        for name, prop in grouped_changes(report.house)
    ]
    heads = ("", "prop", "what became of it; in house coordinates, too")
    yield (_table(heads, rows) if rows else "<p>Nothing changed.</p>")


def _dot(kind: str) -> str:
    return f'<i style="--c:rgb{COLOURS[kind]}"></i>'


def _cues(report: Retargeting) -> Iterator[str]:
    rows: list[tuple[str, ...]] = []
    same: list[tuple[str, ...]] = []
    for cue in report.cues:
        mend = "".join(f"<li>{escape(proposal)}</li>" for proposal in cue.proposals)
        state = f'<b class="{cue.state.replace(" ", "-")}">{cue.state}</b>'
        told = [lit_words(cue.now)] if cue.state == "same" else cue_words(cue)
        what = "<br>".join(map(escape, told)) + (f"<ul>{mend}</ul>" if mend else "")
        row = (escape(f"{cue.name}"), escape(cue.effect), state, what)
        (same if cue.state == "same" and not mend else rows).append(row)
    heads = ("cue", "effect", "", "what it lights")
    if rows:
        yield _table(heads, rows)
    if same:
        more, several = "more " if rows else "", len(same) > 1
        summary = f"{len(same)} {more}cue{'s light what they' if several else ' lights what it'} lit before"
        yield f"<details><summary>{summary}</summary>\n{_table(heads, same)}</details>"


def _dark(report: Retargeting) -> Iterator[str]:
    rows = [tuple(map(escape, (prop.name, prop.why, prop.proposal))) for prop in report.dark]
    yield _table(("prop", "", "what would light it"), rows) if rows else f"<p>{lit_at_some_time(report)}</p>"
    if report.seldom:
        yield f"<p>{DARK_FOR_MOST}</p>"
        yield _table(("prop", "", "what would light it"),
                     [tuple(map(escape, (prop.name, prop.why, prop.proposal))) for prop in report.seldom])  # fmt: skip
    if report.unlit:
        yield f"<p>{escape(meant_to_be_dark(report))}</p>"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of cells that are HTML already."""

    def line(tag: str, cells: Sequence[str]) -> str:
        """One row of cells."""
        return "<tr>" + "".join(f"<{tag}>{cell}</{tag}>" for cell in cells) + "</tr>"

    body = "\n".join(line("td", row) for row in rows)
    return f"<table>\n<thead>{line('th', heads)}</thead>\n<tbody>\n{body}\n</tbody>\n</table>"
