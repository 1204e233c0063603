"""A rotor that has given no pulse yet: an unplugged one and one at rest send the same frames, so nothing is known."""

import numpy as np
import pytest
import sensor_boards as boards

from frothline.sensors.converter import Converter
from frothline.sensors.datasheets import PULSE_ROTOR
from frothline.sensors.description import RigDescription
from frothline.sensors.rotor import RotorTimer
from frothline.sensors.series import Status
from frothline.sensors.sweep_plausibility import look_at_sweep
from frothline.wire import ENUMS

FLOWS = ("rotor_frequency", "air_speed", "mass_flow", "line_flow", "free_air_flow", "standard_flow", "air_power")


def converted(*batches, **more):
    converter = Converter(RigDescription.from_tables(batches[0]), **more)
    return boards.joined([converter.convert(batch) for batch in batches])


@pytest.mark.parametrize("name", FLOWS)
@pytest.mark.parametrize("pressure", [0.0, 12_000.0])
def test_a_rotor_without_a_single_pulse_gives_no_flow_of_zero(name, pressure):
    time, value, u, status = converted(boards.stream(seconds=5, pressure=pressure, frequency=0.0))[name]
    assert np.isnan(value).all()
    assert np.isnan(u).all()
    assert (status & Status.MISSING).all()
    assert not (status & Status.STOPPED).any()
    late = time > 1.0  # s, the timeout of the board: before it a rotor at speed may not have given an edge either
    assert (status[late] & Status.UNSEEN).all()
    assert not (status[~late] & Status.UNSEEN).any()


@pytest.mark.parametrize("cuts", [(), (3.3, 4.1, 6.05), tuple(np.arange(0.25, 12, 0.25))])
def test_once_it_has_turned_its_standing_is_a_flow_of_zero(cuts):
    tables = boards.stream(seconds=12, frequency=lambda t: np.where((t > 4) & (t < 6), 8.0, 0.0))
    pieces = boards.cut(tables, [round(cut * boards.TICK) for cut in cuts])
    time, value, _, status = converted(*pieces)["standard_flow"]
    assert np.isnan(value[time < 4.1]).all()
    assert (value[(time > 4.5) & (time < 6)] > 0).all()
    stands = time > 7.2
    assert (value[stands] == 0).all()
    assert (status[stands] & Status.STOPPED).all()
    assert not (status[time > 4.2] & Status.UNSEEN).any()


def test_a_stream_that_is_known_to_hold_pulses_later_on_begins_with_a_rotor_at_rest():
    time, value, _, status = converted(boards.stream(seconds=5, frequency=0.0), rotor_turned=True)["standard_flow"]
    assert np.isnan(value[time <= 1.0]).all()
    assert (value[time > 1.001] == 0).all()
    assert (status[time > 1.001] & Status.STOPPED).all()


def test_a_board_that_boots_twice_without_a_pulse_still_knows_no_flow():
    still = boards.stream(seconds=3, frequency=0.0)
    _, value, _, status = converted(still, {**still, **boards.description(boot=2)})["rotor_frequency"]
    assert np.isnan(value).all()
    assert status[-1] & Status.UNSEEN


def test_a_sweep_in_which_the_pressure_moves_and_no_pulse_comes_names_the_plug():
    tables = boards.stream(seconds=30, pressure=lambda t: 20e3 - 500 * t, frequency=0.0)
    converter = Converter(RigDescription.from_tables(tables))
    (found,) = [one for one in look_at_sweep(converter.convert(tables)) if one.code == "rotor-silent"]
    assert "plug" in found.remedy


@pytest.mark.parametrize(("magnets", "share_of_spacing"), [(3, 0.0), (0, 1 / 3)])
def test_unequal_magnets_cancel_over_whole_turns_of_a_rotor_whose_magnets_were_counted(magnets, share_of_spacing):
    """Three edges in 10 ms are 300 Hz. Both ends of an interval of three spacings are uncertain by one magnet's place."""
    tick = np.arange(1, 9) * 20_000
    timer = RotorTimer(magnets, 2_000_000, 1.0, turned=True)
    reading = timer.feed(tick, np.arange(1, 9) * 3, tick, np.full(8, ENUMS["line_flag"]["rotor_seen"]))
    spacing = next(one for one in reading.contributions if one.source == "magnet spacing").standard
    assert reading.value[2:] == pytest.approx(300.0)
    assert spacing[2:] == pytest.approx(300.0 * share_of_spacing * PULSE_ROTOR.jitter * 2**0.5)
