"""Options that were given and change nothing: they are told, as whoever gives one means something by it."""

from __future__ import annotations

from collections.abc import Mapping

import click


def tell_idle(reasons: Mapping[str, str]) -> None:
    """Say on standard error which options of this command change nothing this time, and why.

    reasons: why, by the names of the command's parameters; only what was given on the command line is told.
    """
    context = click.get_current_context()
    asked = click.core.ParameterSource.COMMANDLINE
    told: dict[str, list[str]] = {}
    for parameter in context.command.params:
        name = parameter.name or ""
        if name in reasons and context.get_parameter_source(name) is asked:
            told.setdefault(reasons[name], []).append(max(parameter.opts, key=len))
    for why, options in told.items():
        click.echo(f"{', '.join(options)} change{'s' * (len(options) == 1)} nothing here: {why}.", err=True)
