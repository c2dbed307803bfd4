"""Which kind of pixel each pixel of a layout is, and of which of them nothing says so."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import nearest
from eavesong.layout.faults import Faults
from eavesong.layout.kinds import GENERIC, USUAL, Conductor, PixelType
from eavesong.layout.patch import Member
from eavesong.words import METRES

if TYPE_CHECKING:
    from eavesong.layout import model, power

Path = tuple[str | int, ...]


def _kinds(house: model.House, faults: Faults) -> dict[str, PixelType]:
    kinds = dict(GENERIC)
    metres = METRES[house.units]
    own: set[str] = set()
    for k, kind in enumerate(house.pixel_type):
        if kind.name in own:
            faults.add(("pixel_type", k, "name"), f"two kinds of pixels are called '{kind.name}'", "Rename one.")
        own.add(kind.name)
        lowest = 0.9 * kind.volts if kind.lowest_volts is None else kind.lowest_volts
        wire = conductor_of(kind.wire)
        kinds[kind.name] = PixelType(
            kind.name, kind.volts, kind.amperes, kind.idle, kind.bit_time, kind.reset, lowest, wire,
            kind.spacing * metres,
        )  # fmt: skip
    return kinds


def _kind_advice(name: str, kinds: Iterable[str]) -> str:
    """The nearest kind, else all of them, in quotes: their names hold commas."""
    volts = re.match(r"\d+", name.strip())
    if close := nearest(name, kinds) or next(
        (kind for kind in kinds if volts and kind.startswith(f"{volts[0]} V")), ""
    ):
        return f"Did you mean '{close}'?"
    return "Known kinds: " + "; ".join(f"'{kind}'" for kind in sorted(kinds)) + "."


def conductor_of(wire: power.ConductorEntry) -> Conductor:
    """The conductor that an entry describes."""
    return Conductor(wire.ohms_per_metre, wire.gauge, wire.area, wire.copper)


def assigned(
    house: model.House, members: Sequence[Member], faults: Faults
) -> tuple[tuple[PixelType, ...], NDArray[np.int16], NDArray[np.bool_]]:
    """The kinds in use, the default one first; which of them each pixel (n,) has; and of which nothing says it (n,).

    Names that no kind has go into ``faults``.
    """
    kinds = _kinds(house, faults)

    def known(name: str, path: Path) -> str:
        """The kind of that name; where there is none a fault is noted, and nothing else is said of its volts."""
        if name not in kinds:
            faults.add(path, f"no kind of pixel is called '{name}'", _kind_advice(name, kinds))
            kinds[name] = replace(GENERIC[USUAL], name=name, volts=math.nan)
        return name

    usual = known(house.power.pixel_type or USUAL, ("power", "pixel_type"))
    used = {usual: 0}
    kind_of = np.zeros(members[-1].stop, np.int16)
    unsaid = np.full(len(kind_of), house.power.pixel_type is None)
    for c, controller in enumerate(house.controller):
        for o, output in enumerate(controller.output):
            for k, link in enumerate(output.chain):
                name = link.pixel_type or output.pixel_type
                path: Path = ("controller", c, "output", o)
                path += ("chain", k) if link.pixel_type else ("pixel_type",)
                if name is not None:
                    index = used.setdefault(known(name, path), len(used))
                    for start, stop in stretches(link, members):
                        kind_of[start:stop] = index
                        unsaid[start:stop] = False
    return tuple(kinds[name] for name in used), kind_of, unsaid


def stretches(link: model.ChainLink, members: Sequence[Member]) -> Iterator[tuple[int, int]]:
    """The pixels of a link of a chain, from the first up to but not including the last, prop by prop."""
    for member in members:
        if link.prop in (member.name, member.member_of):
            if link.pixels is None:
                yield member.start, member.stop
            else:
                yield member.start + link.pixels[0] - 1, min(member.start + link.pixels[1], member.stop)
