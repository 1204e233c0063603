"""Calibrating at a running session, and what it finds wrong. Truth is the simulated world's, or a tube worked by hand."""

import dataclasses
from dataclasses import replace

import numpy as np
import pytest
from waiting import simulated_time_passes, until

from frothline.bench.plausibility_monitor import PlausibilityMonitor
from frothline.bench.ring_buffer import RingBuffer
from frothline.bench.session import Session
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, TooFewPoints
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Status
from frothline.simulation.modelled import stream
from frothline.wire import decode_all

# A U-tube at 20 °C: water of 998.207 kg/m3 (IAPWS R6-95, as tabled by IAPWS and NIST) less air of 1.2, standard
# gravity 9.80665 m/s2: 9777.3 Pa for each metre of height.
PASCALS_PER_METRE = (998.207 - 1.2) * 9.80665
FAST = "modelled://steady?seed=3&speed=12"


@pytest.fixture
def session(tmp_path):
    with Session(FAST, tmp_path) as one:
        one.start(wait=True)
        until(lambda: (p := one.snapshot().latest.get("line_pressure")) and p.known)
        yield one


def stage(session):
    state = session.calibrating().state()
    return None if state is None else state.prompt.stage.value


def take(session, throttle):
    """Set an opening, wait until it stands, read the true pressure off a tube and hold."""
    session.simulation.control("throttle", throttle)
    simulated_time_passes(session, 4.0)
    true = session.simulation.truth()["line_pressure"]
    bench = session.calibrating()
    if stage(session) == "choose":
        bench.again()
    bench.answer(height=true / PASCALS_PER_METRE, water_temperature=293.15)
    until(lambda: stage(session) == "choose", "a point")
    return true


def test_a_tube_of_water_sets_the_pressure_right_at_once_and_for_the_next_start(session, tmp_path):
    bench = session.calibrating()
    before = session.snapshot().latest["line_pressure"].u
    bench.begin("pressure", who="the builder")
    for throttle in (0.0, 0.2, 0.4, 1.0):
        true = take(session, throttle)
    assert len(bench.state().points) == 4
    assert max(abs(point.residual) for point in bench.state().points) < 60.0  # Pa: the hand on the tube, 1 mm, is 10
    path = bench.finish()
    assert path == tmp_path / "calibration.toml"
    until(lambda: session.snapshot().latest["line_pressure"].u < 0.5 * before, "the narrower interval")
    shown = session.snapshot().latest["line_pressure"]
    assert abs(shown.value - true) < 3 * shown.u + 20.0
    kept = load_calibration(path)
    assert kept.channels["pressure"].who == "the builder"
    assert kept.channels["pressure"].board == "simulated 3"
    session.close()
    with Session(FAST, tmp_path) as again:
        again.start(wait=True)
        until(lambda: "pressure" in again.calibrations(), "the calibration of last time")


def test_a_point_can_be_dropped_and_too_few_make_no_calibration(session, tmp_path):
    bench = session.calibrating()
    bench.begin("pressure")
    take(session, 0.0)
    take(session, 0.3)
    with pytest.raises(TooFewPoints):
        bench.finish()
    assert len(bench.state().points) == 2
    bench.drop()
    assert len(bench.state().points) == 1
    bench.leave()
    assert bench.state() is None
    assert not (tmp_path / "calibration.toml").exists()


def test_a_zero_wants_still_air_and_is_then_kept_by_itself(session):
    bench = session.calibrating()
    until(lambda: (speed := session.snapshot().latest.get("air_speed")) and speed.known, "an air speed")
    with pytest.raises(InputError, match="still moving"):
        bench.begin("zero", channel="pressure")
    session.simulation.control("motor", False)
    until(lambda: session.snapshot().latest["line_pressure"].value < 700, "rest")
    until(lambda: session.simulation.truth()["line_pressure"] < 2.0, "rest")
    until(lambda: not session.snapshot().latest["air_speed"].value > 0, "a rotor that stands")
    bench.begin("zero", channel="pressure")
    until(lambda: bench.state() is None, "the zero")
    assert "pressure" in bench.known().calibration.zeros
    # What is left is what a zero moves within a session, 20 Pa, and noise.
    until(lambda: abs(session.snapshot().latest["line_pressure"].value) < 25.0, "a reading of nothing")


def test_a_zero_waits_for_an_anemometer_that_has_no_reading_yet(session, monkeypatch):
    """In the first second after a boot the rotor's speed is not known, whatever the air does."""
    bench = session.calibrating()
    until(lambda: (speed := session.snapshot().latest.get("air_speed")) and speed.known, "an air speed")
    latest = session.snapshot().latest
    unknown = {
        name: replace(latest[name], value=float("nan"), status=int(Status.MISSING))
        for name in ("rotor_frequency", "air_speed")
    }
    monkeypatch.setattr(bench._samples, "latest", lambda: {**latest, **unknown})
    with pytest.raises(InputError, match="no reading yet"):
        bench.begin("zero", channel="pressure")
    silent = int(Status.MISSING | Status.SILENT)  # pulled out: the zero must still be possible
    pulled = {name: replace(one, status=silent) for name, one in unknown.items()}
    monkeypatch.setattr(bench._samples, "latest", lambda: {**latest, **pulled})
    bench.begin("zero", channel="pressure")


def test_the_rigs_own_button_goes_on_where_nothing_has_to_be_typed(session):
    bench = session.calibrating()
    assert not bench.button()
    bench.begin("pressure")
    assert bench.button()  # a height has to be typed: it stays
    assert stage(session) == "ask"
    take(session, 0.3)
    bench.button()
    assert stage(session) == "ask"


def test_only_one_calibration_at_a_time_and_none_without_its_sensor(session):
    bench = session.calibrating()
    with pytest.raises(InputError, match="no thermal sensor is fitted"):
        bench.begin("thermal-plates")
    bench.begin("supply")
    with pytest.raises(InputError, match="under way"):
        bench.begin("temperature")
    with pytest.raises(InputError, match="unknown procedure"):
        Session(FAST, "nowhere").calibrating().begin("guess")


def test_a_file_that_cannot_be_read_is_said_and_stands_in_nobodys_way(tmp_path):
    (tmp_path / "calibration.toml").write_text("format = 99\n", encoding="utf-8")
    with Session(FAST, tmp_path) as session:
        session.start(wait=True)
        until(lambda: (p := session.snapshot().latest.get("line_pressure")) and p.known)
        assert "format 99" in session.calibrating().known().trouble
        assert session.calibrations() == {}


def test_a_calibration_of_another_board_is_named_and_not_used(session, tmp_path):
    bench = session.calibrating()
    bench.begin("pressure")
    for throttle in (0.0, 0.2, 0.4):
        take(session, throttle)
    bench.finish()
    made = load_calibration(tmp_path / "calibration.toml")
    other = {"pressure": dataclasses.replace(made.channels["pressure"], board="bench 7")}
    save_calibration(tmp_path / "other.toml", Calibration("bench 7", other))
    session.close()
    with Session(FAST, tmp_path, calibration=tmp_path / "other.toml") as again:
        again.start(wait=True)
        known = until(lambda: (k := again.calibrating().known()).label and k)
        assert [one.code for one in known.warnings] == ["calibration-other-board"]
        assert again.calibrations() == {}
        assert known.path == tmp_path / "other.toml"


def test_a_tube_that_is_not_on_the_tap_makes_no_calibration_and_the_one_in_use_stays(session, tmp_path):
    """Heights of 0, 0.3 and 0.6 m are typed while the line stays at one opening: the reading does not move."""
    bench = session.calibrating()
    bench.begin("pressure")
    session.simulation.control("throttle", 0.2)
    simulated_time_passes(session, 4.0)
    bench.answer(height=0.0)
    until(lambda: stage(session) == "choose", "the first point")
    for height in (0.3, 0.6):
        bench.again()
        bench.answer(height=height)
        until(lambda: stage(session) == "choose", "the refusal")
        assert "did not change" in bench.state().prompt.problem
        assert len(bench.state().points) == 1
    with pytest.raises(TooFewPoints):
        bench.finish()
    assert session.calibrations() == {}
    assert not (tmp_path / "calibration.toml").exists()


def test_the_previous_calibration_is_taken_back_at_once_and_for_the_next_start(session, tmp_path):
    bench = session.calibrating()
    bench.begin("pressure")
    for throttle in (0.0, 0.2, 0.4):
        take(session, throttle)
    bench.finish()
    bench.leave()
    until(lambda: "pressure" in session.calibrations(), "the calibration")
    assert bench.use_previous("pressure") == tmp_path / "calibration.toml"
    until(lambda: session.calibrations() == {}, "the data sheet's figures")
    assert load_calibration(tmp_path / "calibration.toml").channels == {}
    bench.use_previous("pressure")
    until(lambda: "pressure" in session.calibrations(), "the calibration again")
    assert bench.changes == 3
    with pytest.raises(InputError, match="no previous calibration of rotor"):
        bench.use_previous("rotor")


# --- findings ----------------------------------------------------------------------------------------------------------


def rings(**values):
    """Rings of 100 Hz, session time from 0."""
    made = {}
    for name, value in values.items():
        ring = RingBuffer(name, "")
        n = len(value)
        ring.write(np.arange(n) / 100.0, np.asarray(value, float), np.full(n, 1e-3), np.zeros(n, np.uint8))
        made[name] = ring
    return made


def blower(flow):
    """Pressure of a made-up source, Pa: 18 kPa at shut-off, free at 60 g/s."""
    return 18e3 * (1 - (flow / 0.06) ** 2)


def steps(*flows, seconds=6):
    noise = np.random.default_rng(4)
    return np.concatenate([np.full(seconds * 100, flow) + noise.normal(0, 1e-5, seconds * 100) for flow in flows])


def look(*given):
    return PlausibilityMonitor().look(*given)


def codes(found):
    return [one.code for one in found]


def test_a_whole_sweep_has_nothing_wrong_with_it():
    flow = steps(0.0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.058)
    assert look(rings(line_pressure=blower(flow), mass_flow=flow), 42.0, (0.0, 42.0)) == ()


def test_a_sweep_that_never_left_one_end_is_named_once_it_has_ended():
    flow = steps(0.0575, 0.0578, 0.058, 0.0576, 0.0575)
    kept = rings(line_pressure=blower(flow), mass_flow=flow)
    assert codes(look(kept, 30.0, (0.0, None))) == []  # it is merely not done yet
    found = look(kept, 30.0, (0.0, 30.0))
    assert codes(found) == ["sweep-one-end"]
    assert "never left" in found[0].what


def test_what_a_sweep_lacks_is_not_changed_by_what_comes_after_it():
    """A whole sweep, and then minutes at one opening: only the sweep is looked at, and all of it."""
    whole, after = steps(0.0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.058), steps(0.03, seconds=240)
    flow = np.concatenate([whole, after])
    found = PlausibilityMonitor()
    for until_then in (60, 100, 282):
        kept = rings(line_pressure=blower(flow[: until_then * 100]), mass_flow=flow[: until_then * 100])
        assert found.look(kept, float(until_then), (0.0, 42.0)) == ()
        assert look(kept, float(until_then), (0.0, 42.0)) == ()


def test_how_far_a_sweep_went_is_read_off_the_points_that_are_shown():
    flow = steps(0.05, 0.052, 0.054, 0.056, 0.058)  # samples as of a sweep whose beginning is gone
    kept = rings(line_pressure=blower(flow), mass_flow=flow)
    places = [SteadyPoint.from_parts(blower(q), q / 1.2, (10.0, 1e-4, 0.0)) for q in np.linspace(0.0, 0.058, 8)]
    assert look(kept, 30.0, (0.0, 30.0), places) == ()
    assert codes(look(kept, 30.0, (0.0, 30.0), places[4:])) == ["sweep-short"]


def test_what_a_sweep_lacks_is_advice_and_no_fault_on_the_line():
    flow = steps(0.0575, 0.0578, 0.058, 0.0576, 0.0575)
    found = look(rings(line_pressure=blower(flow), mass_flow=flow), 30.0, (0.0, 30.0))
    assert [one.severity for one in found] == ["notice"]


def test_a_blocked_tap_is_named_while_the_sweep_still_runs():
    flow = steps(0.0, 0.01, 0.02, 0.03, 0.04, 0.05)
    stuck = np.full(len(flow), 6000.0) + np.random.default_rng(5).normal(0, 2, len(flow))
    assert codes(look(rings(line_pressure=stuck, mass_flow=flow), 36.0, (0.0, None))) == ["tap-blocked"]


def test_nothing_is_said_of_the_first_seconds():
    flow = steps(0.02, seconds=2)
    assert look(rings(line_pressure=blower(flow), mass_flow=flow), 2.0, None) == ()
    assert look({}, 2.0, None) == ()


def test_a_sagging_supply_of_a_running_rig_is_found(tmp_path):
    with Session("modelled://steady?seed=3", tmp_path) as session:
        session.start(wait=True)
        until(lambda: session.now > 6.0)
        assert codes(session.findings()) == []
        session.simulation.control("fault", "board_supply_sag")
        until(lambda: "supply-sagging" in codes(session.findings()), "the sag")


def test_a_calibration_of_one_simulated_rig_is_not_taken_for_that_of_another():
    """The sensors of another seed have other errors: their readings must not be corrected by this one's."""
    line = ChannelCalibration("pressure", "ratio", "Pa", np.zeros(2), np.zeros((2, 2)), 0, 1, board="simulated 1")
    made = Calibration("simulated 1", {"pressure": line}, {"scale": 1.0})

    def used(url):
        description = RigDescription.from_tables(decode_all(stream(url, 0.5)[0]).tables)
        converter = Converter(description, made)
        return tuple(converter.calibration.channels), converter.refused

    assert used("modelled://sweep?seed=1") == used("modelled://run?seed=1") == (("pressure",), ())
    assert used("modelled://sweep?seed=2") == ((), ("pressure",))


def test_a_zero_is_taken_with_a_rotor_that_has_not_turned_since_the_boot(session, monkeypatch):
    """Right after the board was plugged in nobody has let air through yet; the source is off."""
    bench = session.calibrating()
    until(lambda: (speed := session.snapshot().latest.get("air_speed")) and speed.known, "an air speed")
    latest = session.snapshot().latest
    unseen = {
        name: replace(latest[name], value=float("nan"), status=int(Status.MISSING | Status.UNSEEN))
        for name in ("rotor_frequency", "air_speed")
    }
    monkeypatch.setattr(bench._samples, "latest", lambda: {**latest, **unseen})
    bench.begin("zero", channel="pressure")
