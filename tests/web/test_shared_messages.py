"""Viewers with the same choices share one message; whoever chose otherwise, or has other blocks, gets another."""

import json

import pytest

from frothline.rig.link import BATCH
from frothline.web import stream
from frothline.web.access import ONLY_READING
from frothline.web.feed import Feed
from frothline.web.services import SNAPSHOT_AGE
from frothline.web.shared_messages import BEHIND, SharedMessages
from frothline.web.viewer import Viewer

PERIOD = 0.05


class Clock:
    now = 1000.0

    def __call__(self):
        return self.now


class Counting(Feed):
    made = 0

    def update(self, viewer, number):
        self.made += 1
        return super().update(viewer, number)


@pytest.fixture
def feed(bench):
    return Counting(bench)


@pytest.fixture
def messages(feed):
    return SharedMessages(feed, PERIOD, clock=Clock())


def test_twenty_viewers_with_the_same_choices_cost_one_message_in_a_turn(feed, messages):
    texts = [json.loads(messages.text(Viewer(page="spool", name=f"n{k}", seen=k), k + 1)) for k in range(20)]
    assert feed.made == 1
    assert [text["number"] for text in texts] == list(range(1, 21))
    for text in texts:
        del text["number"]
    assert all(text == texts[0] for text in texts)


def test_the_shared_text_is_the_message_that_a_viewer_alone_gets(feed, messages):
    viewer = Viewer(page="batch")
    assert json.loads(messages.text(viewer, 7)).keys() == feed.update(viewer, 7).keys()


def test_the_next_turn_has_a_new_message(feed, messages):
    messages.text(Viewer(), 1)
    messages._clock.now += 1.5 * PERIOD
    messages.text(Viewer(), 2)
    assert feed.made == 2


def test_a_message_that_takes_longer_than_a_turn_is_for_all_who_waited_for_it(feed, messages, monkeypatch):
    """Twenty pages that were opened together waited seven seconds: each first message was made again for each."""
    quick = feed.update

    def slow(viewer, number):
        messages._clock.now += 7 * PERIOD
        return quick(viewer, number)

    monkeypatch.setattr(feed, "update", slow)
    for k in range(20):
        messages.text(Viewer(), k)
    assert feed.made == 1


@pytest.mark.parametrize(
    "other",
    [
        {"page": "run"},
        {"system": "inch-pound"},
        {"scheme": "dark"},
        {"columns": 90},
        {"seconds": 120},
        {"touch": True},
        {"have": {"plane": "x"}},
        {"wish": {"tour": ("off",)}},
    ],
)
def test_a_viewer_who_chose_otherwise_gets_a_message_of_its_own(feed, messages, other):
    messages.text(Viewer(), 1)
    messages.text(Viewer(**other), 1)
    assert feed.made == 2


def test_the_viewer_who_changed_the_sheet_is_not_told_of_it_by_the_message_of_another(feed, messages):
    feed.shared_edits.note("mine")
    mine, other = (json.loads(messages.text(Viewer(page="generator", name=name), 1)) for name in ("mine", "other"))
    assert mine["texts"]["sheet-shared"] == ""
    assert other["texts"]["sheet-shared"]


def test_every_field_of_a_viewer_is_a_choice_or_belongs_to_one_viewer_alone(messages):
    """A field that is added to the viewer and changes its message must be part of the choices."""
    assert set(Viewer.__dataclass_fields__) == {
        "page", "system", "scheme", "columns", "seconds", "touch", "charts", "have", "wish", "seen", "name",
    }  # fmt: skip
    assert len(messages._choices(Viewer())) == 11


def test_the_message_of_a_link_for_viewing_is_not_given_to_who_may_operate(messages):
    """Both within one turn: the role is not in the viewer, which comes from the browser, but in its link."""
    found = {}
    for only_reading in (True, False):
        token = ONLY_READING.set(only_reading)
        found[only_reading] = json.loads(messages.text(Viewer(), 1))["states"]["access"]
        ONLY_READING.reset(token)
    assert found == {True: "read", False: "operate"}


def test_the_time_left_ends_with_the_turn(messages):
    turn = messages.turn
    messages._clock.now += messages.left + 1e-6
    assert messages.turn == turn + 1
    assert 0 < messages.left <= PERIOD


def test_a_turn_begins_when_the_batch_that_began_at_the_multiple_of_the_period_is_converted(messages):
    messages._clock.now = 1000.0 + BEHIND / 2
    before = messages.turn
    assert messages.left == pytest.approx(BEHIND / 2)
    messages._clock.now = 1000.0 + BEHIND + 1e-6
    assert messages.turn == before + 1
    assert messages.left == pytest.approx(PERIOD - 1e-6)


def test_a_turn_is_as_long_as_a_batch_of_readings():
    """Otherwise some messages would show the readings of the message before, and some readings would be left out."""
    assert stream.PERIOD == BATCH
    assert SNAPSHOT_AGE < BATCH - BEHIND  # a message late in its turn leaves no old snapshot for the next
