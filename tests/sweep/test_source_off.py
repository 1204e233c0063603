"""Plate recordings that begin before the source is on: what is left out, and what is taken as the pressure's zero.

The line is made by hand: flow through a sharp-edged hole with a discharge of 0.6 (Idelchik, common practice), a vane of
9600 pulses a cubic metre that stands below 0.4 m/s over 63 mm, a pressure sensor that reads 400 Pa too much.
"""

import numpy as np
import pytest
from prompt_json import result_of

from frothline.cli import main
from frothline.errors import InputError
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.sweep.recorded_source import load_sweeps
from frothline.wire import ENUMS, LAYOUT_HASH, encode

HZ, RATE = 2_000_000, 100
OFFSET = 400.0  # Pa, inside the MPX5050's data sheet: 2.5 % of 50 kPa are 1250 Pa
BORE, START_UP, K = 0.063, 0.4, 9600.0
KIND, SENSOR = ENUMS["channel_kind"], ENUMS["sensor_kind"]


def flow_of(pressure, hole):
    return 0.6 * np.pi / 4 * hole**2 * np.sqrt(2 * np.maximum(pressure, 0.0) / 1.2)


def record(folder, name, pressure, hole, *, rotor=True, speed=None, seed=1, noise=0.0):
    """A recording of a line whose true pressure (Pa) is a function of time, 30 s; ``speed`` Hz overrides the vane's."""
    chance = np.random.default_rng(seed)
    t = (np.arange(30 * RATE) + 1) / RATE
    p = np.array([pressure(one) for one in t])
    p += noise * chance.normal(size=t.size)
    flow = flow_of(p, hole)
    still = START_UP * np.pi / 4 * BORE**2
    f = np.where(flow > still, K * (flow - still), 0.0) if speed is None else np.array([speed(one) for one in t])
    turned = np.concatenate([[0.0], np.cumsum(f / RATE)])
    edges = np.interp(np.arange(1, int(turned[-1]) + 1), turned, np.concatenate([[0.0], t]))
    count = np.searchsorted(edges, t, side="right")
    last = np.where(count > 0, edges[np.maximum(count - 1, 0)] if edges.size else 0.0, 0.0)
    codes = 1024 * ((p + OFFSET) * 0.018e-3 + 0.04)
    sums = np.rint(codes * 32 + chance.normal(0, 0.75 * np.sqrt(32), t.size)).astype(int)
    fitted = {"pressure": "mpx5050", **({"rotor": "pulse_rotor"} if rotor else {})}
    bits = sum(1 << KIND[kind] for kind in fitted)
    out = encode(
        "description", 0, protocol=1, layout_hash=LAYOUT_HASH, firmware_major=0, firmware_minor=1, firmware_patch=0,
        board_kind=1, boot_count=1, reset_cause=1, tick=0, tick_hz=HZ, label="bench", streaming=1, rate=RATE,
        enabled=bits, present=bits, adc_clock_hz=125000, adc_cycles=13, rotor_timeout_ticks=HZ, channels=len(fitted),
    )  # fmt: skip
    for k, (kind, sensor) in enumerate(fitted.items(), 1):
        about = {"kind": KIND[kind], "sensor": SENSOR[sensor], "count_unit": 1}
        out += encode("channel", k, **about, name=kind, rate_millihertz=100_000, pin="PC0")
    for k in range(t.size):
        stopped = count[k] == 0 or t[k] - last[k] > 1.0
        out += encode(
            "line", k + 3, tick=round(t[k] * HZ), pressure_sum=int(sums[k]), pressure_n=32, differential_sum=0,
            differential_n=0, thermal_sum=0, thermal_n=0, pulses=int(count[k]), edge_tick=round(last[k] * HZ),
            flags=(2 if count[k] else 0) | stopped,
        )  # fmt: skip
    writer = RecordingWriter.create(folder, name, background=False, policy=Policy(free_floor=0))
    writer.write(out)
    writer.close()
    return writer.path


def on_at(when, level, before=0.0, rise=0.1):
    return lambda t: before + (level - before) * (1 - np.exp(-max(0.0, t - when) / rise))


HOLE, LEVEL = 0.020, 6000.0


@pytest.fixture
def evaluated(tmp_path):
    def evaluate(pressure, hole=HOLE, **more):
        return load_sweeps([record(tmp_path, "a", pressure, hole, **more)], holes=[hole])

    return evaluate


def test_a_source_that_is_off_at_the_start_is_left_out_and_gives_the_zero(evaluated):
    found = evaluated(on_at(9.0, LEVEL))
    (off,) = found.off
    assert off.zero is not None
    assert (off.start, off.end) == pytest.approx((0.01, 7.5), abs=0.5)
    assert off.pressure == pytest.approx(OFFSET, abs=20)
    assert len(found.points) == 1
    point = found.points[0]
    assert point.pressure == pytest.approx(LEVEL, abs=40)
    # the plate's own flow: discharge and start of the line are the library's, 0.6 is common practice
    assert point.flow == pytest.approx(flow_of(LEVEL, HOLE), rel=0.05)
    assert off.words() == (
        f"source off from {off.start:.1f} to {off.end:.1f} s, left out; the pressure reads {off.pressure:.0f} Pa, "
        f"used as the zero of this recording (±{off.within:.0f} Pa)"
    )


def test_the_doubt_of_that_zero_is_in_the_point(evaluated):
    found = evaluated(on_at(9.0, LEVEL))
    (off,), (point,) = found.off, found.points
    (error,) = (one for one in point.common if one.name.startswith("zero of recording"))
    # a vane that stands lets the pressure be anything up to that which turns it
    assert error.on_pressure == pytest.approx(off.within / np.sqrt(3))
    q = 2 * START_UP * np.pi / 4 * BORE**2
    assert off.within == pytest.approx(0.6 * (q / (0.6 * np.pi / 4 * HOLE**2)) ** 2, rel=1e-6)
    assert point.u_pressure >= error.on_pressure
    assert point.covariance >= error.on_pressure * error.on_flow


def never_a_zero(found, points=1):
    assert all(off.zero is None for off in found.off)
    assert len(found.points) >= points


@pytest.mark.parametrize("weak", [150.0, 300.0, 700.0])
def test_a_weak_source_that_is_turned_up_later_is_no_zero(evaluated, weak):
    """Its pressure reads like an offset; the vane that turns tells them apart, and the weak point stays."""
    found = evaluated(on_at(12.0, LEVEL, before=weak))
    assert found.off == ()
    assert len(found.points) == 2


def test_a_weak_source_behind_a_small_hole_in_which_the_vane_stands_is_no_zero(evaluated):
    """300 Pa through 6 mm are 0.4 L/s, a third of what turns the vane: it stands whether the source is on or off."""
    found = evaluated(on_at(12.0, 30_000.0, before=300.0), hole=0.006)
    assert flow_of(300.0, 0.006) < START_UP * np.pi / 4 * BORE**2 < flow_of(30_000.0, 0.006)
    never_a_zero(found)


def test_without_an_anemometer_nothing_is_taken_as_zero_and_that_is_said(evaluated):
    found = evaluated(on_at(9.0, LEVEL), rotor=False)
    (off,) = found.off
    assert off.zero is None
    assert "no anemometer to confirm that the air was at rest" in off.words()
    assert len(found.points) == 1
    assert found.points[0].pressure == pytest.approx(LEVEL + OFFSET, abs=40)


def test_an_anemometer_that_never_turns_proves_nothing(evaluated):
    found = evaluated(on_at(9.0, LEVEL), speed=lambda t: 0.0)
    never_a_zero(found)


def test_a_start_at_shut_off_is_no_zero(evaluated):
    found = evaluated(lambda t: 18_000.0 if t < 9 else LEVEL)
    assert found.off == ()
    assert len(found.points) == 2


def test_a_covered_plate_before_a_source_at_low_speed_is_no_zero(evaluated):
    """The vane stands; what the pressure reads, 1400 Pa, is beyond the 2.5 % of 50 kPa of the data sheet."""
    flow = K * (flow_of(LEVEL, HOLE) - START_UP * np.pi / 4 * BORE**2)
    found = evaluated(on_at(12.0, LEVEL, before=1000.0), speed=lambda t: 0.0 if t < 12 else flow)
    assert found.off == ()
    assert len(found.points) == 2


@pytest.mark.parametrize("seconds", [6.0, 15.0, 28.0])
def test_a_slow_ramp_from_the_start_is_no_zero(evaluated, seconds):
    found = evaluated(lambda t: LEVEL * min(1.0, t / seconds))
    assert found.off == ()


def test_a_source_that_is_on_all_the_time_is_left_alone(evaluated):
    for level in (200.0, LEVEL):
        found = sweeps_of(evaluated, level)
        assert found.off == ()
        assert len(found.points) == 1


def sweeps_of(evaluated, level):
    import shutil

    found = evaluated(lambda t: level)
    for path in found.recordings:
        shutil.rmtree(path.parent)
    return found


def test_a_vane_that_coasts_at_the_start_is_no_zero_but_its_stretch_is_left_out(evaluated):
    later = K * (flow_of(LEVEL, HOLE) - START_UP * np.pi / 4 * BORE**2)
    found = evaluated(on_at(9.0, LEVEL), speed=lambda t: 60 * np.exp(-t / 3) if t < 9 else later)
    (off,) = found.off
    assert off.zero is None
    assert "still turned" in off.words()
    assert len(found.points) == 1


def test_a_source_that_pulses_at_low_speed_is_no_zero(evaluated):
    found = evaluated(on_at(12.0, LEVEL, before=100.0), speed=lambda t: 0.0 if t < 12 else 300.0, noise=60.0)
    assert found.off == ()


def test_the_prompt_says_what_was_left_out_and_the_zero(tmp_path, capsys):
    holes = {0.012: 9000.0, 0.018: 7600.0, 0.024: 6000.0, 0.030: 4400.0, 0.036: 3000.0, 0.044: 1700.0}
    paths = [
        record(tmp_path, f"plate-{k}", on_at(8.0, level), hole, seed=k) for k, (hole, level) in enumerate(holes.items())
    ]
    options = [str(path) for path in paths] + ["--holes", *(f"{hole * 1e3:g}" for hole in holes)]
    assert main(["curve", *options, "--json"]) == 0
    captured = capsys.readouterr()
    told = result_of(captured.out)
    assert len(told["points"]) == len(holes)
    assert len(told["source_off"]) == len(holes)
    assert "left out; the pressure reads" in captured.err
    with_zero = [off for off in told["source_off"] if off["zero"] is not None]
    assert with_zero
    for off in with_zero:
        (point,) = (one for one in told["points"] if one["source"] == off["source"])
        assert point["pressure"] == pytest.approx(list(holes.values())[off["source"]], abs=60)


def test_a_source_that_is_switched_off_at_the_end_is_left_out_and_gives_no_zero(evaluated):
    found = evaluated(lambda t: LEVEL if t < 15.0 else LEVEL * np.exp(-(t - 15.0) / 0.3))
    (off,) = found.off
    assert off.start > 15.0
    assert off.zero is None
    assert "running down" in off.why_not
    assert [point.start < 15.0 for point in found.points] == [True] * len(found.points)
    assert found.points


def test_a_source_that_is_turned_down_to_a_seventh_keeps_both_its_points(evaluated):
    found = evaluated(lambda t: LEVEL if t < 15.0 else LEVEL / 7)
    assert found.off == ()
    # the block of 0.5 s in which the pressure steps belongs to the second point
    assert min(point.pressure for point in found.points) == pytest.approx(LEVEL / 7 + OFFSET, rel=0.1)


# --- where a source is taken ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plated(tmp_path_factory):
    """Six recordings without an anemometer, one plate each, of a source p = 8000 (1 - (q/0.05)^2), and their holes."""
    folder = tmp_path_factory.mktemp("plates")
    holes = (0.008, 0.014, 0.018, 0.024, 0.030, 0.038)
    made = []
    for k, hole in enumerate(holes):
        coefficient = (0.6 * np.pi / 4 * hole**2) ** 2 * 2 / 1.2  # q = sqrt(coefficient p)
        pressure = 8000 / (1 + 8000 * coefficient / 0.05**2)
        made.append(record(folder, f"plate-{k}", on_at(1.0, pressure), hole, rotor=False, seed=k))
    return made, holes


def said(capsys, *arguments):
    code = main([str(one) for one in (*arguments, "--json")])
    heard = capsys.readouterr()
    return code, heard.out, heard.err


def test_holes_are_taken_wherever_a_source_is_taken(plated, capsys, tmp_path):
    recordings, holes = plated
    sizes = [f"{hole * 1e3:g} mm" for hole in holes]
    code, out, err = said(capsys, "curve", *recordings, "--holes", *sizes)
    assert code == 0, err
    by_curve = result_of(out)["shut_off"]["value"]
    assert by_curve == pytest.approx(8000 + OFFSET, rel=0.03)
    assert main(["build", str(tmp_path / "sheet.toml"), "--new"]) == 0
    capsys.readouterr()
    code, out, err = said(capsys, "whatif", tmp_path / "sheet.toml", "--sweep", *recordings, "--holes", *sizes)
    assert code == 0, err
    assert result_of(out)["now"]["meets"] is True
    code, _, err = said(capsys, "compare", recordings[0], "--holes", "8 mm")
    assert code == 5, err  # read with its plate; one point is not enough for a curve


@pytest.mark.exhaustive
def test_a_report_takes_holes_like_the_curve(plated, capsys, tmp_path):
    recordings, holes = plated
    sizes = [f"{hole * 1e3:g} mm" for hole in holes]
    by_curve = result_of(said(capsys, "curve", *recordings, "--holes", *sizes)[1])["shut_off"]["value"]
    code, out, err = said(capsys, "report", *recordings, "--holes", *sizes, "-o", tmp_path / "report.html")
    assert code == 0, err
    assert result_of(out)["shut_off"]["value"] == by_curve


def test_a_hole_in_the_file_next_to_a_recording_needs_no_option(plated):
    recordings, holes = (one[:2] for one in plated)
    given = load_sweeps(recordings, holes=holes).points
    for path, hole in zip(recordings, holes, strict=True):
        path.with_suffix(".toml").write_text(f'hole = "{hole * 1e3:g} mm"\n')
    try:
        assert load_sweeps(recordings).points == given
        recordings[0].with_suffix(".toml").write_text('hole = "wide"\n')
        with pytest.raises(InputError, match="hole"):
            load_sweeps(recordings)
    finally:
        for path in recordings:
            path.with_suffix(".toml").unlink()
