"""The home network: addresses of it, and codes that a phone can read."""

import cv2
import numpy as np
import pytest

from eavesong.watch.lan import addresses, is_home, qr_code


@pytest.mark.parametrize(
    ("address", "home"),
    [("10.1.2.3", True), ("172.16.0.9", True), ("192.168.178.20", True), ("169.254.7.7", True), ("127.0.0.1", False),
     ("0.0.0.0", False), ("8.8.8.8", False), ("172.32.0.1", False)],
)  # fmt: skip
def test_what_a_home_network_is(address, home):
    """RFC 1918, section 3; RFC 3927, section 2.1."""
    assert is_home(address) == home
    assert all(map(is_home, addresses()))


def test_the_code_is_read_again():
    """By OpenCV's reader, from the half blocks that a terminal shows."""
    text = "http://192.168.178.20:8137/AbCdEfGhIjKlMnOpQrStUvWx/"
    parts = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0), "\xa0": (0, 0)}
    lines = [line for line in qr_code(text).splitlines() if parts.keys() & set(line)]
    rows = [[parts[letter][half] for letter in line if letter in parts] for line in lines for half in (0, 1)]
    width = max(map(len, rows))
    picture = np.array([row + [1] * (width - len(row)) for row in rows], np.uint8) * 255
    large = cv2.copyMakeBorder(
        np.kron(picture, np.ones((8, 8), np.uint8)), 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=255
    )
    assert cv2.QRCodeDetector().detectAndDecode(large)[0] == text
