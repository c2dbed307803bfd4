"""What is found: each thing to look at, and what a person can do about it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from eavesong.files import content_hash
from eavesong.kernels.thresholds import LIMIT
from eavesong.layout.lengths import length_text
from eavesong.layout.size import units_in
from eavesong.limits.ampacity import CONTINUOUS, WARMEST
from eavesong.limits.assumptions import Assumptions
from eavesong.limits.circuits import Cut, pixel_name
from eavesong.limits.data import Data
from eavesong.limits.flashes import LONG, Flashes
from eavesong.limits.mains import CIRCUITS, Mains
from eavesong.limits.power import Load, Power
from eavesong.limits.propose import Proposal
from eavesong.limits.remedy import rating_for
from eavesong.limits.voltage import Lowest, Voltage

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout
    from eavesong.layout.feeds import Supply

MOST_NAMED = 4
"""Supplies that are named in one finding."""


@dataclass(frozen=True)
class Finding:
    """Something to look at."""

    about: str
    """``pixels``, ``supply``, ``voltage``, ``wire``, ``mains``, ``data``, ``flashes`` or ``frames``."""
    found: str
    instead: str = ""
    warning: bool = False
    """A warning does not fail the check."""

    def __str__(self) -> str:
        return f"{self.found}. {self.instead}".strip()


SHORT, SLIGHT, HARDLY = 0.95, 0.1, 0.02
"""Share of the straight way, and metres less, that a lead may be shorter: places are not known to the centimetre; and
metres by which one counts as shorter where another is told."""


UNSEEN, POWER = ("street", "photo"), ("supply", "power")
"""What a layout says that no byte of its frames depends on: at all, and without a limit, which counts watts."""
NOT_COUNTED = ("celsius", "lead", "extension", "connector_amperes")
"""Of a layout's [power], what no limit counts with."""


def of_frames(layout: Layout, frames: FramesFile | None, limit: Collection[str] = ()) -> Iterator[Finding]:
    """Frames that were made for another version of the layout; limit: what they were limited to."""
    made_for = None if frames is None else frames.hashes.get("layout files")
    if frames is None or not made_for or not layout.content_hash or made_for == layout.content_hash:
        return
    found, advice = "the frames were rendered on another version of this layout", "to be sure of the figures."
    if made_for == content_hash(text := frames.texts.get("layout", "")):  # else points files belong to it
        others = _others(text, layout.text)
        if others <= {*UNSEEN, *(() if limit else POWER)}:
            return
        first = "supply" in others and "\n[[supply" not in f"\n{text}"  # watts were counted with the pixels' own volts
        if first and others <= {*UNSEEN, "supply"} and "supply" not in limit and _of_nominal_volts(layout):
            return
        if others <= {*UNSEEN, *POWER}:
            what = "other supplies" if "supply" in others else "another [power]"
            found, advice = f"the frames were limited with {what}", "for the limit of this layout."
    yield Finding("frames", found, f"Render them again {advice}", warning=True)


def _of_nominal_volts(layout: Layout) -> bool:
    """Whether every supply gives what the pixels that it feeds are made for."""
    power = layout.power
    volts = np.array([kind.volts for kind in power.types])[power.type]
    fed = [(supply.volts, power.strings[feed.string].pixels[feed.start : feed.stop])
           for supply in power.supplies for feed in supply.feeds]  # fmt: skip
    return all(bool((volts[pixels] == given).all()) for given, pixels in fed)


def _others(one: str, other: str) -> set[str]:
    """The keys of two layouts' texts that do not say the same."""
    a, b = tomllib.loads(one), tomllib.loads(other)
    for tables in (a, b):
        for name in NOT_COUNTED:
            tables.get("power", {}).pop(name, None)
        for supply in tables.get("supply", ()):
            supply.pop("at", None)
            for feed in supply.get("feed", ()):  # where leads meet a stretch is of the voltage alone
                feed.pop("lead", None)
                feed.pop("inject", None)
    return {key for key in {*a, *b} if (a.get(key) or None) != (b.get(key) or None)}


def of_supplies(power: Power, assumed: Assumptions, limited: bool = False) -> Iterator[Finding]:
    """Supplies that are asked for more than is planned with, and those that only a limit keeps within their rating:
    where the frames are ``limited`` so, that is told as what other frames need."""
    for load in power.supplies:
        asked, when = _asked(load, assumed.supply_share)
        assert load.usable is not None
        assert load.rated is not None
        if asked > load.usable * (1 + 1e-9):
            planned = f"{load.usable:.0f} W of its {load.rated:.0f} W are planned with"
            found = f"supply '{load.name}' is asked for {asked:.0f} W {when}; {planned}"
            yield Finding("supply", found, f"{_larger(load, assumed.supply_share)}, or render with --limit supply.")
        elif load.full > load.rated:
            found = f"supply '{load.name}' is rated for {load.rated:.0f} W, and full white asks {load.full:.0f} W"
            advice = "Render with --limit supply, so that nothing can ask for more."
            if limited:
                advice = "These frames keep to it by their limit; render others with --limit supply, too."
            yield Finding("supply", found, advice, warning=True)


def of_glance(supply: Supply, asked: float, when: str) -> Finding:
    """Of a supply that is asked for too many watts in one of some frames that were looked at."""
    planned = f"{supply.watts * supply.usable:.0f} W of its {supply.watts:.0f} W are planned with"
    found = f"supply '{supply.name}' is asked for {asked:.0f} W or more, as at {when}; {planned}"
    return Finding("supply", found, 'Render with --limit supply, in a setlist limit = "supply".')


def _asked(load: Load, share: float) -> tuple[float, str]:
    if load.peak is not None:
        return load.peak, f"at {load.worst}"
    return _share_of(load, share), "at full white" if share == 1 else f"at {share:.0%} of full white"


def _share_of(load: Load, share: float) -> float:
    """Watts at a share of full white."""
    return load.idle + (load.full - load.idle) * share


def _larger(load: Load, share: float) -> str:
    """What to take instead: a supply that can be planned with for the share of full white that is asked for, and for
    what the frames take, where one is sold."""
    assert load.usable is not None
    assert load.rated is not None
    wanted = max(_share_of(load, share), load.peak or 0.0)
    rating = rating_for(wanted, load.volts or 0.0, load.usable / load.rated)
    larger = f", or take one of {rating:.0f} W" if rating is not None else ""
    return f"Share its feeds among more supplies{larger}"


def of_unfed(
    power: Power, proposal: Proposal, voltages: tuple[Voltage, ...], draft: bool, instead: str = ""
) -> Iterator[Finding]:
    """Pixels that the layout gives no supply: how many, what would happen at one end, and what is proposed.

    instead: what other pixels would take.
    """
    if not power.unfed_pixels:
        return
    count = "1 pixel has" if power.unfed_pixels == 1 else f"{power.unfed_pixels:,} pixels have"
    found = f"{count} no supply in the layout"
    advice = "Describe controllers and their outputs; supplies can then be proposed." if draft else ""
    if proposal.supplies:
        points = sum(len(feed.points) for supply in proposal.supplies for feed in supply.feeds)
        many = "1 supply is" if len(proposal.supplies) == 1 else f"{len(proposal.supplies)} supplies are"
        advice = f"{many} proposed, with {points} feeding point{'s' * (points > 1)}: --propose OUT.toml writes them."
        advice = " ".join(part for part in (advice, _room(power, proposal), instead) if part)
    weak = [voltage for voltage in voltages if not voltage.supply and not voltage.sound]
    if weak:
        worst = min(weak, key=lambda voltage: voltage.full.volts - voltage.full.needed)
        facts = next(_facts(worst, worst.full, "at full white"))
        found += f", and {len(weak)} of their strings cannot be fed from the first pixel alone: {facts}"
    yield Finding("supply", found, advice, warning=not weak)
    for reason in proposal.missing:
        yield Finding("supply", f"no supply can be proposed for {reason}")


def _room(power: Power, proposal: Proposal) -> str:
    """That supplies which are there already have room for an output more at full white, and how to use it; empty if
    none has."""
    wanted = {supply.volts for supply in proposal.supplies}
    rooms = {load.name: load.usable - load.full for load in power.supplies if load.usable and load.volts in wanted}
    found = [f"'{name}' has {room:.0f} W" for name, room in rooms.items() if room >= max(ROOM, proposal.least)]
    if not found:
        return ""
    return f"{' and '.join(found[:3])} to spare at full white: a [[supply.feed]] more, and less is to be bought."


def of_voltages(voltages: tuple[Voltage, ...], celsius: float) -> Iterator[Finding]:
    """Circuits whose pixels lack volts or whose wires carry too much at ``celsius``, with what would mend them."""
    nothing = NOTHING_HELPS if celsius <= WARMEST else TOO_WARM.format(celsius)
    for voltage in voltages:
        if not voltage.supply:
            continue
        lowest, when = voltage.worst or voltage.full, "at full white"
        if voltage.worst:
            when = f"at {voltage.moment}"
        advice = "; or ".join(map(str, voltage.remedies)) or nothing
        advice = f"{advice[:1].upper()}{advice[1:]}."
        facts = list(_facts(voltage, lowest, when))
        if facts:
            yield Finding("wire" if voltage.strains else "voltage", "; ".join(facts), advice)
        elif not voltage.full.holds:
            fall = shortfall(voltage.full.volts, voltage.full.needed)
            yield Finding("voltage", f"{voltage.circuit} would fall to {fall} at full white", advice, warning=True)


NOTHING_HELPS = (
    "no number of points up to 40, through leads up to AWG 8, is enough: split the string, take strings of thicker "
    "wire, or hang the supply nearer"
)
TOO_WARM = (
    f"at {{:g}} °C no wire of the tables may carry anything: they end at {WARMEST} °C. Hang the lights where it is "
    "cooler, or ask a licensed person for cable that bears the heat"
)
ROOM = 10.0
"""Watts to spare of a supply that are worth a word: some 30 pixels of 5 V at full white."""

MOST_FACTS = 2


def _facts(voltage: Voltage, lowest: Lowest, when: str) -> Iterator[str]:
    if not lowest.holds:
        where = f"'{lowest.prop}' pixel {lowest.pixel} of {voltage.circuit}"
        yield f"{where} gets {shortfall(lowest.volts, lowest.needed)} {when}"
    for strain in voltage.strains[:MOST_FACTS]:
        yield f"{strain} at full white ({voltage.circuit})"
    if len(voltage.strains) > MOST_FACTS:
        yield f"{len(voltage.strains) - MOST_FACTS} more like it"


def shortfall(volts: float, needed: float) -> str:
    """``4.31 V of 4.5 V``, with as many digits as it takes to tell one from the other."""
    if volts <= 0:
        return f"0 V in place of {needed:.1f} V"
    digits = next((digits for digits in (1, 2, 3) if f"{volts:.{digits}f}" != f"{needed:.{digits}f}"), 4)
    return f"{volts:.{digits}f} V of {needed:.{digits}f} V"


def of_leads(layout: Layout) -> Iterator[Finding]:
    """Leads that are shorter than the straight way from where their supply hangs: what falls over them, and what is
    bought, is reckoned by the length that the layout gives."""
    units = units_in(layout.text)
    for supply in layout.power.supplies:
        if supply.at is None:
            continue
        home = np.asarray(supply.at) - layout.frame.origin
        short, all_told = [], 0
        for feed in supply.feeds:
            for entry in feed.points:
                pixel = int(layout.power.strings[feed.string].pixels[entry.position])
                place = np.array([axis[pixel] for axis in (layout.pixels.X, layout.pixels.Y, layout.pixels.Z)])
                straight = float(np.linalg.norm(place - home))
                length = entry.lead.length if entry.lead is not None else None
                all_told += length is not None and length < straight - HARDLY
                if length is not None and length < SHORT * straight - SLIGHT:
                    prop, number = pixel_name(layout, pixel)
                    has, way = length_text(length, units), length_text(straight, units)
                    lead = f"the lead from '{supply.name}' to '{prop}' pixel {number}"
                    short.append((straight - length, f"{lead} is {has} long, and the straight way is {way}"))
        if short:
            _, found = max(short, key=lambda each: each[0])
            are = "is" if all_told == 2 else "are"
            more = f"; {all_told - 1} more of its leads {are} too short, too" if all_told > 1 else ""
            advice = "Measure it, or write where the supply hangs now: volts and parts go by these lengths."
            yield Finding("lead", f"{found}{more}", advice, warning=True)


def of_cuts(cuts: tuple[Cut, ...]) -> Iterator[Finding]:
    """Strings that several supplies feed: their positives must not be joined."""
    strings: dict[str, list[Cut]] = {}
    for cut in cuts:
        if cut.fed:
            strings.setdefault(cut.string, []).append(cut)
    for string, here in strings.items():
        places = ", ".join(f"{cut.position} ('{cut.after[0]}' pixel {cut.after[1]})" for cut in here)
        found = f"several supplies feed {string}: their positives must not be joined"
        yield Finding("wire", found, f"Cut the positive before pixel {places}; keep ground and data.", warning=True)


def of_mains(mains: Mains) -> Iterator[Finding]:
    """More from the mains than one usual circuit gives over hours, of supplies alone and of all."""
    alone = [told for volts, rating in CIRCUITS if (told := _too_much(mains, volts, rating))]
    if alone:
        found = f"one supply cannot be on two circuits, and at full white {'; '.join(alone)}"
        most = max(
            math.ceil(load.amperes(volts) / (CONTINUOUS * rating))
            for volts, rating in CIRCUITS
            for load in mains.supplies
        )
        advice = (
            f"Feed its strings from {most} smaller supplies, each on a circuit of its own; or ask a licensed person "
            "for a larger circuit."
        )
        yield Finding("mains", found, advice, warning=True)
    if all(count <= 1 for _, _, count in mains.circuits):
        return
    takes = " or ".join(f"{mains.house.amperes(volts):.2f} A at {volts:.0f} V" for volts, _ in CIRCUITS)
    gives = " or ".join(f"{CONTINUOUS * rating:.1f} A of {rating:.0f} A" for _, rating in CIRCUITS)
    needs = " or ".join(f"{count} at {volts:.0f} V" for volts, _, count in mains.circuits)
    found = f"full white takes {takes} from the mains, and a usual circuit gives {gives} over hours"
    advice = f"It needs at least {needs}, each with residual-current protection: ask a licensed person."
    yield Finding("mains", found, advice, warning=True)


def _too_much(mains: Mains, volts: float, rating: float) -> str:
    """The supplies that take more than a circuit of ``rating`` amperes gives over hours; empty where none does."""
    gives = CONTINUOUS * rating
    takes = [f"'{load.name}' takes {load.amperes(volts):.2f} A" for load in mains.beyond(volts, gives)]
    if not takes:
        return ""
    more = f" and {len(takes) - MOST_NAMED} more too much" if len(takes) > MOST_NAMED else ""
    where = f"at {volts:.0f} V, where a circuit of {rating:.0f} A gives {gives:.1f} A over hours"
    return f"{', '.join(takes[:MOST_NAMED])}{more} {where}"


INSIDE = (
    "Inside a prop, wire every second strand back ('zigzag'), or name it in its chain once for each strand, with "
    "'pixels' and the dark ones before it."
)


def of_data(data: Data, assumed: Assumptions, units: str = "m") -> Iterator[Finding]:
    """Outputs, controllers, universes and cables that cannot carry the data."""
    long = [hop for hop in data.hops if hop.metres > assumed.hop]
    if long:
        worst = long[0]
        places = "in 1 place" if len(long) == 1 else f"in {len(long)} places"
        found = (
            f"data goes more than {length_text(assumed.hop, units)} without a pixel {places}, up to "
            f"{length_text(worst.metres, units, 2 if worst.metres < 1.02 * assumed.hop else 1)} from "
            f"{worst.way} ({worst.string})"
        )
        advice = (
            "Put dark pixels on the way ('null_pixels'), or a pair of differential senders and receivers; the parts "
            "list names each place."
        )
        if any(hop.before == hop.after and hop.last for hop in long):
            advice = f"{INSIDE} {advice}"
        yield Finding("data", found, advice, warning=True)
    for output in data.outputs:
        if not output.passes:
            found = (
                f"output {output.output} of '{output.controller}' takes {output.milliseconds:.1f} ms for its "
                f"{output.pixels:,} pixels, {output.most_frames:.1f} frames a second at most"
            )
            yield Finding("data", found, f"Keep to {output.most_pixels:,} pixels at {data.frame_rate:g} a second.")
    for box in data.controllers:
        if box.frame_rate_limit and data.frame_rate > box.frame_rate_limit:
            found = f"'{box.name}' takes {box.frame_rate_limit:g} frames a second, and {data.frame_rate:g} are sent"
            yield Finding("data", found, "Render with a lower --fps.")
    if data.above_e111:
        found = f"{data.frame_rate:g} frames a second are more than the 44 that ANSI E1.11 allows a full universe"
        yield Finding("data", found, "Make sure that every controller is set to take them.", warning=True)


def of_flashes(flashes: Flashes | None, assumed: Assumptions, layout: Layout, softened: bool) -> Iterator[Finding]:
    """Light that flashes more often than people bear, or nearly; ``softened``: whether that was asked for."""
    if flashes is None:
        return
    count = len(flashes.episodes) + flashes.more_episodes
    if count:
        times = "once" if count == 1 else f"{count} times"
        found = f"more than three flashes in a second, {times}, up to {flashes.most_transitions / 2:g}"
        if flashes.allowed:
            advice = "The show allows it: warn everyone who may come by, at the entrance and in writing."
            yield Finding("flashes", found, advice, warning=True)
        else:
            advice = "Where they are meant, say 'allow_flashes = true' in the show and warn everyone who may come by"
            yield Finding("flashes", found, f"{_softening(flashes, layout, softened)}. {advice}.")
    elif flashes.most_transitions >= LIMIT - 1:
        found = f"up to {flashes.most_transitions / 2:g} flashes in a second, just within the limit of three"
        yield Finding("flashes", found, warning=True)
    if assumed.area and not flashes.broadcast_passes:
        found = f"{flashes.broadcast_share:.0%} of the display flashes more than three times in a second"
        yield Finding("flashes", found, "ITU-R BT.1702 lets no more than a quarter of it pass.", warning=True)
    if flashes.longest > LONG:
        found = f"flashing near the limit goes on for {flashes.longest:.1f} s"
        yield Finding("flashes", found, "More than 5 s may be a risk even within the limit.", warning=True)


def _softening(flashes: Flashes, layout: Layout, softened: bool) -> str:
    """How frames become soft for the eyes that looked: softening goes by the layout's distance, which is right as long
    as these are no nearer, or it has been tried."""
    if flashes.distance < layout.watched_from or (softened and flashes.distance > layout.watched_from):
        there = f"{flashes.distance:g} m in its units"
        return f"Write 'watched_from' ({there}) into the layout and render {'again' if softened else SOFTEN}"
    if softened:
        return "They were softened for other eyes or another layout. Render them again on this one"
    return f"Render {SOFTEN}"


SOFTEN = "with --soften (in a setlist 'soften = true')"
