"""From series to steady points: which errors pressure and flow share, and what each does to both (JCGM 100:2008, F.1.2.3)."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from frothline.bench.live_sweep import LiveSweep
from frothline.curve.steady import OnlineSteady
from frothline.readings.steady_input import steady_columns
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Status
from frothline.sensors.spool import Spool
from frothline.simulation.modelled import stream
from frothline.wire import decode_all

START_UP_SPEED, BORE = 0.4, 0.063  # m/s and m, of the spool as drawn (hardware/spool)


def series(scenario, seconds, spool=None):
    data, _ = stream(f"modelled://{scenario}?seed=2&speed=0", seconds)
    tables = decode_all(data).tables
    return Converter(RigDescription.from_tables(tables), spool=spool).convert(tables)


def points(found):
    finder = OnlineSteady()
    finder.feed(**steady_columns(found))
    finder.finish()
    return finder.points


def errors(point):
    return {part.name: (part.on_pressure, part.on_flow) for part in point.common}


def test_a_pressure_that_reads_high_makes_the_flow_through_a_drilled_plate_read_high():
    """Flow through a plate goes with the root of pressure and of density, and density with the absolute pressure:
    dq/q = dp/2p + dp/2(p + pb), by hand."""
    drawn = Spool.default()
    spool = replace(drawn, flow=replace(drawn.flow, element="plate"))
    point = points(series("steady", 12.0, spool))[0]
    on_pressure, on_flow = errors(point)["line_pressure"]
    p, q = point.pressure, point.flow
    expected = on_pressure * q * (1 / (2 * p) + 1 / (2 * (p + 99e3)))
    # expansion behind the plate, which grows with the pressure, takes a twentieth of it away
    assert on_flow == pytest.approx(expected, rel=0.08)
    assert point.covariance == pytest.approx(on_pressure * on_flow, rel=0.05)


def test_a_rotor_s_own_errors_leave_the_pressure_alone():
    found = errors(points(series("steady", 12.0))[0])
    assert found["K factor"][0] == 0.0
    assert found["K factor"][1] > 0.0
    # a higher density by the gas law alone, 724 Pa of 110 kPa: the volume is what the rotor counts
    on_pressure, on_flow = found["line_pressure"]
    assert 0.0 < on_flow < 0.02 * points(series("steady", 12.0))[0].flow
    assert on_pressure > 0.0


def test_a_standing_rotor_leaves_its_start_up_flow_open_at_shut_off_and_nowhere_else():
    """Rectangular between nothing and the start-up speed over the bore: u = v A / sqrt(3) (JCGM 100:2008, 4.3.7)."""
    found = series("sweep", 30.0)
    stands = found["standard_flow"].status & Status.STOPPED
    assert found["standard_flow"].time[np.argmax(stands > 0)] < 3.0  # it ran out first
    taken = points(found)
    shut, moving = taken[0], taken[-1]
    still = START_UP_SPEED * pi / 4 * BORE**2 / sqrt(3)
    assert 0.0 <= shut.flow < 0.15 * still  # its first second may hold the last turn
    # as standard flow: line air at 20 kPa over ambient is a fifth denser than 1.2 kg/m3
    assert errors(shut)["below start-up speed"][1] == pytest.approx(still * 1.19, rel=0.08)
    assert errors(moving)["below start-up speed"][1] == 0.0


def test_the_parts_add_up_to_what_the_point_says_of_itself():
    point = points(series("steady", 12.0))[0]
    for axis, u in ((0, point.u_pressure), (1, point.u_flow)):
        shared = sqrt(sum(part[axis] ** 2 for part in errors(point).values()))
        assert u == pytest.approx(sqrt(point.random[axis] ** 2 + shared**2), rel=1e-9)
        assert shared > point.random[axis]  # a mean over seconds: what is left is what the session shares


def test_the_air_drawn_in_is_known_where_the_rig_has_an_ambient_module():
    point = points(series("steady", 12.0))[0]
    assert 1.0 < point.ambient_density < 1.3
    assert 0.0 < point.u_ambient_density < 0.01 * point.ambient_density
    bare = {name: one for name, one in series("steady", 12.0).items() if not name.startswith("ambient")}
    assert points(bare)[0].ambient_density != points(bare)[0].ambient_density  # not known, and not assumed


def test_a_calibration_taken_in_mid_stream_begins_another_point():
    """Its errors are others: the stretch before keeps those it was measured with."""
    data, _ = stream("modelled://steady?seed=2&speed=0", 24.0)
    tables = decode_all(data).tables
    middle = tables["line"]["tick"][len(tables["line"]) // 2]
    before = {
        name: rows[rows["tick"] < middle] if "tick" in rows.dtype.names else rows for name, rows in tables.items()
    }
    after = {name: rows[rows["tick"] >= middle] for name, rows in tables.items() if name in {"line", "slow", "ambient"}}
    line = ChannelCalibration(
        "rotor", "Hz", "m3/s", np.array([0.0012, 1 / 9600]), np.diag([1e-10, 1e-14]), low=0.0, high=1000.0
    )
    converter = Converter(RigDescription.from_tables(tables))
    live = LiveSweep()
    live.begin_sweep()
    live.feed(converter.convert(before))
    converter.use(Calibration().with_channel(line))
    live.feed(converter.convert(after))
    live.end_sweep()
    taken = live.look().points
    live.close()
    assert "K factor" in errors(taken[0])
    assert "calibration" in errors(taken[-1])
    assert "K factor" not in errors(taken[-1])


# --- a guide without one of its readings --------------------------------------------------------------------------------


def pressed_with(found):
    """A guided sweep is fed this, and its button is pressed."""
    one = LiveSweep()
    one.begin_sweep()
    one.button()
    one.feed(found)
    sweep = one.look().sweep
    one.close()
    return sweep


def test_a_rig_that_measures_no_flow_is_told_so_and_no_press_is_taken():
    found = series("steady", 3.0)
    without = {name: one for name, one in found.items() if name != "standard_flow"}
    sweep = pressed_with(without)
    assert sweep.phase == "close"
    assert sweep.points == 0
    assert "no flow is measured" in sweep.why


@pytest.mark.parametrize(
    ("status", "words"),
    [(Status.SILENT, "no signal"), (Status.SATURATED, "end of its range"), (Status.MISSING, "check the plug")],
)
@pytest.mark.parametrize(("name", "what"), [("standard_flow", "flow"), ("line_pressure", "pressure")])
def test_a_press_while_a_reading_is_missing_is_refused_with_what_is_missing(name, what, status, words):
    found = series("steady", 3.0)
    gone = found[name]
    status = np.full(len(gone), int(status), np.uint8)
    found[name] = replace(gone, value=np.full(len(gone), np.nan), status=status)
    sweep = pressed_with(found)
    assert sweep.phase == "close"
    assert sweep.why.startswith(f"not taken: the {what} is not known")
    assert words in sweep.why
    assert "Press again" in sweep.why


def test_full_air_through_a_real_rotor_is_not_taken_as_closed():
    assert pressed_with(series("steady", 3.0)).why.startswith("not taken as closed: air still flows")


@pytest.mark.exhaustive
def test_a_session_without_a_sweep_keeps_no_steady_stretches():
    """Each is a minute at most: 72 hours of a steady line would leave 4,320 of them."""
    live = LiveSweep()
    for name in ("steady", "sweep"):
        live.feed(series(name, 130.0))
        assert live._steady.points == []
        assert live._steady.refused == []
    assert live.look().points == ()
    live.close()
