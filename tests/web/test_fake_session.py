"""The stand-in for a session is held to the real one: same calls, same types, same names, same units."""

import dataclasses
import inspect
from collections.abc import Mapping
from types import SimpleNamespace

import numpy as np
import pytest
from fake_session import FakeSession
from waiting import simulated_time_passes, until

from frothline.bench.session import Session
from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import LINK_STATES
from frothline.foam.sample import Weighing
from frothline.sensors.calibration import ChannelCalibration

CALLS = [name for name in vars(SessionApi) if not name.startswith("_")]
KINDS = {bool: bool, np.bool_: bool, int: int, np.integer: int, float: float, np.floating: float}


def kind(value):
    """Type of a value; numbers of numpy count as Python's, a path of any system as a path."""
    for given, plain in KINDS.items():
        if isinstance(value, given):
            return plain
    return type(value)


def differences(fake, real, where="snapshot"):
    """Where the stand-in's value has another shape than the session's. None is a value that is not there on one side."""
    if fake is None or real is None:
        return []
    if isinstance(fake, SimpleNamespace):  # a part of the real thing
        return [one for name, value in vars(fake).items() for one in part(value, real, name, where)]
    if kind(fake) is not kind(real):
        return [f"{where}: {type(fake).__name__} in place of {type(real).__name__}"]
    if dataclasses.is_dataclass(real):
        names = [one.name for one in dataclasses.fields(real)]
        found = [
            one for name in names for one in differences(getattr(fake, name), getattr(real, name), f"{where}.{name}")
        ]
        if hasattr(real, "unit") and fake.unit != real.unit:
            found.append(f"{where}.unit: {fake.unit!r} in place of {real.unit!r}")
        return found
    if isinstance(real, Mapping):
        unknown = [f"{where}[{key!r}] does not exist" for key in fake if key not in real]
        return unknown + [
            one for key in fake if key in real for one in differences(fake[key], real[key], f"{where}[{key!r}]")
        ]
    if isinstance(real, np.ndarray):
        same = fake.ndim == real.ndim and fake.dtype == real.dtype
        return [] if same else [f"{where}: {fake.ndim} x {fake.dtype} in place of {real.ndim} x {real.dtype}"]
    if isinstance(real, tuple | list):
        return [
            one
            for first, other in zip(fake[:1], real[:1], strict=False)
            for one in differences(first, other, f"{where}[0]")
        ]
    return []


def part(value, real, name, where):
    """Differences in one attribute or method of a stand-in for ``real``."""
    if not hasattr(real, name):
        return [f"{where}.{name} does not exist"]
    other = getattr(real, name)
    if callable(value):
        flows = np.linspace(0.001, 0.02, 7)
        return differences(value(flows), other(flows), f"{where}.{name}()")
    return differences(value, other, f"{where}.{name}")


def swept(session, step):
    """The same calls for both; ``step`` lets the air be throttled."""
    said = {"recording": session.start_recording("evening")}
    session.mark("here")
    session.note("the hose was kinked")
    session.start_sweep()
    said["sweeping"] = session.snapshot()
    until(lambda: step(session) or session.snapshot().sweep.done, "the end of the sweep")
    until(lambda: session.snapshot().fit, "the curve")
    said["swept"] = session.snapshot()
    for name in ("line_pressure", "standard_flow"):
        said[name] = session.window(name, 2.0)
    session.stop_sweep()
    said["budgets"], said["calibrations"] = session.budgets(), session.calibrations()
    said["findings"] = session.findings()
    said["calibrating"] = session.calibrating()
    said["stopped"] = session.stop_recording()
    said["stopped again"] = session.stop_recording()
    return said


def run(session, foams):
    """A run with one sample, as the pages do it."""
    said = {}
    session.start_run(metadata={"air_source": "motor"})
    foams(session)
    now = session.snapshot()
    said["running"] = now
    said["sample"] = session.add_sample(Weighing(0.060, 2.3, 6.6, 8.0, confirmed=True), now.run.time)
    said["after a sample"] = session.snapshot()
    said["run ended"] = session.stop_run()
    said["no run"] = session.stop_run()
    return said


@pytest.fixture(scope="module")
def fake(tmp_path_factory):
    session = FakeSession(tmp_path_factory.mktemp("fake"), hold=0.01)

    def step(one):
        if one.snapshot().sweep.phase == "open":
            one.sweep_button()

    return swept(session, step) | run(session, lambda _: None)


@pytest.fixture(scope="module")
def real(tmp_path_factory):
    with Session("modelled://sweep?seed=5&speed=20", tmp_path_factory.mktemp("real"), own_process=False) as session:
        session.start(wait=True)
        until(lambda: session.snapshot().latest.get("standard_flow"), "a flow")
        said = swept(session, lambda _: None)
        session.change_rig("modelled://run-fed?seed=2&speed=20")

        def foams(one):
            until(lambda: one.snapshot().run.phase == "foaming", "foam")
            simulated_time_passes(one, 30.0)
            until(lambda: one.snapshot().run.output.foam_rate, "a foam rate")

        return said | run(session, foams)


@pytest.mark.parametrize("name", CALLS)
def test_the_stand_in_and_the_session_take_the_calls_that_the_pages_make(name):
    asked = inspect.signature(getattr(SessionApi, name)).parameters
    for made in (FakeSession, Session):
        takes = inspect.signature(getattr(made, name)).parameters
        anything = any(one.kind is one.VAR_KEYWORD for one in takes.values())
        assert anything or asked.keys() <= takes.keys(), made
        needed = {one.name for one in takes.values() if one.default is one.empty and one.kind < one.VAR_POSITIONAL}
        assert needed <= asked.keys(), made


@pytest.mark.slow
@pytest.mark.parametrize(
    "moment",
    [
        "recording", "sweeping", "swept", "line_pressure", "standard_flow", "budgets", "findings",
        "calibrating", "stopped", "stopped again", "running", "sample", "after a sample", "run ended", "no run",
    ],
)  # fmt: skip
def test_what_the_stand_in_says_has_the_shape_of_what_the_session_says(fake, real, moment):
    assert (fake[moment] is None) == (real[moment] is None)
    assert differences(fake[moment], real[moment], moment) == []


@pytest.mark.slow
def test_the_stand_in_knows_a_figure_wherever_the_session_does(fake, real):
    """What is None in one of them was not compared above: these must be there on both sides."""
    for said in (fake, real):
        now = said["swept"]
        assert now.link.state in LINK_STATES
        assert None not in (now.board, now.recording, now.sweep, now.fit)
        assert now.points
        assert now.marks
        assert now.board.channels
        assert said["running"].run.output.foam_rate is not None
        assert said["after a sample"].run.samples
        assert said["budgets"]
    assert {one.kind for one in fake["swept"].board.channels} <= {one.kind for one in real["swept"].board.channels}


@pytest.mark.slow
def test_the_calibrated_channels_of_the_stand_in_are_channels_of_the_board(fake, real):
    """The simulated board has no calibration."""
    assert real["calibrations"] == {}
    assert fake["calibrations"].keys() <= {one.kind for one in real["swept"].board.channels}
    assert all(isinstance(one, ChannelCalibration) for one in fake["calibrations"].values())


def test_a_name_that_the_session_does_not_have_is_a_difference(fake):
    now = fake["swept"]
    latest = now.latest | {"line_presure": now.latest["line_pressure"]}
    wrong = dataclasses.replace(now, latest=latest, time="now", points=[*now.points])
    assert [one.split(":")[0].split(" does")[0] for one in differences(wrong, now)] == [
        "snapshot.time", "snapshot.latest['line_presure']", "snapshot.points",
    ]  # fmt: skip
