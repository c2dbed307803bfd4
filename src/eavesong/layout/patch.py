"""The patch: which channel of a frame goes to which slot of which universe.

A frame holds the channels of all pixels in pixel order, each pixel its 3 or 4 in the order of its wire. Outputs
fill universes from slot 1 on; without ``spanning`` a pixel never crosses from one universe to the next, so that
170 RGB or 128 RGBW pixels fill one (510 or 512 of the 512 slots of ANSI E1.11).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.faults import Faults
from eavesong.layout.fields import LAST_UNIVERSE, SLOTS
from eavesong.layout.names import advise_prop
from eavesong.layout.orders import Orders

if TYPE_CHECKING:
    from eavesong.layout import model

MOST_LOOSE = 12
"""Props in no output that are told one by one."""


@dataclass(frozen=True, slots=True)
class PatchRun:
    """Channels that stand in a row in a frame and in a universe."""

    prop: str
    controller: str
    output: int
    first_pixel: int
    """The pixel the first channel belongs to."""
    pixel_count: int
    """Whole pixels in the run; 1 where ``channel_count`` is less than a pixel: a part of one, split between two
    universes of a spanning controller."""
    first_channel: int
    """In the frame."""
    channel_count: int
    universe: int
    """1..63999."""
    slot: int
    """1..512, of the first channel."""
    order: str
    brightness: float


@dataclass(frozen=True)
class Controller:
    """A controller as playback needs it."""

    name: str
    address: str
    """IP address, host name, or ``multicast``."""
    protocol: str
    frame_rate_limit: float | None
    """Frames per second it takes at most, where it is known."""
    spanning: bool
    universes: tuple[int, ...]
    """In use, ascending."""


@dataclass(frozen=True, eq=False)
class Patch:
    """Channels of all pixels, and the slots they go to; arrays of shape (n,) in pixel order, read-only."""

    channel_count: int
    """Channels of a frame."""
    channel_start: NDArray[np.int64]
    """First channel of each pixel."""
    channel_width: NDArray[np.int8]
    """3 or 4."""
    orders: tuple[str, ...]
    """Colour orders in use."""
    order: NDArray[np.int16]
    """Index into ``orders``."""
    brightness: NDArray[np.float32]
    """0..1."""
    gamma: NDArray[np.float32]
    """The exponent a driven value is raised to; 1: the drive is proportional to the light."""
    runs: tuple[PatchRun, ...]
    """In the order of the file; empty for a draft without controllers."""
    controllers: tuple[Controller, ...] = ()

    def __post_init__(self) -> None:
        for array in (self.channel_start, self.channel_width, self.order, self.brightness, self.gamma):
            array.setflags(write=False)

    def universes(self) -> dict[int, NDArray[np.int64]]:
        """For each universe in use, ascending, the channel of a frame that goes to each slot from 1 on.

        The arrays end with the last slot used; -1 stands where nothing is patched (null pixels, gaps).
        """
        ends: dict[int, int] = {}
        for run in self.runs:
            ends[run.universe] = max(ends.get(run.universe, 0), run.slot - 1 + run.channel_count)
        slots = {universe: np.full(ends[universe], -1, dtype=np.int64) for universe in sorted(ends)}
        for run in self.runs:
            channels = np.arange(run.first_channel, run.first_channel + run.channel_count)
            slots[run.universe][run.slot - 1 : run.slot - 1 + run.channel_count] = channels
        return slots


@dataclass(frozen=True)
class Member:
    """A prop as the patch sees it: its names and its pixel range."""

    name: str
    member_of: str
    start: int
    stop: int


@dataclass(frozen=True)
class _Wired:
    """A stretch of pixels of one prop in its place in a chain."""

    prop: str
    start: int
    stop: int
    null_pixels: int
    """Before it on the wire."""
    reversed: bool
    order: str
    brightness: float
    gamma: float
    output: int
    controller: str


@dataclass
class _Cursor:
    """The next free slot while an output is filled."""

    universe: int
    slot: int
    spanning: bool
    used: set[int] = field(default_factory=set)

    def take(self, pixels: int, width: int) -> Iterator[tuple[int, int, int]]:
        """(channels, universe, slot) of every row in a universe that ``pixels`` of ``width`` channels make."""
        left = pixels * width
        while left:
            free = SLOTS + 1 - self.slot
            fits = min(left, free if self.spanning else free // width * width)
            if fits:
                self.used.add(self.universe)
                yield fits, self.universe, self.slot
            left -= fits
            self.slot += fits
            if left:
                self.universe, self.slot = self.universe + 1, 1

    def skip(self, pixels: int, width: int) -> None:
        """Leave the slots of ``pixels`` null pixels free."""
        for _ in self.take(pixels, width):
            pass


def build_patch(house: model.House, members: Sequence[Member], faults: Faults) -> Patch:
    """The patch of ``house`` for its ``members`` in pixel order; what is wrong goes into ``faults``."""
    chains = _Chains(house, members, faults)
    count = members[-1].stop
    draft = chains.orders.of_draft()
    order, width = np.zeros(count, dtype=np.int16), np.full(count, len(draft), dtype=np.int8)
    brightness, gamma = np.full(count, house.brightness, np.float32), np.ones(count, dtype=np.float32)
    orders: dict[str, int] = {}
    for wired in (wired for chain in chains.wired.values() for wired in chain):
        pixels = slice(wired.start, wired.stop)
        order[pixels] = orders.setdefault(wired.order, len(orders))
        width[pixels] = len(wired.order)
        brightness[pixels], gamma[pixels] = wired.brightness, wired.gamma
    ends = np.cumsum(width, dtype=np.int64)
    starts = ends - width
    runs, controllers = _fill(house, chains.wired, starts, faults)
    _check_overlaps(runs, house, faults)
    return Patch(
        int(ends[-1]), starts, width, tuple(orders) or (draft,), order, brightness, gamma, tuple(runs), controllers
    )


class _Chains:
    """The chains of all outputs, names looked up; ``wired`` is keyed by positions of controller and output."""

    def __init__(self, house: model.House, members: Sequence[Member], faults: Faults) -> None:
        self.faults, self.orders = faults, Orders(house)
        self.called: dict[str, list[Member]] = {}
        for member in members:
            for name in dict.fromkeys((member.member_of, member.name)):
                self.called.setdefault(name, []).append(member)
        self.homes: list[str] = []
        self.home = np.full(members[-1].stop, -1, dtype=np.int32)
        self.wired: dict[tuple[int, int], list[_Wired]] = {}
        for c, controller in enumerate(house.controller):
            for o, output in enumerate(controller.output):
                self.homes.append(f"output {output.number} of '{controller.name}'")
                path = ("controller", c, "output", o, "chain")
                links = [
                    self._link((*path, k), controller, output, link, house.brightness)
                    for k, link in enumerate(output.chain)
                ]
                self.wired[c, o] = [wired for row in links for wired in row]
        if house.controller:
            self._check_all_wired(members)

    def _link(
        self, path: Sequence[str | int], controller: model.ControllerEntry, output: model.Output, link: model.ChainLink,
        dimmed: float,
    ) -> list[_Wired]:  # fmt: skip
        row = self.called.get(link.prop, [])
        if not row:
            self.faults.add(path, f"no prop is called '{link.prop}'", advise_prop(link.prop, self.called))
        wired = []
        for place, member in enumerate(row[::-1] if link.reversed else row):
            start, stop = self._stretch(path, link, member, len(row))
            if not self._claim(path, member, start, stop):
                break
            wired.append(_Wired(
                    prop=member.name, start=start, stop=stop, null_pixels=0 if place else link.null_pixels,
                    reversed=link.reversed, order=self.orders.of(output, link),
                    brightness=dimmed * (output.brightness if link.brightness is None else link.brightness),
                    gamma=output.gamma if link.gamma is None else link.gamma,
                    output=output.number, controller=controller.name,
                ))  # fmt: skip
        return wired

    def _stretch(self, path: Sequence[str | int], link: model.ChainLink, member: Member, row: int) -> tuple[int, int]:
        """The pixel range of ``member`` that ``link`` is about."""
        if link.pixels is None:
            return member.start, member.stop
        first, last = link.pixels
        count = member.stop - member.start
        if row > 1:
            found = f"'pixels' with '{link.prop}', which is a row of {row} props"
            self.faults.add(path, found, f"Name one of them, such as '{member.name}'.")
        elif not first <= last <= count:
            found = f"'{link.prop}' has no pixels {first} to {last}"
            self.faults.add(path, found, f"Its pixels are numbered 1 to {count}.")
        else:
            return member.start + first - 1, member.start + last
        return member.start, member.stop

    def _claim(self, path: Sequence[str | int], member: Member, start: int, stop: int) -> bool:
        """Note that the pixels belong to the output being read; False when another one has them already."""
        here = len(self.homes) - 1
        taken = self.home[start:stop]
        if (taken >= 0).any():
            home = self.homes[taken.max()]
            both = f" in {home}" if taken.max() == here else f": to {home} and to {self.homes[here]}"
            found = f"'{member.name}' is wired twice{both}"
            self.faults.add(path, found, "Keep one, or share out its pixels with 'pixels = [first, last]'.")
            return False
        self.home[start:stop] = here
        return True

    def _check_all_wired(self, members: Sequence[Member]) -> None:
        """Every pixel belongs to an output, once there are controllers."""
        rows: dict[str, list[Member]] = {}
        for member in members:
            if (self.home[member.start : member.stop] < 0).any():
                rows.setdefault(member.member_of, []).append(member)
        for number, (row, loose) in enumerate(rows.items()):
            more = len(rows) - MOST_LOOSE
            others = f", and so are parts of {more} other props" if more > 0 and number == MOST_LOOSE - 1 else ""
            self.faults.add(
                (), f"{self._loose_words(row, loose)} in no output{others}",
                f"Add '{row if len(loose) == len(self.called[row]) else loose[0].name}' to the chain of an output, or "
                "take out all controllers to keep a draft.",
            )  # fmt: skip
            if number == MOST_LOOSE - 1:
                break

    def _loose_words(self, row: str, loose: Sequence[Member]) -> str:
        """What of a prop, or of the props of a row, is in no output: ``'stake' (all 10) is``."""
        gone = sum(int((self.home[member.start : member.stop] < 0).sum()) for member in loose)
        whole = gone == sum(member.stop - member.start for member in loose)
        if len(loose) == 1:
            return f"'{loose[0].name}' is" if whole else f"{gone} pixels of '{loose[0].name}' are"
        if len(loose) == len(self.called[row]):
            return f"'{row}' (all {len(loose)}) is" if whole else f"{gone} pixels of '{row}' ({len(loose)} props) are"
        names = ", ".join(f"'{member.name}'" for member in loose[:3])
        more = f" and {len(loose) - 3} more of '{row}'" if len(loose) > 3 else ""
        return f"{names}{more} are" if whole else f"{gone} pixels of {names}{more} are"


def _fill(
    house: model.House, wired: dict[tuple[int, int], list[_Wired]], starts: NDArray[np.int64], faults: Faults
) -> tuple[list[PatchRun], tuple[Controller, ...]]:
    """All runs, universe after universe, and the controllers with the universes they use."""
    runs: list[PatchRun] = []
    controllers: list[Controller] = []
    following = 1
    for c, box in enumerate(house.controller):
        used: set[int] = set()
        following = box.universe or following
        for o, output in enumerate(box.output):
            cursor = _Cursor(output.universe or following, output.slot, box.spanning)
            runs += _fill_output(cursor, output, wired[c, o], starts)
            used |= cursor.used
            following = max(cursor.used, default=following - 1) + 1
            if following - 1 > LAST_UNIVERSE:
                faults.add(
                    ("controller", c, "output", o),
                    f"this output reaches universe {following - 1:,}, beyond the last one, {LAST_UNIVERSE:,}",
                    "Begin at a lower universe.",
                )
        controllers.append(
            Controller(box.name, box.address, box.protocol, box.frame_rate_limit, box.spanning, tuple(sorted(used)))
        )
    return runs, tuple(controllers)


def _fill_output(
    cursor: _Cursor, output: model.Output, chain: Sequence[_Wired], starts: NDArray[np.int64]
) -> Iterator[PatchRun]:
    if chain:  # a dark pixel has as many channels as the one behind it
        cursor.skip(output.null_pixels, len(chain[0].order))
    for wired in chain:
        cursor.skip(wired.null_pixels, len(wired.order))
        yield from _runs(cursor, wired, starts)


def _runs(cursor: _Cursor, wired: _Wired, starts: NDArray[np.int64]) -> Iterator[PatchRun]:
    """The runs of one stretch; one pixel a run where its last pixel comes first on the wire."""
    stretches = [(wired.start, wired.stop - wired.start)]
    if wired.reversed:
        stretches = [(pixel, 1) for pixel in range(wired.stop - 1, wired.start - 1, -1)]
    width = len(wired.order)
    for first, pixels in stretches:
        done = 0
        for channels, universe, slot in cursor.take(pixels, width):
            for offset, length in _split(done, channels, width):
                yield PatchRun(
                    prop=wired.prop, controller=wired.controller, output=wired.output,
                    first_pixel=first + (done + offset) // width, pixel_count=max(1, length // width),
                    first_channel=int(starts[first]) + done + offset, channel_count=length,
                    universe=universe, slot=slot + offset, order=wired.order, brightness=wired.brightness,
                )  # fmt: skip
            done += channels


def _split(done: int, channels: int, width: int) -> Iterator[tuple[int, int]]:
    """Cut ``channels`` after ``done`` ones into the rest of a pixel, whole pixels, and the beginning of one."""
    rest = min(channels, -done % width)
    whole = (channels - rest) // width * width
    for offset, length in ((0, rest), (rest, whole), (rest + whole, channels - rest - whole)):
        if length:
            yield offset, length


def _check_overlaps(runs: Sequence[PatchRun], house: model.House, faults: Faults) -> None:
    """No slot may be driven by two outputs."""
    places = {
        (controller.name, output.number): ("controller", c, "output", o)
        for c, controller in enumerate(house.controller)
        for o, output in enumerate(controller.output)
    }
    told: set[tuple[str, int, str, int]] = set()
    last: PatchRun | None = None
    for run in sorted(runs, key=lambda run: (run.universe, run.slot)):
        if last and run.universe == last.universe and run.slot < last.slot + last.channel_count:
            pair = (last.controller, last.output, run.controller, run.output)
            if pair not in told:
                told.add(pair)
                faults.add(
                    places[run.controller, run.output],
                    f"slot {run.slot} of universe {run.universe} is taken by output {last.output} of "
                    f"'{last.controller}' and by output {run.output} of '{run.controller}'",
                    "Give one of them another 'universe' or 'slot'.",
                )
        if not last or (run.universe, run.slot + run.channel_count) > (
            last.universe, last.slot + last.channel_count
        ):  # fmt: skip
            last = run
    _check_numbers(house, faults)


def _check_numbers(house: model.House, faults: Faults) -> None:
    """Controllers are told apart by name, outputs by number."""
    names: set[str] = set()
    for c, controller in enumerate(house.controller):
        if controller.name in names:
            faults.add(("controller", c, "name"), f"two controllers are called '{controller.name}'", "Rename one.")
        names.add(controller.name)
        numbers: set[int] = set()
        for o, output in enumerate(controller.output):
            if output.number in numbers:
                faults.add(
                    ("controller", c, "output", o, "number"),
                    f"two outputs of '{controller.name}' have the number {output.number}", "Renumber one.",
                )  # fmt: skip
            numbers.add(output.number)
