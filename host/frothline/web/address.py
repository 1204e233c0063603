"""Address of the pages: default host and port, and the choice of a free port."""

from __future__ import annotations

import ipaddress
import socket
from typing import Self

HOST, PORT = "127.0.0.1", 8050
# Addresses for documentation, RFC 5737 and RFC 3849. A datagram socket selects its route to one and sends nothing.
_ELSEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::9"))


def is_loopback(host: str) -> bool:
    """True if only this computer can reach the host; False for a name other than "localhost"."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class PageAddress(str):
    """The link to the pages for this computer; ``viewers`` is the link for others, empty on loopback."""

    __slots__ = ("viewers",)

    viewers: str

    def __new__(cls, own: str, viewers: str = "") -> Self:
        made = super().__new__(cls, own)
        made.viewers = viewers
        return made


def is_everywhere(host: str) -> bool:
    """True for 0.0.0.0 and ::, which mean every address of this computer and cannot be opened in a browser."""
    try:
        return not host or ipaddress.ip_address(host).is_unspecified
    except ValueError:
        return False


def network_address() -> str:
    """The address of this computer in its network, IPv6 where it has no IPv4, or its name if it is in none."""
    for family, elsewhere in _ELSEWHERE:
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((elsewhere, 9))
                return str(probe.getsockname()[0])
        except OSError:
            continue
    return socket.gethostname()


def is_free(host: str, port: int) -> bool:
    """True if a server can listen on the port. False also for a host that this computer does not have."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # a port that was just closed counts as free
            probe.bind(address)
    except OSError:
        return False
    return True


def default_port(host: str = HOST) -> int:
    """The port of the pages: PORT, or 0 (any free one) if another program uses it."""
    return PORT if is_free(host, PORT) else 0
