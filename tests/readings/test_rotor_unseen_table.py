"""The table of a recording in which the rotor gave no pulse at all, or gave its first one late."""

import numpy as np
import pytest
from recording_scenes import BoardStream

from frothline.readings.series import read_series
from frothline.readings.table import read_table
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.sensors.series import Status
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url


def recorded(folder, seconds, *, unplugged=False, scenario="idle", boots=1, then=None):
    """A recording of a simulated rig; ``then(world)`` is called after half of each boot."""
    rig = ModelledRig(read_url(f"modelled://{scenario}?seed=2&speed=0"))
    if unplugged:
        rig.world.control("fault", "rotor_unplugged")
    with RecordingWriter.create(folder, "a", background=False, policy=Policy(free_floor=0)) as writer:
        for boot in range(boots):
            if boot:
                rig.reset("external")
            rig.board.start()
            writer.write(rig.run(seconds / 2))
            if then is not None:
                then(rig.world)
            writer.write(rig.run(seconds / 2))
    return writer.path


@pytest.mark.parametrize("scenario", ["idle", "steady"])
def test_a_rotor_that_was_unplugged_all_the_time_has_no_flow_in_the_table_and_the_reason_with_it(tmp_path, scenario):
    table = read_table(recorded(tmp_path, 8.0, unplugged=True, scenario=scenario))
    for name in ("rotor_frequency", "mass_flow", "standard_flow"):
        assert table[name].isna().all()
        assert table[f"u_{name}"].isna().all()
        assert table.attrs["unknown"][name] == "no pulse from the rotor"
    assert "line_pressure" not in table.attrs["unknown"]


def test_a_rotor_that_turns_later_was_at_rest_before(tmp_path):
    """The later pulses show that rotor and cable are in order: a sweep may begin at shut-off."""
    path = recorded(tmp_path, 16.0, then=lambda world: world.control("motor", 1))
    flow = read_series(path)["standard_flow"]
    before = (flow.time > 1.1) & (flow.time < 8.0)
    assert (flow.value[before] == 0.0).all()
    assert (flow.status[before] & Status.STOPPED).all()
    assert flow.value[-1] > 0.01
    assert read_table(path).attrs["unknown"] == {}


def test_pulses_of_a_later_boot_say_nothing_of_the_rotor_before_it(tmp_path):
    """Between two boots somebody may have put the plug in."""
    path = recorded(tmp_path, 8.0, boots=2, then=lambda world: world.control("motor", 1) if world.time > 10 else None)
    flow = read_series(path)["standard_flow"]
    first = flow.time < 7.9
    assert np.isnan(flow.value[first]).all()
    assert flow.value[-1] > 0.0


def test_the_table_names_its_columns_that_are_not_calibrated(tmp_path):
    stream = BoardStream()
    with RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(free_floor=0)) as writer:
        writer.write(stream.description())
        writer.write(stream.seconds(2))
    named = read_table(writer.path).attrs["not_calibrated"]
    assert "standard_flow" in named
    assert "line_pressure" not in named


def test_a_simulated_rig_is_calibrated_in_the_table(tmp_path):
    assert read_table(recorded(tmp_path, 3.0, scenario="steady")).attrs["not_calibrated"] == []
