"""``eavesong effects``: what effects there are and what can be set."""

from __future__ import annotations

import textwrap

import click


@click.command(name="effects", short_help="List the effects, or describe one.")
@click.argument("name", required=False)
@click.option("--functions", is_flag=True, help="List what the effect language offers.")
def command(name: str | None, functions: bool) -> None:
    """List the effects that come with eavesong, or describe NAME with its parameters and its code.

    NAME is one of them, or the path of an effect file of your own (ending in .toml).
    """
    from eavesong.language import effect_names, load_effect

    if functions:
        _print_functions()
    elif name is None:
        for known in effect_names():
            effect = load_effect(known)
            click.echo(textwrap.fill(f"{known:<18}{effect.about}", 96, subsequent_indent=" " * 18))
        click.echo("\n'eavesong effects NAME' describes one; 'eavesong effects --functions' lists the language.")
    else:
        _print_effect(load_effect(name))


def _print_effect(effect: object) -> None:
    from eavesong.language import Effect

    assert isinstance(effect, Effect)
    click.echo(f"{effect.title} ({effect.name})\n")
    click.echo(textwrap.fill(effect.about, 90))
    if effect.parameters:
        click.echo("\nParameters")
    for name, parameter in effect.parameters.items():
        default = parameter.default if isinstance(parameter.default, str) else f"{parameter.default:g}"
        low = "" if parameter.min is None else f"{parameter.min:g}"
        high = "" if parameter.max is None else f"{parameter.max:g}"
        span = f"{low} to {high}" if low and high else f"from {low}" if low else f"to {high}" if high else ""
        about = "; ".join(part for part in (parameter.about, parameter.unit, span) if part)
        click.echo(textwrap.fill(f"  {name:<14}{default:<10}{about}", 96, subsequent_indent=" " * 26))
    click.echo("\nCode\n" + textwrap.indent(effect.code.strip(), "  "))


def _print_functions() -> None:
    from eavesong.language.builtins import FRAME_INPUTS, FUNCTIONS, PIXEL_INPUTS

    for title, inputs in (("Read once a frame", FRAME_INPUTS), ("Read once a pixel", PIXEL_INPUTS)):
        click.echo(title)
        for entry in inputs:
            click.echo(f"  {entry.name:<18}{entry.about}" + (f" ({entry.unit})" if entry.unit != "-" else ""))
        click.echo()
    click.echo("Functions")
    for function in FUNCTIONS.values():
        text = f"  {function.signature:<34}{function.about}"
        click.echo(textwrap.fill(text, 110, subsequent_indent=" " * 36))
