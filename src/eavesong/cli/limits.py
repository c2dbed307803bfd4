"""``eavesong limits``: power, wiring, data and flashes, before money is spent and anything is plugged in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click


@click.command("limits")
@click.argument("layout", type=click.Path(path_type=Path))
@click.argument("frames", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("--page", type=click.Path(path_type=Path), metavar="OUT.html", help="Write the report as one HTML page.")
@click.option("--parts", type=click.Path(path_type=Path), metavar="OUT", help="Write the parts list: .csv or .html.")
@click.option(
    "--fps", "frame_rate", type=float, default=40.0, show_default=True, help="Frames a second, without FRAMES."
)
@click.option("--share", type=float, default=0.3, show_default=True, help="Share of full white, without FRAMES.")
@click.option("--distance", type=float, default=10.0, show_default=True, help="Metres from the nearest eye.")
@click.option("--area", is_flag=True, help="Let flashing areas pass that are below a quarter of a 10 degree field.")
@click.option("--tariff", type=float, default=0.30, show_default=True, help="Price of a kWh.")
@click.option("--hours", type=float, default=4.0, show_default=True, help="Hours a night.")
@click.option("--nights", type=float, default=30.0, show_default=True, help="Nights a season.")
@click.option("--slack", type=float, default=0.15, show_default=True, help="Share added to the lengths of leads.")
def command(
    layout: Path, frames: Path | None, as_json: bool, page: Path | None, parts: Path | None, **assumed: Any
) -> None:
    """Say whether the house of LAYOUT can carry a show, and what to buy for it.

    With FRAMES, what was rendered for it, every frame is measured; without, full white and a stated share of it.
    All figures are estimates. Ends with 0 when nothing is beyond its limit, 1 when something is, 3 when a file
    cannot be used.
    """
    import json
    from contextlib import nullcontext

    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.limits import Assumptions, limits, report_text

    house, stated = load_layout(layout), Assumptions(**assumed)
    with open_frames(frames) if frames else nullcontext() as opened:
        report = limits(house, opened, stated)
    click.echo(json.dumps(report.as_dict(), indent=2, ensure_ascii=False) if as_json else report_text(report))
    _write(report, page, parts)
    if not report.passes:
        raise click.exceptions.Exit(1)


def _write(report: Any, page: Path | None, parts: Path | None) -> None:
    from eavesong.files import write_whole
    from eavesong.limits import parts_csv, parts_page, report_page

    if page is not None:
        write_whole(page, report_page(report))
        click.echo(f"Wrote {page}.", err=True)
    if parts is not None:
        write_whole(parts, parts_page(report) if parts.suffix == ".html" else parts_csv(report.parts))
        click.echo(f"Wrote {parts}.", err=True)
