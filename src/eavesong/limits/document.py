"""The report as a document: sections of notes, findings, tables and pictures, written once for text and page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Paragraph:
    """A sentence or two."""

    text: str
    kind: str = ""
    """``caution``, ``good``, ``bad``, or nothing."""
    page_only: bool = False


@dataclass(frozen=True)
class Item:
    """A finding, with a word before it that says what it is about."""

    about: str
    text: str
    bad: bool


@dataclass(frozen=True)
class Items:
    """Findings, the worst first."""

    rows: tuple[Item, ...]


@dataclass(frozen=True)
class Column:
    """A column of a table."""

    head: str
    number: bool = False
    """Set to the right."""
    width: int = 0
    """Characters in the terminal; 0: it is on the page only."""


@dataclass(frozen=True)
class Table:
    """Rows of texts under named columns."""

    columns: tuple[Column, ...]
    rows: Sequence[Sequence[str]]
    more: str = "more"
    """What rows are called that the terminal leaves out."""
    title: str = ""
    """Above it, on the page."""
    page_only: bool = False
    text_only: bool = False


@dataclass(frozen=True)
class Picture:
    """A picture for the page, as HTML."""

    markup: str


Block = Paragraph | Items | Table | Picture


@dataclass(frozen=True)
class Chapter:
    """A part of the report under a title."""

    title: str
    blocks: tuple[Block, ...]
    brief: str | None = None
    """What is in it, in a few words; then the page folds it. None: it lies open."""


@dataclass(frozen=True)
class Document:
    """The whole report."""

    title: str
    subject: str
    """What it is about: pixels, frames."""
    cautions: tuple[str, ...]
    sections: tuple[Chapter, ...]
