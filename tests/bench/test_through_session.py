"""Sweeps through the simulated generator by a session: the line that is found against the world's own, which the bench
does not know, and what becomes of the source's curve, the recording and the sheet.

The hand of the simulation follows the guide, ten times as fast as a person.
"""

import tomllib

import numpy as np
import pytest
from waiting import until

from frothline.bench.recorder import sweep_metadata
from frothline.bench.session import Session
from frothline.errors import InputError
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import parse_sheet, simulated_sheet
from frothline.recording.reader import verify
from frothline.simulation import ground_truth
from frothline.simulation.world import World
from frothline.sweep.recorded_source import load_sweeps


def sheet():

    return parse_sheet(simulated_sheet(), "sheet").build


def swept(folder, kind, build=None):
    """The snapshot at the end, and the instructions that were given."""
    said = []
    with Session(f"modelled://generator-{kind}?seed=3&speed=10", folder) as session:
        session.start(wait=True)
        session.start_sweep(through=kind, build=build)

        def done():
            state = session.snapshot().sweep
            if not said or said[-1] != state.phase:
                said.append(state.phase)
            return state.done

        until(done, "the end of the sweep")
        until(lambda: session.snapshot().last_recording, "the end of the sweep's own recording")
        return session.snapshot(), said


def true_line(kind, flows):
    """Pa that the simulated generator of the same seed asks for at these flows, once warm and, if wet, foaming."""
    world = World(f"generator-{kind}", 3)
    world.control("throttle", 0.0)
    world.advance(20.0)
    ask = ground_truth.resistance(world)
    return np.array([ask(flow) for flow in flows])


@pytest.mark.exhaustive
@pytest.mark.parametrize("kind", ["dry", "wet"])
def test_the_line_that_is_found_is_the_simulated_generator_s_own(tmp_path, kind):
    now, said = swept(tmp_path, kind, sheet())
    assert now.sweep.missing == ()
    assert said[0] == ("foam" if kind == "wet" else "full")
    points = now.through[kind]
    flows = np.array([point.flow for point in points])
    assert len(points) >= 7
    assert min(flows) < 0.45 * max(flows)
    truth = true_line(kind, flows)
    measured = np.array([point.pressure for point in points])
    # each point within its own uncertainty, flow's carried over by the slope of the line; wet foam flutters besides
    near = np.array([0.98, 1.02]) * max(flows)  # where the line is steepest
    slope = np.diff(true_line(kind, near))[0] / np.diff(near)[0]
    u = np.hypot([point.u_pressure for point in points], slope * np.array([point.u_flow for point in points]))
    assert np.all(np.abs(measured - truth) < 3 * u + 0.02 * truth)
    # the sheet's model, brought to these points, gives the true line between them and at full air
    model = PressureModel(sheet(), OperatingConditions.usual())
    scaled = fit_to_sweeps(model, points if kind == "dry" else (), points if kind == "wet" else ())
    line = scaled.dry if kind == "dry" else scaled.wet
    # the fit may take a pressure that no flow changes for an error that the sensor has at all points, or the reverse
    shared = 0.5 * float(np.median([point.u_pressure for point in points]))
    for flow in np.linspace(min(flows), max(flows), 5):
        assert line.pressure(flow) == pytest.approx(true_line(kind, [flow])[0], rel=0.06, abs=shared)
    # nothing of it is a point of the source
    assert now.points == ()
    assert now.fit is None
    # and the recording says what it is, with the sheet as it was
    report = verify(now.last_recording)
    assert report.whole
    beside = tomllib.loads(now.last_recording.with_suffix(".toml").read_text())
    assert (beside["kind"], beside["through"], beside["build"]) == ("generator sweep", kind, sheet().name)
    assert parse_sheet(beside["build_sheet"], "sheet").build == sheet()
    again = np.array([point.flow for point in load_sweeps([now.last_recording]).points])
    for flow in flows[1:-1]:  # the first began before the recording did
        assert np.min(np.abs(again / flow - 1)) < 0.01


def test_a_sweep_through_a_generator_leaves_the_source_s_points_alone(tmp_path):
    from frothline.bench.live_sweep import LiveSweep

    points = LiveSweep()
    points._points = source = (object(),)
    points.begin_sweep("wet")
    assert points.look().points == source
    assert points.look().sweep.of == "wet"
    points.end_sweep()
    assert points.look().through == {}  # nothing was held
    points.begin_sweep()
    assert points.look().points == ()


def test_while_a_run_goes_on_nothing_is_swept_and_a_run_ends_a_sweep(tmp_path):
    with Session("modelled://generator-wet?seed=3", tmp_path) as session:
        session.start(wait=True)
        session.start_sweep(through="wet")
        assert session.snapshot().sweep.running
        session.start_run(record=False)
        assert not session.snapshot().sweep.running
        with pytest.raises(InputError, match="a run is in progress"):
            session.start_sweep(through="wet")
        session.stop_run()
        session.start_sweep(through="dry")
        assert session.snapshot().sweep.of == "dry"


def test_a_simulated_line_without_a_generator_has_none_to_sweep(tmp_path):
    with Session("modelled://steady?seed=3", tmp_path) as session:
        session.start(wait=True)
        with pytest.raises(InputError, match="no generator"):
            session.start_sweep(through="dry")
        assert session.snapshot().recording is None
        with pytest.raises(InputError, match="Give dry or wet"):
            session.start_sweep(through="damp")


def test_a_sweep_of_the_source_is_still_called_a_sweep():
    assert sweep_metadata("") == {"kind": "sweep"}


def test_what_held_still_before_it_foamed_or_with_too_little_air_is_no_point_of_the_wet_line():
    """Still air at 3 kPa while the solution is on its way, foam at 9 kPa, then 1 L/s, which is less than is wanted."""
    from frothline.bench.live_sweep import LiveSweep
    from frothline.sensors.series import Series

    rng = np.random.default_rng(5)
    points = LiveSweep()
    points.begin_sweep("wet")

    def hold(start, seconds, pressure, flow):
        for begin in np.arange(start, start + seconds, 0.5):
            at = begin + np.arange(50) / 100
            batch = {}
            for name, value, noise in (("line_pressure", pressure, 3.0), ("standard_flow", flow, 1e-5)):
                seen = value + noise * rng.standard_normal(50)
                batch[name] = Series(name, "", at, seen, np.zeros(50), np.zeros(50, np.uint8))
            points.feed(batch)

    hold(0.0, 12.0, 3000.0, 0.012)
    assert points.look().sweep.phase == "foam"
    points.button()
    hold(12.0, 8.0, 9000.0, 0.008)
    assert points.look().sweep.phase == "little"
    hold(20.0, 8.0, 1500.0, 0.001)
    assert points.look().sweep.instruction == "slightly more air"
    points.end_sweep()
    (point,) = points.look().through["wet"]
    assert point.pressure == pytest.approx(9000.0, rel=0.001)
    assert point.flow == pytest.approx(0.008, rel=0.005)
