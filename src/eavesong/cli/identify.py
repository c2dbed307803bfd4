"""``eavesong identify``: light one thing at a time, dimly."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="identify", short_help="Light one prop or output at a time, dimly.")
@click.argument("names", nargs=-1, metavar="[PROP|OUTPUT]...")
@click.option("--layout", "-l", required=True, type=click.Path(path_type=Path), help="The house.")
@click.option("--seconds", default=3.0, type=click.FloatRange(0.2, 3600), help="How long each is lit; 3 if not given.")
@click.option(
    "--level", default=0.1, type=click.FloatRange(0.01, 0.3), help="Share of full brightness; 0.1 if not given."
)
@click.option("--rounds", default=1, type=click.IntRange(1, 10_000), help="How often to go through all of them.")
@click.option("--to", default="", metavar="ADDRESS", help="Send everything there, not to the house: 127.0.0.1 is here.")
@click.option("--interface", default="", metavar="ADDRESS", help="This computer's address that multicast leaves by.")
@click.option("--allow-public", is_flag=True, help="Send to public addresses too.")
def command(
    names: tuple[str, ...], layout: Path, seconds: float, level: float, rounds: int, to: str, interface: str,
    allow_public: bool,
) -> None:  # fmt: skip
    """Light one thing after the other: a prop, a tag, an output (controller:number); every output without a name.

    The pixel where the wire begins is green, the one where it ends is red.

    \b
    eavesong identify -l house.toml "arch 3"
    eavesong identify -l house.toml garage:2 --seconds 60
    eavesong identify -l house.toml --to 127.0.0.1    (and look: eavesong listen --layout house.toml)
    """
    from eavesong.cli.play import _end, _interface, _to
    from eavesong.layout import load_layout
    from eavesong.playback.identify import identify
    from eavesong.playback.session import Settings

    settings = Settings(
        discovery=False, interface=_interface(interface), allow_public=allow_public, to=_to(to, allow_public)
    )
    _end(identify(load_layout(layout), names, settings, seconds=seconds, level=level, rounds=rounds))
