"""A board that starts again while its rotor turns: the flow goes on, live, played back and read from the file."""

import time

import numpy as np
import pytest
from waiting import simulated_time_passes, until

from frothline.bench.session import Session
from frothline.readings.table import read_table
from frothline.recording.reader import verify
from frothline.sensors.series import Status

STEADY = "modelled://steady?seed=2&speed=3"


def flow_is_known(session):
    one = session.snapshot().latest.get("standard_flow")
    return one is not None and one.known and one.value > 0.02


def assert_never_0(flow, status=None):
    """A rotor at speed does not stop within the seconds in which its board is away."""
    known = flow[np.isfinite(flow)]
    assert known.size > 500
    assert known.min() > 0.5 * np.median(known)
    if status is not None:
        assert not (status & Status.STOPPED).any()


def restarts(session):
    """One cable that is pulled and put in, two presses of the reset button; each waits for the flow to be back."""
    for k, (name, value) in enumerate((("cable", False), ("reset", "external"), ("reset", "brown_out")), start=1):
        boots = session.snapshot().losses.board_resets
        session.simulation.control(name, value)
        if name == "cable":
            until(lambda: session.snapshot().link.state == "lost", "the loss of the port")
            session.simulation.control("cable", True)
        until(lambda boots=boots: session.snapshot().losses.board_resets > boots, f"boot {k}")
        simulated_time_passes(session, 0.9)
        until(lambda: flow_is_known(session), f"the flow after boot {k}")
        simulated_time_passes(session, 2.1)


@pytest.fixture(scope="module")
def restarted(tmp_path_factory):
    """A session with three restarts under load: what was live, the sweep begun after them, and the recording."""
    folder = tmp_path_factory.mktemp("restarts")
    with Session(STEADY, folder) as session:
        session.start(wait=True)
        until(lambda: flow_is_known(session), "the flow")
        simulated_time_passes(session, 7.5)  # the source is up to speed
        begin = session.window("standard_flow", 0.1).time[-1]
        path = session.start_recording("restarts")
        until(lambda: session.snapshot().recording.bytes > 8000, "the description in the recording")
        restarts(session)
        session.start_sweep(record=False)
        session.turn_throttle(session.simulation.truth()["throttle"])  # no hand moves it here
        simulated_time_passes(session, 9.0)
        session.stop_sweep()
        snapshot = session.snapshot()
        session.stop_recording()
        live = session.window("standard_flow", 1e6)
    return path, live, begin, snapshot


@pytest.mark.exhaustive
def test_live_flow_goes_on_after_three_restarts(restarted):
    _, live, begin, _ = restarted
    later = live.time > begin
    assert_never_0(live.value[later], live.status[later])
    # Most of each second is known: the flow does not stay away either.
    assert np.isfinite(live.value[later]).mean() > 0.7


@pytest.mark.exhaustive
def test_a_sweep_begun_after_a_restart_takes_no_shut_off_point_while_air_flows(restarted):
    _, _, _, snapshot = restarted
    assert all(point.flow > 0.02 for point in snapshot.points)


@pytest.mark.exhaustive
def test_the_recording_of_three_restarts_has_the_flow_on_one_axis(restarted):
    path, _, _, _ = restarted
    table = read_table(path)
    assert table.attrs["boots"] == 4
    assert table.attrs["guessed_silences"] == 0
    assert (np.diff(table["time"]) >= 0).all()
    # The boards together ran no longer than the axis is, and the silences were short.
    assert table["time"].iloc[-1] < 60
    assert_never_0(table["standard_flow"].to_numpy())
    assert verify(path).boots == 4


@pytest.mark.exhaustive
def test_played_back_the_flow_of_three_restarts_goes_on(restarted, tmp_path):
    path, _, _, _ = restarted
    with Session(f"replay://{path}?speed=6", tmp_path) as session:
        session.start(wait=True)
        until(lambda: session.snapshot().losses.board_resets == 3, "the last boot")
        until(lambda: session.snapshot().link.state == "ended", "the end of the playback")
        played = session.window("standard_flow", 1e6)
        again = session.snapshot()
    assert_never_0(played.value, played.status)
    assert again.losses.board_resets == 3
    # From the file each boot waits up to 0.2 s for its own line temperature, played back the last one is carried on.
    read = read_table(path)["standard_flow"].to_numpy()
    assert np.isfinite(played.value).sum() - 100 < np.isfinite(read).sum() <= np.isfinite(played.value).sum()
    assert np.nanmedian(read) == pytest.approx(np.nanmedian(played.value), rel=1e-3)


def test_a_playback_asked_for_its_description_answers_with_the_boot_that_is_played(restarted, tmp_path):
    """Else the board would seem to boot back and forth, and each time the flow would be unknown for a second."""
    path, _, _, _ = restarted
    with Session(f"replay://{path}?speed=4", tmp_path) as session:
        session.start(wait=True)
        until(lambda: session.snapshot().losses.board_resets == 3, "the last boot")
        session.command("describe")
        time.sleep(0.5)
        assert session.snapshot().losses.board_resets == 3
