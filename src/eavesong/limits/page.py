"""The report, and the parts list alone, as one HTML page each that needs nothing else, prints well and fits a phone."""

from __future__ import annotations

from html import escape
from pathlib import Path

from eavesong.limits.contents import document_of, parts_document
from eavesong.limits.document import Block, Chapter, Document, Items, Paragraph, Picture, Table
from eavesong.limits.limits import Limits

UNFOLD = """addEventListener("beforeprint", () =>
  document.querySelectorAll("details").forEach(each => each.open = true));"""
"""Paper has nothing to unfold."""


def report_page(limits: Limits) -> str:
    """The whole report as HTML: the verdict and what to do first, then every row and picture, folded."""
    return page_of(document_of(limits))


def parts_page(limits: Limits) -> str:
    """The parts list as HTML to print and take along."""
    return page_of(parts_document(limits))


def page_of(document: Document) -> str:
    """A document as HTML; what is meant for the terminal alone is left out."""
    style = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in document.cautions)
    body = "\n".join(map(_section, document.sections))
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{escape(document.title)}: '
        f"{escape(document.subject)}</title>\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta name="generator" content="eavesong">\n<style>\n{style}</style>\n</head>\n'
        f'<body>\n<main>\n<h1>{escape(document.title)}</h1>\n<p class="sub">{escape(document.subject)}</p>\n'
        f'<ul class="cautions">{cautions}</ul>\n{body}\n</main>\n'
        f"<script>{UNFOLD}</script>\n</body>\n</html>\n"
    )


def _section(section: Chapter) -> str:
    title, blocks = f"<h2>{escape(section.title)}</h2>", "\n".join(map(_block, section.blocks))
    if section.brief is None:
        return f"<section>\n{title}\n{blocks}\n</section>"
    brief = f'<span class="note">{escape(section.brief)}</span>'
    return f"<details>\n<summary>{title} {brief}</summary>\n{blocks}\n</details>"


def _block(block: Block) -> str:
    if isinstance(block, Picture):
        return block.markup
    if isinstance(block, Paragraph):
        kind = f"verdict {block.kind}" if block.kind in ("good", "bad") else "note"
        return f'<p class="{kind}">{escape(block.text)}</p>'
    if isinstance(block, Items):
        rows = (
            f'<li><span class="about {"bad" if item.bad else "warn"}">{escape(item.about)}</span> '
            f"{escape(item.text)}</li>"
            for item in block.rows
        )
        return f'<ul class="found">{"".join(rows)}</ul>'
    return "" if block.text_only else _table(block)


def _table(table: Table) -> str:
    """A table; on a narrow screen each row becomes a card, in which every cell says what it is."""
    kinds = [' class="n"' if column.number else "" for column in table.columns]
    heads = "".join(
        f'<th scope="col"{kind}>{escape(column.head)}</th>' for kind, column in zip(kinds, table.columns, strict=True)
    )
    lines = []
    for row in table.rows:
        cells = (
            f'<td{kind} data-head="{escape(column.head)}">{escape(cell)}</td>'
            for kind, column, cell in zip(kinds, table.columns, row, strict=True)
        )
        lines.append(f"<tr>{''.join(cells)}</tr>")
    title = f"<caption>{escape(table.title)}</caption>\n" if table.title else ""
    return f"<table>\n{title}<thead><tr>{heads}</tr></thead>\n<tbody>\n{chr(10).join(lines)}\n</tbody>\n</table>"
