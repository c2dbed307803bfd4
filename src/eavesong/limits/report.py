"""The report as text of at most 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from eavesong.limits.contents import document_of
from eavesong.limits.document import Block, Chapter, Document, Items, Paragraph, Table
from eavesong.limits.limits import Limits

WIDTH = 80
MOST_ROWS = 20
"""Rows of a table in the terminal; the page and JSON have all of them."""


def report_text(limits: Limits) -> str:
    """The report: cautions, then every section in short."""
    return text_of(document_of(limits))


def text_of(document: Document) -> str:
    """A document as text; pictures and columns without a width are left to the page."""
    parts = [_wrapped(document.title) + _wrapped(document.subject)]
    parts.append([line for caution in document.cautions for line in _wrapped(caution, "! ")])
    told = ((section.title, list(_section(section))) for section in document.sections)
    parts += [[title, *lines] for title, lines in told if lines]
    return "\n\n".join("\n".join(lines) for lines in parts)


def _wrapped(text: str, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False)


def _section(section: Chapter) -> Iterator[str]:
    for block in section.blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Paragraph) and not block.page_only:
        yield from _wrapped(block.text, "! " if block.kind == "caution" else "  ")
    elif isinstance(block, Items):
        for item in block.rows[:MOST_ROWS]:
            yield from _wrapped(item.text, f"  {item.about if item.bad else 'warning':<9} ")
        if len(block.rows) > MOST_ROWS:
            yield f"  and {len(block.rows) - MOST_ROWS} more: see the page or JSON"
    elif isinstance(block, Table) and not block.page_only:
        yield from _table(block)


def _table(table: Table) -> Iterator[str]:
    """A table's columns that have a width, cut to it; as many rows as a terminal shows."""
    shown = [n for n, column in enumerate(table.columns) if column.width]

    def line(cells: list[str]) -> str:
        """One row of text, its cells as wide as their columns."""
        columns = [table.columns[n] for n in shown]
        fitted = (_fitted(cell, column.width, column.number) for cell, column in zip(cells, columns, strict=True))
        return "  " + " ".join(fitted).rstrip()

    yield line([table.columns[n].head for n in shown])
    for row in table.rows[:MOST_ROWS]:
        yield line([row[n] for n in shown])
    if len(table.rows) > MOST_ROWS:
        yield f"  and {len(table.rows) - MOST_ROWS} {table.more}"


def _fitted(text: str, width: int, right: bool) -> str:
    text = text if len(text) <= width else text[: width - 1] + "…"
    return f"{text:>{width}}" if right else f"{text:<{width}}"
