"""``eavesong schema``: JSON Schemas of the files people write, for editors."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import click


@click.command(name="schema", short_help="Print the JSON Schema of a kind of file, for editors.")
@click.argument("kind", type=click.Choice(["layout", "survey", "effect", "show"]))
def command(kind: str) -> None:
    """Print the JSON Schema of a KIND of file, with which an editor completes and checks what is typed."""
    click.echo(json.dumps(_SCHEMAS[kind](), indent=2))


def _layout() -> dict[str, Any]:
    from eavesong.layout import layout_schema

    return layout_schema()


def _survey() -> dict[str, Any]:
    from eavesong.survey import survey_schema

    return survey_schema()


def _effect() -> dict[str, Any]:
    from eavesong.language import effect_schema

    return effect_schema()


def _show() -> dict[str, Any]:
    from eavesong.show import show_schema

    return show_schema()


_SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "layout": _layout,
    "survey": _survey,
    "effect": _effect,
    "show": _show,
}
