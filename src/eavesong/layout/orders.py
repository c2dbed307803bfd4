"""The order in which a pixel's colours go down its wire, where the file leaves that out, and where it cannot be.

A kind of the file's own with four currents has white. The kinds that come with eavesong say nothing of it: the one that
is taken for granted counts white only so as to be on the safe side.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from eavesong.layout import model

PLAIN, WITH_WHITE = "RGB", "RGBW"
"""What is taken where no order is written."""


class Orders:
    """Orders of the outputs of a house and of the links of their chains."""

    def __init__(self, house: model.House) -> None:
        self.house = house
        self.white = frozenset(kind.name for kind in house.pixel_type if len(kind.amperes) == len(WITH_WHITE))
        """Kinds that have white."""

    def of(self, output: model.Output, link: model.ChainLink) -> str:
        """As it is written, else with white where the pixels have it."""
        return link.order or output.order or (WITH_WHITE if self.kind(output, link) in self.white else PLAIN)

    def of_draft(self) -> str:
        """Of all pixels of a house without controllers."""
        return WITH_WHITE if self.house.power.pixel_type in self.white else PLAIN

    def kind(self, output: model.Output, link: model.ChainLink) -> str | None:
        """The kind of the link's pixels; None where nothing says it."""
        return link.pixel_type or output.pixel_type or self.house.power.pixel_type

    def short(self) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
        """Outputs that leave out the white of pixels that have it: path, what is found, what to write instead."""
        for c, box in enumerate(self.house.controller):
            for o, output in enumerate(box.output):
                for k, link in enumerate(output.chain):
                    order, kind = self.of(output, link), self.kind(output, link)
                    if kind in self.white and len(order) < len(WITH_WHITE):
                        path = ("controller", c, "output", o, *(("chain", k) if link.order else ("order",)))
                        found = f"the pixels of '{link.prop}', '{kind}', have white, and their order '{order}' has none"
                        yield path, found, f"{_MOVED} Write '{order}W', or name a kind with three currents."
                        break


_MOVED = "Each pixel behind the first would take bytes of the one before it."
