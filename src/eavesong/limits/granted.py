"""What figures take for granted of the pixels, and what other pixels would ask for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout
from eavesong.layout.doubts import odd_spacings, short_strings
from eavesong.layout.house import grouped
from eavesong.layout.kinds import GENERIC
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.findings import Finding
from eavesong.limits.propose import Proposal, propose

TWELVE = GENERIC["12 V, 18.5 mA"]
"""What pixels of fewer volts are compared with: three diodes in series share one current."""

MANY = 2
"""Feeding points per output, on average, above which pixels of 12 V are worth a thought (common practice)."""

MOST_NAMED = 4
"""Outputs that are named."""

HARDLY = 0.7
"""Of the feeding points, above which other pixels hardly spare any."""


def of_kinds(layout: Layout) -> Iterator[Finding]:
    """Pixels of which the layout does not say what they are: what is taken for granted, and what to write."""
    power = layout.power
    unsaid = power.taken_for_granted
    if not unsaid.any():
        return
    kind = power.types[int(power.type[unsaid][0])].name
    count = int(unsaid.sum())
    which = "the pixels are" if unsaid.all() else "1 pixel is" if count == 1 else f"{count:,} of the pixels are"
    found = (
        f"the layout does not say what {which}: '{kind}' a colour of each is taken for granted, and every figure of "
        "power, supplies and wire hangs on it"
    )
    advice = (
        f'Look at the box they came in and write, under [power], pixel_type = "{TWELVE.name}" (or '
        f"{' or '.join(chr(34) + name + chr(34) for name in GENERIC if name != TWELVE.name)}; or a [[pixel_type]] of "
        "your own)."
    )
    yield Finding("pixels", found, advice, warning=True)


def of_unlit(layout: Layout, full: NDArray[np.float64]) -> Iterator[Finding]:
    """Props that are meant to stay dark and are counted all the same. full: amperes (n,) at full white."""
    dark = [prop for prop in layout.props if not prop.lit]
    if not dark:
        return
    pixels = np.concatenate([np.arange(prop.start, prop.stop) for prop in dark])
    volts = np.array([kind.volts for kind in layout.power.types])[layout.power.type]
    named = ", ".join(grouped(layout, [index for index, prop in enumerate(layout.props) if not prop.lit]))
    found = (
        f"{named} {'is' if len(dark) == 1 else 'are'} 'unlit', and counted in every figure at full white all the same: "
        f"{float((full * volts)[pixels].sum()):,.0f} W of {float((full * volts).sum()):,.0f} W"
    )
    advice = (
        "Shows keep them dark, a slip or another program would not. Where they are not wired, take them out of the "
        "layout, and out of their output's 'chain'."
    )
    yield Finding("pixels", found, advice, warning=True)


def of_brightness(layout: Layout, full: NDArray[np.float64], measured: bool) -> Iterator[Finding]:
    """Outputs that send less than all, and are counted in full all the same. full: amperes (n,) at full white.
    measured: whether frames are given, by which supplies are judged then."""
    sent = layout.patch.brightness
    dimmed = [string for string in layout.power.strings if (sent[string.pixels] < 1).any()]
    if not dimmed:
        return
    volts = np.array([kind.volts for kind in layout.power.types])[layout.power.type]
    watts = float(sum((full * volts)[string.pixels].sum() for string in dimmed))
    named = ", ".join(f"'{string.name}'" for string in dimmed[:MOST_NAMED])
    more = f" and {len(dimmed) - MOST_NAMED} more" if len(dimmed) > MOST_NAMED else ""
    found = f"the brightness of {named}{more} is not taken off full white, which is {watts:,.0f} W there"
    less = "To plan with less, " + ("" if measured else "give frames, or ")
    advice = (
        f"Shows send no more than it lets them, a slip or another program could. {less}limit every show with "
        "--limit supply and say --supply-share."
    )
    yield Finding("pixels", found, advice, warning=True)


def of_spacing(layout: Layout) -> Iterator[Finding]:
    """Props with more pixels than their wire has room for, by far fewer than all others, or too short strings."""
    for _, found, advice in (*odd_spacings(layout), *short_strings(layout)):
        yield Finding("pixels", found, advice, warning=True)


def instead(layout: Layout, proposal: Proposal, assumed: Assumptions) -> str:
    """What pixels of 12 V would need in place of what is proposed for weaker ones; empty where that is not many."""
    points = feeding_points(proposal)
    weak = [kind.volts < TWELVE.volts for kind in layout.power.types]
    outputs = {feed.string for supply in proposal.supplies for feed in supply.feeds}
    if points <= MANY * len(outputs) or not any(weak):
        return ""
    power = layout.power
    strong = replace(TWELVE, amperes=TWELVE.amperes[:1] * 4)
    types = tuple(
        replace(strong, wire=kind.wire, spacing=kind.spacing) if low else kind
        for kind, low in zip(power.types, weak, strict=True)
    )
    other = replace(layout, power_plan=replace(power, types=types))
    found = propose(other, assumed, rig_full(other))[1]
    if found.missing or feeding_points(found) >= points:
        return ""
    many = feeding_points(found)
    supplies = "1 supply" if len(found.supplies) == 1 else f"{len(found.supplies)} supplies"
    hardly = ": there it is the strings' own wire that may carry no more" if many > HARDLY * points else ""
    return f"Pixels of 12 V ('{TWELVE.name}') would take {supplies} and {many} feeding point{'s' * (many > 1)}{hardly}."


def feeding_points(proposal: Proposal) -> int:
    """Places where what is proposed meets strings."""
    return sum(len(feed.points) for supply in proposal.supplies for feed in supply.feeds)


def rig_full(layout: Layout) -> NDArray[np.float64]:
    """Amperes (n,) of every pixel of a layout at full white."""
    from eavesong.within.rig import rig_of

    return rig_of(layout).full
