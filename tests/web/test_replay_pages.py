"""A recording that is played back: what cannot be done with it is not offered, and the page says why."""

import dataclasses
from pathlib import Path

import pytest
from waiting import until

from frothline.bench import snapshot
from frothline.bench.playback_control import (
    NEEDS_RIG,
    NO_CALIBRATION,
    NO_RECORD_OF_RUN,
    NO_RECORDING,
    NO_SAMPLE,
    NO_SWEEP,
    require_rig,
    why_not_offered,
)
from frothline.errors import InputError
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.pages.generator.page import HOW_MEASURED
from frothline.web.pages.generator.page import layout as generator_layout
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
    assert message["texts"]["fit-points"] == ""  # there will be none: "no point yet" promises one
    assert message["texts"]["fit-shut_off-under"] == "no curve in a replay"


def test_with_a_rig_the_source_page_offers_both_and_has_no_reason(bench):
    message = Feed(bench).update(Viewer(page="source"), 1)
    assert message["states"][MEASURES] == "yes"
    assert not message["texts"]["sweep-refused"]
    assert not message["texts"]["record-refused"]
    assert message["texts"]["fit-points"] == "No point yet."
    assert message["texts"]["fit-shut_off-under"] == "not known yet"


@pytest.mark.parametrize(
    ("kind", "label", "said"),
    [
        ("modelled", "rig", "simulated recording"),
        ("atmega328p", "simulated 7", "simulated recording"),
        ("atmega328p", "workshop", ""),
    ],
)
def test_a_replay_of_a_simulated_rig_says_that_it_was_simulated(replay, monkeypatch, kind, label, said):
    real = replay.snapshot
    monkeypatch.setattr(
        replay,
        "snapshot",
        lambda: (
            (now := real())
            and dataclasses.replace(
                now, simulated=False, board=dataclasses.replace(now.board, kind=kind, label=label, simulated=False)
            )
        ),
    )
    assert Feed(replay).update(Viewer(page="source"), 1)["texts"]["simulated"] == said


def test_in_a_replay_the_generator_page_offers_no_dry_or_wet_sweep(replay):
    (said,) = Feed(replay).update(Viewer(page="generator"), 1)["blocks"]["through"]["body"]
    assert buttons(said) == []
    assert words_of(said) == f"{NO_SWEEP}."


@pytest.mark.parametrize("of", ["source", "dry", "wet"])
def test_a_sweep_of_a_replay_is_refused_and_nothing_is_recorded(replay, of):
    with pytest.raises(InputError, match="replay"):
        Feed(replay).sweeps.start(of)
    assert not replay.calls


def offered(message):
    """Everything that the blocks of a message offer to press, and their words."""
    bodies = [part for block in message["blocks"].values() for part in block.get("body", ())]
    return [do for part in bodies for do in buttons(part)], " ".join(map(words_of, bodies))


def spool(feed):
    feed.update(Viewer(page="spool"), 1)
    until(lambda: feed.calibrated.look() is not None)
    return feed.update(Viewer(page="spool"), 2)


def test_in_a_replay_the_spool_page_offers_no_calibration_and_says_why(replay):
    message = spool(Feed(replay))
    dos, words = offered(message)
    assert not [do for do in dos if do and do.startswith(("calibrate:begin", "calibrate:zero"))]
    assert f"{NO_CALIBRATION}." in words
    assert "as-button" not in str(message["blocks"]["calibration-head"])
    assert message["states"]["status-spool"] != "to do"


def test_with_a_rig_the_spool_page_offers_calibrations(bench):
    dos, words = offered(spool(Feed(bench)))
    assert [do for do in dos if do and do.startswith("calibrate:begin")]
    assert [do for do in dos if do and do.startswith("calibrate:zero")]
    assert NO_CALIBRATION not in words


def test_in_a_replay_the_run_page_offers_no_sample_and_says_why(replay, bench):
    dos, words = offered(Feed(replay).update(Viewer(page="run"), 1))
    assert "run:begin" not in dos
    assert f"{NO_SAMPLE}." in words


@pytest.mark.parametrize(("what", "words"), NEEDS_RIG.items())
def test_one_rule_refuses_what_needs_a_rig(replay, what, words):
    now = replay.snapshot()
    assert why_not_offered(now, what) == words
    with pytest.raises(InputError, match=words):
        require_rig(now, what)
    live = dataclasses.replace(now, link=dataclasses.replace(now.link, port="/dev/ttyUSB0"))
    assert why_not_offered(live, what) == ""
    require_rig(live, what)


def test_in_a_replay_no_sentence_of_a_page_advises_a_sweep_and_no_tour_is_shown(replay):
    feed = Feed(replay)
    for page in PAGES:
        feed.update(Viewer(page=page), 1)
    until(lambda: not feed.desk.look().working)
    for page in PAGES:
        message = feed.update(Viewer(page=page), 2)
        said = f"{offered(message)[1]} {' '.join(message['texts'].values())} {message['figures']}"
        said = said.replace(NO_SWEEP, "").replace("Guided sweep", "" if message["states"][MEASURES] == "no" else "-")
        assert "guided sweep" not in said.lower(), page
        assert "measure its curve" not in said.lower(), page
        assert message["blocks"]["tour"]["body"] == []
        assert message["states"][MEASURES] == "no"


def test_in_a_replay_the_generator_page_names_the_recorded_sweeps_as_its_source(replay):
    feed = Feed(replay)
    until(lambda: feed.desk.look().answer is not None)
    message = feed.update(Viewer(page="generator"), 1)
    assert message["texts"]["meet-words"].startswith("No air source: none is measured during a replay. Choose")
    assert hidden_in_a_replay(generator_layout()) >= {HOW_MEASURED}


def test_a_run_of_a_replay_is_evaluated_and_not_recorded_a_second_time(replay, monkeypatch):
    feed, given = Feed(replay), {}
    real = replay.start_run
    monkeypatch.setattr(replay, "start_run", lambda name="", **more: (given.update(more), real(name, **more)))
    said = feed.update(Viewer(page="run"), 1)["blocks"]["run"]["body"]
    assert NO_RECORD_OF_RUN in " ".join(map(words_of, said))
    assert not [one for one in said if "input" in str(one)]
    assert "not recorded" in feed.runs.start()
    assert given["record"] is False
