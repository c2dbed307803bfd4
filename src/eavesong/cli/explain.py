"""``eavesong explain``: what the compiler makes of an effect."""

from __future__ import annotations

import click


@click.command(name="explain", short_help="Show what an effect is compiled to.")
@click.argument("effect")
@click.option("--assembly", is_flag=True, help="Compile it and print the machine code too.")
def command(effect: str, assembly: bool) -> None:
    """Show what EFFECT is compiled to: what is computed once, per frame, per pixel, and inside the loop.

    EFFECT is the name of an effect that comes with eavesong, or the path of an effect file.
    """
    from eavesong.language import load_effect
    from eavesong.language.explain import explain, machine_code

    loaded = load_effect(effect)
    click.echo(explain(loaded))
    if assembly:
        click.echo(machine_code(loaded))
