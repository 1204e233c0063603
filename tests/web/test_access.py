"""Who may see the pages and operate the rig, on this computer alone and in a network."""

import http.client
import io
import json
import re
import socket
import sys
from urllib.parse import urlsplit

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.cli.serving import qr_code
from frothline.web import access, address, serving
from frothline.web.access import Access

EVERYWHERE = "0.0.0.0"  # its link is opened on loopback, so that no network is needed


def ask(link, path="/", *, body=None, cookie="", **headers):
    """(status, headers, text) of one request; header names with _ for -, None leaves a header out."""
    at = urlsplit(link)
    sent = {"Host": at.netloc, **({"Cookie": cookie} if cookie else {})}
    if body is not None:
        sent |= {"Content-Type": "application/json", "Origin": f"http://{at.netloc}"}
    sent |= {name.replace("_", "-"): value for name, value in headers.items()}
    connection = http.client.HTTPConnection(at.hostname, at.port, timeout=120)
    try:
        connection.request(
            "GET" if body is None else "POST", path, body, {name: value for name, value in sent.items() if value}
        )
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read().decode()
    finally:
        connection.close()


def enter(link):
    """The cookie that a browser has after it opened the link."""
    at = urlsplit(link)
    status, headers, _ = ask(link, f"{at.path}?{at.query}")
    assert (status, headers["Location"]) == (303, "/")
    assert "httponly" in headers["Set-Cookie"].lower()
    assert "samesite=lax" in headers["Set-Cookie"].lower()
    return headers["Set-Cookie"].split(";")[0]


def press(link, cookie="", **headers):
    """What the page says after the button Start recording; the request is that of the page framework."""
    status, _, listed = ask(link, "/_dash-dependencies", cookie=cookie)
    assert status == 200
    wanted = [one for one in json.loads(listed) if one["inputs"] == [{"id": "do-source", "property": "data"}]]
    name, prop = wanted[0]["output"].split(".")
    said = {"verb": "record", "argument": "", "values": {}, "count": 1}
    body = {
        "output": wanted[0]["output"],
        "outputs": {"id": name, "property": prop},
        "inputs": [{"id": "do-source", "property": "data", "value": said}],
        "changedPropIds": ["do-source.data"],
    }
    status, _, text = ask(link, "/_dash-update-component", body=json.dumps(body), cookie=cookie, **headers)
    return status, (json.loads(text)["response"]["said"]["data"] if status == 200 else text)


@pytest.fixture
def network(bench):
    with serving(bench, host=EVERYWHERE) as link:
        yield link


def viewers(link):
    """The viewers' link, by loopback."""
    return f"http://127.0.0.1:{urlsplit(link).port}/?{urlsplit(link.viewers).query}"


def test_no_page_of_another_site_may_show_these_in_a_frame(address):
    """frame-ancestors: Content Security Policy Level 3 of the W3C, 6.4.2; X-Frame-Options: RFC 7034."""
    for path in ("/", "/assets/base.css", "/no-such-page"):
        _, headers, _ = ask(address, path)
        assert headers["Content-Security-Policy"] == "frame-ancestors 'none'"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["X-Content-Type-Options"] == "nosniff"
    _, headers, _ = ask(address, "/", Host="elsewhere.example")
    assert headers["X-Frame-Options"] == "DENY"


def test_a_button_pressed_by_a_page_of_another_site_starts_nothing(bench, address):
    foreign = ("http://elsewhere.example", "null", "http://127.0.0.1:1", "http://[", "https://localhost")
    for origin in foreign:
        status, text = press(address, Origin=origin)
        assert (status, text) == (403, access.FOREIGN_PAGE), origin
    status, _ = press(address, Origin=None, **{"Sec-Fetch-Site": "cross-site"})
    assert status == 403
    assert "start_recording" not in bench.calls
    status, said = press(address)
    assert (status, said["trouble"]) == (200, False)
    assert "start_recording" in bench.calls


def test_on_loopback_no_key_is_needed_and_there_is_no_link_for_others(address):
    assert address.viewers == ""
    assert urlsplit(address).query == ""
    assert ask(address)[0] == 200


def test_in_a_network_nothing_is_served_without_the_key(network):
    for path in (
        "/",
        "/run",
        "/assets/base.css",
        "/_dash-layout",
        "/_dash-dependencies",
        "/alive",
        "/?key=",
        "/?key=x",
    ):
        status, _, text = ask(network, path)
        assert (status, text) == (403, access.WITHOUT_KEY), path
    port = urlsplit(network).port
    for cookie in (f"frothline-{port}=", f"frothline-{port}=é", "x", f"frothline-{port}=viewer"):
        assert ask(network, "/", cookie=cookie.encode().decode("latin-1"))[0] == 403


def test_a_socket_without_the_key_is_refused_and_one_of_a_viewer_gets_figures(network):
    from websockets.exceptions import InvalidStatus
    from websockets.sync.client import connect

    at = urlsplit(network)
    live, origin = f"ws://{at.netloc}/live", f"http://{at.netloc}"
    cookie = {"Cookie": enter(viewers(network))}
    for more in ({"origin": origin}, {"origin": "http://elsewhere.example", "additional_headers": cookie}):
        with pytest.raises(InvalidStatus) as refused:
            connect(live, **more)
        assert refused.value.response.status_code == 403
    with connect(live, origin=origin, additional_headers=cookie) as opened:
        opened.send("{}")
        message = json.loads(opened.recv())
        assert message["number"] == 1
        assert message["states"]["access"] == "read"
        assert message["texts"]["access"] == f"This link is for viewing. {access.WHO_MAY}."
    with connect(live, origin=origin, additional_headers={"Cookie": enter(network)}) as opened:
        opened.send("{}")
        message = json.loads(opened.recv())
        assert (message["states"]["access"], message["texts"]["access"]) == ("operate", "")


def test_a_viewer_sees_the_pages_and_is_told_that_it_cannot_operate(bench, network):
    cookie = enter(viewers(network))
    assert ask(network, "/run", cookie=cookie)[0] == 200
    status, said = press(network, cookie)
    assert (status, said["trouble"]) == (200, True)
    assert "this link is for viewing" in said["text"]
    assert "--viewers-operate" in said["text"]
    assert "start_recording" not in bench.calls
    assert press(network, enter(network))[1]["trouble"] is False
    assert "start_recording" in bench.calls


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_page_of_a_viewer_has_no_control_that_the_server_refuses_and_says_who_may(network, chromium):
    refused = "main :is(button[data-do]:not([data-do='']), [data-form] :is(input, select):not([data-wish]))"
    free = "#units, #sound, button[data-also]:not([data-do]), [data-wish]"
    for link, only_reading in ((viewers(network), True), (network, False)):
        context = chromium.new_context(viewport={"width": 1280, "height": 900})
        page = context.new_page()
        page.goto(link)
        for path in ("/", "/generator", "/run", "/spool", "/notebook"):
            page.goto(f"{link.split('/?')[0]}{path}")
            page.wait_for_function("document.body.dataset.access")
            count = page.locator(refused).count()
            able = page.locator(refused).evaluate_all("found => found.filter(e => !e.disabled).length")
            assert not able if only_reading else able or not count, path
            assert page.locator(free).evaluate_all("found => found.every(e => !e.disabled)") or not only_reading
            assert page.locator(".access").is_visible() == only_reading
        context.close()


def test_viewers_operate_where_that_was_allowed(bench):
    with serving(bench, host=EVERYWHERE, viewers_operate=True) as link:
        assert press(link, enter(viewers(link)))[1]["trouble"] is False
    assert "start_recording" in bench.calls


def test_a_name_of_another_site_is_refused_also_with_the_key(network):
    """DNS rebinding: the browser holds the page of elsewhere.example, whose name leads to this computer now."""
    cookie = enter(network)
    port = urlsplit(network).port
    for host in (f"elsewhere.example:{port}", "elsewhere.example", "[", "", f"127.0.0.1.elsewhere.example:{port}"):
        assert ask(network, "/", cookie=cookie, Host=host or " ")[0] == 400, host
    for host in (f"127.0.0.1:{port}", f"192.168.1.20:{port}", f"[fe80::1]:{port}", f"{socket.gethostname()}:{port}"):
        assert ask(network, "/", cookie=cookie, Host=host)[0] == 200, host


def test_the_link_takes_nobody_to_another_site(network):
    at = urlsplit(network)
    for path in ("//elsewhere.example/", "/\\elsewhere.example/"):
        _, headers, _ = ask(network, f"{path}?{at.query}")
        assert headers["Location"].startswith("/")
        assert headers["Location"][1:2] not in {"/", "\\"}
    _, headers, _ = ask(network, f"/run?a=1&{at.query}")
    assert headers["Location"] == "/run?a=1"


def test_every_server_has_new_keys_and_the_two_differ(bench):
    made = [Access.in_network(EVERYWHERE) for _ in range(3)]
    assert len({key for one in made for key in (one.operator, one.viewer)}) == 6
    assert min(len(one.viewer) for one in made) >= 22  # 128 bits in base64


@settings(deadline=None, max_examples=50)
@given(st.text(max_size=40))
def test_no_other_key_is_right(key):
    one = Access.in_network(EVERYWHERE)
    assert one.role(key) == ""
    assert (one.role(one.operator), one.role(one.viewer)) == ("operator", "viewer")


def test_the_addresses_that_are_printed_can_be_opened(network, monkeypatch):
    assert urlsplit(network).hostname == "127.0.0.1"
    assert urlsplit(network.viewers).hostname not in {EVERYWHERE, "127.0.0.1"}
    monkeypatch.setattr(socket.socket, "connect", lambda *_: (_ for _ in ()).throw(OSError("no network")))
    assert address.network_address() == socket.gethostname()


def test_a_name_of_this_computer_is_served_under_that_name(bench, monkeypatch):
    real = socket.getaddrinfo
    monkeypatch.setattr(
        socket, "getaddrinfo", lambda host, *a, **k: real("127.0.0.1" if host == "Workshop" else host, *a, **k)
    )
    with serving(bench, host="Workshop") as link:
        port = urlsplit(link).port
        assert link == f"http://Workshop:{port}/"
        assert link.viewers == ""  # the name leads to loopback, as Debian's /etc/hosts has it
        local = f"http://127.0.0.1:{port}/"
        assert ask(local, Host=f"workshop:{port}")[0] == 200
        assert ask(local, Host=f"elsewhere:{port}")[0] == 400


def needs_ipv6():
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError:
        pytest.skip("this computer has no IPv6")


def test_an_ipv6_address_is_served_and_its_link_can_be_opened(bench):
    needs_ipv6()
    with serving(bench, host="::1") as link:
        port = urlsplit(link).port
        assert link == f"http://[::1]:{port}/"
        assert link.viewers == ""
        assert ask(link)[0] == 200
        assert ask(link, Host=f"[::2]:{port}")[0] == 400
        assert "error" not in press(link)
    assert bench.calls.count("start_recording") == 1


def test_every_address_includes_those_of_ipv4(bench):
    needs_ipv6()
    with serving(bench, host="::") as link:
        port = urlsplit(link).port
        assert link.startswith(f"http://[::1]:{port}/?key=")
        assert ask(link, f"/?{urlsplit(link).query}")[0] == 303
        assert ask(f"http://127.0.0.1:{port}/", f"/?{urlsplit(link).query}")[0] == 303


def test_a_computer_with_ipv6_alone_prints_that_address(monkeypatch):
    real = socket.socket.connect
    seen = []

    def connect(self, place):
        if self.family == socket.AF_INET:
            raise OSError("no route")
        seen.append(place)
        return real(self, ("::1", 9))

    needs_ipv6()
    monkeypatch.setattr(socket.socket, "connect", connect)
    assert address.network_address() == "::1"
    assert seen == [("2001:db8::9", 9)]  # RFC 3849, for documentation


@pytest.mark.parametrize(
    "link", ["http://192.168.1.20:8050/?key=0123456789abcdefghijkl", "http://[2001:db8::7]:8050/?key=-_A"]
)
def test_the_code_that_is_drawn_is_read_back_as_the_link(monkeypatch, link):
    """By zxing-cpp, a reader that is not ours, from the characters as a terminal shows them: two rows in a line."""
    zxingcpp = pytest.importorskip("zxingcpp")

    class Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stderr", Terminal())
    halves = {" ": (0, 0), "█": (1, 1), "▀": (1, 0), "▄": (0, 1)}
    plain = re.sub(r"\x1b\[[0-9;]*m", "", qr_code(link)).strip("\n").split("\n")
    shown = np.array([[halves[one] for one in line] for line in plain], dtype=np.uint8)  # 1: lit
    rows = shown.transpose(0, 2, 1).reshape(-1, shown.shape[1])
    picture = np.kron(rows, np.ones((4, 4), dtype=np.uint8)) * 255
    (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == link


def test_the_code_is_drawn_on_a_terminal_alone(monkeypatch):
    """ISO/IEC 18004: a symbol has 17 + 4 v modules a side, and a light margin of four on each."""
    link = "http://192.168.1.20:8050/?key=0123456789abcdefghijkl"
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    assert qr_code(link) == ""

    class Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stderr", Terminal())
    lines = qr_code(link).strip("\n").split("\n")
    assert (len(lines) * 2 - 8 - 17) % 4 in {0, 1}
    assert 10 < len(lines) < 30
