"""The server: loopback names only, nothing from elsewhere, a taken port said in words."""

import re
import urllib.error
import urllib.request

import pytest

from frothline.errors import InputError
from frothline.web import serving
from frothline.web.server import create_app, serve


def get(url, **headers):
    with urllib.request.urlopen(urllib.request.Request(url, headers=headers), timeout=120) as answer:
        return answer.read().decode()


def test_the_line_stands_in_the_page_before_anything_else_is_loaded(address):
    page = get(address)
    assert page.index('<svg class="line"') < page.index("_dash-component-suites")


@pytest.mark.parametrize("path", ["", "spool", "generator", "run", "batch", "notebook"])
def test_every_page_has_an_address_of_its_own(address, path):
    assert '<svg class="line"' in get(address + path)


def test_nothing_of_the_page_comes_from_elsewhere(address):
    page = get(address)
    assert not re.findall(r'(?:src|href)="(?:https?:)?//[^"]*"', page)


def test_a_foreign_name_for_this_computer_is_refused(address):
    with pytest.raises(urllib.error.HTTPError) as refused:
        get(address, Host="elsewhere.example")
    assert refused.value.code == 400
    refused.value.close()


def test_no_api_pages_that_would_fetch_scripts_from_elsewhere(address):
    assert "swagger" not in get(address + "docs").lower()


def test_a_taken_port_is_said_with_what_to_do(bench, address):
    port = int(address.rsplit(":", 1)[1].strip("/"))
    with pytest.raises(InputError) as taken:
        serve(bench, port=port)
    assert taken.value.where == f"127.0.0.1:{port}"
    assert "another port" in taken.value.remedy


def test_two_servers_of_two_benches_do_not_share_anything(bench, tmp_path):
    from fake_session import FakeSession

    with serving(bench) as one, serving(FakeSession(tmp_path)) as other:
        assert one != other
        assert get(one + "alive") == get(other + "alive") == "OK"


def test_making_the_pages_opens_nothing(bench):
    create_app(bench)
    assert bench.calls == []


def test_the_session_on_a_real_rig_offers_all_that_the_pages_ask_of_a_bench():
    from frothline.bench.session import Session
    from frothline.bench.session_api import SessionApi

    asked = {name for name in vars(SessionApi) if not name.startswith("_")}
    assert "snapshot" in asked
    assert not {name for name in asked if not callable(getattr(Session, name, None))}
