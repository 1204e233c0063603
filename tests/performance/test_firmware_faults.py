"""The table of the firmware under faults, with a sample of its cases."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import measure_firmware_faults as faults
from benches import need_emulator

pytestmark = pytest.mark.emulated


@pytest.fixture(autouse=True)
def emulator():
    need_emulator()


@pytest.mark.parametrize(("step", "every"), [(20_000, 8), pytest.param(1, 1, marks=pytest.mark.exhaustive)])
def test_a_power_cut_while_settings_are_written_leaves_the_old_or_the_new(step, every):
    seen, _, busy, writes = faults.cut_writes(step, every)
    assert seen["mixed"] == 0
    assert min(seen["old"], seen["new"]) > 0
    assert writes > 25  # bytes of the record that differ
    assert busy > writes * 3.3e-3  # s; a byte takes 3.3 ms (data sheet of the chip, EEPROM programming time)


def test_the_tick_wraps_without_a_lost_line_or_edge():
    found = faults.tick_wraps()
    assert (found.frames, found.edges, found.result) == (0, 0, "0 false stops of the rotor, 0 resets")


def test_chatter_adds_no_pulse_and_loses_none():
    found = faults.chatter(2.0)
    assert (found.frames, found.edges) == (0, 0)


def test_a_storm_of_edges_neither_stalls_the_lines_nor_resets_the_board():
    found = faults.storm(0.5)
    assert found.frames == 0
    assert "0 resets" in found.result


def test_transfers_that_never_end_cost_no_line_and_the_module_is_read_again():
    found = faults.bus_held(0.3)
    assert found.frames == 0
    assert "read again; 0 resets" in found.result


def test_a_flood_of_commands_resets_nothing_and_the_stream_goes_on():
    found = faults.flood(0.5)
    assert found.frames == 0
    assert "0 resets; afterwards 0 lines missing" in found.result


def test_the_watchdog_says_why_the_board_restarted():
    found = faults.watchdog(1)
    assert found.result.startswith("1 restarts reported with their cause")
