"""From a patch to universes, slots and addresses; and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.frames import PatchRow
from eavesong.playback.wiring import misfit_of_address, wire
from playback.helpers import house


def row(**changes: object) -> PatchRow:
    return replace(PatchRow("eaves", 0, 2, 0, 6, "RGB", 1, 1, "attic", "192.0.2.7"), **changes)  # type: ignore[arg-type]


def test_every_channel_finds_its_slot() -> None:
    # A pixel split over two universes: its red ends universe 5, its green and blue begin universe 6.
    patch = (
        row(pixel_count=1, channel_count=1, universe=5, slot=512),
        row(pixel_count=1, first_channel=1, channel_count=2, universe=6, slot=1),
        row(first_pixel=1, first_channel=3, channel_count=3, universe=6, slot=3),
    )
    wiring = wire(patch, 6, "frost.h5")
    table = np.zeros((2, 512), np.uint8)
    table.reshape(-1)[wiring.cells] = np.array([10, 11, 12, 13, 14, 15], np.uint8)[wiring.channels]
    assert wiring.universes.tolist() == [5, 6]
    assert table[0, 511] == 10
    assert table[1, :5].tolist() == [11, 12, 13, 14, 15]
    assert np.count_nonzero(table) == 6


def test_a_universe_may_go_to_two_controllers() -> None:
    wiring = wire((row(), row(slot=101, first_channel=6, controller="shed", address="192.0.2.8")), 12, "frost.h5")
    assert wiring.addresses == (("192.0.2.7", "192.0.2.8"),)


def test_controllers_that_are_said_to_have_one_address_are_both_named() -> None:
    """As of a new house, where both stand at this computer's until somebody knows better."""
    wiring = wire((row(), row(slot=101, first_channel=6, controller="shed")), 12, "frost.h5")
    assert wiring.controllers == {"192.0.2.7": "attic and shed"}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"universe": 64000}, "universe 64000 is not in 1 to 63999"),
        ({"slot": 508}, "6 channels from slot 508 on do not fit a universe"),
        ({"slot": 0}, "6 channels from slot 0 on do not fit a universe"),
        ({"channel_count": -1}, "-1 channels from slot 1 on"),
        ({"first_channel": 7}, "leads beyond the 12 channels"),
        ({"address": ""}, "controller 'attic': it has no address"),
        ({"address": "8.8.8.8"}, "8.8.8.8 is a public address\n    Add --allow-public"),
        ({"address": "239.255.0.1"}, "nothing can be sent to 239.255.0.1 alone"),
        ({"address": "255.255.255.255"}, "nothing can be sent to 255.255.255.255 alone"),
        ({"address": "127.0.0.300"}, "'127.0.0.300' is neither an IP address nor a host name"),
        ({"address": "0.0.0.0"}, "nothing can be sent to 0.0.0.0 alone"),
    ],
)
def test_what_cannot_be_sent_is_refused(changes: dict[str, object], message: str) -> None:
    with pytest.raises(FramesError, match=message.replace(".", r"\.")):
        wire((row(**changes),), 12, "frost.h5")


def test_two_things_in_one_slot() -> None:
    with pytest.raises(FramesError, match="slot 4 of universe 1 is driven twice"):
        wire((row(), row(prop="ridge", first_channel=6, slot=4)), 12, "frost.h5")


def test_a_draft_is_sent_nowhere() -> None:
    with pytest.raises(FramesError, match=r"names no controller\n    Add a \[\[controller\]\]"):
        wire((row(universe=0, slot=0),), 6, "frost.h5")


def test_all_misfits_at_once() -> None:
    with pytest.raises(FramesError) as caught:
        wire((row(universe=-1), row(prop="ridge", slot=600, address="1.1.1.1")), 12, "frost.h5")
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize(
    ("address", "public"),
    [
        # RFC 6890: private, link-local, loopback and documentation addresses are not global; RFC 4193, 4291 for IPv6.
        ("192.168.1.20", False),
        ("10.0.0.1", False),
        ("172.16.0.9", False),
        ("169.254.3.4", False),
        ("127.0.0.1", False),
        ("192.0.2.7", False),
        ("fe80::1", False),
        ("fd00::1", False),
        ("::ffff:192.168.1.20", False),
        ("multicast", False),
        ("garden-box.example", False),  # looked at when it has been looked up
        ("8.8.8.8", True),
        ("172.32.0.1", True),
        ("2001:4860:4860::8888", True),
        ("::ffff:8.8.8.8", True),  # RFC 4291, 2.5.5.2: an IPv4 address in IPv6 clothes
    ],
)
def test_public_addresses(address: str, public: bool) -> None:
    assert bool(misfit_of_address(address, allow_public=False)) is public
    assert not misfit_of_address(address, allow_public=True)


@pytest.mark.parametrize(
    ("frame_rate", "limit", "ceiling", "stride"),
    [
        # ANSI E1.11: 22,676 µs a packet, 44.1 a second. E1.31-2018, 6.6.1.
        (40.0, 0.0, True, 1),
        (44.0, 0.0, True, 1),
        (50.0, 0.0, True, 2),
        (60.0, 0.0, True, 2),
        (120.0, 0.0, True, 3),
        (60.0, 0.0, False, 1),
        (40.0, 20.0, True, 2),
        (40.0, 30.0, True, 2),
        (60.0, 20.0, False, 3),
    ],
)
def test_how_often_a_universe_is_sent(frame_rate: float, limit: float, ceiling: bool, stride: int) -> None:
    described = house(limit=limit)
    wiring = wire(described.patch, described.channel_count, "frost.h5")
    assert wiring.strides(frame_rate, ceiling=ceiling).tolist() == [stride, stride]
