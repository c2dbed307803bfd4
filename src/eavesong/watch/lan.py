"""The home network: under which addresses this machine is found there, and a QR code of one for a phone."""

from __future__ import annotations

import contextlib
import io
import ipaddress
import socket

HOME = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16")
"""Networks at home: RFC 1918, section 3, and RFC 3927 for those without anybody who gives addresses out."""


def addresses() -> list[str]:
    """The private IPv4 addresses of this machine, the one that leads to others first; none without a network."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): nothing is sent, only a way is chosen
            found.append(asked.getsockname()[0])
        except OSError:
            pass
    with contextlib.suppress(OSError):
        found += [entry[4][0] for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [address for address in dict.fromkeys(map(str, found)) if is_home(address)]


def is_home(text: str) -> bool:
    """Whether an IPv4 address belongs to a network at home, and to another machine than this one as seen from there."""
    address = ipaddress.ip_address(text)
    return any(address in ipaddress.ip_network(network) for network in HOME)


def qr_code(text: str) -> str:
    """A QR code (ISO/IEC 18004) of ``text`` for a terminal, in half blocks, light on dark."""
    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out, compact=True)
    return out.getvalue()
