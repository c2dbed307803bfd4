"""``eavesong limits``: power, wiring, data and flashes, before money is spent and anything is plugged in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import may_overwrite, tell_outdated
from eavesong.words import typed


def _list_name(_context: click.Context, _option: click.Parameter, path: Path | None) -> Path | None:
    """A parts list is comma-separated text or a page; refused at once where its name says something else."""
    if path is not None and path.suffix.lower() not in (".csv", ".html"):
        found = f"a parts list cannot be written as '{path.suffix or path.name}'"
        raise click.BadParameter(f"{found}. Name a file that ends with .csv or .html; a browser prints .html as PDF.")
    return path


@click.command("limits")
@click.argument("layout", type=click.Path(path_type=Path))
@click.argument("frames", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("--page", type=click.Path(path_type=Path), metavar="OUT.html", help="Write the report as one HTML page.")
@click.option("--parts", type=click.Path(path_type=Path), metavar="OUT", callback=_list_name,
              help="Write the parts list: .csv or .html.")  # fmt: skip
@click.option("--propose", type=click.Path(path_type=Path), metavar="OUT.toml",
              help="Write the layout with supplies for pixels that have none.")  # fmt: skip
@click.option(
    "--fps", "frame_rate", type=float, default=40.0, show_default=True, help="Frames a second, without FRAMES."
)
@click.option("--share", type=float, default=0.3, show_default=True, help="Share of full white, without FRAMES.")
@click.option("--supply-share", type=float, default=1.0, show_default=True,
              help="Share of full white that supplies are sized for; below 1, render with --limit supply.")  # fmt: skip
@click.option("--distance", type=float, default=None, show_default="the layout's 'watched_from', or 10",
              help="Metres from the nearest eye.")  # fmt: skip
@click.option("--area", is_flag=True, help="Let flashing areas pass that are below a quarter of a 10 degree field.")
@click.option("--hop", type=float, default=5.0, show_default=True, help="Metres of data cable between two pixels.")
@click.option("--tariff", type=float, default=0.30, show_default=True, help="Price of a kWh.")
@click.option("--hours", type=float, default=4.0, show_default=True, help="Hours a night.")
@click.option("--nights", type=float, default=30.0, show_default=True, help="Nights a season.")
@click.option("--slack", type=float, default=0.15, show_default=True, help="Share added to the lengths of cables.")
@click.option("--spares", type=float, default=0.05, show_default=True, help="Share of parts bought to spare.")
@may_overwrite
def command(
    layout: Path, frames: Path | None, as_json: bool, page: Path | None, parts: Path | None, propose: Path | None,
    overwrite: bool, **assumed: Any,
) -> None:  # fmt: skip
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
    from eavesong.replaced import replacing
    from eavesong.scene import Reopened

    if layout.suffix == ".h5":
        advice = f"eavesong limits {typed(frames or 'HOUSE.toml')} {typed(layout)}"
        raise click.UsageError(f"The house comes first, its frames behind it: {advice}")
    if frames is not None:
        tell_idle(dict.fromkeys(("frame_rate", "share"), "the frames themselves are measured"))
    else:
        tell_idle(dict.fromkeys(("distance", "area"), "flashes are looked for in FRAMES, and none were given"))
    with replacing(page, parts, propose, overwrite=overwrite, read=(layout, frames)):
        house, stated = load_layout(layout), Assumptions(**assumed)
        with open_frames(frames) if frames else nullcontext() as opened:
            if opened is not None:
                tell_outdated(Reopened(opened).outdated)
            report = limits(house, opened, stated)
        click.echo(json.dumps(report.as_dict(), indent=2, ensure_ascii=False) if as_json else report_text(report))
        _write(report, page, parts)
        if propose is not None:
            _propose(house, report, propose)
    if not report.passes:
        raise click.exceptions.Exit(1)


def _write(report: Any, page: Path | None, parts: Path | None) -> None:
    from eavesong.files import write_whole
    from eavesong.limits import parts_csv, parts_page, report_page

    if page is not None:
        write_whole(page, report_page(report))
        click.echo(f"Wrote {page}.", err=True)
    if parts is not None:
        text = parts_page(report) if parts.suffix.lower() == ".html" else parts_csv(report.parts)
        write_whole(parts, text)
        click.echo(f"Wrote {parts}.", err=True)


def _propose(house: Any, report: Any, out: Path) -> None:
    """Write the layout with what is proposed, and say how it fares under the same checks."""
    from eavesong.layout import load_layout
    from eavesong.limits import limits, write_proposal

    anew = write_proposal(house, report.proposal, out, report.voltages, report.assumed.slack)
    many = len(report.proposal.supplies)
    found = sum(not finding.warning for finding in limits(load_layout(out), None, report.assumed).findings)
    again = f" --supply-share {report.assumed.supply_share:g}" if report.assumed.supply_share < 1.0 else ""
    verdict = "within limits" if not found else f"{found} still to look at: eavesong limits {typed(out)}{again}"
    proposed = f"{'1 supply' if many == 1 else f'{many} supplies'} proposed" if many else "feeding points added"
    click.echo(f"Wrote {out}: {proposed}; {verdict}.", err=True)
    if anew:
        click.echo(f"Set anew, as no points beside them are enough: {anew}.", err=True)
    if many and report.assumed.supply_share < 1.0:
        share = f"{report.assumed.supply_share:.0%} of full white"
        click.echo(f"They are sized for {share}: render every show with --limit supply, which keeps to it.", err=True)
