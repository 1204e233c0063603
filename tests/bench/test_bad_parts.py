"""Sensors unplugged, plugged late or swapped while it runs: named within 5 s of board time, and every frame is kept."""

import numpy as np
import pytest

from frothline.errors import WrongDevice
from frothline.recording.reader import load, verify
from frothline.recording.writer import RecordingWriter
from frothline.rig import handshake
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.plausibility import look_at_samples
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import decode_all

SOON = 5.0  # s
SERIES = {"pressure": "line_pressure", "temperature": "line_temperature", "ambient": "ambient_pressure"}


class Bench:
    """A modelled rig whose bytes are recorded and converted as they come, 5 s at a time."""

    def __init__(self, url="modelled://steady?seed=3"):
        self.rig = ModelledRig(read_url(url))
        self.rig.board.start()
        self.data = bytearray()
        self.series = {}
        self.converter = None

    def run(self, seconds):
        step = min(5.0, seconds)
        for _ in range(round(seconds / step)):
            chunk = self.rig.run(step)
            self.data += chunk
            tables = decode_all(bytes(chunk)).tables
            if self.converter is None:
                self.converter = Converter(RigDescription.from_tables(tables))
            for name, series in self.converter.convert(tables).items():
                self.series.setdefault(name, []).append(series)

    def latest(self, name):
        return self.series[name][-1]

    def findings(self):
        whole = decode_all(bytes(self.data)).tables
        series = Converter(RigDescription.from_tables(whole)).convert(whole)
        return look_at_samples(series, self.converter.description.pressure_sensor("pressure"))


@pytest.mark.parametrize(
    "device",
    ["pressure", *(pytest.param(one, marks=pytest.mark.exhaustive) for one in ("temperature", "ambient"))],
)
def test_a_sensor_that_is_unplugged_is_named_within_five_seconds(device):
    bench = Bench()
    bench.run(55.0)  # with 5 s more the minute at which the running program looks
    assert np.isfinite(bench.latest(SERIES[device]).value[-1])
    bench.rig.control("unplug", device)
    bench.run(SOON)
    assert np.isnan(bench.latest(SERIES[device]).value[-1])
    found = [one for one in bench.findings() if one.code == "sensor-silent"]
    assert [one.channel for one in found] == [device]
    assert "plug" in found[0].remedy
    others = [name for kind, name in SERIES.items() if kind != device]
    assert all(np.isfinite(bench.latest(name).value[-1]) for name in others)


@pytest.mark.parametrize("device", ["pressure", "temperature", "ambient"])
def test_a_sensor_that_is_plugged_in_late_reads_within_five_seconds(device):
    bench = Bench()
    bench.rig.control("unplug", device)
    bench.run(6.0)
    assert np.isnan(bench.latest(SERIES[device]).value[-1])
    bench.rig.control("plug", device)
    bench.run(SOON)
    assert np.isfinite(bench.latest(SERIES[device]).value[-1])
    assert not [one for one in bench.findings() if one.code == "sensor-silent"]


def test_a_linear_sensor_that_is_unplugged_is_named_as_well():
    bench = Bench()
    line = {"low_pascal": 0, "high_pascal": 50000, "low_millivolt": 200, "high_millivolt": 4700}
    from frothline.wire import ENUMS, encode

    bench.rig.board.receive(encode("write_linear_sensor", 1, kind=1, accuracy_per_myriad=250, **line))
    bench.rig.board.storage["pressure_sensor"] = ENUMS["sensor_kind"]["linear_pressure"]
    bench.rig.board.receive(encode("describe", 2))
    bench.run(6.0)
    assert np.isfinite(bench.latest("line_pressure").value[-1])
    bench.rig.control("unplug", "pressure")
    bench.run(SOON)
    assert "pressure" in [one.channel for one in bench.findings() if one.code == "sensor-silent"]


def test_nothing_recorded_is_lost_while_plugs_are_pulled(tmp_path):
    bench = Bench()
    with RecordingWriter.create(tmp_path, "plugs", source="modelled://steady?seed=3") as writer:
        for step in ("unplug", "plug"):
            for device in ("pressure", "temperature", "ambient", "rotor"):
                bench.rig.control(step, device)
                before = len(bench.data)
                bench.run(1.0)
                writer.write(bytes(bench.data[before:]))
    report = verify(tmp_path / "plugs.froth")
    assert (report.lost, report.tail) == (0, 0)
    sent = decode_all(bytes(bench.data)).tables["line"]
    kept = load(tmp_path / "plugs.froth").decoded.tables["line"]
    assert len(kept) == len(sent)
    assert np.array_equal(kept["tick"], sent["tick"])


def test_a_part_put_on_the_wrong_input_is_named_within_five_seconds():
    """The thermistor's plug on the pressure input: half of the supply, 25 kPa at rest; and the other way round."""
    bench = Bench("modelled://idle?seed=3")
    world = bench.rig.world
    straight = world.pin
    swapped = {"pressure": "temperature", "temperature": "pressure"}
    world.pin = lambda channel: straight(swapped.get(channel, channel))
    bench.run(SOON)
    codes = {one.code for one in bench.findings()}
    assert codes & {"channels-swapped", "pressure-wrong-sensor"}, codes


class Speaking:
    """A line on which another program's board speaks: plain text at 9600 Bd, heard at 500 kBd."""

    url = "/dev/x"

    def __init__(self, data):
        self.data = data

    def write(self, data):
        pass

    def read(self):
        said, self.data = self.data[:64], self.data[64:]
        return said


def test_a_board_with_another_program_is_told_from_a_rig_within_five_seconds(monkeypatch):
    clock = [0.0]

    def time():
        clock[0] += 0.05
        return clock[0]

    monkeypatch.setattr(handshake.time, "monotonic", time)
    with pytest.raises(WrongDevice) as refused:
        handshake.ask(Speaking(b"temperature 21.5\r\n" * 20))
    assert clock[0] < SOON + 0.5
    assert "temperature" in refused.value.what
    assert "flash" in refused.value.remedy
