"""Streams longer than half the range of the board's counter (17 min 54 s), and boards that boot while a rotor turns.

The true times are those by which the tables are made; the counter of the board wraps after 2**32 / 2 MHz = 2147.48 s.
"""

import numpy as np
import pytest
import sensor_boards as boards

from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Status
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import StreamDecoder, Tables, decode_all, gather

EVERY = {"line": 0.5, "slow": 1.0, "ambient": 5.0, "scale": 0.7}  # s; sparse, since hours are looked at
FREQUENCY = 120.0  # Hz


def long_boot(seconds, boot=1, late=0.0, tick=0):
    """Tables of one boot in the order of sending, and the true time of each row; the scale answers from ``late`` on."""
    rows, offsets, times = {}, {}, {}
    for k, (name, every) in enumerate(EVERY.items()):
        t = np.arange(every, seconds, every) + 0.003 * k
        t = t[t > late] if name == "scale" else t
        table = boards.table(name, len(t))
        count = tick + np.rint(t * boards.TICK).astype(np.int64)
        table["tick"] = count % 2**32
        rows[name], offsets[name], times[name] = table, count, t
    line, t = rows["line"], times["line"]
    line["pressure_n"], line["pressure_sum"] = 32, 32 * 400
    line["pulses"] = np.floor(t * FREQUENCY)
    line["edge_tick"] = (tick + np.rint(np.floor(t * FREQUENCY) / FREQUENCY * boards.TICK).astype(np.int64)) % 2**32
    line["flags"] = 2
    rows["slow"]["temperature_n"] = rows["slow"]["bandgap_n"] = 32
    rows["slow"]["temperature_sum"], rows["slow"]["bandgap_sum"] = 32 * 400, 32 * 225
    rows["ambient"]["burst"], rows["ambient"]["flags"] = np.frombuffer(boards.EXAMPLE_BURST, "u1"), 3
    rows["scale"]["flags"] = 3
    for name, table in boards.description(boot=boot).items():
        rows[name], offsets[name] = table, np.full(len(table), tick - 1)
    return Tables(rows, offsets), times


def cut(tables, seconds):
    """The same frames in batches of that length, in the order in which they were sent."""
    ends = np.arange(
        0, max(int(where.max(initial=0)) for where in tables.offsets.values()) + 2, int(seconds * boards.TICK)
    )
    return [tables.between(a, b) for a, b in zip([-1, *ends[1:]], [*ends[1:], 2**62], strict=True)]


def behind(*boots):
    """Boots one after the other in one batch."""
    rows, offsets, base = {}, {}, 0
    for tables in boots:
        for name, table in tables.items():
            rows.setdefault(name, []).append(table)
            offsets.setdefault(name, []).append(base + 1 + tables.offsets[name])
        base = max(int(where[-1].max(initial=0)) for where in offsets.values()) + 1
    return Tables(
        {name: np.concatenate(parts) for name, parts in rows.items()},
        {name: np.concatenate(parts) for name, parts in offsets.items()},
    )


def converted(batches):
    converter = Converter(RigDescription.from_tables(batches[0]))
    return boards.joined([converter.convert(batch) for batch in batches])


SERIES_OF = {
    "line": ("line_pressure", "rotor_frequency"),
    "slow": ("line_temperature",),
    "ambient": ("ambient_pressure",),
    "scale": ("scale_mass",),
}


@pytest.mark.parametrize("minutes", [18, 36, 75, pytest.param(600, marks=pytest.mark.exhaustive)])
@pytest.mark.parametrize("batch", [None, 20.7, 600.0], ids=["whole", "live", "ten minutes"])
def test_every_series_of_a_long_stream_keeps_its_true_time(minutes, batch):
    """The scale is plugged in for the last minute only: its first tick alone does not tell where it belongs."""
    tables, times = long_boot(60.0 * minutes, late=60.0 * minutes - 60.0)
    found = converted([tables] if batch is None else cut(tables, batch))
    zero = min(t[0] for t in times.values())
    for name, names in SERIES_OF.items():
        for one in names:
            assert np.abs(found[one][0] - (times[name] - zero)).max() < 2e-6, one
    frequency = found["rotor_frequency"][1]
    assert frequency[2:] == pytest.approx(FREQUENCY, rel=1e-5)


@pytest.mark.parametrize("batch", [None, 7.3], ids=["whole", "live"])
@pytest.mark.parametrize(
    "lengths",
    [
        (1100, 1300, 40),
        pytest.param((2200, 30, 4500), marks=pytest.mark.exhaustive),
        pytest.param((3, 2, 2500), marks=pytest.mark.exhaustive),
    ],
)
def test_a_long_stream_with_restarts_keeps_its_times_and_its_rotor(lengths, batch):
    boots = [long_boot(float(seconds), boot=k) for k, seconds in enumerate(lengths)]
    if batch is None:
        found = converted([behind(*(tables for tables, _ in boots))])
    else:
        found = converted([piece for tables, _ in boots for piece in cut(tables, batch)])
    start = -0.5
    for _, times in boots:
        time, frequency, _, status = found["rotor_frequency"]
        n = len(times["line"])
        assert np.abs(time[:n] - (start + times["line"])).max() < 2e-6
        assert np.isfinite(frequency[2:n]).all()
        assert frequency[2:n] == pytest.approx(FREQUENCY, rel=1e-4)
        assert not (status[:n] & Status.STOPPED).any()
        found["rotor_frequency"] = [column[n:] for column in found["rotor_frequency"]]
        start += max(
            float(t.max(initial=0)) for t in times.values()
        )  # a new boot's clock begins where the old one was last seen


# --- a rotor at speed through restarts ------------------------------------------------------------------------------


def restarted(resets=3, seconds=6.0):
    """Bytes of a simulated board at a steady source that boots three times under a turning rotor, boot by boot."""
    rig = ModelledRig(read_url("modelled://steady?seed=2&speed=0"))
    rig.run(8.0)  # source and rotor come up to speed
    sent = []
    for _ in range(resets + 1):
        rig.reset("external")
        rig.board.start()
        sent.append(rig.run(seconds))
    return sent


def in_chunks(data, size=173):
    """Live batches: as many whole messages as each few bytes complete."""
    decoder = StreamDecoder()
    for k in range(0, len(data), size):
        tables = gather(decoder.feed(data[k : k + size]))
        if tables:
            yield tables


def assert_flow_goes_on(series, boots=4):
    """Known within a second of each boot, and never 0: the air and the rotor do not notice that a board boots."""
    time, frequency, _, status = series
    assert not (frequency == 0).any()
    assert not (status & Status.STOPPED).any()
    usual = np.nanmedian(frequency[time < 6.0])
    assert usual > 20.0
    known = np.isfinite(frequency)
    assert np.abs(frequency[known] / usual - 1).max() < 0.05
    assert known.mean() > 1 - boots * 1.0 / time[-1]


@pytest.mark.parametrize("size", [None, pytest.param(173, marks=pytest.mark.exhaustive), 5000])
def test_the_flow_of_a_turning_rotor_is_never_0_after_a_restart_of_the_board(size):
    data = b"".join(restarted())
    first = decode_all(data).tables
    converter = Converter(RigDescription.from_tables({name: first[name][:1] for name in ("description",)}))
    batches = [first] if size is None else list(in_chunks(data, size))
    found = boards.joined([converter.convert(tables) for tables in batches])
    assert_flow_goes_on(found["rotor_frequency"])
    flow = found["standard_flow"]
    assert not (flow[1] == 0).any()
    assert np.nanmedian(flow[1][-100:]) == pytest.approx(np.nanmedian(flow[1][300:500]), rel=0.02)


def test_a_rotor_that_turned_before_the_boot_is_unknown_for_a_second_after_it_and_0_from_then_on():
    """The board says "stopped" from its boot on; whether an edge comes it knows after its timeout of 1 s."""
    still = boards.stream(seconds=3, frequency=0.0)
    batches = [boards.stream(seconds=3, frequency=300.0), {**still, **boards.description(boot=2)}]
    time, frequency, _, status = converted(batches)["rotor_frequency"]
    time, frequency, status = time[-300:] - time[-300] + 0.01, frequency[-300:], status[-300:]
    assert np.isnan(frequency[time <= 1.0]).all()
    assert (status[time <= 1.0] & Status.MISSING).all()
    assert (frequency[time > 1.001] == 0).all()
    assert (status[time > 1.001] & Status.STOPPED).all()
