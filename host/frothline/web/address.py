"""Address of the pages: default host and port, and the choice of a free port."""

from __future__ import annotations

import ipaddress
import socket

HOST, PORT = "127.0.0.1", 8050


def is_loopback(host: str) -> bool:
    """True if only this computer can reach the host; False for a name other than "localhost"."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


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
