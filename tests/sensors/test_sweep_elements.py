"""The guided sweep on rigs with every flow element: counts of a board, converted, none of its sensors calibrated."""

import pytest
import sensor_boards as boards

from frothline.bench.live_sweep import LiveSweep
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.spool import Spool


@pytest.mark.parametrize(
    ("element", "sensor", "full", "closed"),
    [
        ("rotor", {"rotor": "pulse_rotor"}, {"frequency": 300.0}, {"frequency": 0.0}),
        ("thermal", {"thermal": "thermal_module"}, {"thermal": 3.0}, {"thermal": 1.5}),
        # the differential sensor 90 Pa off at rest, within the +-100 Pa of its data sheet: read as a quarter of full air
        ("orifice", {"differential": "mpxv7002"}, {"differential": 1500.0}, {"differential": 90.0}),
        ("orifice", {"differential": "mpxv7002"}, {"differential": 1500.0}, {"differential": -60.0}),
    ],
)
def test_with_every_flow_element_full_air_is_not_closed_and_closed_is(element, sensor, full, closed):
    fitted = {name: kind for name, kind in boards.FITTED.items() if name != "rotor"} | sensor
    spool = Spool.parse(f'[flow]\nelement = "{element}"\n', "test")
    converter, one = None, LiveSweep()
    one.begin_sweep()
    phases = []
    for number, (pressure, reading) in enumerate(((5e3, full), (12e3, closed))):
        tables = boards.stream(3.0, pressure, start_tick=number * 3 * boards.TICK, fitted=fitted, **reading)
        converter = converter or Converter(RigDescription.from_tables(tables), spool=spool)
        start = number * 3 * boards.TICK
        *before, last = boards.cut(tables, [k * boards.TICK // 10 for k in range(1, 30)], start)
        for piece in before:
            one.feed(converter.convert(piece))
        one.button()
        one.feed(converter.convert(last))
        phases.append(one.look().sweep.phase)
    one.close()
    assert phases[0] == "close"
    assert phases[1] != "close"  # it holds, or has its shut-off point already
