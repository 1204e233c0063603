"""The address of the pages: a port that is taken, and hosts that others can reach."""

import socket

import pytest

from frothline.errors import InputError
from frothline.web import address
from frothline.web.server import serving


@pytest.fixture
def taken():
    """A port on which another program listens."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_a_second_demo_takes_any_free_port(taken, monkeypatch):
    monkeypatch.setattr(address, "PORT", taken)
    assert address.default_port("127.0.0.1") == 0


def test_the_first_demo_takes_the_usual_port(monkeypatch):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    monkeypatch.setattr(address, "PORT", port)
    assert address.default_port("127.0.0.1") == port


def test_a_port_of_a_host_that_does_not_exist_is_not_free():
    assert not address.is_free("no-such-host.invalid", 8050)


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("127.0.0.1", True),
        ("127.0.1.1", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("192.168.1.20", False),
        ("workshop", False),
        ("", False),
    ],
)
def test_only_this_computer_reaches_a_loopback_address(host, loopback):
    """127.0.0.0/8 and ::1: RFC 1122, 3.2.1.3, and RFC 4291, 2.5.3. The name of a computer is none."""
    assert address.is_loopback(host) is loopback


@pytest.mark.parametrize(
    ("host", "what"),
    [
        ("no-such-host.invalid", "“no-such-host.invalid” cannot be found"),  # RFC 2606: never resolves
        ("203.0.113.7", "“203.0.113.7” is not an address of this computer"),  # RFC 5737: for documentation only
    ],
)
def test_a_host_that_is_not_this_computer_is_refused_with_what_to_give_instead(host, what):
    with pytest.raises(InputError) as refused, serving(None, host=host):
        pass
    assert refused.value.where == "--host"
    assert what in refused.value.what
    for remedy in ("127.0.0.1", "0.0.0.0", "leave --host out"):
        assert remedy in refused.value.remedy
    assert "port" not in refused.value.remedy
