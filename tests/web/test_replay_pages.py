"""A recording that is played back: what cannot be done with it is not offered, and the page says why."""

import dataclasses
from pathlib import Path

import pytest

from frothline.bench import snapshot
from frothline.bench.playback_control import NO_RECORD_OF_RUN, NO_RECORDING, NO_SWEEP
from frothline.errors import InputError
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.pages.source.page import MARK, MEASURES, RECORD, SWEEP
from frothline.web.pages.source.page import layout as source_layout
from frothline.web.viewer import Viewer

STYLE = Path(snapshot.__file__).parents[1] / "web" / "assets" / "base.css"


@pytest.fixture
def replay(bench, monkeypatch):
    """The stand-in bench, as if its port played a recording back."""
    real = bench.snapshot

    def played():
        now = real()
        return dataclasses.replace(now, link=dataclasses.replace(now.link, port="replay:///somewhere/evening.froth"))

    monkeypatch.setattr(bench, "snapshot", played)
    return bench


def buttons(item):
    """Everything that a block offers to press."""
    if isinstance(item, str):
        return []
    own = [item[1].get("data-do")] if item[0] == "button" else []
    return own + [one for child in item[2:] for one in buttons(child)]


def hidden_in_a_replay(component, within=False):
    """Ids of the buttons that the state hides."""
    within = within or getattr(component, "data-state", None) == MEASURES
    found = {component.id} if within and getattr(component, "id", None) else set()
    children = getattr(component, "children", None) or []
    for child in children if isinstance(children, list) else [children]:
        if hasattr(child, "to_plotly_json"):
            found |= hidden_in_a_replay(child, within)
    return found


def test_in_a_replay_the_source_page_offers_no_sweep_and_no_recording_and_says_why(replay):
    message = Feed(replay).update(Viewer(page="source"), 1)
    assert message["states"][MEASURES] == "no"
    assert hidden_in_a_replay(source_layout()) >= {SWEEP, RECORD, MARK}
    assert f'[data-state="{MEASURES}"][data-is="no"] {{ display: none !important; }}' in STYLE.read_text()
    assert message["texts"]["sweep-refused"] == f"{NO_SWEEP}."
    assert message["texts"]["record-refused"] == f"{NO_RECORDING}."
    assert message["blocks"]["throttle"]["body"] == []
    assert "guided sweep" not in message["texts"]["fit-words"].lower()
    assert "Guided sweep" not in str(message["figures"]["plane"]["figure"])
    assert message["texts"]["status-source"] == "replay"


def test_with_a_rig_the_source_page_offers_both_and_has_no_reason(bench):
    message = Feed(bench).update(Viewer(page="source"), 1)
    assert message["states"][MEASURES] == "yes"
    assert not message["texts"]["sweep-refused"]
    assert not message["texts"]["record-refused"]


def test_in_a_replay_the_generator_page_offers_no_dry_or_wet_sweep(replay):
    (said,) = Feed(replay).update(Viewer(page="generator"), 1)["blocks"]["through"]["body"]
    assert buttons(said) == []
    assert words_of(said) == f"{NO_SWEEP}."


@pytest.mark.parametrize("of", ["source", "dry", "wet"])
def test_a_sweep_of_a_replay_is_refused_and_nothing_is_recorded(replay, of):
    with pytest.raises(InputError, match="replay"):
        Feed(replay).sweeps.start(of)
    assert not replay.calls


def test_a_run_of_a_replay_is_evaluated_and_not_recorded_a_second_time(replay, monkeypatch):
    feed, given = Feed(replay), {}
    real = replay.start_run
    monkeypatch.setattr(replay, "start_run", lambda name="", **more: (given.update(more), real(name, **more)))
    said = feed.update(Viewer(page="run"), 1)["blocks"]["run"]["body"]
    assert NO_RECORD_OF_RUN in " ".join(map(words_of, said))
    assert not [one for one in said if "input" in str(one)]
    assert "not recorded" in feed.runs.start()
    assert given["record"] is False
