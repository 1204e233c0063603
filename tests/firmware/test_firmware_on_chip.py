"""The shipped image in the instruction simulator: what it has to spare, and what it does when the chip is upset."""

import itertools

import pytest
from conftest import SECOND, flag, named

from frothline.errors import PortError
from frothline.rig.simulated.harness import FREQUENCY, Chip, image_path
from frothline.wire import ENUMS, StreamDecoder, encode

pytestmark = pytest.mark.emulated

ALL = sum(1 << kind for kind in ENUMS["channel_kind"].values())
SENSOR = ENUMS["sensor_kind"]
TWCR, ADCSRA = 0xBC, 0x7A  # ATmega328P data sheet, register summary
RAM = 2048


class Running:
    """A chip with everything fitted and a rotor at 700 Hz."""

    def __init__(self):
        try:
            self.chip = Chip(image_path())
        except PortError as error:
            pytest.skip(str(error))
        self.decoder = StreamDecoder()
        self.now = 0
        self.next_edge = 1000
        self.chip.analog([0.5, 0.3, 0.6, 0.2, 0.22], 16, 0.0)
        self.chip.ambient(bytes(range(26)), bytes(range(16)), bytes(range(1, 9)), present=True)
        self.chip.scale(123_456, present=True, per_second=80)

    def run(self, seconds):
        heard = []
        end = self.now + round(seconds * FREQUENCY)
        while self.now < end:
            to = min(self.now + 160_000, end)
            edges = list(range(self.next_edge, to, FREQUENCY // 700))
            self.next_edge += len(edges) * (FREQUENCY // 700)
            self.chip.edges(edges)
            self.chip.run(to)
            self.now = to
            heard += self.decoder.feed(self.chip.take())
        assert all(hasattr(one, "name") for one in heard)
        return heard

    def give(self, *commands):
        data = b"".join(encode(name, k, **fields) for k, (name, fields) in enumerate(commands))
        assert self.chip.give(data) == len(data)


@pytest.fixture
def running():
    one = Running()
    yield one
    one.chip.close()


def test_at_500_hz_with_everything_fitted_nothing_is_lost_and_there_is_room_to_spare(running):
    everything = {
        "label": "all",
        "rate": 500,
        "enabled": ALL,
        "pressure_sensor": SENSOR["mpx5050"],
        "differential_sensor": SENSOR["mpxv7002"],
        "anemometer": SENSOR["pulse_rotor"],
        "temperature_sensor": SENSOR["ntc_10k_3950"],
    }
    running.run(0.3)
    running.give(("write_settings", everything))
    running.run(0.6)
    running.give(("start", {}))
    heard = running.run(12)
    ticks = [int(line["tick"]) for line in named(heard, "line")]
    assert len(ticks) > 5900
    assert all(b - a == SECOND // 500 for a, b in itertools.pairwise(ticks))
    assert len(named(heard, "scale")) > 750  # the simulated converter waits to be read before it converts again
    health = named(heard, "health")[-1]
    for lost in ("frames_dropped", "adc_overruns", "capture_overruns", "bus_errors", "receive_errors"):
        assert int(health[lost]) == 0, lost
    assert int(health["ring_high_water"]) < 200  # of 255
    assert int(health["stack_free"]) > RAM / 4
    # four closed windows may wait, 8 ms at this rate: a turn of the main loop must be well below
    assert int(health["loop_worst_ticks"]) < 0.004 * SECOND
    assert running.chip.complaints == 0


def test_a_transfer_that_never_ends_is_given_up_the_bus_is_freed_and_nothing_else_stalls(running):
    """The bus interrupt is switched off in the middle of a transfer, as a glitch on the supply may do."""
    running.run(0.3)
    running.give(("start", {}))
    running.run(1.5)
    heard, upset = [], 0
    for _ in range(40_000):
        if running.chip.peek(TWCR) & 1:  # TWIE: a transfer is under way
            running.chip.poke(TWCR, 0)
            upset += 1
            break
        heard += running.run(0.00005)
    heard += running.run(4)
    assert upset
    ticks = [int(line["tick"]) for line in named(heard, "line")]
    assert len(ticks) > 390
    assert all(b - a == SECOND // 100 for a, b in itertools.pairwise(ticks))
    health = named(heard, "health")[-1]
    assert int(health["bus_recoveries"]) == 1
    present = flag("device_flag", "present")
    flags = [int(a["flags"]) for a in named(heard, "ambient")]
    assert any(not f & present for f in flags)
    assert flags[-1] & present


def test_a_converter_that_stands_still_brings_the_watchdog_which_is_told(running):
    """Without conversions nothing is measured, though the main loop turns: the board starts anew and says why."""
    running.run(0.3)
    running.give(("start", {}))
    assert named(running.run(1), "line")
    running.chip.poke(ADCSRA, 0)
    heard = running.run(3)
    (description, *_) = named(heard, "description")
    assert int(description["reset_cause"]) & flag("reset_cause", "watchdog")
    assert int(description["boot_count"]) == 2
    assert int(description["streaming"]) == 0
    assert running.chip.resets == 1
