"""A viewer's stream: one message under way, a stalled viewer holds up nobody and fills nothing, a lost one is left."""

import asyncio

import pytest

from frothline.web.feed import Feed
from frothline.web.stream import stream


class Page:
    """A page at the other end of a socket. ``draws`` says how many messages it draws before it stalls."""

    def __init__(self, draws=10**9, answers=True):
        self.sent, self.asked = [], 0
        self.draws, self.answers = draws, answers
        self.is_shutdown = False

    def set_prop_sync(self, component_id, prop_name, value):
        assert (component_id, prop_name) == ("live", "data")
        self.sent.append(value)

    async def get_prop(self, component_id, prop_name, timeout=30.0):  # noqa: ASYNC109  the framework's signature
        assert (component_id, prop_name) == ("viewer", "data")
        self.asked += 1
        if not self.answers:
            await asyncio.sleep(timeout)
            raise TimeoutError
        await asyncio.sleep(0)
        return {"page": "spool", "seen": min(len(self.sent), self.draws)}


def run(bench, page, enough):
    """Stream to the page until ``enough()``; gives the number of viewers meanwhile, and the feed."""
    feed = Feed(bench)

    async def watched():
        task = asyncio.create_task(stream(feed, page, period=0.005))
        while not enough() and not task.done():  # noqa: ASYNC110  the page is looked at from outside
            await asyncio.sleep(0.005)
        seen = feed.viewers
        page.is_shutdown = True
        await task
        return seen

    return asyncio.run(asyncio.wait_for(watched(), 120)), feed


def test_a_page_that_draws_gets_message_after_message(bench):
    page = Page()
    viewers, feed = run(bench, page, lambda: len(page.sent) > 20)
    assert viewers == 1
    assert feed.viewers == 0
    assert [message["number"] for message in page.sent] == list(range(1, len(page.sent) + 1))


def test_a_stalled_page_has_one_message_under_way_and_no_more(bench):
    page = Page(draws=3)
    run(bench, page, lambda: page.asked > 30)  # it is asked again and again whether it has drawn
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


def test_a_bench_that_fails_ends_the_stream_and_is_not_counted_as_a_viewer(bench):
    feed = Feed(bench)

    def broken():
        raise RuntimeError("bench gone")

    bench.snapshot = broken
    with pytest.raises(RuntimeError):
        asyncio.run(stream(feed, Page()))
    assert feed.viewers == 0
