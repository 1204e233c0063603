"""A viewer's stream: one message under way, a stalled viewer holds up nobody and fills nothing, a lost one is left."""

import asyncio
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.websockets import WebSocketDisconnect

from frothline.web.access import same_origin
from frothline.web.feed import Feed
from frothline.web.stream import stream


class Page:
    """A page at the other end of a socket. ``draws`` says how many messages it draws before it stalls; ``first`` is what
    it says before its state."""

    def __init__(self, draws=10**9, answers=True, first=()):
        self.sent, self.first = [], list(first)
        self.draws, self.answers = draws, answers
        self.drawn = asyncio.Queue()
        self.drawn.put_nowait(0)

    async def send_text(self, text):
        self.sent.append(json.loads(text))
        if len(self.sent) <= self.draws:
            self.drawn.put_nowait(self.sent[-1]["number"])

    async def receive_text(self):
        if self.first:
            return self.first.pop(0)
        if not self.answers:
            await asyncio.Event().wait()
        seen = await self.drawn.get()
        if seen is None:
            raise WebSocketDisconnect
        return json.dumps({"page": "spool", "scheme": "dark", "system": "inch-pound", "seen": seen})

    def leave(self):
        self.drawn.put_nowait(None)


def run(bench, page, enough):
    """Stream to the page until ``enough()``; gives the number of viewers meanwhile, and the feed."""
    feed = Feed(bench)

    async def watched():
        task = asyncio.create_task(stream(feed, page, period=0.005))
        while not enough() and not task.done():  # noqa: ASYNC110  the page is looked at from outside
            await asyncio.sleep(0.005)
        seen = feed.viewers
        page.leave()
        await task
        return seen

    return asyncio.run(asyncio.wait_for(watched(), 120)), feed


def test_a_page_that_draws_gets_message_after_message(bench):
    page = Page()
    viewers, feed = run(bench, page, lambda: len(page.sent) > 20)
    assert viewers == 1
    assert feed.viewers == 0
    assert [message["number"] for message in page.sent] == list(range(1, len(page.sent) + 1))


def test_the_first_message_is_for_the_page_the_units_and_the_colours_of_the_viewer(bench):
    page = Page()
    run(bench, page, lambda: page.sent)
    assert "channels" in page.sent[0]["tables"]  # of the spool page
    assert "now-line_pressure" not in page.sent[0]["texts"]  # of the source page, the default
    assert "m/s" not in page.sent[0]["texts"]["strip"]


def test_a_stalled_page_has_one_message_under_way_and_no_more(bench):
    page = Page(draws=3)
    looks = iter(range(200))
    run(bench, page, lambda: next(looks, None) is None)  # a second: two hundred times the period
    assert len(page.sent) == 4


def test_a_page_that_says_nothing_is_left_after_a_while(bench):
    page = Page(answers=False)
    feed = Feed(bench)
    asyncio.run(asyncio.wait_for(stream(feed, page, patience=0.1), 120))
    assert page.sent == []
    assert feed.viewers == 0


def test_a_page_that_stops_drawing_is_left_after_a_while(bench):
    page = Page(draws=0)
    asyncio.run(asyncio.wait_for(stream(Feed(bench), page, patience=0.2), 120))
    assert len(page.sent) == 1


@pytest.mark.parametrize("nonsense", ["", "{", "[" * 100_000, "null", '"spool"', "[1]"])
def test_nonsense_from_a_page_does_not_end_its_stream(bench, nonsense):
    page = Page(first=[nonsense])
    run(bench, page, lambda: len(page.sent) > 2)
    assert len(page.sent) > 2


def test_a_page_that_leaves_while_a_message_is_sent_is_not_an_error(bench):
    page = Page()

    async def broken(text):
        raise WebSocketDisconnect

    page.send_text = broken
    feed = Feed(bench)
    asyncio.run(asyncio.wait_for(stream(feed, page), 120))
    assert feed.viewers == 0


def test_a_bench_that_fails_ends_the_stream_and_is_not_counted_as_a_viewer(bench):
    feed = Feed(bench)

    def broken():
        raise RuntimeError("bench gone")

    bench.snapshot = broken
    with pytest.raises(RuntimeError):
        asyncio.run(stream(feed, Page()))
    assert feed.viewers == 0


def test_only_a_page_of_this_server_may_open_the_stream():
    here = {"host": "127.0.0.1:8050"}
    assert same_origin({**here, "origin": "http://127.0.0.1:8050"})
    for foreign in ("http://elsewhere.example", "http://127.0.0.1:8051", "null", ""):
        assert not same_origin({**here, "origin": foreign})
    assert not same_origin(here)
    assert not same_origin({})


@given(st.text(max_size=30), st.text(max_size=30))
def test_no_foreign_origin_is_taken_for_this_server(origin, host):
    assert not same_origin({"origin": origin, "host": host + "/"})


HOSTILE = (
    b"\xff\xfe", b"", "", "null", "[]", "3", '"x"', "{", "[" * 90_000, '{"wish": {"name": ["\\ud800"]}, "name": "\\udfff"}',
    '{"page": "\\ud800", "have": {"\\ud800": "\\ud800"}}', '{"seen": 1e999, "columns": -1e999, "seconds": NaN}',
    '{"seen": ' + "9" * 4000 + "}", '{"seen": ' + "9" * 6000 + "}", '{"wish": {"a": [' + '"x",' * 9000 + "1]}}",
    '{"page": {}, "system": [], "scheme": {}, "wish": 3, "have": [[]]}', '{"wish": {"a": [[["deep"]], {"b": 1}, null]}}',
)  # fmt: skip


def test_whatever_comes_over_the_socket_the_program_goes_on_and_prints_no_traceback(address, caplog, capfd):
    from websockets.exceptions import ConnectionClosed
    from websockets.sync.client import connect

    live, origin = address.replace("http", "ws", 1) + "live", address.rstrip("/")
    for said in HOSTILE:
        with connect(live, origin=origin) as socket:
            try:
                socket.send(said)
                socket.send('{"page": "run", "seen": 0}')
                assert json.loads(socket.recv(timeout=60))["number"] == 1
            except ConnectionClosed:
                pytest.fail(f"the socket is closed after {said[:60]!r}")
    assert "Traceback" not in caplog.text
    assert "Traceback" not in capfd.readouterr().err


def test_the_server_refuses_a_stream_to_a_page_of_another_site(bench, address):
    from websockets.exceptions import InvalidStatus
    from websockets.sync.client import connect

    live = address.replace("http", "ws", 1) + "live"
    with pytest.raises(InvalidStatus) as refused:
        connect(live, origin="http://elsewhere.example")
    assert refused.value.response.status_code == 403
    with connect(live, origin=address.rstrip("/")) as socket:
        socket.send("{}")
        assert json.loads(socket.recv())["number"] == 1
